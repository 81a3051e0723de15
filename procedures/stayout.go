package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// ProvenBy tells whether person's own proof of zero counts at now at all l is for:
// nobody works on another's proof, 29 CFR 1910.147(d)(6) and (f)(3)(ii)(D).
func (l Lockout) ProvenBy(person PersonID, now time.Time) bool {
	return len(l.Procedure.Equipment) > 0 && !slices.ContainsFunc(l.Procedure.Equipment, func(eq EquipmentID) bool { return !l.VerifiedFor(person, eq, now) })
}

// ProvenBySome tells whether the own proof of anybody on the job counts.
func (l Lockout) ProvenBySome(now time.Time) bool {
	return slices.ContainsFunc(l.SignedOn(), func(m Member) bool { return l.ProvenBy(m.Person, now) })
}

// ProveAgain tells whether the next thing at this stage is the proof at zero once
// more: for everybody, as after a night, or for person, who came later.
func (l Lockout) ProveAgain(person PersonID, now time.Time) bool {
	if !l.Open() || l.Stage != Work || l.Test != "" || l.TakenToEnd() {
		return false
	}
	return !l.ProvenBySome(now) || l.member(person) != nil && !l.ProvenBy(person, now)
}

// StayOut says why person may not reach in though others may; empty where person
// may, and where nobody may, which is said to all alike.
func (l Lockout) StayOut(person PersonID, now time.Time) plain.Sentence {
	if !l.ProvenBySome(now) || l.ProvenBy(person, now) {
		return plain.Sentence{}
	}
	switch m := l.member(person); {
	case m == nil:
		return plain.Say("Stay out: you are not signed on here with a lock of your own.")
	case !l.ownLocksOn(person):
		return plain.Say("Stay out: not every lock of your own is reported on.")
	case l.countsOnUnseen(person):
		return plain.Say("Stay out: your lock is on the box, and you did not report having seen the keys in it.")
	case !m.Verified.IsZero():
		return plain.Say("Stay out: your proof at zero of %s counts no more. Prove it again yourself.", m.Verified)
	}
	return plain.Say("Stay out: you have not proven zero yourself.")
}

// NextFor is [Lockout.Next] for person, "" for nobody in particular.
func (l Lockout) NextFor(person PersonID, now time.Time) plain.Sentence {
	if out := l.StayOut(person, now); person != "" && !out.Empty() {
		return out
	}
	return l.Next()
}

// MayBeIn returns who beside person may be in the machine, as they reported it. A
// proof that has run out since brings nobody out of it.
func (l Lockout) MayBeIn(person PersonID) []PersonID {
	if !l.Open() || l.Stage != Work || !l.Working {
		return nil
	}
	var in []PersonID
	for _, m := range l.SignedOn() {
		if m.Person != person && !m.Away && !m.Verified.IsZero() {
			in = append(in, m.Person)
		}
	}
	return in
}
