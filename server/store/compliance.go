package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// millsMost bounds how many states of a mill a calendar goes through.
const millsMost = 2000

// longestShift is how long after a day's end a shift that started on it may go on.
const longestShift = 49 * time.Hour

// CalendarFacts loads what tells how every list stood on the days from one local
// midnight to another, in one transaction and one query a kind.
func (m *Mill) CalendarFacts(ctx context.Context, from, until time.Time) (f checklists.CalendarFacts, err error) {
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		f, err = (&Tx{db: db}).calendarFacts(m.id, from, until)
		return err
	})
	return f, err
}

func (tx *Tx) calendarFacts(mill checklists.MillID, from, until time.Time) (f checklists.CalendarFacts, err error) {
	if f.Mills, err = tx.millStates(mill); err != nil {
		return f, err
	}
	if f.Lists, err = listVersions(tx, mill, until); err != nil {
		return f, err
	}
	own := checklists.Facts{Lists: f.Lists}
	if f.Inspections, err = tx.calendarInspections(mill, f.Lists, from, until); err != nil {
		return f, err
	}
	if f.Readings, err = readings(tx, mill); err != nil {
		return f, err
	}
	var excuses []excuseRow
	if err := tx.gorm().Order("starts, id").Find(&excuses, "mill = ? AND starts > ? AND starts < ?", mill, millis(from.Add(-reach)), millis(until)).Error; err != nil {
		return f, err
	}
	for i := range excuses {
		f.Excuses = append(f.Excuses, excuses[i].Doc)
	}
	if f.Out, err = tx.outOfUse(mill, from, until, &own); err != nil {
		return f, err
	}
	if own.Blades, own.BladeActs, err = blades(tx, mill); err != nil {
		return f, err
	}
	var events []eventRow
	if err := tx.gorm().Order("happened, id").Find(&events, "mill = ? AND happened >= ? AND happened < ?", mill, millis(from.Add(-reach)), millis(until)).Error; err != nil {
		return f, err
	}
	for i := range events {
		own.Events = append(own.Events, events[i].Doc)
	}
	f.Events = own.Happenings()
	if err := tx.quiet(mill, from.Add(-reach), until, &own); err != nil {
		return f, err
	}
	f.Quiet = own.Quiet
	return f, nil
}

// millStates are the mill as it was kept, the oldest first, and as it is now.
func (tx *Tx) millStates(mill checklists.MillID) ([]checklists.MillFrom, error) {
	present, err := tx.Mill(mill)
	if err != nil {
		return nil, err
	}
	var rows []entryRow
	if err := tx.gorm().Order("seq").Limit(millsMost).Find(&rows, "mill = ? AND kind = ?", mill, KindMill).Error; err != nil {
		return nil, err
	}
	openings, err := openingsOf(tx, mill, rows)
	if err != nil {
		return nil, err
	}
	var states []checklists.MillFrom
	for _, row := range rows {
		e, err := entryOf(row, openings[row.Seq])
		if err != nil {
			return nil, err
		}
		if state, known := e.Body.(checklists.Mill); known {
			states = append(states, checklists.MillFrom{Mill: state, From: e.At})
		}
	}
	if len(states) == 0 {
		return []checklists.MillFrom{{Mill: present}}, nil
	}
	states[len(states)-1].Mill = present
	return states, nil
}

// listVersions are the versions of every list published by then, with when each
// took or takes force.
func listVersions(r reader, mill checklists.MillID, until time.Time) ([]checklists.List, error) {
	var rows []publicationRow
	if err := r.gorm().Order("id, version").Find(&rows, "mill = ? AND sort = ? AND at < ?", mill, Lists, millis(until)).Error; err != nil {
		return nil, err
	}
	all := make([]checklists.List, len(rows))
	for i, row := range rows {
		var err error
		if all[i], err = readOnce[checklists.List](r, row.Doc); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// signedBetween loads the inspections of lists from begins up to ends, and of each list the
// last one before, without their answers, which most schedules don't ask for. All it
// asks for stands in one index.
func (tx *Tx) signedBetween(mill checklists.MillID, lists []checklists.List, ids []string, begins, ends int64) ([]checklists.Inspection, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	rows, err := tx.gorm().Raw(`WITH wrong AS (SELECT id FROM misdated WHERE mill = @mill AND kind = @kind)
		SELECT id, list, signer, version, began, at, late FROM inspections
		WHERE mill = @mill AND list IN @lists AND at >= @begins AND at < @ends AND id NOT IN (SELECT id FROM wrong)
		UNION ALL
		SELECT last.id, last.list, last.signer, last.version, last.began, last.at, last.late
		FROM (SELECT DISTINCT id FROM publications WHERE mill = @mill AND sort = @sort AND id IN @lists) AS asked
		JOIN inspections AS last ON last.mill = @mill AND last.list = asked.id AND last.id NOT IN (SELECT id FROM wrong) AND last.at = (
			SELECT max(at) FROM inspections AS before WHERE before.mill = @mill AND before.list = asked.id AND before.at < @begins AND before.id NOT IN (SELECT id FROM wrong))`,
		map[string]any{"mill": mill, "kind": KindInspection, "sort": Lists, "lists": ids, "begins": begins, "ends": ends}).Rows()
	if err != nil {
		return nil, err
	}
	type edition struct {
		list    checklists.ListID
		version int
	}
	titles := map[edition]string{}
	for _, l := range lists {
		titles[edition{l.ID, l.Version}] = l.Title
	}
	var all []checklists.Inspection
	err = eachRow(rows, func() error {
		var in checklists.Inspection
		var began, at int64
		if err := rows.Scan(&in.ID, &in.List, &in.Signer, &in.Version, &began, &at, &in.Late); err != nil {
			return err
		}
		in.Title, in.Began, in.At = titles[edition{in.List, in.Version}], timeOf(began), timeOf(at)
		all = append(all, in)
		return nil
	})
	return all, err
}

// calendarInspections loads the inspections of the days, of lists with longer
// periods those since the period began, and of each list the last one before.
// Those of lists on event come whole: what they answer goes by when each item
// was looked at.
func (tx *Tx) calendarInspections(mill checklists.MillID, lists []checklists.List, from, until time.Time) ([]checklists.Inspection, error) {
	var short, long, onEvent []string
	for i, l := range lists {
		if i+1 < len(lists) && lists[i+1].ID == l.ID {
			continue
		}
		switch sort := longest(lists, l.ID); sort {
		case checklists.OnEvent:
			onEvent = append(onEvent, string(l.ID))
		case checklists.EachShift, checklists.EachDay:
			short = append(short, string(l.ID))
		default:
			long = append(long, string(l.ID))
		}
	}
	var all []checklists.Inspection
	ends := millis(until.Add(longestShift))
	for _, of := range []struct {
		ids  []string
		back time.Duration
	}{{short, 48 * time.Hour}, {long, 367 * 24 * time.Hour}} {
		signed, err := tx.signedBetween(mill, lists, of.ids, millis(from.Add(-of.back)), ends)
		if err != nil {
			return nil, err
		}
		all = append(all, signed...)
	}
	var whole []inspectionRow
	if err := rightly(tx, mill, KindInspection).Find(&whole, "mill = ? AND list IN ? AND at >= ? AND at < ?", mill, onEvent, millis(from.Add(-reach)), ends).Error; err != nil {
		return nil, err
	}
	for i := range whole {
		all = append(all, whole[i].Doc)
	}
	return all, nil
}

// longest is the schedule of any version of the list that needs the most
// inspections loaded.
func longest(lists []checklists.List, id checklists.ListID) checklists.Period {
	found := checklists.EachShift
	for _, l := range lists {
		switch every := l.Schedule.Every; {
		case l.ID != id:
		case every == checklists.OnEvent:
			return every
		case every != checklists.EachShift && every != checklists.EachDay:
			found = every
		}
	}
	return found
}

// locked loads what lockouts held in that time. All it asks for stands in one index.
func (tx *Tx) locked(mill checklists.MillID, from, until time.Time) ([]checklists.LockedSpan, error) {
	rows, err := tx.gorm().Raw(`SELECT at, ended, holds FROM lockouts WHERE mill = ? AND ended > ? AND at < ?
		UNION ALL SELECT at, ended, holds FROM lockouts WHERE mill = ? AND ended = 0 AND at < ?`,
		mill, millis(from), millis(until), mill, millis(until)).Rows()
	if err != nil {
		return nil, err
	}
	held := map[string][]procedures.EquipmentID{} // most by one of a few procedures
	var locked []checklists.LockedSpan
	err = eachRow(rows, func() (err error) {
		var begun, ended int64
		var holds string
		if err := rows.Scan(&begun, &ended, &holds); err != nil {
			return err
		}
		equipment, known := held[holds]
		if !known {
			if equipment, err = read[[]procedures.EquipmentID](holds); err != nil {
				return err
			}
			held[holds] = equipment
		}
		locked = append(locked, checklists.LockedSpan{Equipment: equipment, Begun: timeOf(begun), Ended: timeOf(ended)})
		return nil
	})
	return locked, err
}

// outOfUse loads what held equipment in that time. The defects go into own too,
// since checks follow from some of them.
func (tx *Tx) outOfUse(mill checklists.MillID, from, until time.Time, own *checklists.Facts) ([]checklists.OutOfUse, error) {
	locked, err := tx.locked(mill, from, until)
	if err != nil {
		return nil, err
	}
	var found []defectRow
	if err := tx.gorm().Order("at, id").Find(&found, "mill = ? AND at < ? AND (open = ? OR at >= ?)", mill, millis(until), true, millis(from.Add(-reach))).Error; err != nil {
		return nil, err
	}
	var defects []checklists.Defect
	for i := range found {
		d := found[i].Doc
		defects = append(defects, d)
		if d.Open() {
			own.Defects = append(own.Defects, d)
		} else {
			own.Returned = append(own.Returned, d)
		}
	}
	var entered []departureRow
	if err := tx.gorm().Order("at, id").Find(&entered, "mill = ? AND at < ? AND (open = ? OR at >= ?)", mill, millis(until), true, millis(from.Add(-reach))).Error; err != nil {
		return nil, err
	}
	var departures []checklists.Departure
	for i := range entered {
		departures = append(departures, entered[i].Doc)
	}
	return checklists.OutBy(locked, defects, departures), nil
}
