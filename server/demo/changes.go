package demo

import (
	"time"

	"stillsaw/procedures"
)

// triedUnderPower is a job with a test in the middle: both out and their locks
// off, the saw run up and stopped, then all of isolation again.
func (m *mill) triedUnderPower() {
	j := m.lockOut("head-saw", "Set the guides, run the saw up to see them", m.imre, m.clock.Add(time.Hour))
	m.join(j, m.oren)
	m.later(1)
	m.acts(j, m.imre, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 4})
	m.later(12)
	m.acts(j, m.oren, procedures.Event{Kind: procedures.LeftJob})
	m.later(1)
	m.acts(j, m.imre, procedures.Event{Kind: procedures.TestAsked, Tools: true, ToolsOut: 4})
	m.later(1)
	m.acts(j, m.imre, j.steps(procedures.RemoveLocks)...)
	m.later(1)
	m.acts(j, m.imre, procedures.Event{Kind: procedures.Energized, Note: "The saw, empty, guards on", Where: "Saw start at the stand", Clear: true})
	m.later(4)
	m.acts(j, m.imre, procedures.Event{Kind: procedures.TestEnded, OffBack: true})
	m.isolateAgain(j)
	m.acts(j, m.imre, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 2})
	m.later(9)
	m.releaseWith(j, 2)
}

// isolateAgain is all of isolation once more, from where the test left it.
func (m *mill) isolateAgain(j *job) {
	var stands procedures.Lockout
	m.do("read the lockout", func() (err error) {
		stands, err = m.desk.Lockout(m.ctx, j.id)
		return err
	})
	if m.err != nil {
		return
	}
	for stage := stands.Stage; stage <= procedures.Verify; stage++ {
		if stage == procedures.Relieve {
			m.later(3)
		}
		if steps := j.steps(stage); len(steps) > 0 {
			m.acts(j, j.by, steps...)
		}
	}
}

// handedOver is a job that changes hands at the end of somebody's day, without
// a gap: the one coming on locks and proves first, the one going off leaves last.
func (m *mill) handedOver() {
	j := m.lockOut("carriage", "New rollers under the carriage", m.imre, m.clock.Add(2*time.Hour))
	m.later(1)
	m.acts(j, m.imre, procedures.Event{Kind: procedures.WorkBegan})
	m.later(25)
	next := &job{id: j.id, p: j.p, by: m.delphine}
	m.lockBeside(next)
	m.later(2)
	m.acts(next, m.delphine, procedures.Event{Kind: procedures.HandedOver, From: m.imre.ID,
		Told: "Front rollers are in and tight. The two rear ones lie on the bench, old ones out, nobody is under it."})
	m.later(1)
	m.acts(j, m.imre, procedures.Event{Kind: procedures.LeftJob})
	m.later(20)
	m.release(next)
}

// lockBeside signs the job's own person on with a lock on every device, beside
// those that are on, proven at zero.
func (m *mill) lockBeside(j *job) {
	var events []procedures.Event
	for _, e := range j.steps(procedures.Apply) {
		if e.Kind != procedures.LockApplied {
			continue
		}
		if len(events) == 0 {
			e.Kind = procedures.Joined
		}
		events = append(events, e)
	}
	m.acts(j, j.by, append(events, reverified())...)
}
