package store

import (
	"context"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// Kinds of entries that the schedule follows, as they stand in the record for good.
const (
	KindEvent  = "event"
	KindExcuse = "excuse"
)

type eventRow struct {
	Mill     string `gorm:"primaryKey"`
	ID       string `gorm:"primaryKey"`
	Kind     string
	Happened int64
	Doc      checklists.Event `gorm:"serializer:json"`
}

func (eventRow) TableName() string { return "events" }

type excuseRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	List   string
	Starts int64
	Doc    checklists.Excuse `gorm:"serializer:json"`
}

func (excuseRow) TableName() string { return "excuses" }

type eventBody struct {
	checklists.Event
	Note record.Personal `json:"note"`
}

func (*eventBody) kind() (string, int) { return KindEvent, 1 }

func (b *eventBody) about() []procedures.EquipmentID {
	return []procedures.EquipmentID{b.Equipment}
}

func (b *eventBody) event() checklists.Event {
	e := b.Event
	e.Note = string(b.Note)
	return e
}

func (b *eventBody) project(tx *Tx, e entry) error {
	return tx.add(&eventRow{Mill: e.Mill, ID: string(b.ID), Kind: string(b.Kind), Happened: millis(b.Happened), Doc: b.event()})
}

type excuseBody struct {
	everywhere
	checklists.Excuse
	Reason record.Personal `json:"reason"`
}

func (*excuseBody) kind() (string, int) { return KindExcuse, 1 }

func (b *excuseBody) excuse() checklists.Excuse {
	e := b.Excuse
	e.Reason = string(b.Reason)
	return e
}

func (b *excuseBody) project(tx *Tx, e entry) error {
	return tx.add(&excuseRow{Mill: e.Mill, ID: string(b.ID), List: string(b.List), Starts: millis(b.Starts), Doc: b.excuse()})
}

// happeningBodyOf makes an empty body of one of these kinds, nil for another.
func happeningBodyOf(kind string) body {
	switch kind {
	case KindEvent:
		return &eventBody{}
	case KindExcuse:
		return &excuseBody{}
	}
	return nil
}

// happeningDomainOf is what such a body says, nil for another.
func happeningDomainOf(b body) any {
	switch b := b.(type) {
	case *eventBody:
		return b.event()
	case *excuseBody:
		return b.excuse()
	}
	return nil
}

// ReportEvent keeps that something happened which calls for a check.
func (m *Mill) ReportEvent(ctx context.Context, submission string, e checklists.Event, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "event", at, func(tx *Tx, at time.Time) (string, error) {
		plant, err := plant(tx, m.id)
		if err != nil {
			return "", err
		}
		e.ID = checklists.EventID(NewID())
		reported, err := checklists.Report(e, plant, by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: reported.Happened, Subject: string(reported.ID)}, &eventBody{Event: reported, Note: record.Personal(reported.Note)})
		return string(reported.ID), err
	})
	return err
}

// ExcuseMiss keeps a supervisor's reason why a list was not done in its time.
func (m *Mill) ExcuseMiss(ctx context.Context, submission string, list checklists.ListID, starts time.Time, reason string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "excuse", at, func(tx *Tx, at time.Time) (string, error) {
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		e, err := checklists.ExcuseMiss(checklists.ExcuseID(NewID()), facts, list, starts, reason, by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(list)}, &excuseBody{Excuse: e, Reason: record.Personal(e.Reason)})
		return string(e.ID), err
	})
	return err
}

// Events lists what was reported, newest first.
func (m *Mill) Events(ctx context.Context, limit int) ([]checklists.Event, error) {
	var rows []eventRow
	err := m.gorm().WithContext(ctx).Order("happened DESC, id DESC").Limit(limit).Find(&rows, "mill = ?", m.id).Error
	events := make([]checklists.Event, len(rows))
	for i := range rows {
		events[i] = rows[i].Doc
	}
	return events, err
}

// lastSigned is how many of the last inspections are loaded of a list that does
// not fall due by the calendar: one of them answers whatever calls for it now.
const lastSigned = 10

// happenings loads what the schedule follows besides inspections, which are loaded.
func (tx *Tx) happenings(mill checklists.MillID, now time.Time, f *checklists.Facts) error {
	f.Excuses, f.Events, f.Returned, f.Quiet = nil, nil, nil, nil
	var excuses []excuseRow
	if err := tx.gorm().Order("starts, id").Find(&excuses, "mill = ? AND starts > ?", mill, millis(now.Add(-reach))).Error; err != nil {
		return err
	}
	for _, row := range excuses {
		f.Excuses = append(f.Excuses, row.Doc)
	}
	if !slices.ContainsFunc(f.Lists, onEvent) {
		return nil
	}
	since := now
	for _, l := range f.Lists {
		if onEvent(l) {
			since = earlier(since, answeredSince(l, f))
		}
	}
	var events []eventRow
	entered := since.Add(-checklists.ReportedWithin) // since then at the earliest, though it happened before
	if err := tx.gorm().Order("happened, id").Find(&events, "mill = ? AND happened >= ?", mill, millis(entered)).Error; err != nil {
		return err
	}
	for _, row := range events {
		f.Events = append(f.Events, row.Doc)
	}
	var returned []defectRow
	ids := tx.gorm().Model(&entryRow{}).Select("subject").Where("mill = ? AND kind = ? AND at >= ?", mill, KindReturned, millis(since))
	if err := tx.gorm().Find(&returned, "mill = ? AND open = ? AND id IN (?)", mill, false, ids).Error; err != nil {
		return err
	}
	for _, row := range returned {
		f.Returned = append(f.Returned, row.Doc)
	}
	slices.SortFunc(f.Returned, byRaised)
	return tx.quiet(mill, since, now, f)
}

func onEvent(l checklists.List) bool { return l.Schedule.Every == checklists.OnEvent }

// answeredSince is from when on events can still matter to a list: since the
// oldest of its inspections that are loaded, or since it took force.
func answeredSince(l checklists.List, f *checklists.Facts) time.Time {
	since := l.InForce
	if first, known := f.Since[l.ID]; known {
		since = earlier(since, first)
	}
	oldest, count := time.Time{}, 0
	for _, in := range f.Inspections {
		if in.List != l.ID {
			continue
		}
		if count++; count == 1 || in.At.Before(oldest) {
			oldest = in.At
		}
	}
	if count < lastSigned {
		return since
	}
	return oldest
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// firstInForce loads when each list first took force.
func (tx *Tx) firstInForce(mill checklists.MillID, f *checklists.Facts) error {
	var first []struct {
		ID string
		At int64
	}
	err := tx.gorm().Raw(`SELECT publications.id, coalesce(releases.effective, publications.at) AS at FROM publications
		LEFT JOIN releases ON releases.mill = publications.mill AND releases.list = publications.id AND releases.version = publications.version
		WHERE publications.mill = ? AND publications.sort = ? AND publications.version = 1`, mill, Lists).Scan(&first).Error
	f.Since = make(map[checklists.ListID]time.Time, len(first))
	for _, l := range first {
		f.Since[checklists.ListID(l.ID)] = timeOf(l.At)
	}
	return err
}

// idleDays is the fewest days without a check that some list on idle asks for; 0: none does.
func idleDays(lists []checklists.List) (days int) {
	for _, l := range lists {
		if slices.Contains(l.Schedule.On, checklists.Idle) && (days == 0 || l.Schedule.IdleFor() < days) {
			days = l.Schedule.IdleFor()
		}
	}
	return days
}

// quiet loads the stretches since then without a signed check that are about as
// long as some list on idle asks for; the rules look at the exact days.
func (tx *Tx) quiet(mill checklists.MillID, since, now time.Time, f *checklists.Facts) error {
	days := idleDays(f.Lists)
	if days == 0 {
		return nil
	}
	// The stretch may have begun before.
	var before, last int64
	if err := tx.gorm().Raw("SELECT coalesce(max(at), ?) FROM inspections WHERE mill = ? AND at <= ?", millis(since), mill, millis(since)).Scan(&before).Error; err != nil {
		return err
	}
	if err := tx.gorm().Raw("SELECT coalesce(max(at), ?) FROM inspections WHERE mill = ? AND at <= ?", before, mill, millis(now)).Scan(&last).Error; err != nil {
		return err
	}
	var gaps []struct{ Began, Until int64 }
	err := tx.gorm().Raw(`SELECT began, until FROM (
		SELECT coalesce(lag(at) OVER (ORDER BY at), ?) AS began, at AS until FROM inspections WHERE mill = ? AND at >= ? AND at <= ?) AS gaps
		WHERE until - began > ? ORDER BY until`, before, mill, before, millis(now), (time.Duration(days-1) * 24 * time.Hour).Milliseconds()).Scan(&gaps).Error
	for _, g := range gaps {
		f.Quiet = append(f.Quiet, checklists.Quiet{From: timeOf(g.Began), Until: timeOf(g.Until)})
	}
	f.Quiet = append(f.Quiet, checklists.Quiet{From: timeOf(last)})
	return err
}
