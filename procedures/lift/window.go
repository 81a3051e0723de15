package lift

import (
	"math"

	"stillsaw/procedures/plain"
)

// Fit is one setting of the yoke held against a piece.
type Fit struct {
	Setting Setting
	Fits    bool
	Angle   plain.Degrees // of the flatter leg, piece level; 0 where it can't hang
	Needed  plain.Metres  // from the hoist hook down; 0 where not known
	Why     []Finding     // what forbids it, empty where it fits
}

// Range is a stretch of lengths that fit; both its ends do.
type Range struct{ From, To plain.Metres }

// YokeWindow is which settings let a piece hang as it may: within the angles of
// the end hooks, no flatter than the floors, level enough, and with the
// headroom there is. It says nothing of strength, tags or questions.
type YokeWindow struct {
	Fits []Fit   // the settings marked on the rig, in their order
	Yoke []Range // widths that fit with the legs as they are
	Legs []Range // lengths of the first leg that fit with the yoke as it is
	Said []plain.Sentence
	Open bool // at least one fits
}

// Window works the settings out for the piece and hook span of l. Numbers that
// can't be meant, in piece or rig, give a window that is shut and says so.
func Window(l Lift) YokeWindow {
	var w YokeWindow
	if l.Rig.Headroom == 0 {
		w.Said = append(w.Said, plain.Say("the headroom is not known, so it is not counted: see that the piece clears what it passes over"))
	}
	if err := l.Piece.Validate(); err != nil {
		return w.shut("the piece can't be weighed: %s", err.Error())
	}
	if err := l.Rig.Validate(); err != nil {
		return w.shut("a number of the rig can't be meant: %s", err.Error())
	}
	for _, s := range l.Rig.Settings {
		at := l
		at.Rig.set(s)
		fit := at.fit()
		fit.Setting = s
		w.Fits = append(w.Fits, fit)
		w.Open = w.Open || fit.Fits
	}
	if l.Rig.YokeWidth > 0 {
		w.Yoke = ranges(l, min(l.Span, maxLength), func(l *Lift, x float64) { l.Rig.YokeWidth = x })
	}
	w.Legs = ranges(l, maxLength, (*Lift).relegs)
	w.Open = w.Open || len(w.Yoke)+len(w.Legs) > 0
	if w.Open {
		return w
	}
	w.Said = append(w.Said, plain.Say("no setting fits this piece"))
	for _, f := range l.hangFindings(nil) {
		w.Said = append(w.Said, f.Said)
	}
	return w
}

func (w YokeWindow) shut(said string, args ...any) YokeWindow {
	w.Said = append(w.Said, plain.Say(said, args...))
	return w
}

// hangFindings are what the rules of geometry say of the lift, and of it only;
// v may hold slices to use again.
func (l *Lift) hangFindings(v *Verdict) []Finding {
	if v == nil {
		v = new(Verdict)
	}
	v.reset()
	v.Balance = plain.Metres(l.Piece.BalancePoint())
	v.checkHang(l)
	return v.Findings
}

func (l *Lift) fit() Fit {
	var v Verdict
	why := l.hangFindings(&v)
	f := Fit{Angle: v.Angle, Why: why, Fits: len(why) == 0}
	if need := l.needed(float64(v.Height), float64(v.Tilt)); v.Height > 0 && !math.IsInf(need, 1) && (l.Rig.HookToYoke > 0 || l.Rig.YokeWidth == 0) {
		f.Needed = plain.Metres(need)
	}
	return f
}

// ranges finds every stretch of x up to most in which the geometry allows the
// lift, its ends to a tenth of a millimetre on the safe side.
func ranges(l Lift, most float64, change func(*Lift, float64)) (all []Range) {
	const stride, near = 0.01, 1e-4 // m
	var v Verdict
	fits := func(x float64) bool {
		at := l
		change(&at, x)
		return len(at.hangFindings(&v)) == 0
	}
	edge := func(bad, good float64) float64 {
		for math.Abs(good-bad) > near {
			if middle := (good + bad) / 2; fits(middle) {
				good = middle
			} else {
				bad = middle
			}
		}
		return good
	}
	before, in := 0.0, false
	for i := 1.0; i*stride < most; i++ {
		x := i * stride
		switch now := fits(x); {
		case now && !in:
			from := plain.Metres(edge(before, x))
			all, in = append(all, Range{from, plain.Metres(x)}), true
		case in && !now:
			all[len(all)-1].To, in = plain.Metres(edge(x, before)), false
		case now:
			all[len(all)-1].To = plain.Metres(x)
		}
		before = x
	}
	return all
}
