package lift

import "math"

// Constants of the wood–water system. FPL-GTR-282 chapter 4 unless said otherwise.
const (
	waterDensity     = 1000.0     // kg/m³, the value printed with eq. 4-14
	fibreSaturation  = 0.30       // moisture below which wood shrinks
	cellWallGravity  = 1.54       // eq. 4-3
	shrinkPerGravity = 0.265      // eq. 4-12: volumetric shrinkage to oven-dry over basic gravity
	gravitySpread    = 0.10       // coefficient of variation within a species, Table 5-6 (from memory)
	oneSided95       = 1.645      // normal curve, 95 of 100 pieces below
	greenExcess      = 1.20       // Forest Products Laboratory Technical Note 218 (1931): green, now and then 20 % over
	unknownMoisture  = 1.00       // where nothing was published; own choice, said in the notes
	airDryMoisture   = 0.15       // out of doors under cover; common practice, no source
	airDryUpper      = 0.20       // own choice
	thickAirDry      = 4 * 0.0254 // m; thicker stock keeps a wet core for a year and more; common practice, no source
	heaviestBark     = 300.0      // kg of bark on one m³ of wood, full of water; more than any kind of the table
	thickestBark     = 0.30       // of the wood's volume; more than any kind of the table
	upperGravity     = 1 + oneSided95*gravitySpread
)

// MaxMoisture is the most water wood of this basic gravity can hold, as a
// fraction of its oven-dry mass. FPL-GTR-282 eq. 4-3.
func MaxMoisture(gravity float64) float64 {
	return (cellWallGravity - gravity) / (cellWallGravity * gravity)
}

// GravityAt is the specific gravity on the volume at this moisture, from the
// basic gravity. At 30 % and above it is the basic gravity. FPL-GTR-282 eq. 4-13.
func GravityAt(gravity, moisture float64) float64 {
	if moisture >= fibreSaturation {
		return gravity
	}
	return gravity / (1 - shrinkPerGravity*gravity*(1-moisture/fibreSaturation))
}

// GravityAt is the specific gravity of this kind on its volume at this
// moisture: FPL-GTR-282 eq. 4-9 and 4-11 where its shrinkage was published,
// else eq. 4-13, which takes the shrinkage from the gravity (eq. 4-12).
func (s Species) GravityAt(moisture float64) float64 {
	if s.Shrinkage == 0 || moisture >= fibreSaturation {
		return GravityAt(s.Gravity, moisture)
	}
	return s.Gravity / (1 - s.Shrinkage*(1-moisture/fibreSaturation))
}

// Density is the mass of a cubic metre of this kind at this moisture, its
// volume taken at that moisture too, in kg/m³; never more than full of water.
// FPL-GTR-282 eq. 4-14.
func (s Species) Density(moisture float64) float64 {
	return math.Min(waterDensity*s.GravityAt(moisture)*(1+moisture), soaked(s.Gravity))
}

// SinkingMoisture is the moisture at which green wood of this basic gravity is
// as dense as water. FPL-GTR-282 eq. 4-4.
func SinkingMoisture(gravity float64) float64 { return (1 - gravity) / gravity }

// Density is the mass of a cubic metre of wood, its volume taken at this
// moisture, in kg/m³, and never more than the same wood full of water.
// FPL-GTR-282 eq. 4-13 and 4-14, ceiling from eq. 4-3.
func Density(gravity, moisture float64) float64 {
	return math.Min(waterDensity*GravityAt(gravity, moisture)*(1+moisture), soaked(gravity))
}

// soaked is wood with every pore full of water, kg/m³; from eq. 4-3.
func soaked(gravity float64) float64 {
	return waterDensity * (1 + gravity*(1-1/cellWallGravity))
}

// greenMoisture is the likely moisture of green wood; known is false where no
// figure was published.
func (s Species) greenMoisture() (m float64, known bool) {
	switch {
	case s.MeanMoisture > 0:
		return s.MeanMoisture, true
	case s.HeartMoisture > 0 && s.SapMoisture > 0:
		return (s.HeartMoisture + s.SapMoisture) / 2, true
	case s.HeartMoisture > 0 || s.SapMoisture > 0:
		return s.HeartMoisture + s.SapMoisture, true
	}
	return unknownMoisture, false
}

// wettest is the largest published green moisture.
func (s Species) wettest() float64 {
	m := math.Max(s.MeanMoisture, math.Max(s.HeartMoisture, s.SapMoisture))
	if m == 0 {
		return unknownMoisture
	}
	return m
}

// GreenDensity is the likely density of green wood of this kind, kg/m³.
func (s Species) GreenDensity() float64 {
	m, _ := s.greenMoisture()
	return Density(s.Gravity, m)
}

// upperGreenDensity is what 95 pieces in 100 stay under at the wettest
// published moisture, or a fifth over the mean if that is more, but never more
// than water-filled wood of that gravity. kg/m³.
func (s Species) upperGreenDensity() float64 {
	upper := s.Gravity * upperGravity
	ceiling := soaked(upper)
	return math.Min(ceiling, math.Max(waterDensity*upper*(1+s.wettest()), greenExcess*s.GreenDensity()))
}

// barkOn is the mass of bark on so much wood of a piece, kg. Out of a pond the
// bark is as full of water as the wood.
func (p *Piece) barkOn(wood float64) float64 {
	s, standsIn := p.kind()
	switch per := s.barkDensity(); {
	case standsIn:
		return wood * heaviestBark
	case p.Condition == Soaked:
		return wood * math.Max(per, s.BarkVolume*soaked(s.BarkGravity))
	default:
		return wood * per
	}
}

// barkDensity is the mass of bark on one cubic metre of green wood, kg.
func (s Species) barkDensity() float64 {
	if s.BarkVolume == 0 || s.BarkGravity == 0 {
		return heaviestBark
	}
	m := s.BarkMoisture
	if m == 0 {
		m = unknownMoisture
	}
	return waterDensity * s.BarkVolume * s.BarkGravity * (1 + m)
}
