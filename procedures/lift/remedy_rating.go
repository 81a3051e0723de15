package lift

import (
	"math"
	"slices"

	"stillsaw/procedures/plain"
)

// strengthOf tells whether a finding is answered by a stronger or better marked
// part.
func strengthOf(f Finding) bool {
	return f.Blocks && (f.Rule == RatingRule || f.Rule == NoRatingRule || f.Rule == ChainRule || f.Rule == TagAboveRule)
}

// rated puts a part just strong enough in the place of each that isn't, as one
// step each. ok is false where nothing of the published sizes is enough, or the
// part is an end hook whose rating only its maker can give.
func (a attempt) rated() (attempt, bool) {
	a = a.copied()
	first := Check(a.lift)
	changed := false
	for i := range a.lift.Rig.Links {
		name := a.lift.Rig.Links[i].label()
		if !slices.ContainsFunc(first.Findings, func(f Finding) bool { return strengthOf(f) && f.Link == name }) {
			continue
		}
		if !a.strengthen(i) {
			return a, false
		}
		changed = true
	}
	return a, changed
}

// strengthen replaces one link. A heavier chain may take a part above it over
// its edge; the attempt is then no GO and no remedy.
func (a *attempt) strengthen(i int) bool {
	k := &a.lift.Rig.Links[i]
	switch {
	case k.Kind == EndHook && !(k.RatedLoad > 0):
		return false
	case k.Kind == Leg && k.Grade != NotChain:
		return a.thickerChain(i)
	case k.Kind == Leg && k.MarkedFor.pull() == 0:
		k.MarkedFor = OneLeg
	}
	v := Check(a.lift)
	if i >= len(v.Bars) {
		return false
	}
	// What a leg's mark allows goes with the mark; a choker's bears one leg's pull.
	if k.Kind == Leg && a.lift.Rig.Hitch == Choker {
		k.ChokerLoad = math.Max(k.ChokerLoad, math.Ceil(float64(v.Bars[i].Load)))
	}
	low, high := k.RatedLoad, float64(maxRated)
	holds := func(rated float64) bool {
		k.RatedLoad = rated
		w := Check(a.lift)
		return i < len(w.Bars) && w.Bars[i].Ratio <= 1
	}
	if !holds(high) {
		return false
	}
	for high-low > 0.25 {
		if middle := (low + high) / 2; holds(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	k.RatedLoad = math.Ceil(high)
	a.steps = append(a.steps, Step{HigherRating, k.label(), plain.Say("%s replaced by one rated %s or more, as heavy at the most", k.label(), plain.Kilograms(k.RatedLoad))})
	return true
}

// thickerChain takes the next size of the published table that is enough; it
// weighs more as the square of its size.
func (a *attempt) thickerChain(i int) bool {
	old := a.lift.Rig.Links[i]
	grade := old.Grade
	if grade != Grade100 {
		grade = Grade80
	}
	for size := max(Chain7_32, old.Size); size <= Chain1_1_4; size++ {
		rating, ok := ChainRating(grade, size, OneLeg)
		if !ok {
			continue
		}
		k := &a.lift.Rig.Links[i]
		*k = old
		k.Grade, k.Size, k.MarkedFor, k.RatedLoad = grade, size, OneLeg, rating
		if old.Size >= Chain7_32 && old.Size <= Chain1_1_4 {
			k.OwnMass = old.OwnMass * math.Pow(size.inches()/old.Size.inches(), 2)
		}
		v := Check(a.lift)
		if i >= len(v.Bars) {
			return false
		}
		if a.lift.Rig.Hitch == Choker {
			k.ChokerLoad = math.Max(old.ChokerLoad, math.Ceil(float64(v.Bars[i].Load)))
			if k.ChokerLoad > rating {
				continue
			}
			v = Check(a.lift)
		}
		if v.Bars[i].Ratio <= 1 {
			said := plain.Say("%s replaced by Grade %s chain of %s in, rated %s a leg", k.label(), grade.String(), size.String(), plain.Kilograms(rating))
			if a.lift.Rig.Hitch == Choker {
				said = plain.Say("%s, and %s as a choker", said, plain.Kilograms(k.ChokerLoad))
			}
			a.steps = append(a.steps, Step{HigherRating, k.label(), said})
			return true
		}
	}
	a.lift.Rig.Links[i] = old
	return false
}

// inches is the nominal size of a chain.
func (c ChainSize) inches() float64 {
	sizes := [...]float64{Chain7_32: 7. / 32, Chain9_32: 9. / 32, Chain5_16: 5. / 16, Chain3_8: 3. / 8, Chain1_2: 1. / 2,
		Chain5_8: 5. / 8, Chain3_4: 3. / 4, Chain7_8: 7. / 8, Chain1: 1, Chain1_1_4: 1.25}
	if int(c) >= len(sizes) {
		return 0
	}
	return sizes[c]
}
