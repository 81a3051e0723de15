package server

import (
	"math"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// windowView is which settings of the yoke let the piece hang as it may.
type windowView struct {
	Said []plain.Sentence
	Fits []fitLine  // the settings marked on the rig
	Bars []rangeBar // what would fit, where none is marked or none of these fits
	Open bool
}

type fitLine struct {
	Name   string
	Yoke   plain.Metres
	Legs   string
	Fits   bool
	Now    bool // as the rig is set
	Angle  plain.Degrees
	Needed plain.Metres
	Why    []plain.Sentence
}

// rangeBar is the stretches of one length that fit, on a line from nothing up.
type rangeBar struct {
	Title, Now string
	Ranges     []string
	Bars       []struct{ X, W px } // of 100
	At         px
}

// window works out the yoke window of a lift; it is the same whenever it is
// worked out from the same lift.
func (a *liftAnswer) window(l *lift.Lift) {
	w := lift.Window(*l)
	view := &windowView{Said: w.Said, Open: w.Open}
	any := false
	for _, fit := range w.Fits {
		s := fit.Setting
		line := fitLine{Name: s.Name, Yoke: plain.Metres(s.YokeWidth), Legs: a.T("%s", plain.Metres(s.LegLength)), Fits: fit.Fits, Angle: fit.Angle, Needed: fit.Needed,
			Now: s.YokeWidth == l.Rig.YokeWidth && s.LegLength == l.Rig.LegLength && s.SecondLeg == l.Rig.SecondLeg}
		if s.SecondLeg > 0 {
			line.Legs = a.T("%[1]s and %[2]s", plain.Metres(s.LegLength), plain.Metres(s.SecondLeg))
		}
		for _, f := range fit.Why {
			line.Why = append(line.Why, f.Said)
		}
		any = any || fit.Fits
		view.Fits = append(view.Fits, line)
	}
	if !any {
		for _, bar := range []rangeBar{
			rangesOf(a.Frame, a.T("Width of the yoke, with the legs as they are"), w.Yoke, l.Rig.YokeWidth),
			rangesOf(a.Frame, a.T("Length of the legs, with the yoke as it is"), w.Legs, l.Rig.LegLength),
		} {
			if len(bar.Ranges) > 0 {
				view.Bars = append(view.Bars, bar)
			}
		}
	}
	a.Window = view
}

func rangesOf(f *views.Frame, title string, ranges []lift.Range, now float64) rangeBar {
	bar := rangeBar{Title: title}
	step := 0.005 // m: no finer than a yoke is set, and rounded to the safe side
	if f.Units == checklists.InchPound {
		step = float64(plain.Inch) / 8
	}
	longest := now
	for _, r := range ranges {
		longest = math.Max(longest, float64(r.To))
	}
	scale := 100 / (1.1 * longest)
	for _, r := range ranges {
		from, to := math.Ceil(float64(r.From)/step-1e-6)*step, math.Floor(float64(r.To)/step+1e-6)*step
		if from > to {
			continue
		}
		bar.Ranges = append(bar.Ranges, f.T("%[1]s to %[2]s", plain.Metres(from), plain.Metres(to)))
		bar.Bars = append(bar.Bars, struct{ X, W px }{px(from * scale), px(math.Max((to-from)*scale, 1))})
	}
	if now > 0 {
		bar.Now, bar.At = f.T("%s", plain.Metres(now)), px(now*scale)
	}
	return bar
}
