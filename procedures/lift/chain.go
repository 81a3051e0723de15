package lift

import (
	"math"

	"stillsaw/procedures/plain"
)

// Grade is the strength class of a chain. Only Grade 80 and Grade 100 are
// alloy chain for overhead lifting. NotChain is a leg of rope or webbing.
type Grade uint8

// The grades.
const (
	GradeUnknown Grade = iota
	NotChain
	Grade30
	Grade43
	Grade70
	Grade80
	Grade100
)

func gradeNames() []string { return []string{"unknown", "not-chain", "30", "43", "70", "80", "100"} }

// String is the number of the grade, or not-chain.
func (g Grade) String() string { return nameOf(gradeNames(), int(g)) }

// ParseGrade reads a grade's number, or not-chain.
func ParseGrade(text string) (Grade, error) {
	i, err := indexOf(gradeNames(), text)
	return Grade(i), err
}

// MarshalText writes the name.
func (g Grade) MarshalText() ([]byte, error) { return []byte(g.String()), nil }

// UnmarshalText is ParseGrade.
func (g *Grade) UnmarshalText(text []byte) (err error) {
	*g, err = ParseGrade(string(text))
	return err
}

// ChainSize is the nominal size of a chain as stamped on its tag.
type ChainSize uint8

// The sizes of the published tables, in inches.
const (
	SizeUnknown ChainSize = iota
	Chain7_32
	Chain9_32
	Chain5_16
	Chain3_8
	Chain1_2
	Chain5_8
	Chain3_4
	Chain7_8
	Chain1
	Chain1_1_4
)

func sizeNames() []string {
	return []string{"unknown", "7/32", "9/32", "5/16", "3/8", "1/2", "5/8", "3/4", "7/8", "1", "1 1/4"}
}

// String is the size in inches, as "3/8".
func (c ChainSize) String() string { return nameOf(sizeNames(), int(c)) }

// ParseChainSize reads a size in inches, as "3/8".
func ParseChainSize(text string) (ChainSize, error) {
	i, err := indexOf(sizeNames(), text)
	return ChainSize(i), err
}

// MarshalText writes the name.
func (c ChainSize) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText is ParseChainSize.
func (c *ChainSize) UnmarshalText(text []byte) (err error) {
	*c, err = ParseChainSize(string(text))
	return err
}

// Column is what a rated load holds for: one leg pulled straight, or two legs
// evenly loaded at an angle from the horizontal.
type Column uint8

// The columns of the chain tables. The zero value is a mark that doesn't say.
const (
	ColumnUnknown Column = iota
	OneLeg
	TwoLegs60
	TwoLegs45
	TwoLegs30
)

func columnNames() []string {
	return []string{"unknown", "one-leg", "two-legs-60", "two-legs-45", "two-legs-30"}
}

// String is the name ParseColumn takes.
func (c Column) String() string { return nameOf(columnNames(), int(c)) }

// ParseColumn reads one-leg, two-legs-60, two-legs-45 or two-legs-30.
func ParseColumn(text string) (Column, error) {
	i, err := indexOf(columnNames(), text)
	return Column(i), err
}

// MarshalText writes the name.
func (c Column) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText is ParseColumn.
func (c *Column) UnmarshalText(text []byte) (err error) {
	*c, err = ParseColumn(string(text))
	return err
}

// pull is how many single-leg ratings a column stands for: 2 sin of its angle.
func (c Column) pull() float64 {
	switch c {
	case OneLeg:
		return 1
	case TwoLegs60:
		return math.Sqrt(3)
	case TwoLegs45:
		return math.Sqrt2
	case TwoLegs30:
		return 1
	}
	return 0
}

// verticalFrom is the angle from which a leg may be called vertical: 5° or less
// off plumb, 29 CFR 1910.184(b).
const verticalFrom = 85

// columnAt is the listed angle at or next below this one, as the guidance wants
// for angles between the columns; unknown below 30°. A leg that may be called
// vertical gives OneLeg.
func columnAt(degrees float64) Column {
	const slack = 1e-9 // an angle that is exactly a column's by its sides
	switch {
	case degrees >= verticalFrom-slack:
		return OneLeg
	case degrees >= 60-slack:
		return TwoLegs60
	case degrees >= 45-slack:
		return TwoLegs45
	case degrees >= 30-slack:
		return TwoLegs30
	}
	return ColumnUnknown
}

// ChainRating is the published rated load of an alloy chain sling in kg; ok is
// false where the table has none. It may only check what a tag says: a sling
// without a readable tag has no rating, whatever its size.
//
// Source: OSHA, Guidance on Safe Sling Use, Tables 1 (Grade 80) and 2 (Grade
// 100, to 7/8 in); Grade 100 1 in from a chain maker's page, 1 1/4 in from memory.
func ChainRating(grade Grade, size ChainSize, column Column) (kg float64, ok bool) {
	if column < OneLeg || column > TwoLegs30 {
		return 0, false
	}
	row := [3]float64{} // lb: one leg, two legs at 60°, two legs at 45°; at 30° as one leg
	switch grade {
	case Grade80:
		switch size {
		case Chain7_32:
			row = [3]float64{2100, 3600, 3000}
		case Chain9_32:
			row = [3]float64{3500, 6100, 4900}
		case Chain5_16:
			row = [3]float64{4500, 7800, 6400}
		case Chain3_8:
			row = [3]float64{7100, 12300, 10000}
		case Chain1_2:
			row = [3]float64{12000, 20800, 17000}
		case Chain5_8:
			row = [3]float64{18100, 31300, 25600}
		case Chain3_4:
			row = [3]float64{28300, 49000, 40000}
		case Chain7_8:
			row = [3]float64{34200, 59200, 48400}
		case Chain1:
			row = [3]float64{47700, 82600, 67400}
		case Chain1_1_4:
			row = [3]float64{72300, 125200, 102200}
		}
	case Grade100:
		switch size {
		case Chain7_32:
			row = [3]float64{2700, 4700, 3800}
		case Chain9_32:
			row = [3]float64{4300, 7400, 6100}
		case Chain5_16:
			row = [3]float64{5700, 9900, 8100}
		case Chain3_8:
			row = [3]float64{8800, 15200, 12400}
		case Chain1_2:
			row = [3]float64{15000, 26000, 21200}
		case Chain5_8:
			row = [3]float64{22600, 39100, 32000}
		case Chain3_4:
			row = [3]float64{35300, 61100, 49900}
		case Chain7_8:
			row = [3]float64{42700, 74000, 60400}
		case Chain1:
			row = [3]float64{59700, 103400, 84400}
		case Chain1_1_4:
			row = [3]float64{90400, 156600, 127800}
		}
	}
	place := [...]int{OneLeg: 0, TwoLegs60: 1, TwoLegs45: 2, TwoLegs30: 0}[column]
	return row[place] * float64(plain.Pound), row[place] > 0
}
