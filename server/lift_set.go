package server

import (
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// asSet is how yoke and legs of a rig are set, in a line, so that a yoke that was
// pinned anew is seen.
func asSet(f *views.Frame, r *lift.Rig) string {
	legs := f.T("legs %s", plain.Metres(r.LegLength))
	if r.SecondLeg > 0 && r.SecondLeg != r.LegLength {
		legs = f.T("legs %[1]s and %[2]s", plain.Metres(r.LegLength), plain.Metres(r.SecondLeg))
	}
	switch {
	case r.YokeWidth == 0:
		return legs
	case r.Setting == "":
		return f.T("yoke %[1]s, %[2]s", plain.Metres(r.YokeWidth), legs)
	}
	return f.T("setting %[1]s, yoke %[2]s, %[3]s", r.Setting, plain.Metres(r.YokeWidth), legs)
}
