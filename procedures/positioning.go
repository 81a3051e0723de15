package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// TestState is where a test or positioning stands, 29 CFR 1910.147(f)(1). The
// zero value is that none is under way.
type TestState string

const (
	TestPrepared  TestState = "prepared"  // tools and people out; own locks may come off
	TestEnergized TestState = "energized" // reported under power
)

// testAskedRules are of getting everything and everybody out, (f)(1)(i), (ii).
func testAskedRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(f)(1) asked by the primary", primaryOnly},
		inOrder(),
		beforeTheRelease(plain.Say("The work was reported ended; finish the release.")),
		{"(f)(1) one test at a time", func(a asked) error {
			if a.l.Test == "" {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)"), "A test is under way already.")
		}},
		{"(f)(1)(i) tools out", func(a asked) error {
			if a.e.Tools {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)(i)"), "Count the tools and parts out of the machine first, and say so.")
		}},
		{"(f)(1)(ii) people out", func(a asked) error {
			others := a.l.locksOfOthers()
			if len(others) == 0 {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)(ii)"), "Somebody else is still on this job, with lock %s. Everybody else takes their own lock off and signs off first.", strings.Join(others, ", "))
		}},
	}
}

// locksOfOthers are the numbers of the locks that aren't the primary's, by which
// the mill knows their owners.
func (l *Lockout) locksOfOthers() []string {
	var numbers []string
	for _, lock := range l.LocksOn() {
		if lock.Owner != l.Primary {
			numbers = append(numbers, lock.Number)
		}
	}
	return numbers
}

// testAsked takes every proof back: nobody works under lock while a test is on.
func (l *Lockout) testAsked(Event) {
	l.Test, l.Working, l.Overnight = TestPrepared, false, false
	for i := range l.Members {
		l.Members[i].Verified, l.Members[i].Away = time.Time{}, false
	}
}

// energizedRules are of giving power for the test, (f)(1)(iv).
func energizedRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(f)(1) everything out first", func(a asked) error {
			if a.l.Test == TestPrepared {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)"), "First the one who answers for the lockout reports tools and people out for a test.")
		}},
		{"(f)(1)(iii) own locks off", func(a asked) error {
			on := a.l.LocksOn()
			if len(on) == 0 {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)(iii)"), "Lock %s is still on. Its owner takes it off first.", on[0].Number)
		}},
		{"(f)(1)(ii) everybody seen clear", func(a asked) error {
			if a.e.Clear {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)(ii)"), "See with your own eyes that everybody is clear, and say so, before it gets power.")
		}},
		{"(f)(1)(iv) from where it is run", func(a asked) error {
			if !blank(a.e.Where) {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)(iv)"), "Say where you run it from.")
		}},
	}
}

// testEndedRules are of ending a test, or of giving it up before power.
func testEndedRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(f)(1) ended by the primary", primaryOnly},
		{"(f)(1) a test to end", func(a asked) error {
			if a.l.Test != "" {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)"), "No test is under way.")
		}},
		{"(f)(1)(v) control off", func(a asked) error {
			if a.l.Test != TestEnergized || a.e.OffBack {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)(v)"), "Put the control back to off first, and say so.")
		}},
		{"(f)(1)(v) done only after the test", func(a asked) error {
			if !a.e.Over || a.l.Test == TestEnergized {
				return nil
			}
			return plain.Refuse(Clause("(f)(1)(v)"), "It wasn't under power: nothing was tested. Give the test up, and isolate, lock and prove everything again.")
		}},
		{"(e)(2)(i) nobody in since the test", func(a asked) error {
			if !a.e.Over || a.e.Clear {
				return nil
			}
			return plain.Refuse(Clause("(e)(2)(i)"), "No lock is on. Say that nobody went in since the power came on, with or without a tool, and that nobody will.")
		}},
	}
}

// locked tells whether each device that takes a lock has one of somebody.
func (l *Lockout) locked() bool {
	on := l.LocksOn()
	return !slices.ContainsFunc(l.Procedure.Devices, func(d Device) bool {
		return d.Lockable && !slices.ContainsFunc(on, func(lock Lock) bool { return lock.Device == d.ID })
	})
}

// tested tells whether power was asked for in this lockout: after that locks may
// have been on and be off again.
func (l *Lockout) tested() bool {
	return slices.ContainsFunc(l.Events, func(e Event) bool { return e.Kind == TestAsked })
}

// testEnded begins again with shutting down, (f)(1)(v): all of (d). Only a lock
// that never came off, where the test was given up, need not go on again. With
// the work done there is nothing to go on with, and the release comes next: no
// lock is on, and none goes on.
func (l *Lockout) testEnded(e Event) {
	if l.Test = ""; e.Over {
		l.Stage = InspectArea
		return
	}
	l.Stage = ShutDown
	for _, s := range l.Procedure.Steps {
		if s.Stage < ShutDown || s.Stage > Verify {
			continue
		}
		if s.Stage != Apply || !slices.ContainsFunc(l.LocksOn(), func(lock Lock) bool { return lock.Device == s.Device }) {
			delete(l.Done, s.ID)
		}
	}
}
