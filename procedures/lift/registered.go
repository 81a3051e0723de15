package lift

// Registered is the rig with what the register says of its links. A link is out
// of service as [Link.Out] tells, and due no later than the next inspection it
// owes by [Link.Rounds]. One thing alone moves a date on: a yearly inspection
// that passed, later than the rig's own. The rig's own links are left as they
// are.
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
		rounds := l.Rounds(looked)
		l.renew(looked)
		l.InspectionDue = l.DueBy()
		for _, one := range rounds {
			if one.Owed && !one.Due.IsZero() && !l.InspectionDue.IsZero() && one.Due.Before(l.InspectionDue) {
				l.InspectionDue = one.Due
			}
		}
		if l.State == InService && len(l.Out(looked, taken)) > 0 {
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
		if one.Link == l.ID && one.Fit && !one.Elsewhere && one.Every == EveryYear && one.At.After(last) {
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
