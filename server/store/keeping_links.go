package store

import (
	"encoding/json"
	"slices"
	"strings"

	"stillsaw/checklists"
)

// hanging are the things of a mill that belong together: an incident and what it
// raised, an inspection and the defects it found, a lockout and the departures
// from it, each way round. They are kept, held and dropped together.
type hanging struct {
	with map[string][]string
	sort map[string]checklists.KeepSort // of incidents and departures
}

// hangingOf reads them in one pass over what can raise or be raised. What hangs on
// nothing takes no memory.
func hangingOf(r reader, mill checklists.MillID) (*hanging, error) {
	h := &hanging{with: map[string][]string{}, sort: map[string]checklists.KeepSort{}}
	for _, table := range []struct {
		name string
		sort checklists.KeepSort
	}{{"defects", ""}, {"departures", checklists.KeepIncidents}, {"incidents", checklists.KeepIncidents}} {
		if err := h.of(r, mill, table.name, table.sort); err != nil {
			return nil, err
		}
	}
	return h, nil
}

func (h *hanging) of(r reader, mill checklists.MillID, table string, sort checklists.KeepSort) error {
	rows, err := r.gorm().Raw("SELECT id, doc FROM "+table+" WHERE mill = ? ORDER BY id", mill).Rows()
	if err != nil {
		return err
	}
	return eachRow(rows, func() error {
		var id string
		var text []byte
		if err := rows.Scan(&id, &text); err != nil {
			return err
		}
		var doc struct{ Inspection, Lockout, Defect, Departure string }
		if err := json.Unmarshal(text, &doc); err != nil {
			return err
		}
		if sort != "" {
			h.sort[id] = sort
		}
		for _, other := range []string{doc.Inspection, doc.Lockout, doc.Defect, doc.Departure} {
			if other != "" {
				h.with[id] = append(h.with[id], other)
				h.with[other] = append(h.with[other], id)
			}
		}
		return nil
	})
}

// on are the things that hang on a subject.
func (h *hanging) on(subject string) []string { return h.with[subject] }

// sorts are the sorts of what hangs on a subject where the law names how long
// those are kept.
func (h *hanging) sorts(subject string) []checklists.KeepSort {
	var sorts []checklists.KeepSort
	for _, id := range h.with[subject] {
		if sort := h.sort[id]; sort != "" && !slices.Contains(sorts, sort) {
			sorts = append(sorts, sort)
		}
	}
	return sorts
}

// about tells whether an entry is about the subject or what hangs on it, or names
// the subject.
func (h *hanging) about(row entryRow, subject string) bool {
	return row.Subject == subject || slices.Contains(h.with[subject], row.Subject) || strings.Contains(string(row.Leaf), `"`+subject+`"`)
}
