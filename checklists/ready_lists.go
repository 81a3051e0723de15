package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// holding returns the lists in force that hold their equipment until they are
// done, of each the newest version.
func (f Facts) holding(now time.Time) []List {
	return f.newest(now, func(s Schedule) bool { return s.Holds })
}

func (f Facts) newest(now time.Time, which func(Schedule) bool) []List {
	var kept []List
	for _, l := range f.Lists {
		if !l.inForce(now) || !which(l.Schedule) {
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
			covered = covered || l.Schedule.Every != OnEvent && l.Covers(e.ID)
		}
		if !covered {
			found.put([]procedures.EquipmentID{e.ID}, Hold{Kind: HeldUnread, From: e.ID,
				Reason: plain.Say("No list in force checks this before it runs."),
				Clears: plain.Say("The supervisor publishes a list that checks it.")})
		}
	}
	for _, l := range f.newest(now, func(s Schedule) bool { return s.Holds || s.HoldsLate }) {
		f.holdOutgrown(found, l)
		switch state := f.Due(l, now); {
		case state.Status == IsDone:
			f.holdUnchecked(found, l, state, now)
		case state.holds(l.Schedule):
			f.holdDue(found, l, state, now)
		}
	}
}

// holds tells whether a list that is not done holds: until it is done, or once
// it is late. A supervisor's reason frees only what waits for a check that is
// late in the calendar and may be done the next time.
func (state DueState) holds(s Schedule) bool {
	if state.Status == NotCalled {
		return false
	}
	if s.Holds {
		return true
	}
	switch state.Status {
	case IsDue, NoShift:
		return false
	case IsExcused:
		return state.Excuse != nil && !s.Every.calendar() && s.Every != EachShift
	}
	return true
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
		if l.Schedule.Every == AfterHours && l.Schedule.Meter != "" {
			h.Kind, h.Clears = HeldByDue, plain.Say("Read the meter, and go through it and sign: %s.", l.Title)
		}
	}
	covered := f.heldBy(l, state)
	for _, id := range covered {
		h.From = id
		found.put([]procedures.EquipmentID{id}, h)
	}
	for _, id := range covered {
		h.From = id
		found.put(f.Plant.ReachedByStop(id), h)
	}
}

// heldBy is the equipment a list that is not done holds: what it checks; for a
// list on event the machines it happened to, and what it checks only where it
// happened to the mill as a whole, or to a machine that is there no more.
func (f Facts) heldBy(l List, state DueState) []procedures.EquipmentID {
	everywhere := len(state.Calls) == 0 || slices.ContainsFunc(state.Calls, func(c Event) bool {
		_, known := f.Plant.Find(c.Equipment)
		return !known || c.everywhere()
	})
	var held []procedures.EquipmentID
	for _, e := range f.Plant {
		happened := slices.ContainsFunc(state.Calls, func(c Event) bool { return c.Equipment == e.ID })
		if happened || everywhere && l.Covers(e.ID) {
			held = append(held, e.ID)
		}
	}
	return held
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
	if state.Ends.IsZero() {
		within = span{state.Opens, now.Add(1)}
	}
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
