package lift_test

import (
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// No change of an answer goes unnoticed: what is answered of 160 drawn lifts stands
// in a file, whole, figures and sentences, and a change of it is a change to be
// read. That the answers are right, other tests show by what is published; -update
// writes the file anew.
func TestNoAnswerChangesUnnoticed(t *testing.T) {
	var said strings.Builder
	random := rand.New(rand.NewPCG(2026, 11))
	for i := range 160 {
		l := drawnLift(t, random)
		fmt.Fprintf(&said, "== %d\n", i)
		tell(&said, l)
	}
	path := filepath.Join("..", "..", "testdata", "lifts", "answers.txt")
	if flag.Lookup("update").Value.String() == "true" {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o750))
		require.NoError(t, os.WriteFile(path, []byte(said.String()), 0o600))
	}
	kept, err := os.ReadFile(path)
	require.False(t, errors.Is(err, fs.ErrNotExist), "go test ./procedures/lift -run NoAnswerChanges -update")
	require.NoError(t, err)
	was, is := strings.Split(string(kept), "\n"), strings.Split(said.String(), "\n")
	for i := range min(len(was), len(is)) {
		require.Equal(t, was[i], is[i], "line %d of %s", i+1, path)
	}
	require.Len(t, is, len(was))
}

// drawnLift is a lift near the edge of a GO in one or two respects, everything that
// can be entered of it drawn now and then.
func drawnLift(t *testing.T, random *rand.Rand) lift.Lift {
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	seldom := func() bool { return random.IntN(6) == 0 }
	l := promised(goodLift(t), between)
	l.Span = between(0.75, 1.15)
	p, r := &l.Piece, &l.Rig
	all := lift.AllSpecies()
	p.Species = all[random.IntN(len(all))]
	p.Bark, p.OverBark, p.Weather.Wet = random.IntN(2) == 0, random.IntN(3) == 0, random.IntN(3) == 0
	r.Links[2].RatedLoad, r.Links[5].RatedLoad = between(250, 1500), between(250, 2500)
	l.Placing = []lift.Placing{lift.OverBalance, lift.AtEnds, lift.HungLevel}[random.IntN(3)]
	for _, one := range []func(){
		func() { l.Questions.Free = lift.Unanswered },
		func() { l.Questions.LandingClear, l.Questions.Seated = lift.No, lift.Unanswered },
		func() { r.HouseMargin = between(0.1, 0.9) },
		func() { r.FloorAngle = between(30, 60) },
		func() { r.HouseFloor = between(30, 60) },
		func() { r.YokeWidth = 0 },
		func() { r.YokeWidth = 1.2 },
		func() { r.HookToYoke, r.Headroom = 0.2, between(0.8, 2) },
		func() { p.Balance = p.Length/2 + between(-0.1, 0.1) },
		func() { p.Species, p.Fallback = lift.Species{}, all[3] },
		func() { p.HeartKnown, p.HeartShare = true, between(0, 1) },
		func() { p.Extra = between(0, 40) },
		func() { p.Weather.Snow, p.Weather.SnowArea = between(0, 0.2), 1 },
		func() { p.Weather.Ice, p.Weather.IceArea = between(0, 0.04), 1 },
		func() { p.Density = between(300, 1100) },
		func() { p.Reading = lift.Reading{Section: between(0.001, 0.02), Length: between(0.001, 0.05)} },
		func() { p.Middle = (p.Small + p.Large) / 2 * between(0.98, 1.05) },
		func() { p.Girths = true },
		func() { r.Links[4].OwnMass = 0 },
		func() { r.Links[3].TagReadable = false },
		func() { r.Links[1].State = lift.OutOfService },
		func() { r.Links[5].InspectionDue = now.Add(-time.Hour) },
		func() { l.Holds = []plain.Sentence{plain.Say("the carriage is locked out")} },
		func() {
			r.Settings = []lift.Setting{{Name: "first hole", YokeWidth: 0.6, LegLength: 0.5}, {Name: "second hole", YokeWidth: 0.8, LegLength: 0.7}}
			r.Setting = "as it is set"
		},
		func() { l.Span = 0 },
		func() {
			hooks := link(lift.EndHook, between(200, 900), 4)
			hooks.Pair = true
			r.Hitch, r.Links = lift.EndHooks, append(r.Links, hooks)
			r.EndHookBand = lift.Band{Low: between(20, 60), High: between(60, 85), Source: "maker's sheet of 2024-05-02"}
			l.Span, l.Placing = p.Length-0.02, lift.PlacingUnknown
		},
	} {
		if random.IntN(3) == 0 && seldom() {
			one()
		}
	}
	return l
}

// tell writes down all that is answered of a lift.
func tell(said *strings.Builder, l lift.Lift) {
	v := lift.Check(l)
	fmt.Fprintf(said, "go %v, signed %v, weakest %q; volume %.6g, weighs %.6g, at most %.6g\n", v.Go, v.NeedsSupervisor, v.Weakest, float64(v.Weight.Volume), float64(v.Weight.Expected), float64(v.Weight.Upper))
	fmt.Fprintf(said, "angle %.5g, legs %.5g %.5g, height %.5g, balance %.5g, first hook %.5g, tilt %.4g, pulls %.5g, inward %.5g\n", float64(v.Angle), float64(v.LegAngle[0]), float64(v.LegAngle[1]), float64(v.Height), float64(v.Balance), float64(v.FirstHook), float64(v.Tilt), v.LegTension, float64(v.Inward))
	for _, part := range v.Weight.Parts {
		fmt.Fprintf(said, "part %.5g %s\n", float64(part.Mass), part.Said)
	}
	for _, note := range v.Weight.Notes {
		fmt.Fprintf(said, "note %s\n", note)
	}
	for _, f := range v.Findings {
		fmt.Fprintf(said, "finding %s %v %q %s (%s)\n", f.Rule, f.Blocks, f.Link, f.Said, f.Source)
	}
	for _, b := range v.Bars {
		fmt.Fprintf(said, "bar %s %.5g of %.5g\n", b.Name, float64(b.Load), float64(b.Limit))
	}
	for _, r := range lift.Remedies(l) {
		rigging, answers := r.Apart()
		fmt.Fprintf(said, "remedy %s | %s | %s\n", r.Said(), rigging, answers)
	}
	if landing, err := lift.Land(l.Piece, []float64{-0.5, 0.4, l.Piece.Length}, 0.1); err == nil {
		fmt.Fprintf(said, "lands %v %.5g %.5g %v %s\n", landing.Rests, landing.Overhang, landing.Share, landing.Bears, landing.Said)
	}
	next := l.Piece
	next.Slabs[0] += 0.003
	next.Length += 0.001
	covers, why := lift.Covers(&l, &v, next)
	fmt.Fprintf(said, "covers %v %s\n", covers, why)
	w := lift.Window(l)
	fmt.Fprintf(said, "settings %v %v %v %s\n", w.Open, w.Yoke, w.Legs, w.Said)
	for _, fit := range w.Fits {
		fmt.Fprintf(said, "setting %s %v %s %s\n", fit.Setting.Name, fit.Fits, fit.Angle, fit.Needed)
	}
}
