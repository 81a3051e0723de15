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
	err = m.asOne(ctx, func(tx *Tx) error {
		facts, err = tx.facts(m.id, now)
		return err
	})
	return facts, err
}

// asOne reads in one transaction, so that a commit in between can't show half of an
// act.
func (m *Mill) asOne(ctx context.Context, read func(*Tx) error) error {
	// What is known is taken first: it never is of a later moment than what is read.
	known := m.s.kept.facts.all()
	return m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		return read(&Tx{db: db, kept: m.s.kept, known: known})
	})
}

// facts are those kept of the mill where they still hold, with what its record says
// since; what no record tells of is read each time.
func (tx *Tx) facts(mill checklists.MillID, now time.Time) (f checklists.Facts, err error) {
	head, err := tx.logHead(mill)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return f, err
	}
	var waiting checklists.Facts
	if err := tx.unsigned(mill, &waiting); err != nil {
		return f, err
	}
	known, err := tx.knownFacts(mill, head, waiting.Unsigned, now)
	if err != nil {
		return f, err
	}
	f = known.at(now)
	if tx.mill == nil {
		tx.mill = new(f.Mill)
	}
	f.Unsigned, f.FoundUnsigned, f.LastEntry = waiting.Unsigned, waiting.FoundUnsigned, timeOf(head.Last)
	if tx.known != nil && tx.kept.checksNow() {
		return f, tx.heldAgainst(f, mill, head, now)
	}
	return f, nil
}

// ofMill loads what is set up: it seldom changes.
func (tx *Tx) ofMill(mill checklists.MillID, now time.Time, f *checklists.Facts) (err error) {
	if f.Mill, err = tx.Mill(mill); err != nil {
		return err
	}
	if f.Plant, err = plant(tx, mill); err != nil {
		return err
	}
	if f.Blades, f.BladeActs, err = blades(tx, mill); err != nil {
		return err
	}
	if f.People, err = people(tx, mill); err != nil {
		return err
	}
	if f.Minors, err = tx.minorRule(mill); err != nil {
		return err
	}
	if f.ClockConfirmed, err = clockConfirmed(tx, mill); err != nil {
		return err
	}
	published, err := listsInForce(tx, mill, now)
	if err != nil {
		return err
	}
	texts := make([]string, len(published))
	for i, p := range published {
		texts[i] = p.Doc
	}
	if f.Lists, err = readAllOnce[checklists.List](tx, texts); err != nil {
		return err
	}
	return tx.firstInForce(mill, f)
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

// underWay loads what keeps machines out of use or lets them turn, but defects. It
// gives from when until when those run checks are the ones in force.
func (tx *Tx) underWay(mill checklists.MillID, now time.Time, f *checklists.Facts) (from, until time.Time, err error) {
	if f.Lockouts, err = openLockouts(tx, mill); err != nil {
		return from, until, err
	}
	var departures []departureRow
	if err := tx.gorm().Order("at, id").Find(&departures, "mill = ? AND open = ?", mill, true).Error; err != nil {
		return from, until, err
	}
	f.Departures = nil
	for _, row := range departures {
		f.Departures = append(f.Departures, row.Doc)
	}
	from = now.Add(-factsBehind)
	var runs []runCheckRow
	if err := rightly(tx, mill, KindRunCheck).Order("until, id").Find(&runs, "mill = ? AND until > ?", mill, millis(from)).Error; err != nil {
		return from, until, err
	}
	f.RunChecks = nil
	for _, row := range runs {
		ends := timeOf(row.Until)
		if !ends.After(now) {
			from = ends
			continue
		}
		if until.IsZero() {
			until = ends
		}
		f.RunChecks = append(f.RunChecks, row.Doc)
	}
	return from, until, tx.over(mill, f)
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
	f.LockoutsOver, f.DefectsOver = nil, nil
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
