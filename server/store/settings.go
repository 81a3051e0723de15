package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// Settings are how pages look to one person. The zero value leaves everything to
// the browser, the mill and the phone. They say nothing of what happened, so they
// stand in no entry.
type Settings struct {
	Language string           // tag of a language there are words of; "" as the browser says
	Units    checklists.Units // "" as the mill
	Mark     string           // of decimals: "point", "comma", "" as usual in the language
	Scheme   string           // "light", "dark", "sun", "" as the phone says
	Size     string           // "large", "" normal
}

type settingsRow struct {
	Mill     string `gorm:"primaryKey"`
	Person   string `gorm:"primaryKey"`
	Language string
	Units    string
	Mark     string
	Scheme   string
	Size     string
	Changed  int64
}

func (settingsRow) TableName() string { return "settings" }

// KeepSettings puts what a person chose in the place of what they chose before.
func (m *Mill) KeepSettings(ctx context.Context, who procedures.PersonID, s Settings, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if _, err := person(tx, m.id, who); err != nil {
			return err
		}
		row := settingsRow{Mill: string(m.id), Person: string(who), Language: s.Language, Units: string(s.Units), Mark: s.Mark, Scheme: s.Scheme, Size: s.Size, Changed: millis(at)}
		return tx.put(&row, "language", "units", "mark", "scheme", "size", "changed")
	})
}

// Settings is what a person chose, and whether they ever did.
func (m *Mill) Settings(ctx context.Context, who procedures.PersonID) (Settings, bool, error) {
	var rows []settingsRow
	if err := m.gorm().WithContext(ctx).Limit(1).Find(&rows, "mill = ? AND person = ?", m.id, who).Error; err != nil || len(rows) == 0 {
		return Settings{}, false, err
	}
	row := rows[0]
	return Settings{Language: row.Language, Units: checklists.Units(row.Units), Mark: row.Mark, Scheme: row.Scheme, Size: row.Size}, true, nil
}
