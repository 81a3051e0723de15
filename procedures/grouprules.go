package procedures

import "stillsaw/procedures/plain"

// joinRules are of signing on with an own lock while work may be done.
func joinRules() []rule[asked, error] {
	rules := []rule[asked, error]{
		{"(f)(3)(ii)(D) joins once", func(a asked) error {
			if a.l.member(a.e.Person) == nil {
				return nil
			}
			return plain.Refuse(Clause("(f)(3)(ii)(D)"), "You are on this job already.")
		}},
		inOrder(),
		beforeTheRelease(plain.Say("The work was reported ended; nobody joins any more.")),
		noTest(),
		ownerTold(),
		recheckedInTime(),
	}
	for _, r := range lockOnRules() {
		onBox := r.name == "(c)(5)(ii) a numbered lock" || r.name == "(c)(5)(ii) a lock of its own"
		ask := r.ask
		rules = append(rules, rule[asked, error]{r.name, func(a asked) error {
			if a.e.Device == "" && !onBox {
				return nil
			}
			return ask(a)
		}})
	}
	return rules
}

// leaveRules are of signing off with the own lock.
func leaveRules() []rule[asked, error] {
	return []rule[asked, error]{
		signedOn(notSignedOn()),
		{"(f)(3)(ii)(A) the primary stays", func(a asked) error {
			if a.e.Person != a.l.Primary {
				return nil
			}
			return plain.Refuse(Clause("(f)(3)(ii)(A)"), "You answer for it: end the work and release it, leave it locked overnight, or have somebody on the job take it over.")
		}},
		{"(f)(4) no device bare", func(a asked) error {
			return a.noneBare(func(lock Lock) bool { return lock.Owner == a.e.Person })
		}},
	}
}

// overnightRules are of leaving the own lock on. Who answers for it goes last.
func overnightRules() []rule[asked, error] {
	return []rule[asked, error]{
		signedOn(notSignedOn()),
		inOrder(),
		beforeTheRelease(plain.Say("The work was reported ended; finish the release.")),
		noTest(),
		{"(f)(4) the primary leaves last", func(a asked) error {
			if a.e.Person != a.l.Primary {
				return nil
			}
			for _, other := range a.l.others() {
				if !other.Away {
					return plain.Refuse(Clause("(f)(4)"), "Somebody else is still at work here. They sign off, or leave their own lock on for the night, first.")
				}
			}
			return nil
		}},
		{"(d)(4)(i) own locks left on", func(a asked) error {
			if a.l.ownLocksOn(a.e.Person) {
				return nil
			}
			return plain.Refuse(Clause("(d)(4)(i)"), "Your own lock isn't on every device.")
		}},
		{"until when it stays locked", func(a asked) error {
			if a.e.Until.After(a.e.At) {
				return nil
			}
			return plain.Refuse("", "Say until when it stays locked.")
		}},
	}
}

// reverifyRules are of proving every energy at zero again for one person:
// everything the verify steps ask, done by them under own locks.
func reverifyRules() []rule[asked, error] {
	return []rule[asked, error]{
		signedOn(joinFirst()),
		duringWork(),
		noTest(),
		ownerTold(),
		{"(f)(3)(ii)(D) own locks before the own proof", ownLocksFirst},
		{"(d)(6) proof again", func(a asked) error {
			if a.e.Proof != "" {
				return nil
			}
			return plain.Refuse(Clause("(d)(6)"), "Say how zero was proven.")
		}},
		{"(d)(6) start tried again", func(a asked) error {
			if !a.l.Procedure.proves(TryStart) || a.e.Proof == TryStart {
				return nil
			}
			return plain.Refuse(Clause("(d)(6)"), "This procedure asks to try the start. Do every verify step again.")
		}},
		{"Appendix A-7 control back at off", func(a asked) error {
			if !a.l.Procedure.proves(TryStart) || a.e.OffBack {
				return nil
			}
			return refuseOffBack()
		}},
	}
}

func ownLocksFirst(a asked) error {
	if a.l.ownLocksOn(a.e.Person) {
		return nil
	}
	return plain.Refuse(Clause("(f)(3)(ii)(D)"), "Put your own lock on every device, or on the box with the keys, first.")
}

// workRules are of beginning the work.
func workRules() []rule[asked, error] {
	return []rule[asked, error]{
		inOrder(),
		noTest(),
		beforeTheRelease(plain.Say("The release has begun: no work any more. Begin a new lockout for it.")),
		{"work begins once", func(a asked) error {
			if a.l.Stage == Work && !a.l.Working {
				return nil
			}
			return plain.Refuse("", "The start of the work was reported already.")
		}},
		signedOn(joinFirst()),
		ownerTold(),
		recheckedInTime(),
		{"(d)(6) proven by oneself", func(a asked) error {
			if a.l.proven(a.e.Person, a.e.At) {
				return nil
			}
			return plain.Refuse(Clause("(d)(6)"), "Prove it at zero again first: the last proof is from before a lock or a night, or too old.")
		}},
	}
}

// handOverRules are of taking a lockout over: own locks on every device and own
// proof first, then the word of the one going off, then the responsibility. The
// locks of the one going off stay on till then, so that nothing is ever without.
func handOverRules() []rule[asked, error] {
	return []rule[asked, error]{
		signedOn(joinFirst()),
		duringWork(),
		noTest(),
		ownerTold(),
		{"(f)(3)(ii)(A) one primary", func(a asked) error {
			if a.e.Person != a.l.Primary {
				return nil
			}
			return plain.Refuse(Clause("(f)(3)(ii)(A)"), "You answer for this lockout already.")
		}},
		{"(f)(4) own locks on every device", func(a asked) error {
			if a.l.deviceLocksOn(a.e.Person) {
				return nil
			}
			return plain.Refuse(Clause("(f)(4)"), "Put your own lock on every device itself first; one on the box doesn't carry the others.")
		}},
		{"(f)(4) zero proven by the one coming on", func(a asked) error {
			if a.l.proven(a.e.Person, a.e.At) {
				return nil
			}
			return plain.Refuse(Clause("(f)(4)"), "Prove every energy at zero yourself, after your last lock went on.")
		}},
		{"(f)(4) keys into the box", func(a asked) error {
			if a.l.onBox() == nil || a.e.KeysInBox {
				return nil
			}
			return plain.Refuse(Clause("(f)(4)"), "Lock %s is on the box and counts on the keys in it. Put the keys of your locks into the box too, and say so.", a.l.onBox().Number)
		}},
		{"(f)(4) told by the one going off", func(a asked) error {
			if a.e.From == a.l.Primary || a.e.From != "" && a.e.From != a.e.Person && !a.l.here(a.l.Primary, a.e) {
				return nil
			}
			return plain.Refuse(Clause("(f)(4)"), "Say who told you how things stand: the one who answers for it now. Only while they aren't here may somebody else.")
		}},
	}
}
