package lift

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// Published figures are printed in inches and pounds.
const (
	inch       = float64(plain.Inch)
	foot       = float64(plain.Foot)
	pound      = float64(plain.Pound)
	cubicFoot  = foot * foot * foot
	poundPerFt = pound / cubicFoot // kg/m³ in one lb/ft³
	// The books work with water at 62.4 lb/ft³; the program with 1000 kg/m³, 0.05 % more.
	bookWater = 62.4 * poundPerFt / waterDensity
)

// row is one line of testdata/published/lift.csv.
type row struct {
	t                                         *testing.T
	id, rule, unit, band, basis, source, note string
	text                                      []string
	printed                                   float64
}

// publishedRows reads the table, one line for each figure.
func publishedRows(t *testing.T) (rows []row) {
	file, err := os.Open("../../testdata/published/lift.csv")
	require.NoError(t, err)
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	seen := map[string]bool{}
	for _, line := range lines[1:] {
		printed, err := strconv.ParseFloat(line[4], 64)
		require.NoError(t, err, line[0])
		require.False(t, seen[line[0]], "%s stands twice", line[0])
		seen[line[0]] = true
		rows = append(rows, row{t: t, id: line[0], rule: line[1], text: strings.Split(line[2], "; "), unit: line[3],
			printed: printed, band: line[5], basis: line[6], source: line[7], note: line[8]})
	}
	return rows
}

func (r row) n(i int) float64 {
	x, err := strconv.ParseFloat(r.text[i], 64)
	require.NoError(r.t, err, r.id)
	return x
}

func (r row) kind(i int) Species {
	for _, s := range AllSpecies() {
		if s.Common == r.text[i] {
			return s
		}
	}
	r.t.Fatalf("%s: no kind %q", r.id, r.text[i])
	return Species{}
}

func (r row) log() Piece {
	return Piece{Shape: Round, Small: r.n(0) * inch, Large: r.n(1) * inch, Length: r.n(2) * foot}
}

func (r row) cant() Piece {
	p := r.log()
	p.Shape = Slabbed
	for i := range p.Slabs {
		p.Slabs[i] = r.n(3+i) * inch
	}
	if p.Slabs == [4]float64{} {
		p.Shape = Round
	}
	return p
}

func (r row) beam() Piece {
	return Piece{Shape: Squared, Width: r.n(0) * inch, Height: r.n(1) * inch, Length: r.n(2) * foot, Condition: Green,
		Species: r.kind(3), Reading: Reading{Section: 1e-12, Length: 1e-12}}
}

func (r row) withBark() (green, dry float64) {
	s := Species{Gravity: r.n(0), MeanMoisture: r.n(1), BarkGravity: r.n(2), BarkMoisture: r.n(3), BarkVolume: r.n(4)}
	return s.GreenDensity() + s.barkDensity(), waterDensity * (s.Gravity + s.BarkVolume*s.BarkGravity)
}

func (r row) weight() Weight {
	w, err := Weigh(r.beam())
	require.NoError(r.t, err, r.id)
	return w
}

func (r row) chain(i int) (Grade, ChainSize) {
	grade, err := ParseGrade(r.text[i])
	require.NoError(r.t, err, r.id)
	size, err := ParseChainSize(r.text[i+1])
	require.NoError(r.t, err, r.id)
	return grade, size
}

// ours works one row of the table out with the program.
func (r row) ours(rule string) float64 {
	switch rule {
	case "density": // the printed grid takes G on the volume at that moisture
		return Density(basicOf(r.n(0), r.n(1)), r.n(1))
	case "density62.43":
		return Density(basicOf(r.n(0), r.n(1)), r.n(1)) / poundPerFt
	case "green density":
		return Density(r.n(0), r.n(1)) * bookWater / poundPerFt
	case "volume of mass":
		return r.n(0) / (Density(r.n(1), r.n(2)) * bookWater / poundPerFt)
	case "gravity at 12 %":
		return GravityAt(r.n(0), 0.12)
	case "max moisture":
		return MaxMoisture(r.n(0))
	case "soaked":
		return soaked(r.n(0)) * bookWater / poundPerFt
	case "species green", "species green at least":
		return r.kind(0).GreenDensity() / poundPerFt
	case "weight per foot":
		p := Piece{Shape: Round, Length: foot, Small: r.n(1) * inch, Large: r.n(1) * inch, Density: r.n(0) * poundPerFt}
		w, err := Weigh(p)
		require.NoError(r.t, err, r.id)
		return float64(w.Expected) / pound
	case "green to dry":
		green, dry := r.withBark()
		return green / dry
	case "wood and bark":
		green, _ := r.withBark()
		return green * bookWater / poundPerFt
	case "smalian":
		return Smalian(r.n(0)*inch, r.n(1)*inch, r.n(2)*foot) / cubicFoot
	case "smalian cm m":
		return Smalian(r.n(0)/100, r.n(1)/100, r.n(2))
	case "cone":
		p := r.log()
		return p.wood().volume / cubicFoot
	case "cone cm m":
		return frustum(r.n(0)/100, r.n(1)/100, r.n(2)).volume
	case "newton":
		p := Piece{Shape: Round, Small: r.n(0) * inch, Middle: r.n(1) * inch, Large: r.n(2) * inch, Length: r.n(3) * foot}
		return p.wood().volume / cubicFoot
	case "cant", "squared":
		p := r.log()
		if rule == "cant" {
			p = r.cant()
		} else {
			p = Piece{Shape: Squared, Width: r.n(0) * inch, Height: r.n(1) * inch, Length: r.n(2) * foot}
		}
		return p.wood().volume / cubicFoot
	case "cant balance", "cone balance":
		p := r.log()
		if rule == "cant balance" {
			p = r.cant()
		}
		return p.BalancePoint() / foot
	case "squared mean weight":
		return float64(r.weight().Expected) / pound
	case "squared upper weight":
		return float64(r.weight().Upper) * bookWater / pound
	case "upper density":
		s := Species{Gravity: r.n(0), HeartMoisture: r.n(1), SapMoisture: 0.72, MeanMoisture: 0.71909}
		p := Piece{Condition: Green, Species: s}
		return p.densities(&Weight{}).wet * bookWater / poundPerFt
	case "normal 95":
		return upperGravity
	}
	if ours, ok := r.more(rule); ok {
		return ours
	}
	return r.hung(rule)
}

// hung is ours for the rows about rigging.
func (r row) hung(rule string) float64 {
	switch rule {
	case "angle factor":
		return AngleFactor(r.n(0))
	case "capacity factor":
		return 1 / AngleFactor(r.n(0))
	case "two legs capacity":
		angle := math.Asin(r.n(0)/r.n(1)) / degree
		return r.n(2) / AngleFactor(angle)
	case "leg pull":
		return r.n(0) * AngleFactor(math.Asin(r.n(2)/r.n(1))/degree)
	case "two even legs":
		half := math.Sqrt(r.n(1)*r.n(1) - r.n(2)*r.n(2))
		degrees, _ := evenLegs(2*half, 0, r.n(1))
		return r.n(0) / 2 * AngleFactor(degrees)
	case "two legs off vertical":
		return r.n(0) / 2 * AngleFactor(90-r.n(1))
	case "share near first":
		const high = 1e5
		one, _ := pullsUnder(r.n(0), r.n(1), r.n(2), high)
		return one
	case "chain":
		grade, size := r.chain(0)
		column, err := ParseColumn(r.text[2])
		require.NoError(r.t, err)
		kg, ok := ChainRating(grade, size, column)
		require.True(r.t, ok, r.id)
		return kg / pound
	case "pair at angle":
		grade, size := r.chain(0)
		one, ok := ChainRating(grade, size, OneLeg)
		require.True(r.t, ok, r.id)
		l := Link{Kind: Leg, RatedLoad: one, MarkedFor: OneLeg, Grade: grade, Size: size}
		return l.pair(TwoLegBridle, r.n(2)) / pound
	case "leg angle", "leg height":
		degrees, height := evenLegs(r.n(0), r.n(1), r.n(2))
		if rule == "leg height" {
			return height
		}
		return degrees
	case "yoke pull":
		g := Legs{Span: r.n(1), Yoke: r.n(2), First: r.n(3), Second: r.n(3), Balance: r.n(1) / 2}
		p := g.Rest(r.n(0))
		require.InDelta(r.t, p.Pull[0], p.Pull[1], 1e-9)
		return p.Pull[0]
	case "first pull", "second pull":
		one, two := pullsUnder(r.n(0), r.n(1), r.n(2), r.n(3))
		if rule == "first pull" {
			return one
		}
		return two
	case "tilt", "tilt away", "tilt toward":
		p := tilted(r.n(0), r.n(1), r.n(2), r.n(3), r.n(4))
		return map[string]float64{"tilt": p.Tilt, "tilt away": p.Pull[0], "tilt toward": p.Pull[1]}[rule]
	}
	r.t.Fatalf("%s: no rule %q", r.id, rule)
	return 0
}

// basicOf turns a gravity on the volume at a moisture back into the basic one,
// the inverse of eq. 4-13.
func basicOf(gravity, moisture float64) float64 {
	if moisture >= fibreSaturation {
		return gravity
	}
	return gravity / (1 + shrinkPerGravity*gravity*(1-moisture/fibreSaturation))
}

// check holds our figure against the printed one. A band that starts with
// "outside" is one we are known to miss, with the reason in the note.
func (r row) check(ours float64) {
	if rest, ok := strings.CutPrefix(r.band, "outside "); ok {
		require.NotEmpty(r.t, r.note, r.id)
		require.Greater(r.t, math.Abs(ours-r.printed), tolerance(r.t, rest, r.printed), "%s lies inside the band now: take it out of the exceptions", r.id)
		return
	}
	if r.rule == "species green at least" {
		require.GreaterOrEqual(r.t, ours, r.printed, r.id)
		return
	}
	require.InDelta(r.t, r.printed, ours, tolerance(r.t, r.band, r.printed), "%s: %s", r.id, r.rule)
}

// Each row names its source and whether the printed figure was read, is from
// memory, or is exact arithmetic of our own. The last is no check from outside
// and is counted apart.
func TestPublishedFiguresComeOut(t *testing.T) {
	read, memory := 0, 0
	for _, r := range publishedRows(t) {
		r.check(r.ours(r.rule))
		require.Contains(t, []string{"read", "from memory", "own arithmetic"}, r.basis, r.id)
		require.NotEmpty(t, r.source, r.id)
		switch r.basis {
		case "read":
			read++
		case "from memory":
			memory++
		}
	}
	require.Greater(t, read, 250)
	require.Less(t, memory, read/10)
}

func tolerance(t *testing.T, text string, printed float64) float64 {
	x, err := strconv.ParseFloat(strings.TrimSuffix(text, " %"), 64)
	require.NoError(t, err)
	switch {
	case strings.HasSuffix(text, " %"):
		return x / 100 * printed
	case text == "1e-6" && printed > 1: // relative, where printed to eight places
		return 1e-6 * printed
	}
	return x + 1e-9
}

// Every two-leg cell is one leg × 2 sin θ within the tables' own rounding.
func TestChainTablesAgreeWithGeometry(t *testing.T) {
	for grade := Grade80; grade <= Grade100; grade++ {
		for size := Chain7_32; size <= Chain1_1_4; size++ {
			one, ok := ChainRating(grade, size, OneLeg)
			require.True(t, ok)
			for column := TwoLegs60; column <= TwoLegs30; column++ {
				two, ok := ChainRating(grade, size, column)
				require.True(t, ok)
				require.InDelta(t, 1, two/(one*column.pull()), 0.011, "grade %s size %s %s", grade, size, column)
			}
		}
	}
	_, ok := ChainRating(Grade70, Chain3_8, OneLeg)
	require.False(t, ok)
}

// G 0.70 can't hold 100 %: grid arithmetic gives 1400 kg/m³, wood does not.
func TestMoreWaterThanWoodHoldsIsRefused(t *testing.T) {
	p := Piece{Shape: Squared, Length: 2, Width: .2, Height: .2, Species: Species{Gravity: .70}, Condition: MeasuredMoisture, Moisture: 1}
	_, err := Weigh(p)
	require.ErrorContains(t, err, "moisture")
	require.InDelta(t, soaked(.70), Density(.70, 1), 1e-9)
}

// Gravity on oven-dry volume belongs to another formula (timber design codes:
// 36.4 lb/ft³ for 0.51 at 30 %; structural engineers' list, read). Fed in as
// basic gravity it gives 41.4: the two must not be mixed.
func TestOvenDryGravityIsNotBasicGravity(t *testing.T) {
	require.InDelta(t, 41.4, Density(0.51, 0.30)*bookWater/poundPerFt, 0.05)
}
