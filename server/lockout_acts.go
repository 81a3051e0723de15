package server

import (
	"slices"
	"time"

	"stillsaw/procedures"
)

// What one may report on a lockout: the last part of the form's address.
const (
	actSteps     = "steps"
	actWork      = "work"
	actJoin      = "join"
	actLocks     = "locks"  // own locks on the devices that have none yet
	actVerify    = "verify" // zero proven again
	actRecheck   = "recheck"
	actHandOver  = "hand-over"
	actToEnd     = "to-end" // by a supervisor, for a primary who isn't here
	actTest      = "test"
	actOff       = "off" // own locks off, for a test or by somebody who left
	actEnergize  = "energize"
	actTestEnd   = "test-end"
	actLeave     = "leave"
	actOvernight = "overnight"
	actAbsent    = "absent" // the lock of somebody who isn't here
	actTold      = "told"
	actEnd       = "end"
	actCallOff   = "call-off" // ended before work, with a lock on
	actBack      = "back"     // to work, from the release
	actDone      = "done"     // the test ended, and the work with it
	actLater     = "later"    // the expected end put off
	actRestore   = "restore"
	actCancel    = "cancel"
)

// recheckSoon is how long before it is due a step that builds up again is
// offered first.
const recheckSoon = 15 * time.Minute

// acts is what the signed-in person may want to report now, the likeliest first;
// "" at the head: nothing is likely. The rules say whether it is allowed: what
// comes too early is offered as well, so that somebody who tries is told what is
// missing.
func (v *visit) acts(l procedures.Lockout) []string {
	if v.owesWord(l) {
		return []string{actTold}
	}
	if l.Open() && v.person.Reads() {
		return v.readersActs(l)
	}
	if !l.Open() || !v.person.Works() {
		return nil
	}
	acts := v.likelyActs(l)
	if len(v.untold) > 0 { // of another lockout: until they say so nothing here that goes on towards work
		acts = slices.DeleteFunc(acts, func(act string) bool {
			return !slices.Contains([]string{"", actOff, actLeave, actOvernight, actTestEnd, actDone, actEnd, actCallOff, actRestore, actCancel}, act) && (act != actSteps || l.Stage < procedures.Work)
		})
	}
	if v.person.ID == l.Primary && len(acts) > 0 {
		acts = append(acts, actLater)
	}
	if v.person.Supervises() {
		acts = append(acts, v.supervisorsActs(l, len(acts) == 0)...)
	}
	return acts
}

// readersActs are those of somebody who only reads by now and has a lock on from
// before: off with it.
func (v *visit) readersActs(l procedures.Lockout) []string {
	switch {
	case v.isOn(l) && v.person.ID != l.Primary:
		return []string{actLeave}
	case len(v.ownLocks(l)) > 0:
		return []string{actOff}
	}
	return nil
}

// supervisorsActs are those for somebody who isn't here; none is likely.
func (v *visit) supervisorsActs(l procedures.Lockout, alone bool) []string {
	var acts []string
	if len(v.othersLocks(l)) > 0 {
		acts = append(acts, actAbsent)
	}
	if v.person.ID != l.Primary && len(l.Locks) > 0 {
		acts = append(acts, actToEnd)
	}
	if alone && len(acts) > 0 {
		return append([]string{""}, acts...)
	}
	return acts
}

// owesWord tells whether a lock of the signed-in person was taken off in l and
// they haven't said to know.
func (v *visit) owesWord(l procedures.Lockout) bool {
	return slices.ContainsFunc(l.Untold(), func(lock procedures.Lock) bool { return lock.Owner == v.person.ID })
}

func (v *visit) likelyActs(l procedures.Lockout) []string {
	primary, member := v.person.ID == l.Primary, v.isOn(l)
	if !member && len(v.ownLocks(l)) > 0 {
		return []string{actOff, actJoin}
	}
	switch {
	case l.Test != "":
		return v.testActs(l)
	case l.Stage < procedures.Work && primary:
		return append([]string{actSteps, actWork}, v.wayOut(l)...)
	case l.Stage < procedures.Work && len(l.Locks) == 0 && v.person.Supervises():
		return []string{"", actCancel}
	case l.Stage < procedures.Work:
		return []string{v.measures(l)}
	case l.Stage > procedures.Work && primary:
		return releaseActs(l)
	case l.Stage > procedures.Work && member:
		return []string{actLeave}
	case l.Stage > procedures.Work:
		return nil
	case !member:
		return []string{actJoin}
	}
	return v.workActs(l)
}

// releaseActs are the primary's once the work was ended.
func releaseActs(l procedures.Lockout) []string {
	acts := []string{actSteps, actRestore}
	if l.Stage == procedures.NotifyRestored {
		acts = []string{actRestore}
	}
	if l.MayResume() {
		acts = append(acts, actBack)
	}
	return acts
}

// testActs are the primary's while a test is on: locks off, power, the end.
func (v *visit) testActs(l procedures.Lockout) []string {
	switch {
	case v.person.ID != l.Primary && v.isOn(l):
		return []string{"", actLeave}
	case v.person.ID != l.Primary:
		return nil
	case l.Test == procedures.TestEnergized:
		return []string{actTestEnd, actDone}
	case len(l.LocksOn()) > 0:
		return []string{actOff, actEnergize, actTestEnd}
	}
	return []string{actEnergize, actTestEnd}
}

// workActs are those of somebody on the job while work may be done.
func (v *visit) workActs(l procedures.Lockout) []string {
	if l.TakenToEnd() {
		return []string{actEnd, actOvernight}
	}
	primary, proven := v.person.ID == l.Primary, l.ProvenBy(v.person.ID, v.now)
	last := actLeave
	if primary {
		last = actEnd
	}
	acts := []string{actVerify, actWork, actOvernight, last}
	switch next := l.RecheckNext(); {
	case !next.IsZero() && next.Sub(v.now) < recheckSoon:
		acts = []string{actRecheck, actVerify, actWork, last, actOvernight}
	case proven && l.Working:
		acts = []string{last, actOvernight, actVerify}
	case proven:
		acts = []string{actWork, actVerify, actOvernight, last}
	}
	if len(l.BuildingUp()) > 0 && !slices.Contains(acts, actRecheck) {
		acts = append(acts, actRecheck)
	}
	bare := len(v.withoutOwnLock(l)) > 0
	if bare && !v.onBox(l) {
		acts = append([]string{actLocks}, acts...)
	} else if bare {
		acts = append(acts, actLocks)
	}
	if primary {
		return append(acts, actTest)
	}
	return append(acts, actHandOver)
}

// wayOut of a lockout that doesn't come to work: cancelling, or once a lock has
// been on the release.
func (v *visit) wayOut(l procedures.Lockout) []string {
	switch {
	case len(l.LocksOn()) > 0:
		return []string{actCallOff}
	case len(l.Locks) > 0:
		return nil // a test took them off; the way on is all of isolation again
	}
	return []string{actCancel}
}

// measures is the steps for a person who may do the one with the meter.
func (v *visit) measures(l procedures.Lockout) string {
	for _, s := range l.Present() {
		if s.Proof == procedures.MeterDead && v.person.QualifiedElectrical {
			return actSteps
		}
	}
	return ""
}

func (v *visit) isOn(l procedures.Lockout) bool {
	return slices.ContainsFunc(l.SignedOn(), func(m procedures.Member) bool { return m.Person == v.person.ID })
}

func (v *visit) ownLocks(l procedures.Lockout) []procedures.Lock {
	return slices.DeleteFunc(l.LocksOn(), func(lock procedures.Lock) bool { return lock.Owner != v.person.ID })
}

func (v *visit) othersLocks(l procedures.Lockout) []procedures.Lock {
	return slices.DeleteFunc(l.LocksOn(), func(lock procedures.Lock) bool { return lock.Owner == v.person.ID })
}

func (v *visit) onBox(l procedures.Lockout) bool {
	return slices.ContainsFunc(v.ownLocks(l), func(lock procedures.Lock) bool { return lock.Device == "" })
}

// withoutOwnLock are the devices that take a lock and have none of the signed-in
// person's.
func (v *visit) withoutOwnLock(l procedures.Lockout) []procedures.Device {
	return slices.DeleteFunc(slices.Clone(l.Procedure.Devices), func(d procedures.Device) bool {
		return !d.Lockable || v.ownLock(l, d.ID) != ""
	})
}
