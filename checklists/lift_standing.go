package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// LiftStanding is whether the answer to a lift kept before still stands. The
// zero value does not.
type LiftStanding struct {
	Stands bool
	Until  time.Time        // it ends by itself: the shift's end, or an inspection that falls due sooner
	Why    []plain.Sentence // why it stands no more
}

// LiftEnds is when an answer given at that time is over at the latest: with the
// shift it was given for, as a check before it would be; outside the window of
// any shift after [OffShiftLasts], or when the next shift starts. Common
// practice, no source.
func (m Mill) LiftEnds(given time.Time) (time.Time, error) {
	near, err := m.ShiftsBetween(given.Add(-missedWithin), given.Add(OffShiftLasts))
	if err != nil {
		return time.Time{}, err
	}
	if shift := governing(near, given); shift != nil {
		return shift.Ends, nil
	}
	ends := given.Add(OffShiftLasts)
	for _, s := range near {
		if s.Starts.After(given) && s.Starts.Before(ends) {
			ends = s.Starts
		}
	}
	return ends, nil
}

// StandsStill tells whether the answer v to the lift l, with that hoist onto
// that equipment, still stands at now. found are the defects of the hoist and
// its parts, open or returned, events what else is known of its gear.
func StandsStill(f Facts, hoist, landsOn procedures.EquipmentID, l *lift.Lift, v *lift.Verdict, found []Defect, events []lift.Event, now time.Time) LiftStanding {
	ends, err := f.Mill.LiftEnds(l.Now)
	if err != nil {
		return LiftStanding{Why: []plain.Sentence{plain.Say("The mill's time zone is not known, so nothing can be said to be done in time.")}}
	}
	s := LiftStanding{Until: ends}
	for i := range l.Rig.Links {
		if due := l.Rig.Links[i].InspectionDue; due.Before(s.Until) {
			s.Until = due
		}
	}
	if stands, why := lift.Holds(l, v, ends, nil, now); !stands {
		s.Why = []plain.Sentence{why}
		return s
	}
	s.Why = LiftHolds(f, hoist, landsOn, now)
	if stands, why := lift.Holds(l, v, ends, append(slices.Clone(events), gearEvents(found, l.Now)...), now); !stands {
		s.Why = append(s.Why, why)
	}
	if l.Piece.Species == (lift.Species{}) && heavierSince(f.Mill, l.Piece, v) {
		s.Why = append(s.Why, plain.Say("nobody knew the kind of wood, and the mill's list of those it saws has a heavier one since"))
	}
	s.Stands = len(s.Why) == 0
	return s
}

// heavierSince tells whether a piece whose kind nobody knew is heavier by the
// mill's list as it is now than what the answer v was given on.
func heavierSince(m Mill, p lift.Piece, v *lift.Verdict) bool {
	w, err := lift.Weigh(p.WithHeaviestOf(m.SawnHere(), nil))
	return err != nil || float64(w.Upper) > float64(v.Weight.Upper)*(1+1e-9)
}

// gearEvents are what the defects of a hoist mean for what was answered at that
// time: what stops it, and any mending, ends it.
func gearEvents(found []Defect, given time.Time) (events []lift.Event) {
	for _, d := range found {
		switch {
		case d.ShockLoad:
			events = append(events, lift.Event{Kind: lift.ShockLoad, At: d.At})
		case d.Severity != Mend && d.At.After(given):
			events = append(events, lift.Event{Kind: lift.GearChanged, At: d.At})
		case d.MendedAt.After(given):
			events = append(events, lift.Event{Kind: lift.GearChanged, At: d.MendedAt})
		}
	}
	return events
}
