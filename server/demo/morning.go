package demo

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// morning is the walk before the shift: own lock on, everything under lock, the
// lock off, everything stopped, a run check, everything running, signed. Where
// something found stops the machine, the rest waits until it is mended.
func (m *mill) morning(d day, p plan) {
	checker := m.checks(d)
	m.goTo(d.at(5, 45+m.rng.IntN(7)))
	if p.late {
		m.goTo(d.at(6, 44))
	}
	lock := m.night
	if lock.by == checker {
		m.acts(lock, checker, reverified())
	} else {
		m.join(lock, checker)
	}
	m.later(2)
	m.beginWalk(checker)
	var found findings
	if p.found != nil {
		found = p.found()
	}
	m.later(16)
	m.take(checker, m.answers(checklists.LockedOut, found))
	if m.stopsAt(checklists.LockedOut, found) {
		m.later(14)
		m.take(checker, m.answers(checklists.Stopped, found))
		m.signUnrun(checker, p.repair)
		m.mendUnderLock(lock, checker, p.repair)
		m.runAtLast(checker)
		return
	}
	m.later(2)
	if lock.by != checker {
		m.acts(lock, checker, procedures.Event{Kind: procedures.LeftJob})
	}
	m.release(lock)
	m.later(14)
	m.take(checker, m.answers(checklists.Stopped, found))
	if m.stopsAt(checklists.Stopped, found) {
		m.signUnrun(checker, p.repair)
		m.mendAfterwards(p.repair)
		m.runAtLast(checker)
		return
	}
	m.later(2)
	m.allowRun(checker, m.machines()...)
	m.later(9)
	m.take(checker, m.answers(checklists.Running, found))
	m.later(2)
	m.sign(checker)
}

// checks is who walks before a shift.
func (m *mill) checks(d day) *hand {
	if d.checks != nil {
		return d.checks
	}
	return []*hand{m.oren, m.delphine, m.oren, m.imre, m.oren}[d.n%5]
}

func (m *mill) beginWalk(by *hand) {
	m.do("begin the walk", func() (err error) {
		m.walked, err = m.desk.BeginWalk(m.ctx, store.NewID(), m.list.ID, by.Person, m.clock)
		return err
	})
}

func (m *mill) take(by *hand, answers []checklists.Answer) {
	m.do("take answers", func() error { return m.desk.TakeAnswers(m.ctx, m.walked, answers, by.Person, m.clock) })
}

func (m *mill) sign(by *hand) {
	m.do("sign the check", func() error {
		phone := m.clock.Add(2 * time.Second).In(m.zone)
		if by == m.hollis {
			phone = phone.Add(-6 * time.Minute)
		}
		_, err := m.desk.SignInspection(store.WithPhone(m.ctx, phone), store.NewID(), m.walked, by.Person, m.clock, phone)
		return err
	})
}

// amend answers items of this morning's check again.
func (m *mill) amend(by *hand, answers ...checklists.Answer) {
	m.do("amend the check", func() error {
		return m.desk.AmendInspection(m.ctx, store.NewID(), m.walked, answers, by.Person, m.clock)
	})
}

func (m *mill) allowRun(by *hand, machines ...procedures.EquipmentID) {
	m.do("allow a run check", func() error {
		return m.desk.AllowRunCheck(m.ctx, store.NewID(), m.walked, machines, by.Person, m.clock)
	})
}

// machines is everything that can be turned.
func (m *mill) machines() []procedures.EquipmentID {
	var ids []procedures.EquipmentID
	for _, e := range m.plant {
		if e.Kind != procedures.Site {
			ids = append(ids, e.ID)
		}
	}
	return ids
}

// stopsAt tells whether something found in that state stops a machine.
func (m *mill) stopsAt(state checklists.MachineState, found findings) bool {
	for _, item := range m.list.Items {
		if found[item.ID].Result == checklists.Found && item.Severity == checklists.Stop && item.State == state {
			return true
		}
	}
	return false
}

// signUnrun signs the check with everything that needs the machine turning left
// open, because it is held.
func (m *mill) signUnrun(by *hand, r repair) {
	var left []checklists.Answer
	for _, item := range m.list.Items {
		if item.State == checklists.Running {
			left = append(left, checklists.Answer{Item: item.ID, Result: checklists.NotChecked, Note: r.waits})
		}
	}
	m.later(2)
	m.take(by, left)
	m.sign(by)
}

// mendUnderLock mends what was found under the lock that is on already.
func (m *mill) mendUnderLock(lock *job, by *hand, r repair) {
	m.later(4)
	m.acts(lock, by, procedures.Event{Kind: procedures.WorkBegan})
	m.later(26)
	m.mend(m.found(r.item), r.by, r.note, r.after)
	if lock.by != by {
		m.acts(lock, by, procedures.Event{Kind: procedures.LeftJob})
	}
	m.release(lock)
	m.later(3)
	m.back(m.found(r.item), r.back, r.seen)
}

// mendAfterwards mends what was found under a lockout of its own.
func (m *mill) mendAfterwards(r repair) {
	m.later(5)
	m.service(r.procedure, r.task, r.by, nil, 24, func() { m.mend(m.found(r.item), r.by, r.note, r.after) })
	m.later(4)
	m.back(m.found(r.item), r.back, r.seen)
}

// runAtLast answers what had to wait for the mending.
func (m *mill) runAtLast(by *hand) {
	m.later(2)
	m.allowRun(by, m.machines()...)
	m.later(8)
	m.amend(by, m.answers(checklists.Running, nil)...)
}
