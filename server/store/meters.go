package store

import (
	"stillsaw/checklists"
	"stillsaw/procedures"
)

// meterRow is what a meter showed, by the inspection or amendment that says so.
type meterRow struct {
	Mill     string `gorm:"primaryKey"`
	Source   string `gorm:"primaryKey"`
	Item     string `gorm:"primaryKey"`
	Meter    string
	At       int64
	Person   string
	Value    float64
	Replaced bool
}

func (meterRow) TableName() string { return "meter_readings" }

// readingsMost bounds the readings loaded to judge what is due: the newest, more
// than a year of them where three meters are read every shift.
const readingsMost = 2000

// metersRead keeps what the answers say of meters.
func metersRead(tx *Tx, mill, source string, answers []checklists.Answer) error {
	var rows []meterRow
	for _, a := range answers {
		if a.Meter != "" && a.Number != nil {
			rows = append(rows, meterRow{Mill: mill, Source: source, Item: string(a.Item), Meter: string(a.Meter), At: millis(a.At),
				Person: string(a.By), Value: *a.Number, Replaced: a.Replaced})
		}
	}
	return createAll(tx, rows)
}

// readings are what the mill's meters showed, oldest first, less what was
// misdated.
func readings(tx *Tx, mill checklists.MillID) ([]checklists.Reading, error) {
	var rows []meterRow
	misdated := tx.gorm().Model(&misdatedRow{}).Select("id").Where("mill = ?", mill)
	err := tx.gorm().Where("mill = ? AND source NOT IN (?)", mill, misdated).Order("at DESC, source DESC, item DESC").Limit(readingsMost).Find(&rows).Error
	all := make([]checklists.Reading, len(rows))
	for i, r := range rows {
		all[len(rows)-1-i] = checklists.Reading{Meter: checklists.MeterID(r.Meter), Value: r.Value, At: timeOf(r.At), By: procedures.PersonID(r.Person), Replaced: r.Replaced}
	}
	return all, err
}
