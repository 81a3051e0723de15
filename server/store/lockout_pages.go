package store

import (
	"context"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// UntoldLocks lists a person's locks that were taken off while they were away
// and of which they haven't said to know.
func (m *Mill) UntoldLocks(ctx context.Context, person procedures.PersonID) ([]procedures.LockItem, error) {
	var rows []lockItemRow
	if err := m.gorm().WithContext(ctx).Order("id").Find(&rows, "mill = ? AND owner = ?", m.id, person).Error; err != nil {
		return nil, err
	}
	own := make([]procedures.LockItem, len(rows))
	for i := range rows {
		own[i] = rows[i].Doc
	}
	return procedures.UntoldOf(person, own), nil
}

// LockoutDepartures lists what was entered as having gone against the rule in a
// lockout, oldest first.
func (m *Mill) LockoutDepartures(ctx context.Context, l procedures.Lockout) ([]checklists.Departure, error) {
	var rows []departureRow
	err := m.gorm().WithContext(ctx).Order("at, id").Find(&rows, "mill = ? AND at >= ?", m.id, millis(l.Begun)).Error
	var found []checklists.Departure
	for _, row := range rows {
		if row.Doc.Lockout == l.ID {
			found = append(found, row.Doc)
		}
	}
	return found, err
}
