package procedures_test

import (
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

var dora = procedures.Person{ID: "dora", Name: "Dora", Role: procedures.Supervisor, Authorized: true}

func lockRows() []clauseRow {
	apply := func(rule, clause string, e procedures.Event, also ...string) clauseRow {
		e.Kind = procedures.LockApplied
		return clauseRow{rule: rule, clause: clause, also: also, scene: func(t require.TestingT) (*shop, who) { return at(t, procedures.Apply), who{ada, e} }}
	}
	one := func(s *shop) *shop {
		s.do(ada, procedures.Event{Kind: procedures.LockApplied, Device: "saw-disconnect", Lock: "A-saw-disconnect"})
		return s
	}
	off := func(rule, clause string, stage procedures.Stage, by procedures.Person, number string, also ...string) clauseRow {
		return clauseRow{rule: rule, clause: clause, also: also, scene: func(t require.TestingT) (*shop, who) {
			return at(t, stage), who{by, procedures.Event{Kind: procedures.LockRemoved, Lock: number}}
		}}
	}
	return []clauseRow{
		apply("(d)(4)(i) a device of this procedure", "(d)(4)(i)", procedures.Event{Device: "elsewhere", Lock: "7"}, "(c)(2)(i) a device that takes a lock"),
		apply("(c)(2)(i) a device that takes a lock", "(c)(2)(i)", procedures.Event{Device: "saw-pin", Lock: "7"}),
		apply("(d)(4)(ii) held in the safe position", "(d)(4)(ii)", procedures.Event{Device: "saw-disconnect", Lock: "7", Position: procedures.PositionClosed}),
		apply("(d)(4)(ii) position said", "(d)(4)(ii)", procedures.Event{Device: "saw-disconnect", Lock: "7"}),
		apply("(c)(5)(ii) a numbered lock", "(c)(5)(ii)", procedures.Event{Device: "saw-disconnect", Lock: " "}),
		{rule: "(c)(5)(ii) a lock of its own", clause: "(c)(5)(ii)", scene: func(t require.TestingT) (*shop, who) {
			return one(at(t, procedures.Apply)), who{ada, procedures.Event{Kind: procedures.LockApplied, Device: "dogs-valve", Lock: "a-saw-disconnect"}}
		}},
		{rule: "(d)(4)(i) one own lock a device", clause: "(d)(4)(i)", scene: func(t require.TestingT) (*shop, who) {
			return one(at(t, procedures.Apply)), who{ada, procedures.Event{Kind: procedures.LockApplied, Device: "saw-disconnect", Lock: "8"}}
		}},
		{rule: "(d)(4) locks before the proof", clause: "(d)(4)", also: []string{"(d)(4)(i) one own lock a device"}, scene: func(t require.TestingT) (*shop, who) {
			return at(t, procedures.Work), who{ada, procedures.Event{Kind: procedures.LockApplied, Device: "saw-disconnect", Lock: "8"}}
		}},
		{rule: "(d)(4)(i) a lock, not a tick", clause: "(d)(4)(i)", scene: func(t require.TestingT) (*shop, who) {
			return at(t, procedures.Apply), who{ada, procedures.Event{Kind: procedures.StepDone, Step: "lock-saw-disconnect", Proof: procedures.Tick}}
		}},
		off("(e)(3) a lock that is on", "(e)(3)", procedures.RemoveLocks, ada, "none"),
		off("(e)(3) by its owner only", "(e)(3)", procedures.RemoveLocks, ben, "A-saw-disconnect"),
		off("(e) checked and clear first", "(e)(1)", procedures.Work, ada, "A-saw-disconnect", "(f)(4) no device bare"),
		off("(f)(4) no device bare", "(f)(4)", procedures.Work, ada, "A-saw-disconnect", "(e) checked and clear first"),
		{rule: "(f)(3)(ii)(D) lock off is signing off", clause: "(f)(3)(ii)(D)", also: []string{"(e) checked and clear first"}, scene: func(t require.TestingT) (*shop, who) {
			return at(t, procedures.Work).onBox(ben, "B-1"), who{ben, procedures.Event{Kind: procedures.LockRemoved, Lock: "B-1"}}
		}},
		{rule: "(f)(3)(ii)(D) box locked", clause: "(f)(3)(ii)(D)", also: []string{"(e) checked and clear first", "(f)(4) no device bare"}, scene: func(t require.TestingT) (*shop, who) {
			return at(t, procedures.Work).onBox(ben, "B-1"), who{ada, procedures.Event{Kind: procedures.LockRemoved, Lock: "A-saw-disconnect"}}
		}},
	}
}

func groupRows() []clauseRow {
	act := func(rule, clause string, by procedures.Person, e procedures.Event, also ...string) clauseRow {
		return clauseRow{rule: rule, clause: clause, also: also, scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Work)
			s.do(ben, procedures.Event{Kind: procedures.Joined, Device: "saw-disconnect", Lock: "B-1"})
			return s, who{by, e}
		}}
	}
	again := func(spoil func(*procedures.Event)) procedures.Event {
		e := proof
		spoil(&e)
		return e
	}
	return []clauseRow{
		act("(f)(3)(ii)(D) keys seen in the box", "(f)(3)(ii)(D)", dora, procedures.Event{Kind: procedures.Joined, Lock: "D-1"}),
		{rule: "(f)(3)(ii)(D) keys seen before going on", clause: "(f)(3)(ii)(D)", scene: func(t require.TestingT) (*shop, who) {
			return boxedLate(t), who{ben, proof}
		}},
		{rule: "(f)(3)(ii)(D) keys seen before going on", clause: "(f)(3)(ii)(D)", scene: func(t require.TestingT) (*shop, who) {
			return boxedLate(t), who{ada, procedures.Event{Kind: procedures.WorkBegan}}
		}},
		act("(f)(3)(ii)(D) joins once", "(f)(3)(ii)(D)", ben, procedures.Event{Kind: procedures.Joined, Lock: "B-2"}),
		act("(f)(3)(ii)(D) signed on", "(f)(3)(ii)(D)", dora, procedures.Event{Kind: procedures.LockApplied, Device: "saw-disconnect", Lock: "D-1"}),
		act("(f)(3)(ii)(A) the primary stays", "(f)(3)(ii)(A)", ada, procedures.Event{Kind: procedures.LeftJob}, "(f)(4) no device bare"),
		act("(f)(4) the primary leaves last", "(f)(4)", ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)}),
		act("(d)(4)(i) own locks left on", "(d)(4)(i)", ben, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)}),
		act("until when it stays locked", "", ada, procedures.Event{Kind: procedures.LeftOvernight}, "(f)(4) the primary leaves last"),
		act("(f)(3)(ii)(D) own locks before the own proof", "(f)(3)(ii)(D)", ben, proof),
		act("(d)(6) proof again", "(d)(6)", ada, again(func(e *procedures.Event) { e.Proof = "" }), "(d)(6) start tried again"),
		act("(d)(6) start tried again", "(d)(6)", ada, again(func(e *procedures.Event) { e.Proof = procedures.Tick })),
		act("Appendix A-7 control back at off", " Appendix A", ada, again(func(e *procedures.Event) { e.OffBack = false })),
		act("(d)(5)(ii) a step that proves zero", "(d)(5)(ii)", ada, procedures.Event{Kind: procedures.Rechecked, Step: "people-clear", Proof: procedures.Tick}),
		{rule: "(d)(5)(ii) rechecked in time", clause: "(d)(5)(ii)", scene: func(t require.TestingT) (*shop, who) {
			s := buildsUp(t)
			s.now = s.now.Add(31 * time.Minute)
			return s, who{ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"}}
		}},
		{rule: "(d)(5)(ii) rechecked in time", clause: "(d)(5)(ii)", scene: func(t require.TestingT) (*shop, who) {
			s := buildsUp(t)
			s.now = s.now.Add(31 * time.Minute)
			return s, who{ada, procedures.Event{Kind: procedures.WorkBegan}}
		}},
	}
}

// buildsUp is a shop at work where the air of the dogs comes back in half an hour.
func buildsUp(t require.TestingT) *shop {
	return with(t, procedures.Work, func(p *procedures.Procedure) {
		change(p, "dogs-gauge", func(step *procedures.Step) { step.Recheck = 30 * time.Minute })
	})
}

func handOverRows() []clauseRow {
	good := procedures.Event{Kind: procedures.HandedOver, From: "ada", Told: "two teeth left, nobody in it"}
	row := func(rule string, ready func(*shop) *shop, spoil func(*procedures.Event), also ...string) clauseRow {
		return clauseRow{rule: rule, clause: "(f)(4)", also: also, scene: func(t require.TestingT) (*shop, who) {
			e := good
			spoil(&e)
			return ready(at(t, procedures.Work)), who{ben, e}
		}}
	}
	none := func(*procedures.Event) {}
	onDevices := func(s *shop) *shop { return s.onDevices(ben) }
	one := row("(f)(3)(ii)(A) one primary", onDevices, none)
	one.clause, one.scene = "(f)(3)(ii)(A)", func(t require.TestingT) (*shop, who) { return at(t, procedures.Work), who{ada, good} }
	return []clauseRow{
		one,
		row("(f)(4) own locks on every device", func(s *shop) *shop { return s.onBox(ben, "B-1") }, none, "(f)(4) keys into the box"),
		row("(f)(4) zero proven by the one coming on", func(s *shop) *shop {
			s.onDevices(ben)
			s.now = s.now.Add(13 * time.Hour)
			return s
		}, none),
		row("(f)(4) keys into the box", func(s *shop) *shop { return s.onBox(dora, "D-1").onDevices(ben) }, none),
		row("(f)(4) told by the one going off", onDevices, func(e *procedures.Event) { e.From = "dora" }, "(f)(4) told by somebody of this lockout"),
		row("(f)(4) told by somebody of this lockout", func(s *shop) *shop {
			s.onDevices(ben)
			s.now = six.Add(5 * time.Hour) // Ada went home
			return s
		}, func(e *procedures.Event) { e.From = "dora" }),
		row("(f)(4) the state told", onDevices, func(e *procedures.Event) { e.Told = " " }),
		{rule: "(f)(4) no device bare", clause: "(f)(4)", also: []string{"(f)(4) own locks on every device", "(f)(4) keys into the box"}, scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Work).onBox(ben, "B-1")
			e := good
			e.Person, e.At = "ben", s.now.Add(time.Second)
			require.NoError(t, s.l.ApplyWithout(e, ben, "(f)(4) own locks on every device", "(f)(4) keys into the box"))
			return s, who{ada, procedures.Event{Kind: procedures.LeftJob}}
		}},
	}
}

// toEnd is a supervisor's word who takes a lockout to its end.
var toEnd = procedures.Event{Kind: procedures.HandedOver, ToEnd: true, Told: "two teeth out, locks as she left them", NotHere: "Ada was driven to the hospital"}

var dorian = procedures.Person{ID: "dorian", Name: "Dorian", Role: procedures.Operator, Authorized: true}

// forgotten is a shop where ben went home with the lock on, and what cleo enters.
func forgotten(t require.TestingT) (*shop, procedures.Event) {
	s := at(t, procedures.Work).onBox(ben, "B-1")
	s.now = six.Add(5 * time.Hour)
	return s, procedures.Event{Kind: procedures.LockTaken, Lock: "B-1", Program: true, NotHere: "Cleo looked in the yard and the house",
		Tries: []procedures.Try{{At: s.now, Way: "telephone", Result: "no answer"}}}
}

func absentRows() []clauseRow {
	row := func(rule, clause string, by procedures.Person, spoil func(*shop, *procedures.Event), also ...string) clauseRow {
		return clauseRow{rule: rule, clause: clause, also: also, scene: func(t require.TestingT) (*shop, who) {
			s, e := forgotten(t)
			spoil(s, &e)
			return s, who{by, e}
		}}
	}
	return []clauseRow{
		row("(e)(3) by a supervisor", "(e)(3)", ada, func(*shop, *procedures.Event) {}),
		row("(e)(3) a lock that is on", "(e)(3)", cleo, func(_ *shop, e *procedures.Event) { e.Lock = "none" }),
		row("(e)(3) not the own lock", "(e)(3)", dora, func(s *shop, e *procedures.Event) {
			s.onBox(dora, "D-1")
			e.Lock = "D-1"
		}),
		row("(e)(3) written procedure on file", "(e)(3)", cleo, func(_ *shop, e *procedures.Event) { e.Program = false }),
		row("(e)(3)(i) made sure the owner isn't here", "(e)(3)(i)", cleo, func(_ *shop, e *procedures.Event) { e.NotHere = "" }),
		row("(e)(3)(i) signed on counts as here", "(e)(3)(i)", cleo, func(s *shop, e *procedures.Event) {
			s.now = six.Add(time.Hour)
			e.Tries[0].At = s.now
		}),
		row("(e)(3)(ii) tried to reach the primary", "(e)(3)(ii)", dora, func(s *shop, e *procedures.Event) {
			*s = *at(s.t, procedures.Work)
			*e = toEnd
			e.BeforeEnd = true
		}),
		row("(e)(3)(ii) tried to reach the owner", "(e)(3)(ii)", cleo, func(_ *shop, e *procedures.Event) { e.Tries = nil }),
		row("(e)(3)(ii) each try told", "(e)(3)(ii)", cleo, func(_ *shop, e *procedures.Event) { e.Tries[0].Result = "" }),
		row("(f)(3)(ii)(A) the primary is replaced first", "(f)(3)(ii)(A)", cleo, func(_ *shop, e *procedures.Event) { e.Lock = "A-saw-disconnect" }, "(f)(4) no device bare"),
		row("(f)(4) no device bare", "(f)(4)", cleo, func(_ *shop, e *procedures.Event) { e.Lock = "A-saw-disconnect" }, "(f)(3)(ii)(A) the primary is replaced first"),
		row("(e)(3)(i) made sure the owner isn't here", "(e)(3)(i)", cleo, func(s *shop, e *procedures.Event) {
			s.do(ben, procedures.Event{Kind: procedures.LeftJob})
			*e = toEnd
			e.NotHere = ""
		}),
		row("(e)(3)(i) the primary isn't here", "(e)(3)(i)", cleo, func(s *shop, e *procedures.Event) {
			s.do(ben, procedures.Event{Kind: procedures.LeftJob, Late: true, At: six.Add(2 * time.Hour)})
			s.now, *e = six.Add(3*time.Hour), toEnd
		}),
		row("(f)(3)(i) nobody else on the job", "(f)(3)(i)", cleo, func(_ *shop, e *procedures.Event) { *e = toEnd }),
		row("(f)(3)(ii)(A) to its end by a supervisor", "(f)(3)(ii)(A)", dorian, func(s *shop, e *procedures.Event) {
			s.do(ben, procedures.Event{Kind: procedures.LeftJob})
			*e = toEnd
		}),
		{rule: "(c)(8) authorized to isolate it again", clause: "(c)(8)", scene: func(t require.TestingT) (*shop, who) {
			s := bareForTest(t)
			s.now = six.Add(5 * time.Hour)
			return s, who{cleo, toEnd}
		}},
		{rule: "(e) a lock was on to take to the end", clause: "(e)", scene: func(t require.TestingT) (*shop, who) {
			s := at(t, procedures.Isolate)
			s.now = six.Add(5 * time.Hour)
			return s, who{cleo, toEnd}
		}},
		row("(e)(3)(iii) said by the owner", "(e)(3)(iii)", ben, func(_ *shop, e *procedures.Event) { *e = procedures.Event{Kind: procedures.ToldOfLock} }),
		row("(e)(3)(iii) told of the own lock", "(e)(3)(iii)", ben, func(s *shop, e *procedures.Event) {
			s.do(cleo, *e)
			*e = procedures.Event{Kind: procedures.Joined, Lock: "B-2"}
		}),
	}
}

// prepared is a shop with everything and everybody out for a test.
func prepared(t require.TestingT) *shop {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.TestAsked, Tools: true})
	return s
}

// bareForTest has ada's locks off too.
func bareForTest(t require.TestingT) *shop {
	s := prepared(t)
	for _, lock := range s.l.LocksOn() {
		s.do(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: lock.Number})
	}
	return s
}

var energized = procedures.Event{Kind: procedures.Energized, Where: "the sawyer's stand", Note: "saw turns", Clear: true}

func testRows() []clauseRow {
	act := func(rule, clause string, ready func(require.TestingT) *shop, by procedures.Person, e procedures.Event, also ...string) clauseRow {
		return clauseRow{rule: rule, clause: clause, also: also, scene: func(t require.TestingT) (*shop, who) { return ready(t), who{by, e} }}
	}
	asked := procedures.Event{Kind: procedures.TestAsked, Tools: true}
	working := func(t require.TestingT) *shop { return at(t, procedures.Work) }
	withBen := func(t require.TestingT) *shop { return at(t, procedures.Work).onBox(ben, "B-1") }
	counted := func(t require.TestingT) *shop {
		s := at(t, procedures.Work)
		s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 7})
		return s
	}
	running := func(t require.TestingT) *shop {
		s := bareForTest(t)
		s.do(ada, energized)
		return s
	}
	spoilt := func(spoil func(*procedures.Event)) procedures.Event {
		e := energized
		spoil(&e)
		return e
	}
	return []clauseRow{
		act("(f)(1) asked by the primary", "(f)(3)(ii)(A)", withBen, ben, asked, "(f)(1)(ii) people out"),
		act("(f)(1) one test at a time", "(f)(1)", prepared, ada, asked),
		act("(f)(1)(i) tools out", "(f)(1)(i)", working, ada, procedures.Event{Kind: procedures.TestAsked}),
		act("(f)(1)(i) as many out as in", "(e)(1)", counted, ada, procedures.Event{Kind: procedures.TestAsked, Tools: true, ToolsOut: 6}),
		act("(f)(1)(ii) people out", "(f)(1)(ii)", withBen, ada, asked),
		act("(f)(1) not in a test", "(f)(1)", prepared, ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1"}),
		act("(f)(1) not in a test", "(f)(1)", prepared, ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)}),
		act("(f)(1) not in a test", "(f)(1)", prepared, ada, procedures.Event{Kind: procedures.WorkBegan}, "(d)(6) proven by oneself"),
		act("(f)(1) not in a test", "(f)(1)", prepared, ada, procedures.Event{Kind: procedures.WorkEnded}),
		act("(f)(1) everything out first", "(f)(1)", working, ada, energized, "(f)(1)(iii) own locks off"),
		act("(f)(1)(iii) own locks off", "(f)(1)(iii)", prepared, ada, energized),
		act("(f)(1)(ii) everybody seen clear", "(f)(1)(ii)", bareForTest, ada, spoilt(func(e *procedures.Event) { e.Clear = false })),
		act("(f)(1)(iv) from where it is run", "(f)(1)(iv)", bareForTest, ada, spoilt(func(e *procedures.Event) { e.Where = "" })),
		act("(f)(1)(iv) power by the primary", "(f)(1)(iv)", bareForTest, ben, energized),
		act("(f)(1)(iv) what moves", "(f)(1)(iv)", bareForTest, ada, spoilt(func(e *procedures.Event) { e.Note = "" })),
		act("(f)(3)(ii)(A) only to its end", "(f)(3)(ii)(A)", takenAfterATest, ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true}),
		act("(f)(1) ended by the primary", "(f)(3)(ii)(A)", running, ben, procedures.Event{Kind: procedures.TestEnded, OffBack: true}),
		act("(f)(1) a test to end", "(f)(1)", working, ada, procedures.Event{Kind: procedures.TestEnded, OffBack: true}),
		act("(f)(1)(v) control off", "(f)(1)(v)", running, ada, procedures.Event{Kind: procedures.TestEnded}),
		act("(f)(1)(v) done only after the test", "(f)(1)(v)", bareForTest, ada, procedures.Event{Kind: procedures.TestEnded, OffBack: true, Over: true, Clear: true}),
		act("(e)(2)(i) nobody in since the test", "(e)(2)(i)", running, ada, procedures.Event{Kind: procedures.TestEnded, OffBack: true, Over: true}),
	}
}

// takenAfterATest is a lockout whose primary went home in a test and which a
// supervisor brought back to zero to end it.
func takenAfterATest(t require.TestingT) *shop {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.TestAsked, Tools: true})
	s.do(ada, procedures.Event{Kind: procedures.LockRemoved, Lock: s.l.LocksOn()[0].Number})
	s.now = s.l.Expected.Add(time.Minute)
	s.do(dora, toEnd)
	for s.l.Stage < procedures.Work {
		s.now = s.now.Add(s.l.WaitLeft(s.now))
		e := s.event(s.undone()[0])
		if e.Kind == procedures.LockApplied {
			e.Lock = "D-" + string(e.Device)
		}
		s.do(dora, e)
	}
	return s
}

// hung is a shop at Apply whose valve of the dogs takes no lock.
func hung(t require.TestingT, stage procedures.Stage) *shop {
	return with(t, stage, func(p *procedures.Procedure) {
		p.Devices = append([]procedures.Device(nil), p.Devices...)
		for i := range p.Devices {
			p.Devices[i].Lockable = p.Devices[i].Lockable && p.Devices[i].ID != "dogs-valve"
		}
	})
}

var goodTag = procedures.Event{Kind: procedures.StepDone, Step: "lock-dogs-valve", Proof: procedures.Tick,
	Tag: procedures.Tag{Legend: procedures.DoNotOpen, Hazard: "The dogs close.", Owner: "ada", Readable: true, Fastening: true, OnDevice: true}, Means: []procedures.ExtraMeans{procedures.HandleOff}}

func tagRows() []clauseRow {
	row := func(rule, clause string, spoil func(*procedures.Event)) clauseRow {
		return clauseRow{rule: rule, clause: clause, scene: func(t require.TestingT) (*shop, who) {
			e := goodTag
			spoil(&e)
			return hung(t, procedures.Apply), who{ada, e}
		}}
	}
	return []clauseRow{
		row("(c)(5)(ii)(A) tag readable", "(c)(5)(ii)(A)", func(e *procedures.Event) { e.Tag.Readable = false }),
		row("(c)(5)(ii)(D) tag shows who", "(c)(5)(ii)(D)", func(e *procedures.Event) { e.Tag.Owner = "ben" }),
		row("(c)(5)(iii) legend on the tag", "(c)(5)(iii)", func(e *procedures.Event) { e.Tag.Legend = "keep out" }),
		row("(c)(5)(iii) legend on the tag", "(c)(5)(iii)", func(e *procedures.Event) { e.Tag.Hazard = " " }),
		row("(c)(5)(ii)(C)(2) tag fastened", "(c)(5)(ii)(C)(2)", func(e *procedures.Event) { e.Tag.Fastening = false }),
		row("(d)(4)(iii)(B) where the tag hangs", "(d)(4)(iii)(B)", func(e *procedures.Event) { e.Tag.OnDevice = false }),
		row("(c)(3)(ii) one more means", "(c)(3)(ii)", func(e *procedures.Event) { e.Means = []procedures.ExtraMeans{"prayer"} }),
		{rule: "(c)(2)(ii) no tag for a lock", clause: "(c)(2)(ii)", also: []string{"(d)(4)(i) a lock, not a tick"}, scene: func(t require.TestingT) (*shop, who) {
			return at(t, procedures.Apply), who{ada, goodTag}
		}},
	}
}
