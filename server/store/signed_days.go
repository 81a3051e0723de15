package store

import (
	"context"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// signedDayRow is what one person signed of one list on one local day.
type signedDayRow struct {
	Mill   string `gorm:"primaryKey"`
	Day    string `gorm:"primaryKey"`
	List   string `gorm:"primaryKey"`
	Signer string `gorm:"primaryKey"`
	Signed int
	Late   int
}

func (signedDayRow) TableName() string { return "signed_days" }

// count adds what was signed to its day.
func (tx *Tx) count(row signedDayRow) error {
	const adding = ` ON CONFLICT (mill, day, list, signer) DO UPDATE SET signed = signed_days.signed + excluded.signed, late = signed_days.late + excluded.late`
	if tx.ahead != nil {
		return tx.ahead.row(&row, adding)
	}
	return tx.straight(`INSERT INTO signed_days (mill, day, list, signer, signed, late) VALUES (?, ?, ?, ?, ?, ?)`+adding,
		row.Mill, row.Day, row.List, row.Signer, row.Signed, row.Late)
}

// uncount takes the inspections signed after that moment from their days, but for
// those that were known to be misdated and were taken from them before.
func (tx *Tx) uncount(mill string, after int64) error {
	var wrong []signedDayRow
	err := rightly(tx, checklists.MillID(mill), KindInspection).Model(&inspectionRow{}).Select("mill, day, list, signer, -count(*) AS signed, -count(*) FILTER (WHERE late) AS late").
		Where("mill = ? AND at > ?", mill, after).Group("mill, day, list, signer").Scan(&wrong).Error
	if err != nil {
		return err
	}
	for _, row := range wrong {
		if err := tx.count(row); err != nil {
			return err
		}
	}
	return tx.db.Exec("DELETE FROM signed_days WHERE mill = ? AND signed = 0", mill).Error
}

// SignedDays lists what was signed on the local days from one to another, both
// included ("2026-03-02"), by day, list and signer. It is read from counts kept with
// each entry, however many inspections there were.
func (m *Mill) SignedDays(ctx context.Context, from, to string) ([]checklists.SignedDay, error) {
	var rows []signedDayRow
	err := m.gorm().WithContext(ctx).Order("day, list, signer").Find(&rows, "mill = ? AND day BETWEEN ? AND ?", m.id, from, to).Error
	days := make([]checklists.SignedDay, len(rows))
	for i, r := range rows {
		days[i] = checklists.SignedDay{Day: r.Day, List: checklists.ListID(r.List), Signer: procedures.PersonID(r.Signer), Signed: r.Signed, Late: r.Late}
	}
	return days, err
}
