package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
)

// CallsKept is how many of the newest returns to service of one machine
// [Facts.BearingReturned] keeps as calls for a list.
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
	asked := Facts{Returned: f.Returned, Inspections: f.Inspections, Excuses: f.Excuses, Since: f.Since}.past()
	for _, l := range f.Lists {
		if l.Schedule.Every != OnEvent {
			continue
		}
		if slices.ContainsFunc(f.Inspections, func(in Inspection) bool { return in.List == l.ID && in.At.After(settled) }) {
			return f.Returned
		}
		for _, e := range asked.bearing(l, settled) {
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
func (p past) bearing(list List, now time.Time) (bear []Event) {
	calls := p.calling(list, now, wall{})
	open := answered(calls, p.signed(list.ID, now))
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
