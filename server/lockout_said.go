package server

import (
	"errors"
	"slices"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// lockoutSaid is where a lockout stands, as its people reported it.
func lockoutSaid(l procedures.Lockout, now time.Time) plain.Sentence {
	switch {
	case l.Cancelled:
		return plain.Say("cancelled")
	case l.Closed:
		return plain.Say("reported back in service %s", l.Ended)
	case l.Test != "":
		return plain.Say("test under way: nobody is protected by a lock")
	case l.Stage == procedures.Work && l.TakenToEnd():
		return plain.Say("taken over to be ended: no work")
	case l.Overnight:
		return plain.Say("left locked until %s, prove zero again", l.Expected)
	case l.Stage < procedures.Work:
		return plain.Say("work not allowed yet. Now: %s", l.Stage.Words())
	case l.Stage > procedures.Work && !slices.ContainsFunc(l.Events, func(e procedures.Event) bool { return e.Kind == procedures.WorkBegan }):
		return plain.Say("to be given back, no work was reported begun. Now: %s", l.Stage.Words())
	case l.Stage > procedures.Work:
		return plain.Say("work reported ended. Now: %s", l.Stage.Words())
	case l.Working:
		return plain.Say("work under way")
	case l.ProvenBySome(now):
		return plain.Say("reported at zero, work not begun")
	}
	return plain.Say("work not allowed: prove zero again")
}

// answers are the sentences a lockout's page begins with: who reported locks on
// and whether work is allowed to the one who reads, "" on paper; then what comes
// first of all that is missing, and who else has to do something.
func answers(l procedures.Lockout, names map[procedures.PersonID]string, person procedures.PersonID, now time.Time) (said, more []plain.Sentence) {
	if owners := ownersOn(l, names); len(owners) > 0 {
		said = append(said, plain.Say("Locks reported on by %s.", strings.Join(owners, ", ")))
	} else if l.Open() {
		said = append(said, plain.Say("No lock is reported on."))
	}
	switch {
	case !l.Open():
		said = append(said, l.Next())
	case l.Stage < procedures.Work:
		said, more = append(said, plain.Say("Work is not allowed yet.")), append(more, plain.Say("First: %s", l.Missing()))
	case l.Test != "": // said louder elsewhere
	case l.Stage == procedures.Work && l.TakenToEnd():
		said = append(said, l.Next())
	case l.Stage == procedures.Work && (l.Overnight || !l.ProvenBySome(now)):
		said = append(said, plain.Say("Nobody may reach in before proving zero again under their own lock."))
	case l.Stage == procedures.Work:
		said = append(said, l.NextFor(person, now))
	default:
		said, more = append(said, plain.Say("It may not run yet.")), append(more, plain.Say("Next: %s", l.Next()))
	}
	if l.Stage > procedures.Work {
		for _, m := range l.SignedOn() {
			if m.Person != l.Primary {
				more = append(more, plain.Say("%s is still signed on: takes their own lock off and signs off before anything is given back.", names[m.Person]))
			}
		}
	}
	return said, more
}

func ownersOn(l procedures.Lockout, names map[procedures.PersonID]string) []string {
	var owners []string
	seen := map[procedures.PersonID]bool{}
	for _, lock := range l.LocksOn() {
		if !seen[lock.Owner] {
			owners = append(owners, names[lock.Owner])
		}
		seen[lock.Owner] = true
	}
	return owners
}

// dangerOf says what must be heard before anything else on the page: that nobody
// is protected, hands out, or nobody in. Empty: nothing of that kind.
func (v *visit) dangerOf(l procedures.Lockout, names map[procedures.PersonID]string) plain.Sentence {
	now := v.now
	if l.Open() && l.Test != "" && v.person.ID != l.Primary {
		return testBy(l, names[l.Primary])
	}
	if late, _ := l.RecheckDue(now); l.Open() && (l.Test != "" || late.ID != "") {
		return l.NextAt(now)
	}
	return l.Outside()
}

// mayBeIn says who may be in the machine beside person, who is about to try a start
// there and to pull at what is held. Empty: nobody by what was reported.
func mayBeIn(l procedures.Lockout, person procedures.PersonID, names map[procedures.PersonID]string) plain.Sentence {
	var in []string
	for _, who := range l.MayBeIn(person) {
		in = append(in, names[who])
	}
	if len(in) == 0 {
		return plain.Sentence{}
	}
	return plain.Say("May be in the machine: %s. Everybody out first, seen by you, and nobody back in before this is done: the steps below try to start and to move it.", strings.Join(in, ", "))
}

// against says what must be heard first though every step was reported: that power
// of another lockout reaches here, or that the gate would let nobody like the
// signed-in person go to work, who came on by an entry made afterwards. Empty:
// nothing of that kind.
func (v *visit) against(l procedures.Lockout) (plain.Sentence, error) {
	if !l.Open() || l.Stage != procedures.Work {
		return plain.Sentence{}, nil
	}
	s, err := v.desk.Standing(v.ctx(), v.person, l.Procedure)
	if err != nil {
		return plain.Sentence{}, err
	}
	if other, powered := procedures.PoweredBeside(l, s.Others, s.Plant); powered {
		return plain.Say("NOBODY IS PROTECTED here: another lockout is reported under power for a test that reaches this one: %s. Stay out until its end is reported.", other.Procedure.Title), nil
	}
	var why *plain.Refusal
	if errors.As(procedures.Against(l, s, v.now), &why) {
		return plain.Say("You may not work here yet, whatever was reported. %[1]s (%[2]s)", why.Why, why.Clause), nil
	}
	return plain.Sentence{}, nil
}

// forgottenLine is a lock left on past its time without being meant to be.
type forgottenLine struct {
	Owner string
	Said  plain.Sentence
}

// forgotten raises the locks of l that should be off by now.
func (v *visit) forgotten(l procedures.Lockout, names map[procedures.PersonID]string) ([]forgottenLine, error) {
	ended, err := v.mill.ShiftEnded(v.now)
	if err != nil {
		return nil, err
	}
	var lines []forgottenLine
	for _, left := range l.Forgotten(ended, v.now) {
		lines = append(lines, forgottenLine{names[left.Owner], left.Words()})
	}
	return lines, nil
}

// testBy is a test to whoever doesn't do it.
func testBy(l procedures.Lockout, who string) plain.Sentence {
	switch {
	case l.Test == procedures.TestEnergized:
		return plain.Say("Reported under power for a test by %s: NOBODY IS PROTECTED. Stay out until its end is reported and everything is isolated, locked and proven again.", who)
	case len(l.LocksOn()) > 0:
		return plain.Say("%s takes their own locks off for a test: NOBODY IS PROTECTED. Stay out.", who)
	}
	return plain.Say("The locks of %s are off for a test: NOBODY IS PROTECTED. Stay out.", who)
}
