package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
)

// Bearing leaves out of the inspections of one list of each shift or day, newest
// first, those nothing rests on any more: the same person signed the same version
// again later within the same part of the same shift and day, with the same answers or
// later ones, and found nothing wrong before. What was signed after settled, what is
// amended or spoken of by its id in the facts, and where something was found, stays.
//
// However often a check is signed, what its rules look at stays about as much. Where
// the mill's zone is not known, all of them stay.
func (f Facts) Bearing(signed []Inspection, settled time.Time) []Inspection {
	if len(signed) < 2 {
		return signed
	}
	edges, err := f.Mill.edges(signed[len(signed)-1].At, signed[0].At)
	if err != nil {
		return signed
	}
	named := f.namedInspections()
	type again struct {
		list    ListID
		version int
		signer  procedures.PersonID
		part    int
	}
	newer := make(map[again]*Inspection, len(signed))
	stay := make([]Inspection, 0, len(signed))
	for i := range signed {
		in := &signed[i]
		part, _ := slices.BinarySearchFunc(edges, in.At, func(edge, at time.Time) int {
			if edge.After(at) {
				return 1
			}
			return -1 // an edge belongs to what follows it
		})
		key := again{in.List, in.Version, in.Signer, part}
		if n := newer[key]; n != nil && n.At.After(in.At) && !named[in.ID] && n.outdoes(in) {
			continue
		}
		stay = append(stay, *in)
		if !in.At.After(settled) {
			newer[key] = in
		}
	}
	return stay
}

// namedInspections are those the facts speak of by their ids.
func (f Facts) namedInspections() map[InspectionID]bool {
	named := make(map[InspectionID]bool)
	for i := range f.Amendments {
		named[f.Amendments[i].Inspection] = true
	}
	for i := range f.RunChecks {
		named[f.RunChecks[i].Inspection] = true
	}
	for i := range f.Unsigned {
		named[f.Unsigned[i].Inspection] = true
	}
	return named
}

// outdoes tells whether every answer of an earlier inspection, which found nothing,
// was given again with the same result and no less read off.
func (in *Inspection) outdoes(earlier *Inspection) bool {
	for i := range earlier.Answers {
		before := &earlier.Answers[i]
		at := slices.IndexFunc(in.Answers, func(a Answer) bool { return a.Item == before.Item })
		if at < 0 || before.Result == Found {
			return false
		}
		now := &in.Answers[at]
		if now.Result != before.Result || now.At.Before(before.At) || now.Text == "" && before.Text != "" || now.Number == nil && before.Number != nil {
			return false
		}
	}
	return true
}

// edges are the moments within that time at which what an inspection counts for
// changes: where a shift's window opens, a shift starts or ends, a day begins in the
// mill's zone, or the mill closes or opens again; the oldest first.
func (m Mill) edges(from, until time.Time) ([]time.Time, error) {
	w, err := m.wall()
	if err != nil {
		return nil, err
	}
	shifts, err := m.ShiftsBetween(from, until.Add(1))
	if err != nil {
		return nil, err
	}
	var edges []time.Time
	for _, s := range shifts {
		edges = append(edges, s.Opens, s.Starts, s.Ends)
	}
	for _, c := range m.Closed {
		edges = append(edges, c.From, c.Until)
	}
	for days := 0; ; days++ {
		begins := w.period(EachDay, from, days).From
		if begins.After(until) {
			break
		}
		edges = append(edges, begins)
	}
	edges = slices.DeleteFunc(edges, func(t time.Time) bool { return t.Before(from) || t.After(until) })
	slices.SortFunc(edges, time.Time.Compare)
	return slices.CompactFunc(edges, time.Time.Equal), nil
}
