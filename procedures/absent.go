package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// here tells whether person counts as being at the mill when e happens: signed
// on, not gone for the night, not recorded as having left the mill, and the end
// that was expected not past. Who went home and forgot the own lock stays signed
// on, so past that end the supervisor's own look decides, and before it where the
// supervisor says so, having looked and tried to reach them.
func (l *Lockout) here(person PersonID, e Event) bool {
	m := l.member(person)
	return m != nil && !m.Away && !e.LeftMill && !e.At.After(l.Expected) && !e.lookedFor()
}

// lookedFor tells whether e is of a supervisor who looked for somebody before the
// end that was expected.
func (e Event) lookedFor() bool { return e.BeforeEnd && (e.Kind == LockTaken || e.ToEnd) }

// ActedFor returns for whom e is done because they aren't here: the owner of a
// lock taken off, or the one whose lockout is taken over; "" for any other act.
func (l Lockout) ActedFor(e Event) PersonID {
	switch e.Kind {
	case LockTaken:
		return asked{l: &l, e: e}.owner()
	case HandedOver:
		return l.Primary
	}
	return ""
}

// LeftBehind returns what somebody who leaves the mill leaves in l, for the
// supervisor to see to: own locks that are on, or the lockout they answer for.
// None where they leave nothing.
func (l Lockout) LeftBehind(p Person) []Gap {
	var numbers []string
	for _, lock := range l.LocksOn() {
		if lock.Owner == p.ID {
			numbers = append(numbers, lock.Number)
		}
	}
	switch {
	case !p.Left || !l.Open():
		return nil
	case len(numbers) > 0:
		return []Gap{{plain.Say("%[1]s was entered as having left the mill with lock %[2]s reported on. Find them, they take it off; or a supervisor does, by the mill's written procedure.", p.Name, strings.Join(numbers, ", ")), Clause("(e)(3)")}}
	case l.Primary == p.ID:
		return []Gap{{plain.Say("%s was entered as having left the mill and answers for this lockout. Somebody on the job takes it over, or a supervisor takes it to its end or cancels it.", p.Name), Clause("(f)(3)(ii)(A)")}}
	}
	return nil
}

// Untold returns the locks that were taken off for owners who haven't yet
// reported that they know, 29 CFR 1910.147(e)(3)(iii), also of a lockout that
// is over.
func (l Lockout) Untold() []Lock {
	var untold []Lock
	for _, lock := range l.Locks {
		if lock.TakenBy != "" && lock.OwnerTold.IsZero() {
			untold = append(untold, lock)
		}
	}
	return untold
}

// takenRules are of taking off the lock of somebody who isn't here, 29 CFR
// 1910.147(e)(3) exception.
func takenRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(e)(3) a lock that is on", func(a asked) error {
			switch {
			case blank(a.e.Lock):
				return plain.Refuse(Clause("(e)(3)"), "Choose the lock that comes off.")
			case a.l.lockOn(a.e.Lock) == nil:
				return plain.Refuse(Clause("(e)(3)"), "No such lock is on. Give the number on the lock.")
			}
			return nil
		}},
		{"(e)(3) not the own lock", func(a asked) error {
			if a.owner() != a.e.Person {
				return nil
			}
			return plain.Refuse(Clause("(e)(3)"), "This is your own lock. Take it off as its owner.")
		}},
		{"(e)(3) written procedure on file", func(a asked) error {
			if a.e.Program {
				return nil
			}
			return plain.Refuse(Clause("(e)(3)"), "How an absent person's lock comes off isn't written in this mill's program. Without that, only its owner takes it off.")
		}},
		{"(e)(3)(i) signed on counts as here", func(a asked) error {
			if !a.l.here(a.owner(), a.e) {
				return nil
			}
			return plain.Refuse(Clause("(e)(3)(i)"), "The owner is signed on to this job and counts as here until %s, the end that was expected. Find them; they take their own lock off. If they went home before that: look for them, try to reach them, and say so here.", a.l.Expected)
		}},
		{"(e)(3)(ii) tried to reach the owner", func(a asked) error {
			if len(a.e.Tries) == 0 {
				return plain.Refuse(Clause("(e)(3)(ii)"), "Try to reach the owner first, by every way there is, and enter each try.")
			}
			return nil
		}},
		{"(f)(3)(ii)(A) the primary is replaced first", func(a asked) error {
			if a.owner() != a.l.Primary || a.l.Stage >= RemoveLocks {
				return nil
			}
			return plain.Refuse(Clause("(f)(3)(ii)(A)"), "The owner answers for this lockout. First somebody authorized puts own locks on every device, proves zero and takes it over; or, with nobody else on the job, a supervisor takes it to its end.")
		}},
		{"(f)(4) no device bare", func(a asked) error {
			lock := a.l.lockOn(a.e.Lock)
			if lock == nil {
				return nil
			}
			return a.noneBare(func(one Lock) bool { return one.Number == lock.Number })
		}},
	}
}

// lacksBesides is what else has to be said of taking a lock off than what it was
// refused for: a form of so many fields tells all that is missing at once.
func (l *Lockout) lacksBesides(e Event, told *plain.Refusal) []*plain.Refusal {
	var more []*plain.Refusal
	if e.Kind != LockTaken {
		return nil
	}
	said := map[string]bool{"": true, told.About: true}
	for _, r := range slices.Concat(takenRules(), wordRules()) {
		about := partOf(r.name)
		if why := refusal(r.ask(ask(l, e, Person{}))); why != nil && !said[about] {
			why.About = about
			said[about] = true
			more = append(more, why)
		}
	}
	return more
}

// owner is whose lock the event names, "" for none that is on.
func (a asked) owner() PersonID {
	if lock := a.l.lockOn(a.e.Lock); lock != nil {
		return lock.Owner
	}
	return ""
}

// lockTaken takes the lock off and its owner off the job: no longer at work.
// When it was the last thing the primary left undone, at the very end, the
// supervisor who took it answers for the rest.
func (l *Lockout) lockTaken(e Event) {
	lock := l.lockOn(e.Lock)
	if lock == nil {
		return
	}
	lock.Off, lock.TakenBy = e.At, e.Person
	if l.Stage >= RemoveLocks {
		l.doneAt(RemoveLocks, lock.Device, e)
	}
	if m := l.member(lock.Owner); m != nil {
		m.Left, m.Away, m.Verified = e.At, false, time.Time{}
	}
	if l.Stage == Work && l.allAway() {
		l.Overnight, l.Working = true, false
	}
	if lock.Owner == l.Primary {
		l.Primary = e.Person
		if l.member(e.Person) == nil {
			l.Members = append(l.Members, Member{Person: e.Person, Joined: e.At})
		}
	}
}

// toldRules are of an owner's word that they know.
func toldRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(e)(3)(iii) said by the owner", func(a asked) error {
			for _, lock := range a.l.Untold() {
				if a.tells(lock) {
					return nil
				}
			}
			return plain.Refuse(Clause("(e)(3)(iii)"), "No lock of yours was taken off here that you haven't been told of.")
		}},
	}
}

// tells tells whether the event is its owner's word about lock; with no number
// it is about all of the owner's.
func (a asked) tells(lock Lock) bool {
	return lock.Owner == a.e.Person && (blank(a.e.Lock) || strings.EqualFold(lock.Number, strings.TrimSpace(a.e.Lock)))
}

func (l *Lockout) toldOfLock(e Event) {
	for i, lock := range l.Locks {
		if lock.TakenBy != "" && lock.OwnerTold.IsZero() && (asked{e: e}).tells(lock) {
			l.Locks[i].OwnerTold = e.At
		}
	}
}

// LeftOn is a lock that was left on past its time without being meant to be.
type LeftOn struct {
	Lock
	Since time.Time // when it should have been off, or left on on purpose
}

// Words says what to do about it.
func (o LeftOn) Words() plain.Sentence {
	return plain.Say("Lock %[1]s is reported on since %[2]s. It was to be off by %[3]s, and nobody left it on for the night on purpose. Find its owner.", o.Number, o.On, o.Since)
}

// Forgotten returns the locks that are on at now past the end that was expected,
// or past shiftEnd, the end of the shift, whichever came first. A zero shiftEnd
// is none, and so is one past which the end was put off. Locks left on for the night on purpose aren't among them before the
// morning they were left until.
func (l Lockout) Forgotten(shiftEnd, now time.Time) []LeftOn {
	if !l.Open() {
		return nil
	}
	var forgotten []LeftOn
	for _, lock := range l.LocksOn() {
		if m := l.member(lock.Owner); m != nil && m.Away && !now.After(l.Expected) {
			continue
		}
		due := l.Expected
		if !shiftEnd.IsZero() && lock.On.Before(shiftEnd) && shiftEnd.Before(due) && !l.pastShift(shiftEnd) {
			due = shiftEnd
		}
		if now.After(due) {
			forgotten = append(forgotten, LeftOn{lock, due})
		}
	}
	return forgotten
}
