package lift

import (
	"math"

	"stillsaw/procedures/plain"
)

// Snow is how dense the snow on a piece is.
type Snow uint8

// The kinds of snow. One that nobody named counts as the heaviest.
const (
	SnowUnknown Snow = iota
	FreshSnow
	SettledSnow
	LateSnow
)

func snowNames() []string { return []string{"unknown", "fresh", "settled", "late"} }

// String is the name ParseSnow takes.
func (s Snow) String() string { return nameOf(snowNames(), int(s)) }

// ParseSnow reads fresh, settled or late.
func ParseSnow(text string) (Snow, error) {
	i, err := indexOf(snowNames(), text)
	return Snow(i), err
}

// MarshalText writes the name.
func (s Snow) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText is ParseSnow.
func (s *Snow) UnmarshalText(text []byte) (err error) {
	*s, err = ParseSnow(string(text))
	return err
}

// density in kg/m³: glossary of the American Meteorological Society, fresh snow
// 7 to 15 % of water, settled about 30 %, late in spring up to 50 %.
func (s Snow) density() float64 {
	switch s {
	case FreshSnow:
		return 0.15 * waterDensity
	case SettledSnow:
		return 0.30 * waterDensity
	}
	return 0.50 * waterDensity
}

const (
	iceDensity = 917.0 // kg/m³
	waterFilm  = 0.02  // of the wood's mass, water that runs off a wet log; own choice
	maxIce     = 0.15  // m
	maxSnow    = 1.0   // m
	maxSurface = 40.0  // m², all round the longest and thickest piece
)

// Weather is what lies on the piece and hangs with it, besides Piece.Extra.
// Lengths are metres, areas square metres; an area of 0 is worked out from the
// piece: all round it for ice, its top for snow.
type Weather struct {
	Ice      float64 `json:",omitzero"` // thickness
	IceArea  float64 `json:",omitzero"`
	Snow     float64 `json:",omitzero"` // depth
	SnowArea float64 `json:",omitzero"`
	SnowKind Snow    `json:",omitzero"`
	Wet      bool    `json:",omitzero"` // running wet: a film of water on all of it
}

func (p *Piece) validateWeather(bad *plain.Problems) {
	w := &p.Weather
	if *w == (Weather{}) {
		return
	}
	upTo(bad, w.Ice, maxIce, "ice")
	upTo(bad, w.Snow, maxSnow, "snow")
	if !(w.IceArea >= 0 && w.IceArea <= maxSurface) {
		bad.Unless(false, "ice-area", "0 to 40 m² (430 ft²), or left empty")
	}
	if !(w.SnowArea >= 0 && w.SnowArea <= maxSurface) {
		bad.Unless(false, "snow-area", "0 to 40 m² (430 ft²), or left empty")
	}
	if p.Shape == Measured {
		bad.Unless(!(w.Ice > 0) || w.IceArea > 0, "ice-area", "the area the ice covers; the volume alone doesn't tell it")
		bad.Unless(!(w.Snow > 0) || w.SnowArea > 0, "snow-area", "the area the snow covers; the volume alone doesn't tell it")
	}
	bad.Unless(w.SnowKind <= LateSnow, "snow-kind", "fresh, settled or late")
}

// onIt is the mass of snow and ice, kg.
func (p *Piece) onIt() float64 {
	w := &p.Weather
	if w.Ice == 0 && w.Snow == 0 {
		return 0
	}
	ice, snow := w.IceArea, w.SnowArea
	if ice == 0 {
		ice = p.surface()
	}
	if snow == 0 {
		snow = p.widest() * p.Length
	}
	return w.Ice*ice*iceDensity + w.Snow*snow*w.SnowKind.density()
}

// surface is the whole outside; of a cant that of its log, which is more.
func (p *Piece) surface() float64 {
	if p.Shape == Squared {
		return 2 * (p.Width*p.Height + (p.Width+p.Height)*p.Length)
	}
	d := p.widest()
	return math.Pi * d * (p.Length + d/2)
}

// widest is the widest way across the piece.
func (p *Piece) widest() float64 {
	if p.Shape == Squared {
		return math.Max(p.Width, p.Height)
	}
	return math.Max(p.Large, p.Middle)
}
