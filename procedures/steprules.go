package procedures

import (
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

func blank(s string) bool { return strings.TrimSpace(s) == "" }

func refuseOffBack() error {
	return plain.Refuse(ControlsOff.Clause(), "Put the control back to off after trying it, and say so; else it starts when the locks come off.")
}

// primaryOnly refuses an act unless the one who answers for the lockout did it.
func primaryOnly(a asked) error {
	if a.e.Person == a.l.Primary {
		return nil
	}
	return plain.Refuse(Clause("(f)(3)(ii)(A)"), "This step is for the one who began the lockout, or took it over, and answers for it.")
}

// stepRules are of reporting a step done.
func stepRules() []rule[asked, error] {
	return append([]rule[asked, error]{
		{"(c)(4)(i) a step of this version", func(a asked) error {
			if a.s.ID != "" {
				return nil
			}
			return plain.Refuse(Clause("(c)(4)(i)"), "This version of the procedure has no such step.")
		}},
		{"(f)(3)(ii)(A) steps by the primary", func(a asked) error {
			if a.s.Proof == MeterDead {
				return nil
			}
			return primaryOnly(a)
		}},
		{"(d) each step once", func(a asked) error {
			if _, done := a.l.Done[a.s.ID]; !done && a.s.Stage >= a.l.Stage {
				return nil
			}
			return plain.Refuse(a.s.Clause, "This step is past. It can't be reported again.")
		}},
		{"(d) in order", func(a asked) error {
			if a.s.Stage <= a.l.Stage {
				return nil
			}
			return a.l.notYet()
		}},
		{"(c)(2)(ii) no tag for a lock", func(a asked) error {
			if !a.d.Lockable || a.s.Stage != Apply || a.e.Tag == (Tag{}) {
				return nil
			}
			return plain.Refuse(Clause("(c)(2)(ii)"), "%s takes a lock. A tag instead of it isn't enough; put your own lock on.", a.d.Label)
		}},
		{"(d)(4)(i) a lock, not a tick", func(a asked) error {
			if !a.d.Lockable || a.s.Stage != Apply && a.s.Stage != RemoveLocks {
				return nil
			}
			return plain.Refuse(a.s.Clause, "This step is done with a lock: give the lock's number.")
		}},
		{"(d)(2) in the order listed", func(a asked) error {
			undone := a.l.undone()
			if !a.s.Stage.listed() || len(undone) == 0 || undone[0].ID == a.s.ID {
				return nil
			}
			return plain.Refuse(undone[0].Clause, "Not yet. First: %s", undone[0].Text)
		}},
	}, append(proofRules(), releaseRules()...)...)
}

// proofRules ask for what a step wants beside the tick.
func proofRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(d)(5)(i) wait over", func(a asked) error {
			wait := a.l.readyAt(a.s).Sub(a.e.At)
			if wait <= 0 {
				return nil
			}
			return plain.Refuse(a.s.Clause, "It may still be turning. Wait %s more.", (wait + time.Second - 1).Truncate(time.Second))
		}},
		{"(d)(6) proof as the step asks", func(a asked) error {
			if a.s.Proof == Tick || a.e.Proof == a.s.Proof {
				return nil
			}
			return plain.Refuse(a.s.Clause, "This step needs its proof: %s", a.s.Proof.Words())
		}},
		{"Appendix A-7 control back at off", func(a asked) error {
			if a.s.Proof != TryStart || a.e.OffBack {
				return nil
			}
			return refuseOffBack()
		}},
	}
}

// releaseRules are of steps before anybody is shut out and before power is back.
func releaseRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(e)(1) tools counted", func(a asked) error {
			if a.s.Stage != InspectArea || a.e.Tools || len(a.l.undone()) != 1 || a.l.toolsCounted() {
				return nil
			}
			return plain.Refuse(a.s.Clause, "Count the tools and parts out of the machine first, and say so.")
		}},
		{"(e)(2)(i) nobody signed on", func(a asked) error {
			if a.s.Stage != ClearPeople || len(a.l.others()) == 0 {
				return nil
			}
			return plain.Refuse(a.s.Clause, "Somebody is still signed on to this job. Everybody takes their own lock off and signs off first.")
		}},
	}
}

func (l *Lockout) toolsCounted() bool {
	for _, s := range l.Procedure.Steps {
		if s.Stage == InspectArea && l.Done[s.ID].Tools {
			return true
		}
	}
	return false
}

// others are who is signed on beside the primary.
func (l *Lockout) others() []Member {
	var others []Member
	for _, m := range l.SignedOn() {
		if m.Person != l.Primary {
			others = append(others, m)
		}
	}
	return others
}
