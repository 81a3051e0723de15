package lift

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

const (
	idleMonths     = 1 // from so long on a frequent inspection is owed
	longIdleMonths = 6 // and over so long a complete one
)

// Idled is the rig with the links marked that were idle and not inspected
// since. uses are the times at which the rig or its hoist is known to have been
// used or looked over as a whole: lifts allowed, pre-shift lists signed,
// versions of the rig put in force. An inspection of a link that passed counts
// as its use too. The rig's own links are left as they are.
//
// A month or more between two of these, or since the last, owes a monthly
// inspection of each part before it is used, over six months a yearly one: 29
// CFR 1910.179(j)(4)(i) and (ii), which want one by (j)(2), or by (j)(2) and
// (j)(3) (as told by a crane school's page; its text was not read; also
// DOE-STD-1090-96 for lifters). Use after the gap, a signed list or a new
// version of the rig doesn't stand for it. Of a rig of which no use is known
// the month is owed: how long it hung there nobody can say.
func (r Rig) Idled(uses []time.Time, looked []Looked, now time.Time) Rig {
	uses = slices.DeleteFunc(slices.Clone(uses), now.Before) // of a clock that ran ahead
	slices.SortFunc(uses, time.Time.Compare)
	r.Links = append([]Link(nil), r.Links...)
	for i := range r.Links {
		r.Links[i].idle(uses, looked, now)
	}
	return r
}

// idle walks from one use to the next; uses are in order.
func (l *Link) idle(uses []time.Time, looked []Looked, now time.Time) {
	var passed []Looked
	for _, one := range looked {
		if one.Link == l.ID && one.Fit && !one.Elsewhere && l.ID != "" && !one.At.After(now) {
			passed = append(passed, one)
		}
	}
	slices.SortStableFunc(passed, func(a, b Looked) int { return a.At.Compare(b.At) })
	var last time.Time
	l.IdleSince, l.IdleOwes = time.Time{}, EveryUnknown
	until := func(at time.Time) {
		owes := idleOwes(last, at)
		if owes > l.IdleOwes {
			l.IdleOwes = owes
			if l.IdleSince.IsZero() {
				l.IdleSince = last
			}
		}
		if at.After(last) {
			last = at
		}
	}
	if len(uses) == 0 && len(passed) == 0 {
		l.IdleOwes = EveryMonth
		return
	}
	last = now
	if len(uses) > 0 {
		last = uses[0]
	}
	if len(passed) > 0 && passed[0].At.Before(last) {
		last = passed[0].At
	}
	for len(uses) > 0 || len(passed) > 0 {
		if len(passed) == 0 || len(uses) > 0 && uses[0].Before(passed[0].At) {
			until(uses[0])
			uses = uses[1:]
			continue
		}
		until(passed[0].At)
		if passed[0].Every >= l.IdleOwes {
			l.IdleSince, l.IdleOwes = time.Time{}, EveryUnknown
		}
		passed = passed[1:]
	}
	until(now)
}

// idleOwes is the inspection owed after no use from one moment to another.
func idleOwes(from, to time.Time) Every {
	switch {
	case to.After(plain.MonthsOn(from, longIdleMonths)):
		return EveryYear
	case !to.Before(plain.MonthsOn(from, idleMonths)):
		return EveryMonth
	}
	return EveryUnknown
}

// Idle says which inspection the part owes for having hung idle, and by which
// clause; nothing where it owes none.
func (l *Link) Idle() (said plain.Sentence, source string) {
	switch {
	case l.IdleOwes == EveryUnknown:
		return plain.Sentence{}, ""
	case l.IdleSince.IsZero():
		return plain.Say("%s: when it was last used is not known: inspect it before use, as each month", l.label()), "29 CFR 1910.179(j)(4)"
	case l.IdleOwes == EveryYear:
		return plain.Say("%s: idle since %s, over six months: inspect it before use, as each year", l.label(), l.IdleSince), "29 CFR 1910.179(j)(4)(ii)"
	}
	return plain.Say("%s: idle since %s, a month or more: inspect it before use, as each month", l.label(), l.IdleSince), "29 CFR 1910.179(j)(4)(i)"
}

func (v *Verdict) checkIdle(l *Link) {
	if l.IdleOwes == EveryUnknown {
		return
	}
	said, source := l.Idle()
	v.Findings = append(v.Findings, Finding{Rule: IdleRule, Link: l.label(), Source: source, Said: said, Blocks: true})
}
