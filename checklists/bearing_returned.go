package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
)

// CallsKept is how many of the newest returns to service of one machine
// [Facts.BearingReturned] leaves to a list that none of them has had done.
const CallsKept = 16

// BearingReturned leaves out of the defects returned to service those no list on
// event rests on any more: what each list in force has answered stays with its newest
// only, and of what it has not, the oldest, the oldest that nobody excused and the
// newest of each machine stay. What happened after settled stays, and so does
// everything while an inspection signed after it is among the facts.
//
// However much is returned to service, what its rules look at stays about as much.
// Only the calls of [DueState] are fewer, where a machine has more than [CallsKept].
func (f Facts) BearingReturned(settled time.Time) []Defect {
	bears := make(map[DefectID]bool, len(f.Returned))
	asked := past{events: Facts{Returned: f.Returned}.events(), inspections: f.Inspections, excuses: f.Excuses, since: f.Since}
	for _, l := range f.Lists {
		if l.Schedule.Every != OnEvent {
			continue
		}
		signed := asked.signed(l.ID, settled)
		if len(signed) < len(ofList(f.Inspections, l.ID)) {
			return f.Returned
		}
		for _, e := range asked.bearing(l, signed, settled) {
			bears[e.Defect] = true
		}
	}
	var stay []Defect
	for i, e := range asked.events {
		if bears[e.Defect] || e.Happened.After(settled) {
			stay = append(stay, f.Returned[i])
		}
	}
	return stay
}

// bearing are the events by then that matter to how a list on event stands.
func (p past) bearing(list List, signed []*Inspection, now time.Time) (bear []Event) {
	calls := p.calling(list, now, wall{})
	open := slices.IndexFunc(calls, func(e Event) bool { return newestSeen(signed, e.Happened) == nil })
	if open < 0 {
		open = len(calls)
	}
	if open > 0 {
		bear = append(bear, calls[open-1])
	}
	if calls = calls[open:]; len(calls) == 0 {
		return bear
	}
	bear = append(bear, calls[0])
	if at := slices.IndexFunc(calls, func(e Event) bool { return p.excuse(list.ID, e.Happened) == nil }); at >= 0 {
		bear = append(bear, calls[at])
	}
	of := make(map[procedures.EquipmentID]int)
	for _, e := range slices.Backward(calls) {
		if of[e.Equipment]++; of[e.Equipment] <= CallsKept {
			bear = append(bear, e)
		}
	}
	return bear
}

// Abridged tells whether some machine has so many calls from returns to service that
// [Facts.BearingReturned] may have left some out.
func (state DueState) Abridged() bool {
	of := make(map[procedures.EquipmentID]int)
	for _, e := range state.Calls {
		if e.Defect != "" {
			of[e.Equipment]++
		}
		if of[e.Equipment] >= CallsKept {
			return true
		}
	}
	return false
}

func ofList(all []Inspection, list ListID) (of []*Inspection) {
	for i := range all {
		if all[i].List == list {
			of = append(of, &all[i])
		}
	}
	return of
}
