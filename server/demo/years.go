package demo

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

// Told is how far the making of years has come.
type Told struct {
	Entries int64     // of the record so far
	At      time.Time // how far the history is told
}

// FillYears makes in st, which must be empty, a mill of three shifts that has been
// sawing for so many years until now: about a hundred thousand entries a year, by
// the same commands as [Fill], so that every rule is asked. What several people do
// at the same minute goes in at once and shares a commit. tell is called now and
// then. It is meant for trying out how a record of that length behaves.
func FillYears(ctx context.Context, st *store.Store, now time.Time, years int, tell func(Told)) ([]SignIn, error) {
	m, err := newMill(ctx, st, now)
	if err != nil {
		return nil, err
	}
	m.about.Name, m.about.Shifts = "Quillet Brook Mill, three shifts", nil
	for i, name := range []string{"Day", "Evening", "Night"} {
		start := (7 + shiftEvery*i) % 24 * 60
		m.about.Shifts = append(m.about.Shifts, checklists.Shift{Name: name, Start: start, End: (start + shiftLasts) % (24 * 60), Days: workingDays()})
	}
	m.years(years, tell)
	if m.err != nil && !errors.Is(m.err, errNow) {
		return nil, m.err
	}
	return m.signIns(), nil
}

// A shift of six and a half hours begins every eight: between two the saw is
// locked, handed on and checked.
const (
	shiftEvery = 8
	shiftLasts = 6*60 + 30
)

// turn is who works a shift together.
type turn struct {
	sawyer, tail, hook *hand
}

// years tells one shift after the other.
func (m *mill) years(years int, tell func(Told)) {
	date := m.now.In(m.zone).AddDate(-years, 0, 0)
	for date.Weekday() != time.Monday {
		date = date.AddDate(0, 0, -1)
	}
	first := day{date: date.AddDate(0, 0, -3), zone: m.zone}
	m.setUp(first.at(9, 0))
	turns := m.hireTurns()
	first.next = onWall(date, m.zone, 6, 0)
	m.goTo(first.at(18, 0))
	m.leaveLocked(first, turns[2].sawyer)
	for n := 0; m.err == nil; date = date.AddDate(0, 0, 1) {
		if date.Weekday() == time.Saturday || date.Weekday() == time.Sunday {
			continue
		}
		for i := range turns {
			d := day{n: n, date: date, zone: m.zone, shift: shiftEvery * i, checks: turns[i].sawyer}
			d.next = d.at(6+shiftEvery, 0)
			if i == 2 && date.Weekday() == time.Friday {
				d.next = onWall(date.AddDate(0, 0, 3), m.zone, 6, 0)
			}
			m.shift(d, &turns[i])
			n++
			if n%len(turns) == 0 && m.err == nil {
				head, err := m.desk.Head(m.ctx)
				m.do("count", func() error { return err })
				tell(Told{Entries: head.Size, At: m.clock})
			}
		}
	}
}

// shift is one shift, from the walk before it to the lock after it.
func (m *mill) shift(d day, t *turn) {
	m.morning(d, m.foundOn(d))
	m.noSooner(d.at(7, 10+m.rng.IntN(10)))
	m.lifts(d, t, 2)
	m.noSooner(d.at(8, m.rng.IntN(20)))
	m.services(d, t)
	m.noSooner(d.at(9, 30+m.rng.IntN(20)))
	m.lifts(d, t, 2)
	m.noSooner(d.at(11, m.rng.IntN(20)))
	if d.shift == 0 {
		m.keepUp(d)
	}
	m.wear += 1.0 / 3000
	if m.wear > 1.0/20 {
		m.wear = 1.0 / 64 // a new pawl, before anybody has to complain of it
	}
	if m.bin += m.between(1, 4, 1); m.bin > 60 {
		m.bin = 15
	}
	m.noSooner(d.at(13, 22+m.rng.IntN(6)))
	m.leaveLocked(d, t.tail)
}

// noSooner moves the clock to t, unless what came before took longer.
func (m *mill) noSooner(t time.Time) {
	if t.After(m.clock) {
		m.goTo(t)
	}
}

// atOnce carries out acts of several people at the same minute, which share a
// commit. The first error is the history's.
func (m *mill) atOnce(what string, acts ...func() error) {
	m.do(what, func() error {
		done := make(chan error, len(acts))
		for _, act := range acts {
			go func() { done <- act() }()
		}
		var first error
		for range acts {
			if err := <-done; err != nil && first == nil {
				first = err
			}
		}
		return first
	})
}

// lifts are so many pieces at the hoist, checked and lifted, and as many more of
// the last one's kind.
func (m *mill) lifts(d day, t *turn, count int) {
	kinds := sawnHere()
	feet, small := m.between(5, 6.5, 0.5), m.between(11, 15, 0.5)
	l := m.log(kinds[m.rng.IntN(len(kinds))], feet, small, small+m.between(0.5, 1, 0.5))
	if d.n%2 == 0 {
		l = m.cant(kinds[m.rng.IntN(len(kinds))], feet, small+1, small+1.5, 2+m.rng.IntN(3))
	}
	id := m.lift(t.hook, l)
	m.later(5)
	further := make([]func() error, count)
	for i := range further {
		further[i] = func() error { return m.liftOfRun(id, t.hook, l.Questions) }
	}
	m.atOnce("keep lifts of a run", further...)
	if d.n%30 == 7 {
		m.later(4)
		m.weigh(id, l.Piece, 1+0.04*max(-1.5, min(1.5, m.scale.NormFloat64())), t.hook, "")
	}
}

// services are the jobs under lock of a shift, begun, done and ended side by side
// by people who each lock for themselves.
func (m *mill) services(d day, t *turn) {
	jobs := []struct {
		procedure procedures.ProcedureID
		task      string
	}{
		{"head-saw", "Change teeth, clean the shanks"}, {"dust-collection", "Clear the fan wheel"}, {"carriage", "Take up the feed rope"}, {"hoist", "Oil the load chain, look the hook over"},
		{"dogs-and-knees", "Dress the dog points"}, {"off-bearing", "Clear slabs from the chain"},
	}
	var under []*job
	for i, by := range []*hand{t.sawyer, t.tail} {
		j := jobs[(d.n+3*i)%len(jobs)]
		if _, written := m.papers[j.procedure]; written {
			under = append(under, &job{p: m.papers[j.procedure], by: by, task: j.task})
		}
	}
	each := func(what string, do func(j *job) error) {
		acts := make([]func() error, len(under))
		for i, j := range under {
			acts[i] = func() error { return do(j) }
		}
		m.atOnce(what, acts...)
	}
	report := func(events func(j *job) []procedures.Event) {
		each("lockouts side by side", func(j *job) error {
			return m.desk.LockoutEvents(m.ctx, store.NewID(), j.id, events(j), j.by.Person, m.clock)
		})
	}
	expected := m.clock.Add(time.Hour)
	each("begin lockouts", func(j *job) (err error) {
		j.id, err = m.desk.BeginLockout(m.ctx, store.NewID(), j.p.ID, j.task, expected, j.by.Person, m.clock)
		return err
	})
	m.later(2)
	report(func(j *job) []procedures.Event {
		return j.steps(procedures.Prepare, procedures.Notify, procedures.ShutDown, procedures.Isolate, procedures.Apply)
	})
	m.later(4) // longer than any wait since shutting down
	report(func(j *job) []procedures.Event {
		return append(j.steps(procedures.Relieve, procedures.Verify), procedures.Event{Kind: procedures.WorkBegan})
	})
	m.later(20 + m.rng.IntN(10))
	report(func(j *job) []procedures.Event {
		return append([]procedures.Event{{Kind: procedures.WorkEnded}}, j.steps(procedures.InspectArea, procedures.ClearPeople, procedures.ControlsOff, procedures.RemoveLocks)...)
	})
	m.later(2)
	report(func(j *job) []procedures.Event {
		return append(j.steps(procedures.Restore, procedures.NotifyRestored), procedures.Event{Kind: procedures.Restored})
	})
}

// liftOfRun keeps a further piece lifted on a check, where that was a GO.
func (m *mill) liftOfRun(id string, by *hand, answers lift.Questions) error {
	kept, err := m.desk.Lift(m.ctx, id)
	if err != nil || !kept.Go {
		return err
	}
	return keepLiftOfRun(m, id, by, answers)
}
