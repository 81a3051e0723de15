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
	named, asked := f.coverage(now)
	for _, e := range f.Plant {
		switch {
		case e.Kind == procedures.Site || asked[e.ID]:
		case named[e.ID]:
			found.put([]procedures.EquipmentID{e.ID}, Hold{Kind: HeldUnread, From: e.ID,
				Reason: plain.Say("The check that was signed asked nothing about this."),
				Clears: plain.Say("Somebody goes through the check again and answers so that it is asked about, or the supervisor publishes a list that asks about it each time.")})
		default:
			found.put([]procedures.EquipmentID{e.ID}, Hold{Kind: HeldUnread, From: e.ID,
				Reason: plain.Say("No list in force checks this before it runs."),
				Clears: plain.Say("The supervisor publishes a list that checks it.")})
		}
	}
	for _, l := range f.newest(now, func(s Schedule) bool { return s.Holds || s.HoldsLate }) {
		f.holdOutgrown(found, l)
		state := f.Due(l, now)
		if state.holds(l.Schedule) {
			f.holdDue(found, l, state, now)
		}
		f.holdUnchecked(found, l, state, now)
	}
}

// coverage is the equipment named by lists that hold until they are done, and of
// it what they ask about as far as they are answered. One that is not done holds
// what it names anyway.
func (f Facts) coverage(now time.Time) (named, asked map[procedures.EquipmentID]bool) {
	named, asked = make(map[procedures.EquipmentID]bool), make(map[procedures.EquipmentID]bool)
	for _, l := range f.holding(now) {
		if l.Schedule.Every == OnEvent {
			continue
		}
		var askings map[ItemID]Asking
		if state := f.Due(l, now); state.Status == IsDone {
			askings = l.Askings(f.counting(l, state, now))
		}
		for _, item := range l.Asks() {
			named[item.Equipment] = true
			asked[item.Equipment] = asked[item.Equipment] || askings[item.ID] != NotAsked
		}
	}
	return named, asked
}

// holds tells whether a list that is not done holds: until it is done, or once
// its time is over. A closure puts off what is said and not what is held. A
// supervisor's reason frees only what waits for a check that is late in the
// calendar and may be done the next time.
func (state DueState) holds(s Schedule) bool {
	switch state.Status {
	case IsDone, NotCalled:
		return false
	case IsDue, NoShift, IsExcused:
		return s.Holds || state.over
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
	switch quiet := state.over && state.Excuse == nil; {
	case quiet && state.Status == IsExcused && l.Schedule.Every == AfterHours:
		h.Reason = plain.Say("%s: the meter was not read of late, so the running hours are not known.", l.Title)
		h.Clears = plain.Say("Read the meter, and go through it and sign: %s.", l.Title)
	case quiet && (state.Status == IsDue || state.Status == IsExcused) && l.Schedule.Every != AfterHours:
		h.Reason = plain.Say("%s is over its time. Closing the mill or excusing it checks no machine.", l.Title)
	}
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

// holdUnchecked holds the equipment of each stop item that was left without a
// look when the list was last gone through, and since.
func (f Facts) holdUnchecked(found holdMap, l List, state DueState, now time.Time) {
	given, last := f.lastGone(l, state, now)
	if last == nil {
		return
	}
	for _, item := range unchecked(l, given) {
		answer := given[item.ID]
		h := Hold{Kind: HeldUnchecked, From: item.Equipment, Since: last.At, By: answer.By, Ref: string(l.ID),
			Reason: item.uncheckedSaid(answer), Clears: plain.Say("Somebody checks it and signs the answer.")}
		found.put(f.Plant.ReachedByStop(item.Equipment), h)
	}
}

func (i Item) uncheckedSaid(answer Answer) plain.Sentence {
	if answer.Note != "" {
		return plain.Say("Not checked: %s (%s)", i.Said(), answer.Note)
	}
	return plain.Say("Not checked: %s", i.Said())
}

// unchecked are the stop items that are asked, and neither OK nor a defect.
func unchecked(l List, given map[ItemID]Answer) []Item {
	askings := l.Askings(given)
	var left []Item
	for _, item := range l.Asks() {
		answer := given[item.ID]
		if askings[item.ID] != NotAsked && item.Severity != Mend && answer.Result != OK && answer.Result != Found {
			left = append(left, item)
		}
	}
	return left
}

// lastGone is what counts of the list now; where it is not done, what counted
// when it was last signed, with what was added to it since. The inspection is
// nil where the list was never gone through.
func (f Facts) lastGone(l List, state DueState, now time.Time) (map[ItemID]Answer, *Inspection) {
	if state.Status == IsDone {
		return f.counting(l, state, now), state.Done
	}
	p := f.past()
	last := newest(p.signed(l.ID, now), always(now))
	if last == nil {
		return nil, nil
	}
	then := l
	then.InForce = p.begun(l) // the version of that time may have been an earlier one
	return f.counting(l, p.due(then, f.Mill, last.At), now), last
}

// counting is the newest answer to each item in the inspections that count for
// the span of state, and in their amendments.
func (f Facts) counting(l List, state DueState, now time.Time) map[ItemID]Answer {
	given := make(map[ItemID]Answer, len(l.Items))
	signed := make(map[ItemID]time.Time, len(l.Items))
	add := func(answers []Answer, at time.Time) {
		for _, a := range answers {
			if l.Schedule.Every == OnEvent && state.Status == IsDone && a.At.Before(state.Opens) {
				continue // looked at before the event, and signed after
			}
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
