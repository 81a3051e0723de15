package procedures

import (
	"slices"
	"time"
)

// ApplyWithout is Apply by a law of the test's own that some rules are left out
// of.
func (l *Lockout) ApplyWithout(e Event, by Person, rules ...string) error {
	return l.apply(e, by, law{without: rules})
}

// FoldedWithout is l folded anew by a law some rules are left out of.
func (l Lockout) FoldedWithout(rules ...string) (Lockout, error) {
	return folded(l.ID, l.Procedure, l.Events, law{without: rules})
}

// BeginWithout is Begin by a law some rules are left out of.
func (b Beginning) BeginWithout(open []Lockout, rules ...string) (Lockout, Event, error) {
	return b.begin(open, law{without: rules})
}

// MayBeginWithout and MayReportWithout are the gate by a law of the test's own
// that some rules are left out of.
func MayBeginWithout(p Procedure, s Standing, now time.Time, rules ...string) error {
	return mayBegin(p, s, now, law{without: rules})
}

func MayReportWithout(l Lockout, e Event, s Standing, now time.Time, rules ...string) error {
	return mayReport(l, e, s, now, law{without: rules})
}

// InItsPlace is the rule by which an entry made late takes its place by the time
// it happened, so that replay agrees.
const InItsPlace = "late entries in their place"

// EveryRule returns the name of every rule a lockout is begun and folded by.
func EveryRule() []string {
	names := []string{"(e)(3) every lock off", InItsPlace}
	for stage := Prepare; stage <= Restore; stage++ {
		if stage != Work && stage != RemoveLocks { // locks off has a rule of its own
			names = append(names, stage.whole())
		}
	}
	for _, r := range beginRules() {
		names = append(names, r.name)
	}
	rules := append(permitRules(), enterRules()...)
	for _, kind := range EventKinds() {
		act, _ := actOf(kind)
		rules = append(rules, act.rules...)
	}
	for _, r := range rules {
		names = append(names, r.name)
	}
	slices.Sort(names)
	return slices.Compact(names)
}
