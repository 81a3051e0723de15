package store

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// reach is how far back inspections are loaded to judge what is due: the
// longest schedule's present and previous year, and a little.
const reach = 2*366*24*time.Hour + 48*time.Hour

// Facts loads everything readiness is derived from, as of one moment.
func (m *Mill) Facts(ctx context.Context, now time.Time) (facts checklists.Facts, err error) {
	// One transaction, so that a commit in between can't show half of an act.
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		facts, err = (&Tx{db: db, kept: m.s.kept}).facts(m.id, now)
		return err
	})
	return facts, err
}

func (tx *Tx) facts(mill checklists.MillID, now time.Time) (f checklists.Facts, err error) {
	if f.Mill, err = tx.Mill(mill); err != nil {
		return f, err
	}
	if f.Plant, err = plant(tx, mill); err != nil {
		return f, err
	}
	if f.Blades, f.BladeActs, err = blades(tx, mill); err != nil {
		return f, err
	}
	if f.People, err = people(tx, mill); err != nil {
		return f, err
	}
	if f.Minors, err = tx.minorRule(mill); err != nil {
		return f, err
	}
	if f.Readings, err = readings(tx, mill); err != nil {
		return f, err
	}
	published, err := listsInForce(tx, mill, now)
	if err != nil {
		return f, err
	}
	for _, p := range published {
		l, err := readOnce[checklists.List](tx, p.Doc)
		if err != nil {
			return f, err
		}
		f.Lists = append(f.Lists, l)
		since, err := tx.inspections(mill, l, now)
		if err != nil {
			return f, err
		}
		f.Inspections = append(f.Inspections, since...)
	}
	if f.Amendments, err = tx.amendments(mill, f.Inspections); err != nil {
		return f, err
	}
	if f.Lockouts, err = openLockouts(tx, mill); err != nil {
		return f, err
	}
	if err := tx.open(mill, now, &f); err != nil {
		return f, err
	}
	if err := tx.happenings(mill, now, &f); err != nil {
		return f, err
	}
	if err := tx.unsigned(mill, &f); err != nil {
		return f, err
	}
	head, err := one[logHeadRow](tx, "log", "mill = ?", mill)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return f, err
	}
	f.LastEntry = timeOf(head.Last)
	f.ClockConfirmed, err = clockConfirmed(tx, mill)
	return f, err
}

// inspections loads the list's inspections that can matter for what is due
// now; a list due every shift or day looks a few days back, not years.
func (tx *Tx) inspections(mill checklists.MillID, l checklists.List, now time.Time) ([]checklists.Inspection, error) {
	q := rightly(tx, mill, KindInspection).Order("at DESC")
	back := reach
	switch l.Schedule.Every {
	case checklists.EachShift, checklists.EachDay:
		back = 12 * 24 * time.Hour // a shift of eight days ago is still spoken of, and its check may be signed well before it
	case checklists.EachWeek:
		back = 22 * 24 * time.Hour
	case checklists.AfterDays, checklists.AfterHours, checklists.OnEvent:
		back = now.Sub(time.Unix(0, 0)) // however long ago
		q = q.Limit(lastSigned)
	}
	var docs []string
	err := q.Model(&inspectionRow{}).Where("mill = ? AND list = ? AND at > ?", mill, l.ID, millis(now.Add(-back))).Pluck("doc", &docs).Error
	if err == nil && len(docs) == 0 { // what was left unchecked then holds until somebody looks
		err = rightly(tx, mill, KindInspection).Order("at DESC").Limit(1).Model(&inspectionRow{}).Where("mill = ? AND list = ?", mill, l.ID).Pluck("doc", &docs).Error
	}
	if err != nil {
		return nil, err
	}
	return readAllOnce[checklists.Inspection](tx, docs)
}

func (tx *Tx) amendments(mill checklists.MillID, of []checklists.Inspection) ([]checklists.Amendment, error) {
	ids := make([]string, len(of))
	for i := range of {
		ids[i] = string(of[i].ID)
	}
	var rows []amendmentRow
	for part := range slices.Chunk(ids, 4096) { // far below what SQLite takes in one statement
		var found []amendmentRow
		if err := rightly(tx, mill, KindAmendment).Find(&found, "mill = ? AND inspection IN ?", mill, evened(part)).Error; err != nil {
			return nil, err
		}
		rows = append(rows, found...)
	}
	slices.SortFunc(rows, func(a, b amendmentRow) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.ID, b.ID)) })
	amendments := make([]checklists.Amendment, len(rows))
	for i := range rows {
		amendments[i] = rows[i].Doc
	}
	return amendments, nil
}

// evened is the list with its last repeated until it is as long as a power of two:
// a statement for each length there is would crowd out those that are kept.
func evened[T any](list []T) []T {
	list = slices.Clip(list)
	for n := len(list); n > 0 && n&(n-1) != 0; n++ {
		list = append(list, list[n-1])
	}
	return list
}

func (tx *Tx) open(mill checklists.MillID, now time.Time, f *checklists.Facts) error {
	var err error
	if f.Defects, err = tx.openDefects(mill); err != nil {
		return err
	}
	var departures []departureRow
	if err := tx.gorm().Order("at, id").Find(&departures, "mill = ? AND open = ?", mill, true).Error; err != nil {
		return err
	}
	for _, row := range departures {
		f.Departures = append(f.Departures, row.Doc)
	}
	var runs []runCheckRow
	if err := rightly(tx, mill, KindRunCheck).Order("until, id").Find(&runs, "mill = ? AND until > ?", mill, millis(now)).Error; err != nil {
		return err
	}
	for _, row := range runs {
		f.RunChecks = append(f.RunChecks, row.Doc)
	}
	return tx.over(mill, f)
}

func (tx *Tx) openDefects(mill checklists.MillID) (open []checklists.Defect, err error) {
	var rows []defectRow
	err = tx.gorm().Order("at, id").Find(&rows, "mill = ? AND open = ?", mill, true).Error
	for _, row := range rows {
		open = append(open, row.Doc)
	}
	return open, err
}

// over loads the lockouts and defects that were closed after the oldest run
// check still in force was given, by their order in the record.
func (tx *Tx) over(mill checklists.MillID, f *checklists.Facts) error {
	if len(f.RunChecks) == 0 {
		return nil
	}
	ids := make([]checklists.RunCheckID, len(f.RunChecks))
	for i, r := range f.RunChecks {
		ids[i] = r.ID
	}
	var first int64
	err := tx.gorm().Model(&entryRow{}).Where("mill = ? AND kind = ? AND subject IN ?", mill, KindRunCheck, ids).Select("coalesce(min(seq), 0)").Scan(&first).Error
	if err != nil {
		return err
	}
	since := func(kind string) *gorm.DB {
		return tx.gorm().Model(&entryRow{}).Select("subject").Where("mill = ? AND kind = ? AND seq > ?", mill, kind, first)
	}
	var lockouts []lockoutRow
	if err := tx.gorm().Order("at, id").Find(&lockouts, "mill = ? AND open = ? AND id IN (?)", mill, false, since(KindLockout)).Error; err != nil {
		return err
	}
	for _, row := range lockouts {
		f.LockoutsOver = append(f.LockoutsOver, row.Doc)
	}
	var defects []defectRow
	if err := tx.gorm().Order("at, id").Find(&defects, "mill = ? AND open = ? AND id IN (?)", mill, false, since(KindReturned)).Error; err != nil {
		return err
	}
	for _, row := range defects {
		f.DefectsOver = append(f.DefectsOver, row.Doc)
	}
	return nil
}

// Plant loads the mill's equipment tree.
func (m *Mill) Plant(ctx context.Context) (procedures.Plant, error) {
	return plant(ctxReader{m, ctx}, m.id)
}

func plant(r reader, mill checklists.MillID) (procedures.Plant, error) {
	var rows []equipmentRow
	err := r.gorm().Order("position").Find(&rows, "mill = ?", mill).Error
	p := make(procedures.Plant, len(rows))
	for i := range rows {
		p[i] = rows[i].Doc
	}
	return p, err
}

// ChangePlant sets the whole equipment tree.
func (m *Mill) ChangePlant(ctx context.Context, submission string, p procedures.Plant, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "equipment", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Supervises() {
			return "", refuseRole()
		}
		if err := p.Validate(); err != nil {
			return "", err
		}
		_, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(m.id)}, &plantBody{Plant: p})
		return string(m.id), err
	})
	return err
}
