package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// laterEndRules are of putting off the end that was expected: a job that takes
// longer is said to, so that its locks aren't raised as forgotten.
func laterEndRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(f)(3)(ii)(A) put off by the primary", primaryOnly},
		{"a later end than before", func(a asked) error {
			if a.e.Until.After(a.e.At) && a.e.Until.After(a.l.Expected) {
				return nil
			}
			return plain.Refuse("", "Say until when it takes now: a time to come, after the end that was expected, %s.", a.l.Expected)
		}},
	}
}

// pastShift tells whether it was said that the job goes on past the end of that
// shift, into the night and no longer: what stays on over the night is left
// locked on purpose by [LeftOvernight].
func (l Lockout) pastShift(end time.Time) bool {
	said := slices.ContainsFunc(l.Events, func(e Event) bool { return e.Kind == LaterEnd && e.Until.Equal(l.Expected) })
	return said && l.Expected.Sub(end) <= VerificationLasts
}
