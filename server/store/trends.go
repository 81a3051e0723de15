package store

import (
	"context"
	"time"

	"stillsaw/checklists"
)

// InspectionsSince lists the inspections signed since from, oldest first.
func (m *Mill) InspectionsSince(ctx context.Context, from time.Time) ([]checklists.Inspection, error) {
	var rows []inspectionRow
	err := m.gorm().WithContext(ctx).Order("at, id").Find(&rows, "mill = ? AND at >= ?", m.id, millis(from)).Error
	inspections := make([]checklists.Inspection, len(rows))
	for i := range rows {
		inspections[i] = rows[i].Doc
	}
	return inspections, err
}

// AmendmentsSince lists what was added to inspections since from, oldest first.
func (m *Mill) AmendmentsSince(ctx context.Context, from time.Time) ([]checklists.Amendment, error) {
	var rows []amendmentRow
	err := m.gorm().WithContext(ctx).Order("at, id").Find(&rows, "mill = ? AND at >= ?", m.id, millis(from)).Error
	amendments := make([]checklists.Amendment, len(rows))
	for i := range rows {
		amendments[i] = rows[i].Doc
	}
	return amendments, err
}

// ListVersions are all versions of every list, in the order of their ids.
func (m *Mill) ListVersions(ctx context.Context) ([]checklists.Versions, error) {
	var rows []publicationRow
	if err := m.gorm().WithContext(ctx).Order("id, version").Find(&rows, "mill = ? AND sort = ?", m.id, Lists).Error; err != nil {
		return nil, err
	}
	var all []checklists.Versions
	for i, row := range rows {
		l, err := read[checklists.List](row.Doc)
		if err != nil {
			return nil, err
		}
		if i == 0 || rows[i-1].ID != row.ID {
			all = append(all, checklists.Versions{})
		}
		all[len(all)-1][row.Version] = l
	}
	return all, nil
}
