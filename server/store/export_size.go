package store

import (
	"context"

	"gorm.io/gorm"
)

// ExportSize is how many entries an export of selection would hold.
func (m *Mill) ExportSize(ctx context.Context, selection Selection) (n int64, err error) {
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		chosen, err := selection.chosen(&Tx{db: db}, m.id)
		if err != nil {
			return err
		}
		return chosen().Model(&entryRow{}).Count(&n).Error
	})
	return n, err
}
