package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// holding returns the lists in force that hold their equipment, of each the
// newest version.
func (f Facts) holding(now time.Time) []List {
	var kept []List
	for _, l := range f.Lists {
		if !l.inForce(now) || !l.Schedule.Holds {
			continue
		}
		replaced := false
		for i := range kept {
			if kept[i].ID == l.ID {
				replaced = true
				if l.Version > kept[i].Version {
					kept[i] = l
				}
			}
		}
		if !replaced {
			kept = append(kept, l)
		}
	}
	return kept
}

// holdByLists holds what is due or was not checked, and what no list covers.
func (f Facts) holdByLists(found holdMap, now time.Time) {
	lists := f.holding(now)
	for _, e := range f.Plant {
		covered := e.Kind == procedures.Site
		for _, l := range lists {
			covered = covered || l.Covers(e.ID)
		}
		if !covered {
			found.put([]procedures.EquipmentID{e.ID}, Hold{Kind: HeldUnread, From: e.ID,
				Reason: plain.Say("No list in force checks this before it runs."),
				Clears: plain.Say("The supervisor publishes a list that checks it.")})
		}
	}
	for _, l := range lists {
		f.holdOutgrown(found, l)
		state := Due(l, f.Mill, f.Inspections, now)
		if state.Status == IsDone {
			f.holdUnchecked(found, l, state, now)
			continue
		}
		f.holdDue(found, l, state, now)
	}
}

// holdOutgrown holds the equipment of items asked for fewer than set-up counts
// by now: nobody is asked to look at the one that was added.
func (f Facts) holdOutgrown(found holdMap, l List) {
	for _, item := range l.Items {
		if !item.outgrown(f.Mill.SetUp) {
			continue
		}
		found.put(f.Plant.ReachedByStop(item.Equipment), Hold{Kind: HeldUnread, From: item.Equipment, Since: l.InForce, Ref: string(l.ID),
			Reason: plain.Say("%[1]s asks %[2]s for %[3]d, and set-up counts %[4]d.", l.Title, string(item.ID), item.Repeat.times(), item.Repeat.Per.Counted(f.Mill.SetUp)),
			Clears: plain.Say("The supervisor publishes the list again.")})
	}
}

// holdDue holds what the list checks, and what a stop there would reach: a
// carriage fed off the saw's mandrel waits for the saw's check too, and
// everything for the site's. A machine's own hold stands before one that
// travelled, so that it is the one shown.
func (f Facts) holdDue(found holdMap, l List, state DueState, now time.Time) {
	h := Hold{Kind: HeldByDue, Since: state.Starts, Ref: string(l.ID), Reason: state.Said,
		Clears: plain.Say("Go through it and sign: %s.", l.Title)}
	if h.Since.After(now) {
		h.Since = state.Opens
	}
	if h.Since.After(now) {
		h.Since = time.Time{}
	}
	if state.Status == DueUnknown {
		h.Kind, h.Clears = HeldUnread, plain.Say("The supervisor sets the mill's time zone and the list's schedule.")
	}
	var covered []procedures.EquipmentID
	for _, e := range f.Plant {
		if l.Covers(e.ID) {
			covered = append(covered, e.ID)
		}
	}
	for _, id := range covered {
		h.From = id
		found.put([]procedures.EquipmentID{id}, h)
	}
	for _, id := range covered {
		h.From = id
		found.put(f.Plant.ReachedByStop(id), h)
	}
}

// holdUnchecked holds the equipment of each stop item that the inspections
// which count now, with what was added to them, leave without a look.
func (f Facts) holdUnchecked(found holdMap, l List, state DueState, now time.Time) {
	given := f.counting(l, state, now)
	askings := l.Askings(given)
	for _, item := range l.Asks() {
		answer, answered := given[item.ID]
		if askings[item.ID] == NotAsked || item.Severity == Mend || answered && (answer.Result == OK || answer.Result == Found) {
			continue
		}
		h := Hold{Kind: HeldUnchecked, From: item.Equipment, Since: state.Done.At, By: answer.By, Ref: string(l.ID),
			Reason: plain.Say("Not checked: %s", item.Said()),
			Clears: plain.Say("Somebody checks it and signs the answer.")}
		if answer.Note != "" {
			h.Reason = plain.Say("Not checked: %s (%s)", item.Said(), answer.Note)
		}
		found.put(f.Plant.ReachedByStop(item.Equipment), h)
	}
}

// counting is the newest answer to each item in the inspections that count for
// the span of state, and in their amendments.
func (f Facts) counting(l List, state DueState, now time.Time) map[ItemID]Answer {
	given := make(map[ItemID]Answer, len(l.Items))
	signed := make(map[ItemID]time.Time, len(l.Items))
	add := func(answers []Answer, at time.Time) {
		for _, a := range answers {
			if !at.Before(signed[a.Item]) {
				given[a.Item], signed[a.Item] = a, at
			}
		}
	}
	within := span{state.Opens, state.Ends}
	counts := make(map[InspectionID]bool)
	for _, in := range f.Inspections {
		if in.List == l.ID && within.holds(in.At) && !in.At.After(now) {
			counts[in.ID] = true
			add(in.Answers, in.At)
		}
	}
	for _, a := range f.Amendments {
		if a.List == l.ID && counts[a.Inspection] && !a.At.After(now) {
			add(a.Answers, a.At)
		}
	}
	return given
}
