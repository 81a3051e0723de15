package lift

import "time"

// Due is when the next weekly or monthly inspection of a link falls due by the
// register, the zero time where none was entered of it. After one of a kind the
// next of that kind is due; a rarer one that passed stands for the oftener too.
// The yearly one is dated by the link's own dates, which [Rig.Registered] moves.
//
// A look before a shift brings no date. It is owed each day before use whether
// or not one was ever entered here (29 CFR 1910.184(d), 1910.179(j)(2)), and the
// signed list of the hoist asks for it: a list not signed is a NO-GO by itself.
// Counted here as well, one look entered once would put a part out of use each
// morning after, for it alone and for no other part. What a look found counts
// all the same: not fit is not fit.
func Due(looked []Looked, link string) time.Time {
	var soonest time.Time
	for kind := EveryWeek; kind <= EveryMonth; kind++ {
		var last time.Time
		asked := false
		for _, one := range looked {
			if one.Link != link {
				continue
			}
			asked = asked || one.Every == kind
			if one.Fit && one.Every >= kind && one.At.After(last) {
				last = one.At
			}
		}
		if due := kind.After(last); asked && !last.IsZero() && (soonest.IsZero() || due.Before(soonest)) {
			soonest = due
		}
	}
	return soonest
}

// Registered is the rig with what the register says of its links. A link is out
// of service where the last word was not fit or a measurement is past its limit,
// and due no later than the next weekly or monthly look. One thing alone moves a date
// on: a yearly inspection that passed, later than the rig's own. The rig's own
// links are left as they are.
//
// Only the yearly one is the thorough inspection that the date on a rig stands
// for: of chain slings 29 CFR 1910.184(e)(3)(i), every twelve months at the
// longest; of the hoist the periodic one of 1910.179(j)(3), one to twelve
// months; of hooks and slings the periodic ones of ASME B30.10 and B30.9 (from
// memory). Weekly and monthly looks are the frequent ones of 1910.179(j)(2),
// done besides and never in its place. 1910.179(n) bears on each lift, and
// gives no date.
func (r Rig) Registered(looked []Looked, taken []Taken) Rig {
	r.Links = append([]Link(nil), r.Links...)
	for i := range r.Links {
		l := &r.Links[i]
		l.renew(looked)
		if due := Due(looked, l.ID); !due.IsZero() && !l.InspectionDue.IsZero() && due.Before(l.InspectionDue) {
			l.InspectionDue = due
		}
		if l.State == InService && (rejected(looked, l.ID) || l.worn(taken)) {
			l.State = OutOfService
		}
	}
	return r
}

// renew takes the last yearly inspection that passed for the link's own where it
// is later. Where the rig has it inspected oftener than once a year, as severe
// service asks, it stays so.
func (l *Link) renew(looked []Looked) {
	last := l.Inspected
	for _, one := range looked {
		if one.Link == l.ID && one.Fit && one.Every == EveryYear && one.At.After(last) {
			last = one.At
		}
	}
	if l.ID == "" || !last.After(l.Inspected) {
		return
	}
	due := EveryYear.After(last)
	if own := l.InspectionDue.Sub(l.Inspected); !l.Inspected.IsZero() && !l.InspectionDue.IsZero() && last.Add(own).Before(due) {
		due = last.Add(own)
	}
	l.Inspected, l.InspectionDue = last, due
}
