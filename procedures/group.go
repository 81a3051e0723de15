package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// Crafts returns the crews or crafts of who is signed on, each once, in the
// order they came; those who named none count as one of no name, "".
func (l Lockout) Crafts() []string {
	var crafts []string
	for _, m := range l.SignedOn() {
		if !slices.ContainsFunc(crafts, func(c string) bool { return strings.EqualFold(c, strings.TrimSpace(m.Craft)) }) {
			crafts = append(crafts, strings.TrimSpace(m.Craft))
		}
	}
	return crafts
}

// Took returns everybody who has a part in the lockout: who is or was signed on,
// and who reported anything in it, each once, in the order they came.
func (l Lockout) Took() []PersonID {
	var took []PersonID
	for _, e := range l.Events {
		if !slices.Contains(took, e.Person) {
			took = append(took, e.Person)
		}
	}
	return took
}

// Coordinates returns who answers over more than one crew or craft, 29 CFR
// 1910.147(f)(3)(ii)(C): who was named when it began beside another lockout of
// the same equipment, else the primary once a second craft is signed on; "" where
// there is nothing to coordinate.
func (l Lockout) Coordinates() PersonID {
	switch {
	case l.Coordinator != "":
		return l.Coordinator
	case len(l.Crafts()) > 1:
		return l.Primary
	}
	return ""
}

// StatusOf says how a member stands, as they reported it: what the primary has
// to be able to tell of each, 29 CFR 1910.147(f)(3)(ii)(B).
func (l Lockout) StatusOf(m Member, now time.Time) plain.Sentence {
	switch {
	case !m.Left.IsZero():
		return plain.Say("signed off since %s", m.Left)
	case l.Test != "":
		return plain.Say("not protected: a test is under way")
	case l.TakenToEnd() && l.Stage <= Work:
		return plain.Say("here to end it: nobody works under it")
	case m.Away:
		return plain.Say("away, own lock reported left on")
	case l.Stage > Work:
		return plain.Say("still signed on")
	case l.countsOnUnseen(m.Person):
		return plain.Say("own lock reported on the box, the keys in it not seen: stays out")
	case l.proven(m.Person, now) && l.Working:
		return plain.Say("may be in the machine: own lock reported on, zero proven %s", m.Verified)
	case l.proven(m.Person, now):
		return plain.Say("own lock reported on, zero proven %s", m.Verified)
	case l.ownLocksOn(m.Person):
		return plain.Say("own lock reported on, zero not proven: stays out")
	}
	return plain.Say("own locks not all reported on: stays out")
}

// BegunBy is who began l, whoever answers for it now.
func (l Lockout) BegunBy() PersonID {
	if len(l.Events) > 0 {
		return l.Events[0].Person
	}
	return l.Primary
}
