package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var updateGolden = flag.Bool("update", false, "write the golden prints anew")

const (
	liftFiles   = "../../testdata/lift"
	goodRigFile = liftFiles + "/rig.json"
)

// liftIt is a call of lift at a time at which the rig of the test data is
// inspected and not yet due.
func liftIt(t *testing.T, args ...string) called {
	t.Helper()
	var out, errOut bytes.Buffer
	c := call{out: &out, now: func() time.Time { return time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC) }}
	flags := flag.NewFlagSet("stillsaw lift", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	c.lift.register(flags)
	require.NoError(t, flags.Parse(args))
	status := c.ended(checkLift(t.Context(), c), &errOut)
	return called{status, out.String(), errOut.String()}
}

func oakCant(more ...string) []string {
	return append([]string{"-shape", "cant", "-species", "Northern Red Oak", "-length", "7ft 6in", "-small", "18in", "-large", "19in", "-slab", "3 1/2in,3.5in,0,0"}, more...)
}

func answerOf(t *testing.T, c called) (a liftAnswer) {
	t.Helper()
	require.Empty(t, c.err)
	require.NoError(t, json.Unmarshal([]byte(c.out), &a))
	return a
}

func TestLiftPrintsWhatItAlwaysPrinted(t *testing.T) {
	for name, tc := range map[string]struct {
		status int
		args   []string
	}{
		"go.txt":    {exitOK, oakCant("-bark", "off", "-rig", goodRigFile, "-asked")},
		"go.json":   {exitOK, oakCant("-bark", "off", "-rig", goodRigFile, "-asked", "-json")},
		"no-go.txt": {exitWrong, oakCant("-rig", goodRigFile, "-asked", "-extra", "600 lb")},
		"weigh.txt": {exitWrong, []string{"-shape", "round", "-species", "Quercus rubra", "-length", "8ft", "-small", "14in", "-large", "15 1/2in"}},
		"rare.txt": {exitWrong, []string{"-shape", "round", "-species", "sugar maple", "-length", "8ft", "-girth", "-small", "50in", "-middle", "52 1/2in", "-large", "56in",
			"-heart", "40%", "-bark", "off", "-ice", "1/4in", "-snow", "4in", "-snow-kind", "settled", "-wet"}},
		"weigh.json": {exitWrong, []string{"-shape", "squared", "-length", "2.4m", "-width", "300mm", "-height", "25cm", "-state", "12%", "-species", "eastern white pine", "-json"}},
	} {
		t.Run(name, func(t *testing.T) {
			c := liftIt(t, tc.args...)
			require.Equal(t, tc.status, c.status, c.out+c.err)
			require.Empty(t, c.err)
			file := filepath.Join(liftFiles, name)
			if *updateGolden {
				require.NoError(t, os.WriteFile(file, []byte(c.out), 0o644))
			}
			want, err := os.ReadFile(file)
			require.NoError(t, err)
			require.Equal(t, nineDigits(string(want)), nineDigits(c.out))
		})
	}
}

// nineDigits rounds every long number: processors differ in the last ones.
func nineDigits(text string) string {
	return regexp.MustCompile(`\d+\.\d{8,}(e[-+]\d+)?`).ReplaceAllStringFunc(text, func(number string) string {
		x, err := strconv.ParseFloat(number, 64)
		if err != nil {
			return number
		}
		return strconv.FormatFloat(x, 'g', 9, 64)
	})
}

// A frustum, V = πL/12·(d² + dD + D²); with d = D it is a cylinder. Geometry.
// Density of wood at 30 %, where shrinkage begins: 1000·Gb·1.30 kg/m³, FPL-GTR-282
// eq. 4-14.
func TestLiftVolumeAndWeightAgreeWithThePublishedFormulas(t *testing.T) {
	a := answerOf(t, liftIt(t, "-shape", "round", "-length", "2.4m", "-small", "300mm", "-large", "36cm", "-json"))
	require.InDelta(t, math.Pi*2.4/12*(0.3*0.3+0.3*0.36+0.36*0.36), a.VolumeM3, 1e-9, "of the wood, without bark")
	require.False(t, a.Go)

	a = answerOf(t, liftIt(t, "-shape", "squared", "-length", "1m", "-width", "0.5m", "-height", "0.5m", "-species", "yellow-poplar", "-state", "30%", "-json"))
	const basic = 0.40 // FPL-GTR-282 Table 5-3b, yellow-poplar, green
	require.InDelta(t, 0.25, a.VolumeM3, 1e-12)
	require.InDelta(t, 0.25*1000*basic*1.30, a.ExpectedKg, 0.01)
	require.GreaterOrEqual(t, a.UpperKg, a.ExpectedKg)
}

func TestLiftKnowsAKindByEitherName(t *testing.T) {
	args := []string{"-shape", "squared", "-length", "8ft", "-width", "12in", "-height", "10in", "-json", "-species"}
	common, scientific := liftIt(t, append(args, "white ash")...), liftIt(t, append(args, "Fraxinus americana")...)
	require.Equal(t, exitWrong, common.status)
	require.Equal(t, common.out, scientific.out)
	require.Greater(t, answerOf(t, liftIt(t, args[:len(args)-1]...)).UpperKg, answerOf(t, common).UpperKg, "a kind nobody named weighs more")
}

func TestLiftWithoutARigIsNoGo(t *testing.T) {
	c := liftIt(t, oakCant("-bark", "off", "-asked")...)
	require.Equal(t, exitWrong, c.status)
	require.True(t, strings.HasPrefix(c.out, "NO-GO"))
	require.Contains(t, c.out, "the rig is not known")
}

func TestLiftWithoutTheQuestionsIsNoGo(t *testing.T) {
	require.Equal(t, exitOK, liftIt(t, oakCant("-rig", goodRigFile, "-asked")...).status)
	c := liftIt(t, oakCant("-rig", goodRigFile)...)
	require.Equal(t, exitWrong, c.status)
	require.Contains(t, c.out, "not answered")
}

// Statics: Σ T·sin θ holds up the weight on the legs. It is a little more, since
// each leg is given its pull with the hooks set as badly for it as they may be.
func TestLiftLegsHoldTheLoadUp(t *testing.T) {
	a := answerOf(t, liftIt(t, oakCant("-bark", "off", "-rig", goodRigFile, "-asked", "-json")...))
	require.Len(t, a.Legs, 2)
	up := 0.0
	for _, leg := range a.Legs {
		require.Positive(t, leg.TensionN)
		up += leg.TensionN * math.Sin(a.AngleDeg*math.Pi/180)
	}
	gear := (18 + 14) * 0.45359237 // legs and end hooks of the file
	weight := (a.UpperKg + gear) * 9.80665
	require.GreaterOrEqual(t, up, weight*(1-1e-9))
	require.LessOrEqual(t, up, weight*1.05)
}

func TestBarkNobodySpokeOfCountsInTheUpperWeightAlone(t *testing.T) {
	off := answerOf(t, liftIt(t, oakCant("-json", "-bark", "off")...))
	on := answerOf(t, liftIt(t, oakCant("-json", "-bark", "on")...))
	unsaid := answerOf(t, liftIt(t, oakCant("-json")...))
	require.Equal(t, off.ExpectedKg, unsaid.ExpectedKg)
	require.Equal(t, on.UpperKg, unsaid.UpperKg)
	require.Greater(t, on.ExpectedKg, off.ExpectedKg)
	require.Equal(t, off.VolumeM3, on.VolumeM3)
	for _, a := range []liftAnswer{off, on, unsaid} {
		sum := a.ExpectedKg
		for _, part := range a.Spread {
			sum += part.Kg
		}
		require.InDelta(t, a.UpperKg, sum, 1e-6, "the parts make up the difference")
	}
}

func TestLiftInputThatCannotBeMeantIsOneLineAndTwo(t *testing.T) {
	rig := func(text string) string {
		file := filepath.Join(t.TempDir(), "rig.json")
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		return file
	}
	squared := func(more ...string) []string {
		return append([]string{"-shape", "squared", "-length", "8ft", "-width", "12in", "-height", "10in"}, more...)
	}
	for name, tc := range map[string]struct {
		args []string
		says string
	}{
		"nothing":              {nil, "-shape"},
		"no such shape":        {[]string{"-shape", "oval", "-length", "8ft"}, "-shape"},
		"no length":            {[]string{"-shape", "round", "-small", "10in", "-large", "12in"}, "-length"},
		"no unit":              {[]string{"-shape", "round", "-length", "8", "-small", "10in", "-large", "12in"}, "unit"},
		"a weight for length":  {[]string{"-shape", "round", "-length", "8kg", "-small", "10in", "-large", "12in"}, "-length"},
		"minus":                {[]string{"-shape", "round", "-length=-8ft", "-small", "10in", "-large", "12in"}, "minus"},
		"not a number":         {[]string{"-shape", "round", "-length", "NaN m", "-small", "10in", "-large", "12in"}, "-length"},
		"ends changed round":   {[]string{"-shape", "round", "-length", "8ft", "-small", "14in", "-large", "12in"}, "-small"},
		"of another shape":     {squared("-small", "10in"), "-small"},
		"slabs of a log":       {[]string{"-shape", "round", "-length", "8ft", "-small", "10in", "-large", "12in", "-slab", "1in"}, "-slab"},
		"no slab of a cant":    {[]string{"-shape", "cant", "-length", "8ft", "-small", "10in", "-large", "12in"}, "-slab"},
		"five slabs":           {oakCant("-slab", "1in,1in,1in,1in,1in"), "-slab"},
		"a slab without unit":  {oakCant("-slab", "1in,2"), "-slab"},
		"all sawn away":        {oakCant("-slab", "9in,9in"), "-slab"},
		"no such wood":         {squared("-species", "balsam stone"), "balsam stone"},
		"no such state":        {squared("-state", "damp"), "-state"},
		"more water than room": {squared("-species", "white ash", "-state", "290%"), "-state"},
		"state of no number":   {squared("-state", "%"), "-state"},
		"infinite moisture":    {squared("-state", "Inf%"), "-state"},
		"bark on a square":     {squared("-bark", "on"), "-bark"},
		"bark of no kind":      {oakCant("-bark", "some"), "-bark"},
		"extra as a length":    {squared("-extra", "3in"), "-extra"},
		"span of no unit":      {squared("-span", "7"), "-span"},
		"placing of no kind":   {squared("-placing", "here"), "-placing"},
		"no such file":         {squared("-rig", "no/such/file"), "no/such/file"},
		"a folder":             {squared("-rig", t.TempDir()), "-rig"},
		"no JSON":              {squared("-rig", rig("hook")), "no rig in JSON"},
		"a misspelt field":     {squared("-rig", rig(`{"Hich":"bridle"}`)), "Hich"},
		"no such hitch":        {squared("-rig", rig(`{"Hitch":"knot"}`)), "no rig in JSON"},
		"a rating below 0":     {squared("-rig", rig(`{"Links":[{"RatedLoad":-1}]}`)), "rated-load"},
		"two rigs":             {squared("-rig", rig(`{}{}`)), "more than one"},
		"text after the rig":   {squared("-rig", rig(`{} hook`)), "more than one"},
		"a far too large file": {squared("-rig", rig(strings.Repeat(" ", rigFileMost+1))), "too large"},
	} {
		t.Run(name, func(t *testing.T) {
			c := liftIt(t, tc.args...)
			c.failed(t, exitUsage, tc.says, "stillsaw lift -h")
			require.Empty(t, c.out)
		})
	}
	callIt(t, "lift", "-colour", "red").failed(t, exitUsage, "-colour")
	callIt(t, "lift", "surplus").failed(t, exitUsage, "surplus")
}

func TestLiftExplainsItself(t *testing.T) {
	c := callIt(t, "lift", "-h")
	require.Equal(t, exitOK, c.status)
	for _, word := range []string{"-shape", "-species", "-state", "-length", "-small", "-large", "-width", "-height", "-slab", "-rig", "-json",
		"-kinds", "-girth", "-middle", "-heart", "-density", "-ice", "-snow", "-snow-kind", "-wet", "-extra", "soaked", "1 for NO-GO", "2 where"} {
		require.Contains(t, c.out, word)
	}
	require.NotContains(t, c.out, "-data", "it opens no database")
}
