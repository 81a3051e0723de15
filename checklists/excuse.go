package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// ExcuseID names one excuse.
type ExcuseID string

// Excuse is a supervisor's signed reason why a check was not done in its time.
// It changes what is said of that time; no machine is checked by it, so what is
// held until it is checked stays held.
type Excuse struct {
	ID     ExcuseID            `json:"id"`
	List   ListID              `json:"list"`
	Shift  string              `json:"shift"`  // "" for other schedules
	Starts time.Time           `json:"starts"` // of the shift or period; when it fell due
	Reason string              `json:"reason"`
	By     procedures.PersonID `json:"by"`
	At     time.Time           `json:"at"`
}

// ExcuseMiss gives the reason why a list was not done in the shift or period
// that starts then, or after falling due then. Its error is a [plain.Refusal],
// or a [plain.Problems] for "reason".
func ExcuseMiss(id ExcuseID, f Facts, list ListID, starts time.Time, reason string, by procedures.Person, now time.Time) (Excuse, error) {
	if !by.Supervises() {
		return Excuse{}, plain.Refuse("", "A missed check is excused by the supervisor or the deputy.")
	}
	var bad plain.Problems
	bad.Unless(worded(reason, LongestNote), "reason", "why it was not done, in at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return Excuse{}, err
	}
	for _, l := range f.Lists {
		if l.ID != list {
			continue
		}
		for _, state := range append(f.Missed(l, now), f.Due(l, now)) {
			if state.Starts.Equal(starts) && state.Excuse == nil && state.excusable() {
				return Excuse{ID: id, List: list, Shift: state.Shift, Starts: state.Starts, Reason: reason, By: by.ID, At: now}, nil
			}
		}
	}
	return Excuse{}, plain.Refuse("", "There is no check open at that time that could be excused. Load the page again.")
}

func (state DueState) excusable() bool {
	return state.Status == IsDue || state.Status == IsLate || state.Status == IsMissed
}

// excuse finds the newest one for what starts then.
func (p past) excuse(list ListID, starts time.Time) *Excuse {
	var found *Excuse
	for i := range p.excuses {
		e := &p.excuses[i]
		if e.List == list && e.Starts.Equal(starts) && (found == nil || e.At.After(found.At)) {
			found = e
		}
	}
	return found
}

// Missed lists the shifts or periods that went by without the list, the newest
// first: missed, or excused by a supervisor. It looks back as far as facts are
// loaded: 8 days for shifts and days, two weeks, else a year. Lists that fall
// due some time after they were last done stay late and are never missed.
func (f Facts) Missed(list List, now time.Time) []DueState {
	p := f.past()
	w, err := f.Mill.wall()
	if err != nil || !list.inForce(now) {
		return nil
	}
	signed := p.signed(list.ID, now)
	var found []DueState
	add := func(state DueState) {
		if excuse := p.excuse(list.ID, state.Starts); excuse != nil {
			found = append(found, state.excusedBy(excuse, list))
			return
		}
		state.Status, state.Said = IsMissed, plain.Say("%s was not done.", list.Title)
		found = append(found, state)
	}
	if list.Schedule.Every == EachShift {
		near, err := f.Mill.ShiftsBetween(now.Add(-missedWithin), now)
		if err != nil {
			return nil
		}
		for i := len(near) - 1; i >= 0; i-- {
			if s := near[i]; !s.Ends.After(now) && p.missedShift(list, s, signed, near) {
				add(DueState{List: list.ID}.about(s))
			}
		}
		return found
	}
	back := map[Period]int{EachDay: 7, EachWeek: 2, EachMonth: 12, EachQuarter: 4, EachYear: 1}[list.Schedule.Every]
	for step := 1; step <= back; step++ {
		if before := w.period(list.Schedule.Every, now, -step); p.missed(list, f.Mill, signed, before) {
			add(DueState{List: list.ID, Opens: before.From, Starts: before.From, Ends: before.Until})
		}
	}
	return found
}
