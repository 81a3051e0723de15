package demo

import (
	"fmt"
	"time"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// job is one lockout under way.
type job struct {
	id procedures.LockoutID
	p  procedures.Procedure
	by *hand

	task string
}

// lockOut takes a procedure from its beginning to proven at zero.
func (m *mill) lockOut(id procedures.ProcedureID, task string, by *hand, expected time.Time) *job {
	j := &job{p: m.papers[id], by: by}
	m.do("begin lockout "+string(id), func() (err error) {
		j.id, err = m.desk.BeginLockout(m.ctx, store.NewID(), id, task, expected, by.Person, m.clock)
		return err
	})
	m.later(1)
	m.acts(j, by, j.steps(procedures.Prepare, procedures.Notify, procedures.ShutDown)...)
	m.later(2)
	m.acts(j, by, j.steps(procedures.Isolate, procedures.Apply)...)
	m.later(3) // longer than any wait since shutting down
	m.acts(j, by, j.steps(procedures.Relieve, procedures.Verify)...)
	return j
}

// release takes a lockout from the end of the work to back in service.
func (m *mill) release(j *job) { m.releaseWith(j, 0) }

// releaseWith is release with so many tools and parts counted out.
func (m *mill) releaseWith(j *job, tools int) {
	inspected := j.steps(procedures.InspectArea)
	for i := range inspected {
		inspected[i].ToolsOut = tools
	}
	m.acts(j, j.by, append([]procedures.Event{{Kind: procedures.WorkEnded}}, inspected...)...)
	m.later(2)
	m.acts(j, j.by, j.steps(procedures.ClearPeople, procedures.ControlsOff, procedures.RemoveLocks)...)
	m.later(1)
	m.acts(j, j.by, append(j.steps(procedures.Restore, procedures.NotifyRestored), procedures.Event{Kind: procedures.Restored})...)
}

// acts reports what by did in one place.
func (m *mill) acts(j *job, by *hand, events ...procedures.Event) {
	m.do("lockout "+string(j.p.ID), func() error {
		return m.desk.LockoutEvents(m.ctx, store.NewID(), j.id, events, by.Person, m.clock)
	})
}

// steps are the acts of whole stages, done as the procedure says.
func (j *job) steps(stages ...procedures.Stage) []procedures.Event {
	lockable, position := map[procedures.DeviceID]string{}, map[procedures.DeviceID]procedures.Position{}
	for _, d := range j.p.Devices {
		if position[d.ID] = d.Kind.Position(); d.Lockable {
			lockable[d.ID] = fmt.Sprintf("%s-%d", j.by.locks, len(lockable)+1)
		}
	}
	var events []procedures.Event
	for _, stage := range stages {
		for _, s := range j.p.Steps {
			if s.Stage != stage {
				continue
			}
			e := procedures.Event{Kind: procedures.StepDone, Step: s.ID, Proof: s.Proof, OffBack: s.Proof == procedures.TryStart}
			switch number, takesLock := lockable[s.Device]; {
			case takesLock && stage == procedures.Apply:
				e = procedures.Event{Kind: procedures.LockApplied, Device: s.Device, Lock: number, Position: position[s.Device]}
			case takesLock && stage == procedures.RemoveLocks:
				e = procedures.Event{Kind: procedures.LockRemoved, Device: s.Device, Lock: number}
			case stage == procedures.Notify:
				e.Told = "Everybody on the floor, by word of mouth"
			case stage == procedures.InspectArea:
				e.Tools = true
			case stage == procedures.NotifyRestored:
				e.Told = "Everybody on the floor; all answered"
			}
			events = append(events, e)
		}
	}
	return events
}

// join signs another person on with a lock on the key box, proven at zero.
func (m *mill) join(j *job, who *hand) {
	m.acts(j, who, procedures.Event{Kind: procedures.Joined, Lock: who.locks + "-9", KeysInBox: true}, reverified())
}

func reverified() procedures.Event {
	return procedures.Event{Kind: procedures.Reverified, Proof: procedures.TryStart, OffBack: true}
}

// service is a job in the middle of the day: locked out, done, back in service.
// A helper, where there is one, works under a lock of their own.
func (m *mill) service(id procedures.ProcedureID, task string, by, helper *hand, minutes int, inside func()) {
	j := m.lockOut(id, task, by, m.clock.Add(time.Duration(minutes+15)*time.Minute))
	m.later(1)
	m.acts(j, by, procedures.Event{Kind: procedures.WorkBegan})
	m.later(minutes / 2)
	if helper != nil {
		m.join(j, helper)
	}
	m.later(minutes - minutes/2)
	if inside != nil {
		inside()
	}
	if helper != nil {
		m.acts(j, helper, procedures.Event{Kind: procedures.LeftJob})
	}
	m.release(j)
}

// lockForTheNight is the end of a day: the whole head rig left locked.
func (m *mill) lockForTheNight(d day) {
	m.goTo(d.at(15, 36+m.rng.IntN(9)))
	m.leaveLocked(d, []*hand{m.oren, m.imre, m.oren, m.delphine, m.oren}[d.n%5])
}

// leaveLocked leaves the whole head rig locked until the walk before the next shift.
func (m *mill) leaveLocked(d day, by *hand) {
	m.night = m.lockOut("head-rig", "Left locked for the night", by, d.next)
	m.later(1)
	m.acts(m.night, by, procedures.Event{Kind: procedures.LeftOvernight, Until: d.next})
}
