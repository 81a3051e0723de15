package procedures

import "stillsaw/procedures/plain"

// signedOn refuses an act of somebody who isn't on the job, with what to do.
func signedOn(why plain.Sentence) rule[asked, error] {
	return rule[asked, error]{"(f)(3)(ii)(D) signed on", func(a asked) error {
		if a.l.member(a.e.Person) != nil {
			return nil
		}
		return &plain.Refusal{Why: why, Clause: Clause("(f)(3)(ii)(D)")}
	}}
}

func joinFirst() plain.Sentence   { return plain.Say("Join the job with your own lock first.") }
func notSignedOn() plain.Sentence { return plain.Say("You aren't signed on to this job.") }

// inOrder refuses what comes only once everything is proven at zero.
func inOrder() rule[asked, error] {
	return rule[asked, error]{"(d) in order", func(a asked) error {
		if a.l.Stage >= Work {
			return nil
		}
		return a.l.notYet()
	}}
}

// duringWork refuses what is done while work goes on, and neither before nor after.
func duringWork() rule[asked, error] {
	return rule[asked, error]{"(d) in order", func(a asked) error {
		if a.l.Stage == Work {
			return nil
		}
		return a.l.notYet()
	}}
}

// beforeTheRelease refuses what comes too late once the work was reported ended.
func beforeTheRelease(why plain.Sentence) rule[asked, error] {
	return rule[asked, error]{"(e) before the release", func(a asked) error {
		if a.l.Stage <= Work {
			return nil
		}
		return &plain.Refusal{Why: why, Clause: Clause("(e)")}
	}}
}

// noTest refuses what a test rules out.
func noTest() rule[asked, error] {
	return rule[asked, error]{"(f)(1) not in a test", func(a asked) error {
		if a.l.Test == "" {
			return nil
		}
		return plain.Refuse(Clause("(f)(1)"), "A test is under way: locks are coming off and nobody is protected. First the test ends, and everything is isolated, locked and proven again.")
	}}
}

// ownerTold refuses what goes to work to somebody whose own lock was taken off
// and who hasn't said that they know.
func ownerTold() rule[asked, error] {
	return rule[asked, error]{"(e)(3)(iii) told of the own lock", func(a asked) error {
		for _, lock := range a.l.Untold() {
			if lock.Owner == a.e.Person {
				return plain.Refuse(Clause("(e)(3)(iii)"), "Your lock %s was taken off while you were away. Say first that you were told.", lock.Number)
			}
		}
		return nil
	}}
}

// numberRules ask for a lock number that isn't on anywhere in this lockout.
func numberRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(c)(5)(ii) a numbered lock", func(a asked) error {
			if !blank(a.e.Lock) {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)"), "Give the number on your own lock.")
		}},
		{"(c)(5)(ii) a lock of its own", func(a asked) error {
			on := a.l.lockOn(a.e.Lock)
			if on == nil {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)"), "Lock %s is already on in this lockout. Each device takes a lock of its own.", on.Number)
		}},
	}
}

// deviceRules ask for a device that takes the lock.
func lockOnRules() []rule[asked, error] {
	return append([]rule[asked, error]{
		{"(d)(4)(i) a device of this procedure", func(a asked) error {
			if a.d.ID != "" {
				return nil
			}
			return plain.Refuse(Clause("(d)(4)(i)"), "Say which of this procedure's devices the lock is on.")
		}},
		{"(c)(2)(i) a device that takes a lock", func(a asked) error {
			if a.d.Lockable {
				return nil
			}
			return plain.Refuse(Clause("(c)(2)(i)"), "%s takes no lock; hang your tag there and tick its step.", a.d.Label)
		}},
		{"(d)(4)(ii) held in the safe position", func(a asked) error {
			if a.e.Position == "" || a.e.Position == a.d.Kind.Position() {
				return nil
			}
			return plain.Refuse(Clause("(d)(4)(ii)"), "The lock has to hold %[1]s %[2]s. Set it so and lock it there.", a.d.Label, a.d.Kind.Position().Words())
		}},
	}, append(numberRules(), rule[asked, error]{"(d)(4)(i) one own lock a device", func(a asked) error {
		for _, lock := range a.l.LocksOn() {
			if lock.Owner == a.e.Person && lock.Device == a.e.Device {
				return plain.Refuse(Clause("(d)(4)(i)"), "Your lock %s is already on %s.", lock.Number, a.d.Label)
			}
		}
		return nil
	}})...)
}

// applyRules are of putting an own lock on a device.
func applyRules() []rule[asked, error] {
	return append([]rule[asked, error]{
		signedOn(joinFirst()),
		{"(d) in order", func(a asked) error {
			if first := a.e.Person == a.l.Primary; first && a.l.Stage >= Apply || a.l.Stage >= Work {
				return nil
			}
			return a.l.notYet()
		}},
		{"(d)(4) locks before the proof", func(a asked) error {
			if first := a.e.Person == a.l.Primary; (!first || a.l.Stage <= Apply) && a.l.Stage <= Work {
				return nil
			}
			return plain.Refuse(Clause("(d)(4)"), "The time for putting locks on is past.")
		}},
		noTest(),
		ownerTold(),
	}, lockOnRules()...)
}

// removeRules are of taking an own lock off: at the end, for a test, or by an
// owner who is no longer on the job.
func removeRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(e)(3) a lock that is on", func(a asked) error {
			if lock := a.l.lockOn(a.e.Lock); lock != nil && (a.e.Device == "" || a.e.Device == lock.Device) {
				return nil
			}
			return plain.Refuse(Clause("(e)(3)"), "No such lock is on. Give the number on your lock.")
		}},
		{"(e)(3) by its owner only", func(a asked) error {
			if lock := a.l.lockOn(a.e.Lock); lock == nil || lock.Owner == a.e.Person {
				return nil
			}
			return plain.Refuse(Clause("(e)(3)"), "That isn't your lock. Only the one who put it on takes it off.")
		}},
		{"(f)(3)(ii)(D) lock off is signing off", func(a asked) error {
			if a.e.Person == a.l.Primary || a.l.member(a.e.Person) == nil {
				return nil
			}
			return plain.Refuse(Clause("(f)(3)(ii)(D)"), "Take your lock off by signing off the job.")
		}},
		{"(e) checked and clear first", func(a asked) error {
			if a.l.Stage >= RemoveLocks || a.l.Test == TestPrepared || a.l.member(a.e.Person) == nil {
				return nil
			}
			return a.l.notYet()
		}},
		{"(f)(4) no device bare", func(a asked) error {
			lock := a.l.lockOn(a.e.Lock)
			if lock == nil {
				return nil
			}
			return a.noneBare(func(one Lock) bool { return one.Number == lock.Number })
		}},
		keysInBox(func(a asked) bool {
			lock := a.l.lockOn(a.e.Lock)
			return lock != nil && lock.Device != "" && lock.Owner == a.l.Primary
		}),
	}
}

// noneBare refuses to lay bare a device while the lockout protects somebody:
// from its locks on until they come off in the release, or for a test.
func (a asked) noneBare(goes func(Lock) bool) error {
	if a.l.Stage <= Apply || a.l.Stage >= RemoveLocks || a.l.Test != "" {
		return nil
	}
	bare := a.l.bare(goes)
	if bare == "" {
		return nil
	}
	d, _ := a.l.Procedure.device(bare)
	return plain.Refuse(Clause("(f)(4)"), "%s would be without a lock. Somebody who stays puts their own lock on it first.", d.Label)
}

// keysInBox refuses to take a lock off a device whose key is in the box while a
// personal lock is on the box.
func keysInBox(keyIn func(asked) bool) rule[asked, error] {
	return rule[asked, error]{"(f)(3)(ii)(D) box locked", func(a asked) error {
		on := a.l.onBox()
		if on == nil || !keyIn(a) {
			return nil
		}
		return plain.Refuse(Clause("(f)(3)(ii)(D)"), "The key is in the box, and lock %s is on the box. Its owner takes it off first.", on.Number)
	}}
}

// endRules are of reporting the work ended.
func endRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(f)(3)(ii)(A) ended by the primary", primaryOnly},
		{"(d) a lock was on", func(a asked) error {
			switch {
			case len(a.l.Locks) == 0:
				return plain.Refuse(Clause("(d)"), "No lock is on yet. Go on, or cancel.")
			case a.l.tested() && a.l.Stage < Work:
				return plain.Refuse(Clause("(f)(1)(v)"), "There was a test, and not everything is shut down, isolated, locked and proven again since. Do that first: nobody is protected at the machine before.")
			}
			return nil
		}},
		noTest(),
		beforeTheRelease(plain.Say("The end of the work was reported already.")),
	}
}

func restoreRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(f)(3)(ii)(A) restored by the primary", primaryOnly},
		{"(e)(2)(ii) everything done before it is back", func(a asked) error {
			if a.l.Stage == NotifyRestored && len(a.l.undone()) == 0 {
				return nil
			}
			return a.l.notYet()
		}},
	}
}

func cancelRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(e) no lock was on", func(a asked) error {
			if len(a.l.Locks) == 0 {
				return nil
			}
			return plain.Refuse(Clause("(e)"), "A lock has been on. End the work and go through the release.")
		}},
	}
}
