package procedures

import (
	"time"

	"stillsaw/procedures/plain"
)

// Outdated returns the newest version that was in force at that time and changed
// what is done by p, a version of the same procedure that is older; false for
// none. A version of other words alone outdates nothing.
func Outdated(p Procedure, editions []Edition, at time.Time) (Edition, bool) {
	var newest Edition
	for _, e := range editions {
		if e.Procedure == p.ID && !e.Wording && e.Version > max(p.Version, newest.Version) && !e.Since.After(at) {
			newest = e
		}
	}
	return newest, newest.Version > 0
}

// gateVersion refuses to come to work, to begin it, to take it over and to ask a
// test by a version whose substance changed since, however the lockout came to go
// by it. The steps, which lead back out of a test, and the way out stay open.
func gateVersion(a gateAsked) error {
	if !a.enters && !a.test {
		return nil
	}
	newer, outdated := Outdated(a.p, a.Learned.Editions, a.now)
	if !outdated {
		return nil
	}
	return plain.Refuse(Clause("(c)(4)(i)"), "Version %[1]d of this procedure is in force since %[2]s and changed what is done; this lockout goes by version %[3]d. End this one and begin by version %[1]d.", newer.Version, newer.Since, a.p.Version)
}
