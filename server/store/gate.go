package store

import (
	"errors"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// gate is what a command of a lockout asks of the one who reports: may they,
// which of their locks are new, and what of it is to be entered as a departure.
type gate struct {
	m  *Mill
	tx *Tx
	l  procedures.Lockout // as it stood
	s  procedures.Standing
	at time.Time
}

func (m *Mill) gate(tx *Tx, l procedures.Lockout, by procedures.Person, at time.Time) (gate, error) {
	s, err := standing(tx, m.id, by, l.Procedure)
	return gate{m, tx, l, s, at}, err
}

// begin asks whether the lockout may be begun; what was begun before and is
// entered late happened.
func (g gate) begin(e procedures.Event) error {
	if e.Late {
		return nil
	}
	if err := g.tx.ofAgeFor(g.m.id, g.s.Person, g.at, g.l.Procedure.Equipment...); err != nil {
		return err
	}
	return procedures.MayBegin(g.l.Procedure, g.s, g.at)
}

// onFile puts into what is done for somebody absent what the mill has of it: what
// its program says, and whether they left the mill; nobody types that.
func (g gate) onFile(events []procedures.Event) error {
	for i := range events {
		if events[i].Kind == procedures.LockTaken {
			events[i].Program = procedures.MayTakeAbsentLock(g.s.Program) == nil
		}
		events[i].LeftMill = false
		if absent := g.l.ActedFor(events[i]); absent != "" {
			p, err := person(g.tx, g.m.id, absent)
			if err != nil && !errors.Is(err, ErrNotFound) {
				return err
			}
			events[i].LeftMill = p.Left
		}
	}
	return nil
}

// pass asks whether the events may be reported and registers the locks nobody
// had before.
func (g gate) pass(events []procedures.Event) error {
	if err := procedures.MayReportTogether(g.l, events, g.s, g.at); err != nil {
		return err
	}
	for _, e := range events {
		if e.Kind != procedures.LockApplied && e.Kind != procedures.Joined {
			continue
		}
		if !e.Late {
			if err := g.tx.ofAgeFor(g.m.id, g.s.Person, g.at, g.l.Procedure.Equipment...); err != nil {
				return err
			}
		}
		item, first, err := procedures.MayUse(e.Lock, g.s.Person, g.s.Locks, g.s.Program, g.at)
		if err != nil || !first || item.Number == "" {
			continue // entered late: what was against the rule becomes a departure
		}
		if err := g.m.keepLock(g.tx, item, g.s.Person, g.at); err != nil {
			return err
		}
		g.s.Locks = append(slices.Clip(g.s.Locks), item)
	}
	return nil
}

// depart enters as departures what the events went against, once for each
// person and lockout: of those on the job already what they lack by now, of
// what is entered late what would have been refused.
func (g gate) depart(events []procedures.Event) error {
	var gaps []procedures.Gap
	happened := g.at
	if events[0].Kind != procedures.Began {
		gaps = procedures.Lapses(g.l, g.s, g.at)
	}
	var err error
	if g.s.Ended, err = endedBeside(g.tx, g.m.id, g.l, events); err != nil {
		return err
	}
	l := g.l
	for _, e := range events {
		if broken := procedures.Broken(l, e, g.s); len(broken) > 0 {
			gaps, happened = append(gaps, broken...), e.At
		}
		if e.Kind == procedures.Began {
			continue // l is what it made already
		}
		if err := l.Apply(e, g.s.Person); err != nil {
			return err
		}
	}
	if len(gaps) == 0 || len(g.l.Procedure.Equipment) == 0 {
		return nil
	}
	known, err := g.known()
	if err != nil {
		return err
	}
	equipment, err := plant(g.tx, g.m.id)
	if err != nil {
		return err
	}
	by := g.s.Person
	for _, gap := range gaps {
		said := inWords(gap)
		if known[said] {
			continue
		}
		known[said] = true
		if err := g.m.departed(g.tx, g.l, said, by.ID, by.ID, equipment, happened, g.at); err != nil {
			return err
		}
	}
	return nil
}

func inWords(gap procedures.Gap) string { return gap.Why.String() + " (" + gap.Clause + ")" }

// departed enters what went against the order in a lockout, by and about whom.
func (m *Mill) departed(tx *Tx, l procedures.Lockout, said string, by, about procedures.PersonID, equipment procedures.Plant, happened, at time.Time) error {
	d, err := checklists.EnterDeparture(checklists.DepartureID(NewID()), l.Procedure.Equipment[0], said, happened, "", by, equipment, at)
	if err != nil {
		return err
	}
	d.Lockout, d.About = l.ID, about
	_, err = tx.append(m.id, act{Actor: by, At: at, Happened: happened, Subject: string(d.ID)}, &departureBody{newDeparturePart(d)})
	return err
}

// leftBehind enters as departures, for the supervisor to see to, what somebody
// who left the mill leaves in the lockouts under way: own locks that are on, or
// a lockout they answer for.
func (m *Mill) leftBehind(tx *Tx, gone procedures.Person, by procedures.PersonID, at time.Time) error {
	open, err := openLockouts(tx, m.id)
	if err != nil {
		return err
	}
	equipment, err := plant(tx, m.id)
	if err != nil {
		return err
	}
	for _, l := range open {
		for _, gap := range l.LeftBehind(gone) {
			if err := m.departed(tx, l, inWords(gap), by, gone.ID, equipment, at, at); err != nil {
				return err
			}
		}
	}
	return nil
}

// known is what was entered of this person in this lockout already.
func (g gate) known() (map[string]bool, error) {
	var rows []departureRow
	err := g.tx.gorm().Find(&rows, "mill = ? AND equipment = ? AND at >= ?", g.m.id, g.l.Procedure.Equipment[0], millis(g.l.Begun)).Error
	known := map[string]bool{}
	for _, row := range rows {
		if row.Doc.Lockout == g.l.ID && row.Doc.About == g.s.Person.ID {
			known[row.Doc.What] = true
		}
	}
	return known, err
}

// untold marks in the register the locks that l says were taken off while their
// owners were away, and those whose owners said to know.
func untold(tx *Tx, mill string, l procedures.Lockout) error {
	register, err := locks(tx, checklists.MillID(mill))
	if err != nil {
		return err
	}
	waiting := map[string]procedures.Lock{}
	for _, lock := range l.Untold() {
		waiting[procedures.LockNumber(lock.Number)] = lock
	}
	for number, lock := range waiting {
		item, known := procedures.FindLock(register, number)
		if !known { // put on before there was a register
			item = procedures.LockItem{Number: lock.Number, Owner: lock.Owner}
		}
		if item.Untold == l.ID {
			continue
		}
		item.Untold = l.ID
		if err := putLock(tx, mill, item); err != nil {
			return err
		}
	}
	for _, item := range register {
		if _, still := waiting[procedures.LockNumber(item.Number)]; item.Untold == l.ID && !still {
			item.Untold = ""
			if err := putLock(tx, mill, item); err != nil {
				return err
			}
		}
	}
	return nil
}

// changesTold tells whether whose lock was taken off unknown to them is another
// after e.
func changesTold(e procedures.Event) bool {
	return e.Kind == procedures.LockTaken || e.Kind == procedures.ToldOfLock
}
