package plain

import (
	"fmt"
	"time"
)

// Quantities in SI units. The rules compute with them or with bare float64s in
// the same units; a page prints them in the mill's own units.
type (
	Metres            float64
	Gauged            float64 // m, by a gauge or calipers: told finer than a tape can
	Kilograms         float64
	Newtons           float64
	Degrees           float64 // of angle, from the horizontal unless said otherwise
	CubicMetres       float64
	KilogramsPerCubic float64 // kg/m³
	Fraction          float64 // 0.2 is 20 percent
)

// Exact by definition: international yard and pound (1959), standard gravity (CGPM 1901).
const (
	Inch            Metres    = 0.0254
	Foot            Metres    = 0.3048
	Pound           Kilograms = 0.45359237
	StandardGravity           = 9.80665 // m/s²
)

func (m Metres) String() string            { return fmt.Sprintf("%.3f m", float64(m)) }
func (g Gauged) String() string            { return fmt.Sprintf("%.2f mm", 1000*float64(g)) }
func (k Kilograms) String() string         { return fmt.Sprintf("%.1f kg", float64(k)) }
func (n Newtons) String() string           { return fmt.Sprintf("%.0f N", float64(n)) }
func (d Degrees) String() string           { return fmt.Sprintf("%.1f°", float64(d)) }
func (v CubicMetres) String() string       { return fmt.Sprintf("%.4f m³", float64(v)) }
func (d KilogramsPerCubic) String() string { return fmt.Sprintf("%.0f kg/m³", float64(d)) }
func (f Fraction) String() string          { return fmt.Sprintf("%.0f %%", 100*float64(f)) }

// Day is a day of a mill's calendar, given by a moment of it: a page prints the
// date in the mill's zone and leaves the time of day out.
type Day time.Time

// String is the date. A day given by the moment it begins comes out right in any
// zone within 12 hours of UTC.
func (d Day) String() string { return time.Time(d).UTC().Add(12 * time.Hour).Format(time.DateOnly) }
