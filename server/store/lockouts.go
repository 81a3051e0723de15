package store

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

type eventPart struct {
	procedures.Event
	Told   record.Personal `json:"told"`
	Note   record.Personal `json:"note"`
	Absent *absentPart     `json:"absent,omitempty"` // of an absent person's lock only
	Run    *runPart        `json:"run,omitempty"`    // of what got power for a test only
	Hung   *hungPart       `json:"hung,omitempty"`   // of a tag only
}

// runPart is from where it is run; without it that stands in the event in the clear.
type runPart struct {
	Where record.Personal `json:"where"`
}

// hungPart is what somebody wrote on a tag and where it hangs; without it that
// stands in the event in the clear.
type hungPart struct {
	Hazard record.Personal `json:"hazard"`
	Where  record.Personal `json:"where"`
}

// absentPart is what was done to find the owner of a lock that was taken off.
type absentPart struct {
	NotHere record.Personal `json:"not_here"`
	Tries   []tryPart       `json:"tries"`
}

type tryPart struct {
	At     time.Time       `json:"at"`
	Way    record.Personal `json:"way"`
	Result record.Personal `json:"result"`
}

// partOf is e with what says something of a person kept apart.
func partOf(e procedures.Event) eventPart {
	part := eventPart{Event: e, Told: record.Personal(e.Told), Note: record.Personal(e.Note)}
	if e.NotHere != "" || len(e.Tries) > 0 {
		part.Absent = &absentPart{NotHere: record.Personal(e.NotHere)}
		for _, try := range e.Tries {
			part.Absent.Tries = append(part.Absent.Tries, tryPart{try.At, record.Personal(try.Way), record.Personal(try.Result)})
		}
		part.NotHere, part.Tries = "", nil
	}
	if e.Where != "" {
		part.Run = &runPart{record.Personal(e.Where)}
		part.Where = ""
	}
	if e.Tag.Hazard+e.Tag.Where != "" {
		part.Hung = &hungPart{record.Personal(e.Tag.Hazard), record.Personal(e.Tag.Where)}
		part.Tag.Hazard, part.Tag.Where = "", ""
	}
	return part
}

// notShown stands in a lockout's event for words that are no longer kept, or not
// shown: the event was accepted with words there, and is still.
const notShown = "…"

// notShown puts it where the places say so.
func (b *lockoutBody) notShown(places []string) {
	for _, at := range places {
		parts := strings.Split(at, "/")
		absent := b.Event.Absent
		switch {
		case at == "/event/told":
			b.Event.Told = notShown
		case at == "/event/note":
			b.Event.Note = notShown
		case at == "/event/run/where":
			b.Event.Run.Where = notShown
		case at == "/event/absent/not_here":
			absent.NotHere = notShown
		case len(parts) == 6 && strings.HasPrefix(at, "/event/absent/tries/"):
			if i, err := strconv.Atoi(parts[4]); err == nil && parts[5] == "way" {
				absent.Tries[i].Way = notShown
			} else if err == nil {
				absent.Tries[i].Result = notShown
			}
		}
	}
}

// lockoutBody is one event of a lockout, with the version of the procedure it
// was done by. The lockout itself is the fold of these.
type lockoutBody struct {
	Lockout   procedures.LockoutID     `json:"lockout"`
	Procedure procedures.ProcedureID   `json:"procedure"`
	Version   int                      `json:"version"`
	Equipment []procedures.EquipmentID `json:"equipment"`
	Event     eventPart                `json:"event"`

	// In a command of several events only the last one is projected, with those
	// before it: a lockout is a long row to write again for each tick.
	before []procedures.Event
	more   bool
}

func newLockoutBody(l procedures.Lockout, e procedures.Event) *lockoutBody {
	return &lockoutBody{Lockout: l.ID, Procedure: l.Procedure.ID, Version: l.Procedure.Version, Equipment: l.Procedure.Equipment,
		Event: partOf(e)}
}

func (*lockoutBody) kind() (string, int) { return KindLockout, 1 }

func (b *lockoutBody) about() []procedures.EquipmentID { return b.Equipment }

func (b *lockoutBody) event() procedures.Event {
	e := b.Event.Event
	e.Told, e.Note = string(b.Event.Told), string(b.Event.Note)
	if absent := b.Event.Absent; absent != nil {
		e.NotHere = string(absent.NotHere)
		for _, try := range absent.Tries {
			e.Tries = append(e.Tries, procedures.Try{At: try.At, Way: string(try.Way), Result: string(try.Result)})
		}
	}
	if run := b.Event.Run; run != nil {
		e.Where = string(run.Where)
	}
	if hung := b.Event.Hung; hung != nil {
		e.Tag.Hazard, e.Tag.Where = string(hung.Hazard), string(hung.Where)
	}
	return e
}

func (b *lockoutBody) project(tx *Tx, e entry) error {
	if tx.ahead != nil {
		return tx.ahead.lockout(tx, e, b)
	}
	if b.more {
		return nil
	}
	p, err := procedure(tx, checklists.MillID(e.Mill), b.Procedure, b.Version)
	if err != nil {
		return err
	}
	together := append(slices.Clip(b.before), b.event())
	var events []procedures.Event
	if together[0].Kind != procedures.Began {
		row, err := one[lockoutRow](tx, "lockout", "mill = ? AND id = ?", e.Mill, b.Lockout)
		if err != nil {
			return err
		}
		events = row.Doc.Events
	}
	var l procedures.Lockout
	for i, event := range together {
		events = append(events, event)
		if i < len(together)-1 && !changesTold(event) {
			continue
		}
		// The register of locks follows from each event, told apart or together.
		if l, err = procedures.Replay(b.Lockout, p, events); err != nil {
			return err
		}
		if !changesTold(event) {
			continue
		}
		if err := untold(tx, e.Mill, l); err != nil {
			return err
		}
	}
	row := lockoutRowOf(e.Mill, l, p)
	return tx.put(&row, lockoutColumns...)
}

// lockoutColumns are those that an event changes.
var lockoutColumns = []string{"open", "doc", "ended"}

func lockoutRowOf(mill string, l procedures.Lockout, p procedures.Procedure) lockoutRow {
	row := lockoutRow{Mill: mill, ID: string(l.ID), Procedure: string(p.ID), Open: l.Open(), At: millis(l.Begun), Doc: l, Holds: slices.Concat([]procedures.EquipmentID{}, p.Equipment, p.Holds)}
	if !l.Open() {
		row.Ended = millis(l.Ended)
	}
	return row
}

// BeginLockout starts a lockout by the procedure's version in force and returns
// its id.
func (m *Mill) BeginLockout(ctx context.Context, submission string, id procedures.ProcedureID, task string, expected time.Time, by procedures.Person, at time.Time) (procedures.LockoutID, error) {
	return m.BeginLockoutLate(ctx, submission, id, task, expected, at, by, at)
}

// BeginLockoutLate is BeginLockout for one that began at happened, by the
// printed placard, and is entered at at.
func (m *Mill) BeginLockoutLate(ctx context.Context, submission string, id procedures.ProcedureID, task string, expected, happened time.Time, by procedures.Person, at time.Time) (procedures.LockoutID, error) {
	return m.BeginLockoutWith(ctx, submission, id, procedures.Beginning{Task: task, By: by, Expected: expected, At: happened}, at)
}

// BeginLockoutWith is BeginLockout with all that b says: the craft, who
// coordinates it with another lockout of the same equipment, when it began. The
// lockout's id and its procedure, the version in force when it began, are put in
// here. One entered late that was over, by its end, before another by the same
// procedure began doesn't stand in that one's way.
func (m *Mill) BeginLockoutWith(ctx context.Context, submission string, id procedures.ProcedureID, b procedures.Beginning, at time.Time) (procedures.LockoutID, error) {
	b.Late = b.At.Before(at)
	result, err := m.do(ctx, submission, "lockout", at, func(tx *Tx, at time.Time) (string, error) {
		when := b.At.Truncate(time.Minute).Add(time.Minute - time.Millisecond) // as exactly as a form asks
		if !b.Late {
			b.At, when = at, at // not late for having waited its turn
		}
		p, err := procedureAt(tx, m.id, id, when)
		if err != nil {
			return "", err
		}
		open, err := openLockouts(tx, m.id)
		if err != nil {
			return "", err
		}
		open = slices.DeleteFunc(open, func(other procedures.Lockout) bool { return b.Late && !b.Expected.After(other.Begun) })
		for _, other := range open {
			if other.Procedure.ID == id {
				return "", plain.Refuse(procedures.Clause("(f)(3)"), "a lockout by this procedure is under way already; join it with your own lock instead. One done by the placard that was over before is entered with an end before that one began, %s", other.Begun)
			}
		}
		b.ID, b.Procedure = procedures.LockoutID(NewID()), p
		l, event, err := b.Begin(open)
		if err != nil {
			return "", err
		}
		g, err := m.gate(tx, l, b.By, at)
		if err != nil {
			return "", err
		}
		if err := g.begin(event); err != nil {
			return "", err
		}
		if event.Late {
			event.Entered = at
		}
		if _, err = tx.append(m.id, act{Actor: b.By.ID, At: at, Happened: event.At, Subject: string(l.ID)}, newLockoutBody(l, event)); err != nil {
			return "", err
		}
		return string(l.ID), g.depart([]procedures.Event{event})
	})
	return procedures.LockoutID(result), err
}

// LockoutEvents applies what one person did in one go, in order, all or
// nothing: steps done in one place share a screen and a submission. What the
// rules refuse comes back as plain.Problems, the position in events as the field.
func (m *Mill) LockoutEvents(ctx context.Context, submission string, id procedures.LockoutID, events []procedures.Event, by procedures.Person, at time.Time) error {
	events = slices.Clone(events)
	_, err := m.do(ctx, submission, "lockout-event", at, func(tx *Tx, at time.Time) (string, error) {
		for i := range events {
			events[i].Person = by.ID
			if !events[i].Late || events[i].At.IsZero() {
				events[i].At = at // not older for having waited its turn
			} else {
				events[i].Entered = at
			}
		}
		row, err := one[lockoutRow](tx, "lockout", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		g, err := m.gate(tx, row.Doc, by, at)
		if err != nil {
			return "", err
		}
		if err := g.onFile(events); err != nil {
			return "", err
		}
		if err := row.Doc.ApplyTogether(events, by); err != nil {
			return "", err
		}
		if err := g.pass(events); err != nil {
			return "", err
		}
		for i, e := range events {
			b := newLockoutBody(row.Doc, e)
			b.before, b.more = events[:i], i < len(events)-1
			if _, err := tx.append(m.id, act{Actor: by.ID, At: at, Happened: e.At, Subject: string(id)}, b); err != nil {
				return "", err
			}
		}
		return string(id), g.depart(events)
	})
	return err
}

// Lockout loads one lockout as its events have made it.
func (m *Mill) Lockout(ctx context.Context, id procedures.LockoutID) (procedures.Lockout, error) {
	row, err := one[lockoutRow](ctxReader{m, ctx}, "lockout", "mill = ? AND id = ?", m.id, id)
	return row.Doc, err
}

// OpenLockouts lists the lockouts under way, oldest first.
func (m *Mill) OpenLockouts(ctx context.Context) ([]procedures.Lockout, error) {
	return openLockouts(ctxReader{m, ctx}, m.id)
}

// EndedLockouts lists the newest lockouts that are over, newest first.
func (m *Mill) EndedLockouts(ctx context.Context, most int) ([]procedures.Lockout, error) {
	var rows []lockoutRow
	err := m.gorm().WithContext(ctx).Order("at DESC, id DESC").Limit(most).Find(&rows, "mill = ? AND open = ?", m.id, false).Error
	ended := make([]procedures.Lockout, len(rows))
	for i := range rows {
		ended[i] = rows[i].Doc
	}
	return ended, err
}

func openLockouts(r reader, mill checklists.MillID) ([]procedures.Lockout, error) {
	var rows []lockoutRow
	err := r.gorm().Order("at, id").Find(&rows, "mill = ? AND open = ?", mill, true).Error
	open := make([]procedures.Lockout, len(rows))
	for i := range rows {
		open[i] = rows[i].Doc
	}
	return open, err
}

// endedBeside are the lockouts that are over and were under way since l began, up to
// the last of the events that are entered late; none where none is.
func endedBeside(r reader, mill checklists.MillID, l procedures.Lockout, events []procedures.Event) ([]procedures.Lockout, error) {
	var last time.Time
	for _, e := range events {
		if e.Late && e.At.After(last) {
			last = e.At
		}
	}
	if last.IsZero() {
		return nil, nil
	}
	var rows []lockoutRow
	err := r.gorm().Order("at, id").Find(&rows, "mill = ? AND at <= ? AND ended >= ?", mill, millis(last), millis(l.Begun)).Error
	ended := make([]procedures.Lockout, len(rows))
	for i := range rows {
		ended[i] = rows[i].Doc
	}
	return ended, err
}
