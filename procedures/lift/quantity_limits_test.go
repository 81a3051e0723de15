package lift

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// What is no quantity gives nought beside the sentence that says why, whichever
// way it is wrong.
func TestWhatIsNoQuantityIsNought(t *testing.T) {
	for text, said := range map[string]string{
		"": "a length, like", "   ": "a length, like", "-3 in": "no minus sign", "−3 in": "no minus sign", "1,5 m": "no comma", "x": "a length, like", "1 x": `not "x"`,
		"1 ft 2 x": `not "x"`, "7 ft 12 in": "less than 12 inches", "7 ft 11.9 in": "", "7.5 ft 1 in": "whole feet", "7 ft 001 in": "whole feet", "7 ft 01 in": "", "7 in 1 in": "whole feet",
		"7 ft 1 ft": "whole feet", "7 ft 1 in 1": "whole feet", "7 m 1": "whole feet", "5 kg": "another unit than kg", "5 lb": "another unit than lb", "1000 m": "", "1000.1 m": "a smaller number", "0 m": "",
		strings.Repeat("0", 62) + "1m": "", strings.Repeat("0", 63) + "1m": "a length, like", "1 / 2 in": `not "/"`, "1/2/3 in": `not "/`,
	} {
		got, err := ParseLength(text, Inches)
		if said == "" {
			require.NoError(t, err, text)
			continue
		}
		require.ErrorContains(t, err, said, text)
		require.Zero(t, got, text)
	}
	for _, bad := range []string{"", "x", "5 m", "1e7 kg", "1000001 kg", "-1 kg", "5 kg 3"} {
		got, err := ParseMass(bad, Kilograms)
		require.Error(t, err, bad)
		require.Zero(t, got, bad)
	}
	most, err := ParseMass("1000000 kg", NoUnit)
	require.NoError(t, err)
	require.InDelta(t, 1e6, float64(most), 0)
	bare, err := ParseLength("5", NoUnit)
	require.ErrorContains(t, err, "the unit too")
	require.Zero(t, bare)
	for _, bad := range []string{"", "x", "5 m", "5 kg", "100001 kg/m³", "-1 kg/m³", "5 kg/m³ 3", "5 5 kg/m³", strings.Repeat("0", 60) + "1kg/m3"} {
		got, err := ParseDensity(bad, Kilograms)
		require.Error(t, err, bad)
		require.Zero(t, got, bad)
	}
	for _, bad := range []string{"", "x", "5 kg", "10001 m³", "-1 m³", "5 5 m³", strings.Repeat("0", 63) + "1m3"} {
		got, err := ParseVolume(bad, Metres)
		require.Error(t, err, bad)
		require.Zero(t, got, bad)
	}
	density, err := ParseDensity("100000 kg/m3", NoUnit)
	require.NoError(t, err)
	require.InDelta(t, 1e5, float64(density), 0)
	volume, err := ParseVolume(strings.Repeat("0", 57)+"10000m3", NoUnit)
	require.NoError(t, err)
	require.InDelta(t, 1e4, float64(volume), 0)
	density, err = ParseDensity("5", NoUnit)
	require.ErrorContains(t, err, "the unit too")
	require.Zero(t, density)
	density, err = ParseDensity("0", Kilograms)
	require.NoError(t, err)
	require.Zero(t, density)
}

// Numbers as they are taken off the front of a text, and what is left of it.
func TestNumberIsTakenOffTheFront(t *testing.T) {
	for text, want := range map[string]struct {
		n    float64
		rest string
		ok   bool
	}{
		"": {0, "", false}, ".": {0, "", false}, ".5 in": {0.5, " in", true}, "5.in": {5, "in", true}, "5.25in": {5.25, "in", true}, "x": {0, "", false}, "5": {5, "", true}, "5x": {5, "x", true},
		"3/8": {0.375, "", true}, "3/8 in": {0.375, " in", true}, "17 3/8 in": {17.375, " in", true}, "17-3/8": {17.375, "", true}, "17  3/8": {17.375, "", true}, "17 8/8": {18, "", false}, "17 7/8": {17.875, "", true},
		"17 3": {17, " 3", true}, "17-": {17, "-", true}, "17 ": {17, " ", true}, "3/0": {math.Inf(1), "", false}, "0/0": {math.NaN(), "", false}, "3/x": {math.Inf(1), "x", false}, "9/8": {1.125, "", true}, "0/8": {0, "", true},
		"17 3/0": {17, " 3/0", true},
	} {
		n, rest, ok := parseNumber(text)
		require.Equal(t, want.ok, ok, "%q", text)
		if ok || want.rest == "" && want.n == 0 {
			require.InDelta(t, want.n, n, 1e-12, "%q", text)
			require.Equal(t, want.rest, rest, "%q", text)
		}
	}
	n, rest, ok := parseNumber(strings.Repeat("9", 400))
	require.Equal(t, [3]any{0.0, "", false}, [3]any{n, rest, ok})
	n, rest, ok = fraction("x")
	require.Equal(t, [3]any{0.0, "", false}, [3]any{n, rest, ok})
	for _, text := range []string{"1", "1x2", "/2", "", strings.Repeat("9", 400) + "/2", "2/" + strings.Repeat("9", 400)} {
		_, _, ok = fraction(text)
		require.False(t, ok, text)
	}
	for text, want := range map[string][2]string{"": {"", ""}, "12a": {"12", "a"}, "a12": {"", "a12"}, "09": {"09", ""}, "/": {"", "/"}, ":": {"", ":"}, "0/9:": {"0", "/9:"}} {
		number, rest := digits(text)
		require.Equal(t, want, [2]string{number, rest}, text)
	}
}

// One of each unit in metres or kilograms, by definition: 1 ft is 0.3048 m, 1 lb
// 0.453 592 37 kg. A unit is of length or of mass, and past the last there is none.
func TestUnitsAreAsDefined(t *testing.T) {
	sizes := []float64{0, 0.0254, 0.3048, 0.001, 0.01, 1, 0.45359237, 1, 0}
	for i, want := range sizes {
		u := Unit(i)
		require.InDelta(t, want, u.size(), 1e-15, u.String())
		require.Equal(t, i >= 1 && i <= 5, u.length(), u.String())
		require.Equal(t, i == 6 || i == 7, u.mass(), u.String())
	}
	for text, want := range map[string]Unit{`"`: Inches, "in.": Inches, "inches": Inches, "'": Feet, "ft.": Feet, "foot": Feet, "mm": Millimetres, "cm": Centimetres, "meters": Metres, "#": Pounds, "pounds": Pounds, "kilos": Kilograms, "": NoUnit, "x": NoUnit} {
		require.Equal(t, want, unitOf(text), text)
	}
	for text, want := range map[string]term{"5 in": {5, Inches}, "5'": {5, Feet}, `5"`: {5, Inches}, "5#": {5, Pounds}, "5": {5, NoUnit}} {
		got, rest, err := parseTerm(text, "x")
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
		require.Empty(t, rest, text)
	}
	got, rest, err := parseTerm("5'  6 in", "x")
	require.NoError(t, err)
	require.Equal(t, term{5, Feet}, got)
	require.Equal(t, "6 in", rest)
	_, _, err = parseTerm("5 6", "x")
	require.ErrorContains(t, err, "one number with its unit")
	_, _, err = parseTerm("5 6 in", "x")
	require.ErrorContains(t, err, "one number with its unit")
}

// A name past the last is unknown, and so is one before the first.
func TestNamesEndWhereTheyEnd(t *testing.T) {
	names := []string{"unknown", "one", "two"}
	for i, want := range map[int]string{-1: "unknown", 0: "unknown", 1: "one", 2: "two", 3: "unknown", 99: "unknown"} {
		require.Equal(t, want, nameOf(names, i), i)
	}
	for text, want := range map[string]int{"unknown": 0, " ONE ": 1, "two": 2} {
		i, err := indexOf(names, text)
		require.NoError(t, err)
		require.Equal(t, want, i)
	}
	i, err := indexOf(names, "three")
	require.EqualError(t, err, ": one of: one, two")
	require.Zero(t, i)
	for field, said := range map[string]string{"settings": "the settings", "floor-angle": "the flattest leg by the maker", "house-floor": "the flattest leg in this mill", "house-margin": "the share above which a supervisor signs",
		"band-low": "the angles the maker gives", "band-high": "the angles the maker gives", "links": "the parts of the load path", "link-3-own-mass": "part 3 of the load path", "yoke-width": "yoke-width"} {
		require.Equal(t, said, fieldOfRig(field).String(), field)
	}
}

// The rated loads of the chain tables are filled in where the tag can be read, and
// overridden only downward, give or take what rounding in another unit makes.
func TestTableIsNamedByItsSource(t *testing.T) {
	leg := Link{Kind: Leg, Grade: Grade80, Size: Chain3_8, MarkedFor: OneLeg, TagReadable: true}
	for name, tc := range map[string]struct {
		change func(l *Link)
		from   string
		ok     bool
	}{
		"grade 80":         {func(*Link) {}, "OSHA, Guidance on Safe Sling Use, Table 1", true},
		"grade 100":        {func(l *Link) { l.Grade = Grade100 }, "OSHA, Guidance on Safe Sling Use, Table 2", true},
		"grade 100, 1":     {func(l *Link) { l.Grade, l.Size = Grade100, Chain1 }, "a chain maker's page", true},
		"grade 100, 1 1/4": {func(l *Link) { l.Grade, l.Size = Grade100, Chain1_1_4 }, "this program, from memory,", true},
		"grade 80, 1 1/4":  {func(l *Link) { l.Size = Chain1_1_4 }, "OSHA, Guidance on Safe Sling Use, Table 1", true},
		"hook":             {func(l *Link) { l.Kind = HoistHook }, "", false},
		"no mark":          {func(l *Link) { l.MarkedFor = ColumnUnknown }, "", false},
		"past the marks":   {func(l *Link) { l.MarkedFor = TwoLegs30 + 1 }, "", false},
		"no size":          {func(l *Link) { l.Size = SizeUnknown }, "", false},
		"grade 70":         {func(l *Link) { l.Grade = Grade70 }, "", false},
	} {
		l := leg
		tc.change(&l)
		kg, from, ok := l.Table()
		require.Equal(t, tc.ok, ok, name)
		require.Equal(t, tc.ok, kg > 0, name)
		require.Equal(t, tc.from, from, name)
	}
	table := 7100 * float64(plain.Pound)
	for rated, ok := range map[float64]bool{table: true, table * 1.005: true, table * 1.0051: false, 1: true} {
		l := leg
		l.RatedLoad = rated
		filled, which, err := Rig{Links: []Link{{Kind: Beam}, l}}.Fill()
		require.Equal(t, ok, err == nil, rated)
		require.Empty(t, which)
		require.InDelta(t, rated, filled.Links[1].RatedLoad, 0)
		if !ok {
			require.EqualError(t, err, "link-2-rated-load: at most 3220.5 kg, what OSHA, Guidance on Safe Sling Use, Table 1 has for such a chain: read the tag again")
		}
		var v Verdict
		v.checkLegMark(&l)
		require.Equal(t, ok, len(v.Findings) == 0, rated)
	}
	for name, tc := range map[string]struct {
		change func(l *Link)
		fills  bool
	}{"filled": {func(*Link) {}, true}, "no tag": {func(l *Link) { l.TagReadable = false }, false}, "from memory": {func(l *Link) { l.Grade, l.Size = Grade100, Chain1_1_4 }, false},
		"grade 100": {func(l *Link) { l.Grade = Grade100 }, true}, "1 1/4 of grade 80": {func(l *Link) { l.Size = Chain1_1_4 }, true}} {
		l := leg
		tc.change(&l)
		given := Rig{Links: []Link{{Kind: Beam}, l}}
		filled, which, err := given.Fill()
		require.NoError(t, err)
		require.Equal(t, tc.fills, len(which) == 1 && which[0] == 1, name)
		require.Equal(t, tc.fills, filled.Links[1].RatedLoad > 0, name)
		require.Zero(t, given.Links[1].RatedLoad)
	}
	// A setting fills what was left empty, and holds what was typed to half a millimetre.
	rig := Rig{Setting: "hole 2", Settings: []Setting{{Name: "", YokeWidth: 9}, {Name: "hole 1", YokeWidth: 0.3}, {Name: "hole 2", YokeWidth: 0.5, LegLength: 0.6}, {Name: "hole 2", YokeWidth: 3}}}
	for typed, ok := range map[float64]bool{0: true, 0.5: true, 0.50049: true, 0.49951: true, 0.5006: false, 0.4994: false} {
		r := rig
		r.YokeWidth = typed
		filled, _, err := r.Fill()
		require.Equal(t, ok, err == nil, typed)
		require.InDelta(t, 0.6, filled.LegLength, 0)
		require.Zero(t, filled.SecondLeg)
		if typed == 0 {
			require.InDelta(t, 0.5, filled.YokeWidth, 0)
		}
	}
	nameless := rig
	nameless.Setting = ""
	filled, _, err := nameless.Fill()
	require.NoError(t, err)
	require.Zero(t, filled.YokeWidth)
}
