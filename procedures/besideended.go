package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// besideRules are of what is entered late beside lockouts that were under way then
// and are over: each is known only when it is entered, and becomes a departure.
func besideRules() []rule[besideAsked, []Gap] {
	return []rule[besideAsked, []Gap]{
		{"one lock in one place", lockElsewhere},
		{"coordinated with what is over", uncoordinated},
	}
}

// besideAsked is an event entered late and the other lockouts there were.
type besideAsked struct {
	l     Lockout // as it stood before e, of which it is
	e     Event
	ended []Lockout
}

func (l *Lockout) besideEnded(e Event, s Standing) []Gap {
	return gapsOf(besideRules(), besideAsked{*l, e, slices.DeleteFunc(slices.Clone(s.Ended), func(o Lockout) bool { return o.ID == l.ID })})
}

func gapsOf(rules []rule[besideAsked, []Gap], a besideAsked) []Gap {
	var gaps []Gap
	for _, r := range rules {
		gaps = append(gaps, r.ask(a)...)
	}
	return gaps
}

// lockElsewhere finds a lock that was on in another lockout when it went on here,
// or between that and its coming off: it hangs in one place only.
func lockElsewhere(a besideAsked) []Gap {
	var gaps []Gap
	for _, stay := range a.stays() {
		for _, other := range a.ended {
			if slices.ContainsFunc(other.Locks, func(on Lock) bool { return LockNumber(on.Number) == LockNumber(stay.Number) && meet(stay, on) }) {
				gaps = append(gaps, Gap{plain.Say("Lock %[1]s was reported on in another lockout at the same time: %[2]s. It can hang in one place only.", stay.Number, other.Procedure.Title), Clause("(c)(5)(ii)")})
			}
		}
	}
	return gaps
}

// stays are the locks that e puts on, as the moment they go on, or takes off, as
// all the time they were on.
func (a besideAsked) stays() []Lock {
	switch a.e.Kind {
	case LockApplied, Joined:
		if !blank(a.e.Lock) {
			on := surelyBy(a.e.At)
			return []Lock{{Number: a.e.Lock, On: on, Off: on.Add(1)}}
		}
	case LockRemoved, LeftJob, LockTaken:
		off := slices.DeleteFunc(a.l.LocksOn(), func(lock Lock) bool {
			if a.e.Kind == LeftJob {
				return lock.Owner != a.e.Person
			}
			return LockNumber(lock.Number) != LockNumber(a.e.Lock)
		})
		for i := range off {
			off[i].On, off[i].Off = surelyBy(off[i].On), a.e.At
		}
		return off
	}
	return nil
}

// surelyBy is the latest that something may have begun that was entered to the
// minute.
func surelyBy(at time.Time) time.Time {
	if at.Equal(at.Truncate(time.Minute)) {
		return at.Add(time.Minute - 1)
	}
	return at
}

// meet tells whether two locks were on at one time.
func meet(a, b Lock) bool {
	return a.On.Before(b.Off) && b.On.Before(a.Off)
}

// uncoordinated finds a lockout that was under way when this one began, or between
// that and its end, met it, and had nobody over both, (f)(3)(ii)(C).
func uncoordinated(a besideAsked) []Gap {
	from, over := surelyBy(a.e.At), a.e.Coordinator
	to := from.Add(1)
	switch a.e.Kind {
	case Began:
	case Restored:
		from, to, over = surelyBy(a.l.Begun), a.e.At, a.l.Coordinator
	default:
		return nil
	}
	var gaps []Gap
	for _, other := range a.ended {
		shared := len(other.Locks) > 0 && other.Procedure.meets(a.l.Procedure) && other.Begun.Before(to) && from.Before(other.Ended)
		if shared && !coordinates(a.l, other, over) {
			gaps = append(gaps, Gap{plain.Say("Another lockout that this one meets was under way at the same time: %s. Nobody was named to coordinate both.", other.Procedure.Title), Clause("(f)(3)(ii)(C)")})
		}
	}
	return gaps
}

// coordinates tells whether somebody was over both lockouts: who began l named
// them, or who began the other did.
func coordinates(l, other Lockout, over PersonID) bool {
	return over != "" && (over == other.Primary || over == other.Coordinator) || other.Coordinator != "" && other.Coordinator == l.Primary
}
