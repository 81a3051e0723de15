package lift

import (
	"math"
	"slices"

	"stillsaw/procedures/plain"
)

// How finely a remedy is looked for: coarse steps, then halved down to the
// millimetre. Own choice.
const (
	coarse     = 0.02  // m
	millimetre = 0.001 // m
	shortest   = 0.3   // m, of a piece still worth lifting
)

// remedies are every way found from here, the fewest changes first.
func (a attempt) remedies() []Remedy {
	if r, ok := a.remedy(); ok {
		return []Remedy{r}
	}
	var found []Remedy
	keep := func(b attempt, ok bool) {
		if !ok {
			return
		}
		if r, ok := b.remedy(); ok {
			found = append(found, r)
		}
	}
	keep(a.rated())
	for _, b := range a.hangs() {
		keep(b, true)
	}
	for _, search := range a.searches() {
		keep(search(a))
	}
	if len(found) > 0 {
		return found
	}
	// Nothing alone: another hang, and with it stronger parts or one search more.
	for _, b := range a.hangs() {
		keep(b.rated())
		for _, search := range b.searches() {
			keep(search(b))
		}
	}
	for _, search := range []func(attempt) (attempt, bool){attempt.shorterAnyway, attempt.steeper} {
		if b, ok := search(a); ok {
			keep(b.rated())
		}
	}
	return found
}

// hangs are the other ways to hang the piece that need no search.
func (a attempt) hangs() (other []attempt) {
	r := &a.lift.Rig
	if !r.grips() && a.lift.Placing != OverBalance {
		b := a.copied()
		b.lift.Placing = OverBalance
		b.step(PicksOver, "the hook points set at equal distances from the balance point, as a trial lift shows it")
		other = append(other, b)
	}
	for _, s := range r.Settings {
		if (r.YokeWidth > 0) != (s.YokeWidth > 0) || s.YokeWidth == r.YokeWidth && s.LegLength == r.LegLength && s.SecondLeg == r.SecondLeg {
			continue
		}
		b := a.copied()
		b.lift.Rig.set(s)
		b.step(OtherSetting, "the yoke set to %s", s.Name)
		other = append(other, b)
	}
	return other
}

// SetTo is the rig with the yoke at the marked setting of that name; ok is false
// where it has none.
func (r Rig) SetTo(name string) (set Rig, ok bool) {
	for _, s := range r.Settings {
		if s.Name == name && name != "" {
			r.set(s)
			return r, true
		}
	}
	return r, false
}

// Unset is the rig with nothing said of which of its marked settings the yoke is at.
func (r Rig) Unset() Rig {
	if r.marked() {
		r.Setting = ""
	}
	return r
}

// marked tells whether the yoke has settings one can tell apart.
func (r *Rig) marked() bool {
	return slices.ContainsFunc(r.Settings, func(s Setting) bool { return s.Name != "" })
}

func (r *Rig) unset() bool { return r.marked() && r.Setting == "" }

func (r *Rig) set(s Setting) {
	r.Setting, r.YokeWidth, r.LegLength, r.SecondLeg = s.Name, s.YokeWidth, s.LegLength, s.SecondLeg
}

// searches are the changes by a length that has to be found.
func (a attempt) searches() (all []func(attempt) (attempt, bool)) {
	r := &a.lift.Rig
	by := func(kind RemedyKind, from, to float64, change func(*Lift, float64), said string) {
		all = append(all, func(a attempt) (attempt, bool) { return a.search(kind, from, to, change, said) })
	}
	by(ShorterPiece, a.lift.Piece.Length, shortest, (*Lift).shorten, "the piece no longer than %s")
	by(LongerLegs, r.LegLength, maxLength, (*Lift).relegs, "legs of %s or more")
	if r.LegLength > 0 {
		by(ShorterLegs, r.LegLength, 0, (*Lift).relegs, "legs of %s or less")
	}
	if r.YokeWidth > 0 && len(r.Settings) == 0 {
		widen := func(l *Lift, x float64) { l.Rig.YokeWidth = x }
		by(OtherYoke, r.YokeWidth, maxLength, widen, "a yoke %s wide between the legs")
		by(OtherYoke, r.YokeWidth, 0, widen, "a yoke %s wide between the legs")
	}
	if !r.grips() {
		spread := func(l *Lift, x float64) { l.Span = x }
		if a.lift.Span > 0 {
			from := min(a.lift.Span, a.lift.Piece.Length+coarse)
			by(OtherSpan, from, a.lift.Piece.Length, spread, "hook points %s apart")
			by(OtherSpan, from, 0, spread, "hook points %s apart")
		} else {
			by(OtherSpan, a.lift.Piece.Length+coarse, 0, spread, "hook points %s apart")
		}
	}
	return all
}

// search walks x from one value toward another until the lift is a GO, then
// back to the last millimetre of it.
func (a attempt) search(kind RemedyKind, from, to float64, change func(*Lift, float64), said string) (attempt, bool) {
	toward := math.Copysign(1, to-from)
	goes := func(x float64) bool {
		l := a.lift
		change(&l, x)
		return Check(l).Go
	}
	bad, good := from, math.NaN()
	for i := 1.0; i*coarse <= math.Abs(to-from); i++ {
		x := from + toward*coarse*i
		if goes(x) {
			good = x
			break
		}
		bad = x
	}
	if math.IsNaN(good) {
		return a, false
	}
	for math.Abs(good-bad) > millimetre/4 {
		if middle := (good + bad) / 2; goes(middle) {
			good = middle
		} else {
			bad = middle
		}
	}
	if whole := math.Round(good/millimetre+toward*0.5) * millimetre; goes(whole) {
		good = whole
	}
	b := a.copied()
	change(&b.lift, good)
	b.step(kind, said, plain.Metres(good))
	return b, true
}

// shorten cuts the piece: end hooks come nearer together by as much, and what
// is known of its volume and balance goes in step. Both end diameters stay, so
// it weighs no less than what is really left.
func (l *Lift) shorten(length float64) {
	p := &l.Piece
	if l.Rig.grips() {
		l.Span -= p.Length - length
	}
	p.Volume *= length / p.Length
	p.Balance *= length / p.Length
	p.Length = length
}

// relegs makes the first leg so long and the other longer or shorter by as much.
func (l *Lift) relegs(first float64) {
	if l.Rig.SecondLeg > 0 {
		l.Rig.SecondLeg = max(0, l.Rig.SecondLeg+first-l.Rig.LegLength)
	}
	l.Rig.LegLength = first
}

// shorterAnyway halves the piece, steeper brings the legs to where the tables
// have a column, 60°: for pairs with stronger parts.
func (a attempt) shorterAnyway() (attempt, bool) {
	half := math.Max(shortest, a.lift.Piece.Length/2)
	b := a.copied()
	b.lift.shorten(half)
	b.step(ShorterPiece, "the piece no longer than %s", plain.Metres(half))
	return b, half < a.lift.Piece.Length
}

func (a attempt) steeper() (attempt, bool) {
	b := a.copied()
	leg := math.Ceil((a.lift.Span-a.lift.Rig.YokeWidth)/millimetre) * millimetre // twice the reach: 60°
	b.lift.relegs(leg)
	b.step(LongerLegs, "legs of %s", plain.Metres(leg))
	return b, leg > a.lift.Rig.LegLength && leg <= maxLength
}

// onSlings is the lift with its end hooks taken off and slings under the piece.
func onSlings(l Lift) Lift {
	links := make([]Link, 0, len(l.Rig.Links))
	for _, k := range l.Rig.Links {
		if k.Kind != EndHook {
			links = append(links, k)
		}
	}
	l.Rig.Links, l.Rig.Hitch, l.Rig.EndHookBand, l.Placing = links, Basket, Band{}, OverBalance
	return l
}

// bySpan is the attempt as it stands, or at the widest span that is a GO.
func (a attempt) bySpan() []Remedy {
	if r, ok := a.remedy(); ok {
		return []Remedy{r}
	}
	from := min(a.lift.Span, a.lift.Piece.Length+coarse)
	if !(from > 0) {
		from = a.lift.Piece.Length
	}
	b, ok := a.search(OtherSpan, from, 0, func(l *Lift, x float64) { l.Span = x }, "hook points %s apart")
	if !ok {
		return nil
	}
	// Where the slings sit is part of putting them on, not a step of its own.
	last := len(b.steps) - 1
	b.steps[0].Said = plain.Say("%s, %s", b.steps[0].Said, b.steps[last].Said)
	b.steps = b.steps[:last]
	if r, ok := b.remedy(); ok {
		return []Remedy{r}
	}
	return nil
}
