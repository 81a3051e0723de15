package lift_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// A stiff load may hang on any two of three or four legs (statics), so three and
// four are taken and two of them counted; more or fewer are no sling.
func TestTwoOfThreeAndOfFourLegsAreCounted(t *testing.T) {
	with := func(legs int) lift.Verdict {
		l := goodLift(t)
		pair := l.Rig.Links[5]
		single := pair
		single.Pair = false
		l.Rig.Links = l.Rig.Links[:5]
		for ; legs > 1; legs -= 2 {
			l.Rig.Links = append(l.Rig.Links, pair)
		}
		if legs == 1 {
			l.Rig.Links = append(l.Rig.Links, single)
		}
		return lift.Check(l)
	}
	for legs, said := range map[int]string{3: "of the 3 legs two are counted", 4: "of the 4 legs two are counted"} {
		v := with(legs)
		require.NotContains(t, rules(v), lift.PathRule, "%d legs: %v", legs, v.Findings)
		require.Contains(t, rules(v), lift.LegsRule)
		for _, f := range v.Findings {
			if f.Rule == lift.LegsRule {
				require.Contains(t, f.Said.String(), said)
			}
		}
	}
	require.NotContains(t, rules(with(2)), lift.LegsRule)
	for _, legs := range []int{0, 1, 5, 6} {
		require.False(t, with(legs).Go, "%d legs", legs)
	}
}

// Legs too flat and a hoist too weak: longer legs and a stronger hoist, together;
// one step alone is said without a word of others.
func TestFlatLegsAndAWeakHoistAreMendedTogether(t *testing.T) {
	l := goodLift(t)
	l.Rig.LegLength, l.Rig.Links[2].RatedLoad = 0.33, 20
	l.Rig.Links[2].OwnMass = 1
	var longer *lift.Remedy
	for _, r := range lift.Remedies(l) {
		if r.Steps[0].Kind == lift.LongerLegs {
			longer = &r
		}
	}
	require.NotNil(t, longer, "%v", lift.Remedies(l))
	require.Len(t, longer.Steps, 2)
	require.Equal(t, lift.HigherRating, longer.Steps[1].Kind)
	require.True(t, lift.Check(longer.Changed).Go)
	l = goodLift(t)
	l.Rig.Links[2].RatedLoad = 100
	one := lift.Remedies(l)[0]
	require.True(t, one.Alone())
	require.Equal(t, one.Steps[0].Said.String()+"; a supervisor signs as well", one.Said().String())
}

// What was not measured stands as nothing measured, whatever was typed for it.
func TestNotMeasuredIsNoSize(t *testing.T) {
	for _, typed := range []float64{0, -1} {
		for _, j := range lift.JudgeHook(lift.HookMeasures{NewThroat: 0.03, NewSection: 0.02, Throat: typed, Section: typed}) {
			if j.Measure != "twist" {
				require.Zero(t, j.Measured, j.Measure)
				require.Equal(t, "not measured", j.Said.String())
			}
		}
	}
}

// On one headblock, or on two in one place, there is nothing to balance between.
func TestOneHeadblockIsSaidToBeOne(t *testing.T) {
	p := lift.Piece{Shape: lift.Squared, Length: 2, Width: .3, Height: .3, Density: 800}
	for _, blocks := range [][]float64{{0}, {.1, .1}} {
		l, err := lift.Land(p, blocks, 0)
		require.NoError(t, err)
		require.Contains(t, l.Said.String(), "one headblock only")
	}
	l, err := lift.Land(p, []float64{.2, .8}, 0)
	require.NoError(t, err)
	require.Contains(t, l.Said.String(), "outside the headblocks")
}

// A part for a supervisor to sign for is said where nothing else is to be done.
func TestOnlyASignatureIsSaidAsOne(t *testing.T) {
	r := lift.Remedy{NeedsSupervisor: true, Steps: []lift.Step{{Kind: lift.AnsweredYes, Said: plain.Say("answered")}}}
	rigging, answers := r.Apart()
	require.Equal(t, "a supervisor signs for more than the house margin", rigging.String())
	require.Equal(t, "answered", answers.String())
}

// 1 ft³ is 0.028 316 846 592 m³, from the foot of 0.3048 m.
func TestVolumesAsPeopleWriteThem(t *testing.T) {
	const foot = 0.028316846592
	for unit, size := range map[lift.Unit]float64{lift.Inches: foot, lift.Feet: foot, lift.Millimetres: 1, lift.Centimetres: 1, lift.Metres: 1} {
		for text, want := range map[string]float64{"2": 2 * size, "38 ft³": 38 * foot, "38 cu ft": 38 * foot, "1 1/2 FT3": 1.5 * foot, "1.08 m³": 1.08, "1.08m^3": 1.08} {
			got, err := lift.ParseVolume(text, unit)
			require.NoError(t, err, text)
			require.InDelta(t, want, float64(got), 1e-12, "%q in %v", text, unit)
		}
		for _, text := range []string{"", "2 ft", "2 kg", "10001 m³", "-1 m³", "1e3 m³"} {
			_, err := lift.ParseVolume(text, unit)
			require.Error(t, err, text)
		}
	}
	_, err := lift.ParseVolume("2", lift.Pounds)
	require.ErrorContains(t, err, "the unit too")
}

// Of a piece whose volume was measured the surface isn't known: ice asks for its
// area, and no ice asks for none.
func TestIceOnAMeasuredVolumeNeedsItsArea(t *testing.T) {
	p := goodLift(t).Piece
	p.Shape, p.Volume, p.Slabs = lift.Measured, 0.12, [4]float64{}
	for _, tc := range []struct {
		weather lift.Weather
		ok      bool
	}{{lift.Weather{Wet: true}, true}, {lift.Weather{Ice: 0.01}, false}, {lift.Weather{Ice: 0.01, IceArea: 1}, true}, {lift.Weather{Snow: 0.01, SnowArea: 1}, true}} {
		p.Weather = tc.weather
		require.Equal(t, tc.ok, p.Validate() == nil, "%+v: %v", tc.weather, p.Validate())
	}
}

// What a rig may have is allowed to the last of it, and no more.
func TestRigHasNoMoreThanIsAllowed(t *testing.T) {
	for name, tc := range map[string]struct {
		change func(r *lift.Rig)
		ok     bool
	}{
		"fifty settings": {func(r *lift.Rig) {
			r.Settings = slices.Repeat([]lift.Setting{{Name: "hole", YokeWidth: 0.5, LegLength: 0.6}}, 50)
		}, true},
		"one more": {func(r *lift.Rig) {
			r.Settings = slices.Repeat([]lift.Setting{{Name: "hole", YokeWidth: 0.5, LegLength: 0.6}}, 51)
		}, false},
		"house floor 85": {func(r *lift.Rig) { r.HouseFloor = 85 }, true},
		"steeper":        {func(r *lift.Rig) { r.HouseFloor = 85.01 }, false},
	} {
		l := goodLift(t)
		tc.change(&l.Rig)
		require.Equal(t, tc.ok, l.Rig.Validate() == nil, "%s: %v", name, l.Rig.Validate())
	}
}

// Whoever is told that a check is over is told of what.
func TestWhatEndedACheckIsSaid(t *testing.T) {
	l := goodLift(t)
	v := lift.Check(l)
	for kind, said := range map[lift.EventKind]string{lift.GearChanged: "the gear was changed since", lift.ShockLoad: "a shock load was reported since", lift.FoundNotFit: "hook was found not fit", lift.EventUnknown: "what is not known"} {
		stands, why := lift.Holds(&l, &v, l.Now.Add(8*time.Hour), []lift.Event{{Kind: kind, At: l.Now.Add(time.Minute), Link: "hook"}}, l.Now.Add(time.Hour))
		require.False(t, stands)
		require.Contains(t, why.String(), said)
	}
}

// What a piece may be is allowed to its limits, and not past them.
func TestPieceIsRefusedPastItsLimits(t *testing.T) {
	for name, tc := range map[string]struct {
		change func(p *lift.Piece)
		ok     bool
	}{
		"less":             {func(p *lift.Piece) { p.Density = 199.9 }, false},
		"density 1500":     {func(p *lift.Piece) { p.Density = 1500 }, true},
		"more":             {func(p *lift.Piece) { p.Density = 1500.1 }, false},
		"wetter":           {func(p *lift.Piece) { p.Condition, p.Moisture = lift.MeasuredMoisture, 3.01 }, false},
		"slabs that meet":  {func(p *lift.Piece) { p.Slabs = [4]float64{0.01, 0, p.Small / 2, p.Small / 2} }, false},
		"slabs that don't": {func(p *lift.Piece) { p.Slabs = [4]float64{0.01, 0, p.Small / 3, p.Small / 3} }, true},
	} {
		p := goodLift(t).Piece
		tc.change(&p)
		require.Equal(t, tc.ok, p.Validate() == nil, "%s: %v", name, p.Validate())
	}
}

// Any twist that can be seen puts a hook out of use (ASME B30.10), half a degree too.
func TestHalfADegreeOfTwistIsTwisted(t *testing.T) {
	for twist, wear := range map[float64]lift.Wear{0: lift.Within, 0.5: lift.Discard, 1: lift.Discard} {
		for _, j := range lift.JudgeHook(lift.HookMeasures{Twist: twist, Twisted: lift.No}) {
			if j.Measure == "twist" {
				require.Equal(t, wear, j.Wear, twist)
			}
		}
	}
}

// A part that bears all of its rating and nothing more is a GO, as the rating says;
// a gram over it is none.
func TestWholeRatingMayBeUsed(t *testing.T) {
	l := goodLift(t)
	l.Rig.HouseMargin = 0
	load := float64(lift.Check(l).Bars[2].Load)
	l.Rig.Links[2].RatedLoad = load
	v := lift.Check(l)
	require.True(t, v.Go, "%v", v.Findings)
	require.InDelta(t, 1, v.Bars[2].Ratio, 0)
	l.Rig.Links[2].RatedLoad = load - 0.001
	require.False(t, lift.Check(l).Go)
}
