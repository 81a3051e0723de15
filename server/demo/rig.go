package demo

import (
	"time"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// rigged is the rig in force.
type rigged struct {
	lift.Rig
	version int
}

// newRig is the mill's one rig as its marks were read off: a 1-ton hoist on a
// jib, a yoke of three holes, two legs of Grade 80 3/8 in chain and a pair of end hooks.
// Ratings of yoke, hooks and jib, and all sizes, are invented; the legs' is that of OSHA,
// Guidance on Safe Sling Use, Table 1.
func newRig(read time.Time) rigged {
	pounds := func(lb float64) float64 { return lb * float64(plain.Pound) }
	legs, _ := lift.ChainRating(lift.Grade80, lift.Chain3_8, lift.TwoLegs60)
	r := lift.StarterRig()
	r.YokeWidth, r.Setting, r.LegLength = 3.5*float64(plain.Foot), "2nd hole", 2.5*float64(plain.Foot)
	feet := func(ft float64) float64 { return ft * float64(plain.Foot) }
	r.Headroom, r.HookToYoke = feet(9), feet(1.25)
	for i, hole := range []string{"1st hole", "2nd hole", "3rd hole"} {
		r.Settings = append(r.Settings, lift.Setting{Name: hole, YokeWidth: feet(2.5 + float64(i)), LegLength: feet(2.5)})
	}
	r.EndHookBand = lift.Band{Low: 45, High: 80, Source: "maker's sheet for hook pair QB-1, invented for this demonstration"}
	marks := map[lift.Kind]struct {
		name, tag  string
		rated, own float64
	}{
		lift.Beam:      {"Jib", "jib 1 T, plate at the foot", pounds(2000), 0},
		lift.Trolley:   {"Trolley", "trolley 1 T", pounds(2000), pounds(31)},
		lift.Hoist:     {"Electric chain hoist", "hoist 1 T, plate on the body", pounds(2000), pounds(96)},
		lift.HoistHook: {"Hoist hook", "hook 1 T", pounds(2000), pounds(7)},
		lift.Yoke:      {"Yoke", "yoke 1500 lb, stamped in the middle", pounds(1500), pounds(84)},
		lift.Leg:       {"Chain legs", "legs G80 3/8 in", legs, pounds(18)},
		lift.EndHook:   {"End hooks", "pair QB-1, 1300 lb", pounds(1300), pounds(14)},
	}
	for i := range r.Links {
		l := &r.Links[i]
		mark := marks[l.Kind]
		l.Name, l.Tag, l.RatedLoad, l.OwnMass, l.TagReadable, l.State = mark.name, mark.tag, mark.rated, mark.own, true, lift.InService
		l.Inspected, l.InspectionDue = read.AddDate(0, 0, -12), read.AddDate(1, 0, -12)
		if l.Kind == lift.Leg {
			l.Grade, l.Size, l.MarkedFor = lift.Grade80, lift.Chain3_8, lift.TwoLegs60
		}
	}
	return rigged{Rig: r, version: 1}
}
