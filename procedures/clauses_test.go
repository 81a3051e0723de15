package procedures_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// clauseRow is one row of the clauses of 29 CFR 1910.147 a lockout enforces: an
// act that breaks it, refused with the clause, and accepted by a law the row's
// rule is left out of. TestClauses runs each as a subtest called by its rule.
type clauseRow struct {
	rule   string
	clause string                                // that the refusal names
	scene  func(t require.TestingT) (*shop, who) // how things stand, and what is tried
	also   []string                              // rules left out from the start, that would speak first
}

// who tries what. An event without a person is of the one signed in.
type who struct {
	by procedures.Person
	e  procedures.Event
}

func clauseRows() []clauseRow {
	var rows []clauseRow
	for _, group := range [][]clauseRow{personRows(), stageRows(), stepRows(), lockRows(), groupRows(), handOverRows(), absentRows(), testRows(), tagRows()} {
		rows = append(rows, group...)
	}
	return rows
}

// at walks the dogs and knees, whose procedure has two devices that take a lock.
func at(t require.TestingT, stage procedures.Stage) *shop {
	return begun(t, "dogs-and-knees").to(stage)
}

// with is a shop whose procedure was changed beforehand.
func with(t require.TestingT, stage procedures.Stage, change func(*procedures.Procedure)) *shop {
	p := starter(t, "dogs-and-knees", answers("electric", "mandrel"))
	change(&p)
	l, _, err := procedures.Begin("lockout-1", p, "change teeth", ada, six.Add(4*time.Hour), six)
	require.NoError(t, err)
	return (&shop{t: t, l: l, now: six}).to(stage)
}

func change(p *procedures.Procedure, id procedures.StepID, how func(*procedures.Step)) {
	for i := range p.Steps {
		if p.Steps[i].ID == id {
			how(&p.Steps[i])
		}
	}
}

// first is ada doing the first step of the stage, spoilt.
func first(s *shop, stage procedures.Stage, spoil func(*procedures.Event)) who {
	for _, step := range s.l.Procedure.Steps {
		if step.Stage == stage {
			e := s.event(step)
			if spoil != nil {
				spoil(&e)
			}
			return who{ada, e}
		}
	}
	return who{}
}

var proof = procedures.Event{Kind: procedures.Reverified, Proof: procedures.TryStart, OffBack: true}

// onBox and onDevices put ben on the job, proven.
func (s *shop) onBox(by procedures.Person, number string) *shop {
	s.do(by, procedures.Event{Kind: procedures.Joined, Lock: number})
	s.do(by, proof)
	return s
}

func (s *shop) onDevices(by procedures.Person) *shop {
	joined := false
	for _, d := range s.l.Procedure.Devices {
		if !d.Lockable {
			continue
		}
		e := procedures.Event{Kind: procedures.Joined, Device: d.ID, Lock: by.Name + "-" + string(d.ID)}
		if joined {
			e.Kind = procedures.LockApplied
		}
		joined = true
		s.do(by, e)
	}
	s.do(by, proof)
	return s
}

// TestClauses is a subtest for every row: refused under the whole law, accepted
// without the row's rule.
func TestClauses(t *testing.T) {
	for _, row := range clauseRows() {
		t.Run(row.rule, func(t *testing.T) {
			why, clause := refusal(t, row.tried(t, row.also...))
			require.Equal(t, row.clause, clause, why.Error())
			require.NoError(t, row.tried(t, append([]string{row.rule}, row.also...)...), "nothing but this rule stands against it")
		})
	}
}

// tried is what a law some rules are left out of says to the row's act; a
// refused one changes nothing.
func (row clauseRow) tried(t require.TestingT, without ...string) error {
	s, try := row.scene(t)
	e := try.e
	if e.Person == "" {
		e.Person = try.by.ID
	}
	if e.At.IsZero() {
		e.At = s.now.Add(10 * time.Second)
	}
	if !slices.Contains([]string{"(d)(4)(ii) position said", "(f)(3)(ii)(D) keys seen in the box", "(d) called off with nobody in"}, row.rule) {
		e = s.held(e)
	}
	l, err := s.l.FoldedWithout(without...)
	require.NoError(t, err)
	was := asJSON(t, l)
	err = l.ApplyWithout(e, try.by, without...)
	if err != nil {
		require.Equal(t, was, asJSON(t, l))
	}
	return err
}

// What a lockout is begun by has rows of its own; entries in their place are
// held by TestEachInvariantFailsOnABrokenLaw.
func TestEveryRuleHasARow(t *testing.T) {
	rows := map[string]bool{procedures.InItsPlace: true}
	for _, row := range clauseRows() {
		rows[row.rule] = true
	}
	for rule := range beginRows() {
		rows[rule] = true
	}
	for _, rule := range procedures.EveryRule() {
		require.True(t, rows[rule], "no row shows what %q is for", rule)
		delete(rows, rule)
	}
	require.Empty(t, rows, "rows of no rule")
}

// beginRows are beginnings each rule is against: clause and what is wrong.
func beginRows() map[string]struct {
	clause string
	spoil  func(*procedures.Beginning) []procedures.Lockout
} {
	return map[string]struct {
		clause string
		spoil  func(*procedures.Beginning) []procedures.Lockout
	}{
		"(c)(8) authorized to begin": {"(c)(8)", func(b *procedures.Beginning) []procedures.Lockout { b.By.Authorized = false; return nil }},
		"(c)(4)(i) published":        {"(c)(4)(i)", func(b *procedures.Beginning) []procedures.Lockout { b.Procedure.Version = 0; return nil }},
		"(c)(4)(ii) without a gap":   {"(c)(4)(ii)", func(b *procedures.Beginning) []procedures.Lockout { b.Procedure.Purpose = ""; return nil }},
		"(f)(3)(ii)(C) coordinated": {"(f)(3)(ii)(C)", func(b *procedures.Beginning) []procedures.Lockout {
			return []procedures.Lockout{begun(nil, "head-rig").l}
		}},
	}
}

func beginning(t require.TestingT) procedures.Beginning {
	return procedures.Beginning{ID: "lockout-2", Procedure: starter(t, "dogs-and-knees", answers("electric", "mandrel")), Task: "teeth", By: ben, Expected: six.Add(time.Hour), At: six}
}

func TestClausesOfBeginning(t *testing.T) {
	for rule, row := range beginRows() {
		t.Run(rule, func(t *testing.T) {
			b := beginning(t)
			_, _, err := b.Begin(nil)
			require.NoError(t, err)
			open := row.spoil(&b)
			_, _, err = b.Begin(open)
			_, clause := refusal(t, err)
			require.Equal(t, row.clause, clause)
			_, _, err = b.BeginWithout(open, rule)
			require.NoError(t, err)
		})
	}
}

// (c)(8): who may report at all; (d)(6): a meter.
func personRows() []clauseRow {
	return []clauseRow{
		{rule: "(c)(8) signs for oneself", clause: "(c)(8)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Isolate)
			return s, who{ben, first(s, procedures.Isolate, func(e *procedures.Event) { e.Person = "ada" }).e}
		}},
		{rule: "(c)(8) of the crew", clause: "(c)(8)", scene: func(t require.TestingT) (*shop, who) {
			s, gone := at(t, procedures.Isolate), ada
			gone.Left = true
			return s, who{gone, first(s, procedures.Isolate, nil).e}
		}},
		{rule: "(c)(8) authorized", clause: "(c)(8)", scene: func(t require.TestingT) (*shop, who) {
			s, lapsed := at(t, procedures.Isolate), ada
			lapsed.Authorized = false
			return s, who{lapsed, first(s, procedures.Isolate, nil).e}
		}},
		{rule: "(d)(6) meter by a qualified person", clause: "(d)(6)", scene: func(t require.TestingT) (*shop, who) {
			s := with(t, procedures.Verify, func(p *procedures.Procedure) {
				change(p, "saw-try", func(step *procedures.Step) { step.Proof = procedures.MeterDead })
			})
			return s, who{ada, procedures.Event{Kind: procedures.StepDone, Step: "saw-try", Proof: procedures.MeterDead}}
		}},
		{rule: "(d) who cancels", clause: "(d)", scene: func(t require.TestingT) (*shop, who) {
			return at(t, procedures.Apply), who{ben, procedures.Event{Kind: procedures.Cancelled}}
		}},
	}
}

// A stage is left only with everything of it done: the order of (d) and (e).
func stageRows() []clauseRow {
	next := func(rule, clause string, stage procedures.Stage, e func(*shop) procedures.Event) clauseRow {
		return clauseRow{rule: rule, clause: clause, scene: func(t require.TestingT) (*shop, who) {
			s := at(t, stage)
			return s, who{ada, e(s)}
		}}
	}
	of := func(stage procedures.Stage) func(*shop) procedures.Event {
		return func(s *shop) procedures.Event { return first(s, stage, nil).e }
	}
	work := func(*shop) procedures.Event { return procedures.Event{Kind: procedures.WorkBegan} }
	return []clauseRow{
		next("(d)(1) Know every energy: every step", "(d)(1)", procedures.Prepare, of(procedures.Notify)),
		next("(c)(9) Tell those it touches: every step", "(c)(9)", procedures.Notify, of(procedures.ShutDown)),
		next("(d)(2) Shut down: every step", "(d)(2)", procedures.ShutDown, of(procedures.Isolate)),
		next("(d)(3) Isolate: every step", "(d)(3)", procedures.Isolate, of(procedures.Apply)),
		next("(d)(4) Put your locks on: every step", "(d)(4)(i)", procedures.Apply, func(s *shop) procedures.Event {
			s.now = s.now.Add(time.Hour)
			return of(procedures.Relieve)(s)
		}),
		next("(d)(5) Relieve or hold what is stored: every step", "(d)(5)", procedures.Relieve, of(procedures.Verify)),
		next("(d)(6) Prove it at zero: every step", "(d)(6)", procedures.Verify, work),
		next("(e)(1) Look the area over: every step", "(e)(1)", procedures.InspectArea, of(procedures.ClearPeople)),
		next("(e)(2)(i) Everybody clear: every step", "(e)(2)(i)", procedures.ClearPeople, of(procedures.ControlsOff)),
		next("Appendix A Controls to off: every step", " Appendix A", procedures.ControlsOff, of(procedures.RemoveLocks)),
		next("(e)(3) every lock off", "(e)(3)", procedures.RemoveLocks, of(procedures.Restore)),
		next("Appendix A Restore: every step", " Appendix A", procedures.Restore, of(procedures.NotifyRestored)),
		next("(e)(2)(ii) everything done before it is back", "(e)(2)(ii)", procedures.NotifyRestored, func(*shop) procedures.Event {
			return procedures.Event{Kind: procedures.Restored}
		}),
	}
}

// What is asked of a step, and of the acts around the work.
func stepRows() []clauseRow {
	spoilt := func(rule, clause string, stage procedures.Stage, spoil func(*procedures.Event), also ...string) clauseRow {
		return clauseRow{rule: rule, clause: clause, also: also, scene: func(t require.TestingT) (*shop, who) {
			s := at(t, stage)
			s.now = s.now.Add(s.l.WaitLeft(s.now))
			return s, first(s, stage, spoil)
		}}
	}
	act := func(rule, clause string, stage procedures.Stage, by procedures.Person, e procedures.Event, also ...string) clauseRow {
		return clauseRow{rule: rule, clause: clause, also: also, scene: func(t require.TestingT) (*shop, who) { return at(t, stage), who{by, e} }}
	}
	return []clauseRow{
		spoilt("(c)(4)(i) a step of this version", "(c)(4)(i)", procedures.Isolate, func(e *procedures.Event) { e.Step, e.Proof = "none", "" }, "(d) each step once"),
		{rule: "(f)(3)(ii)(A) steps by the primary", clause: "(f)(3)(ii)(A)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Isolate)
			return s, who{ben, first(s, procedures.Isolate, nil).e}
		}},
		{rule: "(d) each step once", clause: "(d)(1)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Isolate)
			return s, first(s, procedures.Prepare, nil)
		}},
		{rule: "(d) in order", clause: "(d)(1)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Prepare)
			return s, first(s, procedures.ClearPeople, nil)
		}},
		{rule: "(d)(2) in the order listed", clause: "(d)(2)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.ShutDown)
			return s, who{ada, s.event(s.undone()[1])}
		}},
		{rule: "(d)(5)(i) wait over", clause: "(d)(5)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Relieve)
			return s, first(s, procedures.Relieve, nil)
		}},
		{rule: "(d)(5)(i) wait over from a stop entered to the minute", clause: "(d)(5)", scene: func(t require.TestingT) (*shop, who) {
			s, minute := stoppedLate(t)
			waits := first(s, procedures.Relieve, nil)
			waits.e.At = minute.Add(procedures.SawWaitUnmeasured)
			return s, waits
		}},
		spoilt("(d)(6) proof as the step asks", "(d)(6)", procedures.Verify, func(e *procedures.Event) { e.Proof = procedures.Tick }),
		spoilt("Appendix A-7 control back at off", " Appendix A", procedures.Verify, func(e *procedures.Event) { e.OffBack = false }),
		spoilt("(c)(9) told before", "(c)(9)", procedures.Notify, func(e *procedures.Event) { e.Told = "" }),
		spoilt("(e)(2)(ii) told after", "(e)(2)(ii)", procedures.NotifyRestored, func(e *procedures.Event) { e.Told = " " }),
		{rule: "(e)(1) tools counted", clause: "(e)(1)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.InspectArea)
			for len(s.undone()) > 1 {
				e := s.event(s.undone()[0])
				e.Tools = false
				s.do(ada, e)
			}
			e := s.event(s.undone()[0])
			e.Tools = false
			return s, who{ada, e}
		}},
		{rule: "(e)(1) as many out as in", clause: "(e)(1)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Work)
			s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 7})
			s.to(procedures.InspectArea)
			return s, first(s, procedures.InspectArea, func(e *procedures.Event) { e.ToolsOut = 6 })
		}},
		{rule: "(e)(2)(i) nobody signed on", clause: "(e)(2)(i)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Work).onBox(ben, "B-1").to(procedures.ClearPeople)
			return s, first(s, procedures.ClearPeople, nil)
		}},
		{rule: "photo where the step asks for one", clause: "(d)(3)", scene: func(t require.TestingT) (*shop, who) {
			s := with(t, procedures.Isolate, func(p *procedures.Procedure) {
				change(p, "isolate-saw-disconnect", func(step *procedures.Step) { step.AsksPhoto = true })
			})
			return s, who{ada, procedures.Event{Kind: procedures.StepDone, Step: "isolate-saw-disconnect", Proof: procedures.Tick}}
		}},
		{rule: "(d) called off with nobody in", clause: "(d)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Apply)
			s.do(ada, s.event(s.undone()[0]))
			return s, who{ada, procedures.Event{Kind: procedures.WorkEnded}}
		}},
		{rule: "(e)(1) no more out than in", clause: "(e)(1)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Work)
			s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1", ToolsIn: 2})
			return s, who{ben, procedures.Event{Kind: procedures.LeftJob, ToolsOut: 3}}
		}},
		{rule: "(f)(3)(ii)(A) put off by the primary", clause: "(f)(3)(ii)(A)", scene: func(t require.TestingT) (*shop, who) {
			return at(t, procedures.Work).onBox(ben, "B-1"), who{ben, procedures.Event{Kind: procedures.LaterEnd, Until: six.Add(6 * time.Hour)}}
		}},
		act("a later end than before", "", procedures.Work, ada, procedures.Event{Kind: procedures.LaterEnd, Until: six.Add(3 * time.Hour)}),
		act("(d) a lock was on", "(d)", procedures.Isolate, ada, procedures.Event{Kind: procedures.WorkEnded}),
		act("(e) before the release", "(e)", procedures.InspectArea, ada, procedures.Event{Kind: procedures.WorkEnded}),
		act("(e) back from the release", "(e)", procedures.Work, ada, procedures.Event{Kind: procedures.Resumed}),
		act("(f)(3)(ii)(A) back by the primary", "(f)(3)(ii)(A)", procedures.InspectArea, ben, procedures.Event{Kind: procedures.Resumed}),
		{rule: "(d)(6) back only to what was at zero", clause: "(d)(6)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Verify)
			s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
			return s, who{ada, procedures.Event{Kind: procedures.Resumed}}
		}},
		{rule: "(d)(4) back only under every lock", clause: "(d)(4)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.RemoveLocks)
			s.do(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: s.l.LocksOn()[0].Number})
			return s, who{ada, procedures.Event{Kind: procedures.Resumed}}
		}},
		act("(e) no lock was on", "(e)", procedures.Work, ada, procedures.Event{Kind: procedures.Cancelled}),
		act("(f)(3)(ii)(A) ended by the primary", "(f)(3)(ii)(A)", procedures.Work, ben, procedures.Event{Kind: procedures.WorkEnded}),
		{rule: "(f)(3)(ii)(A) restored by the primary", clause: "(f)(3)(ii)(A)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.NotifyRestored)
			s.do(ada, s.event(s.undone()[0]))
			return s, who{ben, procedures.Event{Kind: procedures.Restored}}
		}},
		{rule: "work begins once", clause: "", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Work)
			s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
			return s, who{ada, procedures.Event{Kind: procedures.WorkBegan}}
		}},
		{rule: "(d)(6) proven by oneself", clause: "(d)(6)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Work)
			s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"})
			return s, who{ben, procedures.Event{Kind: procedures.WorkBegan}}
		}},
	}
}
