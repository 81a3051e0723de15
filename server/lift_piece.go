package server

import (
	"math"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// pieceLine is the piece as one would call it across the yard, with whatever
// is out of the usual.
func pieceLine(f *views.Frame, p *lift.Piece) string {
	line := shapeLine(f, p)
	for _, more := range unusual(f, p) {
		line = f.T("%[1]s; %[2]s", line, more)
	}
	return line
}

func shapeLine(f *views.Frame, p *lift.Piece) string {
	kind := woodIn(f, p.Species)
	if kind == "" {
		kind = f.T("kind not known")
	}
	length, small, middle, large := plain.Metres(p.Length), plain.Metres(p.Small), plain.Metres(p.Middle), plain.Metres(p.Large)
	state := woodState(f, p)
	switch {
	case middleAlone(p):
		return f.T("Log, %[1]s, %[2]s: %[3]s long, %[4]s through at the middle", kind, state, length, middle)
	case p.Shape == lift.Round && p.Middle > 0:
		return f.T("Log, %[1]s, %[2]s: %[3]s long, %[4]s to %[5]s through, %[6]s at the middle", kind, state, length, small, large, middle)
	case p.Shape == lift.Round:
		return f.T("Log, %[1]s, %[2]s: %[3]s long, %[4]s to %[5]s through", kind, state, length, small, large)
	case p.Shape == lift.Slabbed:
		return f.T("Cant, %[1]s, %[2]s: %[3]s long, from a log %[4]s to %[5]s through", kind, state, length, small, large)
	case p.Shape == lift.Squared:
		return f.T("Squared, %[1]s, %[2]s: %[3]s long, %[4]s by %[5]s", kind, state, length, plain.Metres(p.Width), plain.Metres(p.Height))
	}
	return f.T("Piece, %[1]s, %[2]s: %[3]s long, %[4]s of wood", kind, state, length, plain.CubicMetres(p.Volume))
}

// unusual is what few pieces have.
func unusual(f *views.Frame, p *lift.Piece) (said []string) {
	add := func(there bool, what string) {
		if there {
			said = append(said, what)
		}
	}
	w := &p.Weather
	add(p.Girths, f.T("girths measured"))
	add(p.HeartKnown, f.T("%s heartwood", plain.Fraction(p.HeartShare)))
	add(w.Ice > 0, f.T("%s of ice", plain.Metres(w.Ice)))
	add(w.Snow > 0, f.T("%s of snow", plain.Metres(w.Snow)))
	add(w.Wet, f.T("running wet"))
	add(p.Extra > 0, f.T("%s more on it", plain.Kilograms(p.Extra)))
	return said
}

// middleAlone tells whether a log was measured at half its length and not at
// its ends.
func middleAlone(p *lift.Piece) bool {
	return p.Shape == lift.Round && p.Middle > 0 && p.Small == 0 && p.Large == 0
}

func woodState(f *views.Frame, p *lift.Piece) string {
	if p.Density > 0 {
		return f.T("weighed at %s", plain.KilogramsPerCubic(p.Density))
	}
	return conditionText(f, p.Condition)
}

func conditionText(f *views.Frame, c lift.Condition) string {
	switch c {
	case lift.Green:
		return f.T("green")
	case lift.PartDry:
		return f.T("part dry")
	case lift.AirDry:
		return f.T("air-dry")
	case lift.MeasuredMoisture:
		return f.T("moisture measured")
	case lift.Soaked:
		return f.T("soaked")
	}
	return f.T("wetness not known")
}

// pieceFacts is what was entered of the piece, in the order of the form.
func pieceFacts(f *views.Frame, l *lift.Lift) []fact {
	p := &l.Piece
	facts := []fact{{f.T("Length"), f.T("%s", plain.Metres(p.Length))}}
	add := func(name string, value any) { facts = append(facts, fact{name, f.T("%s", value)}) }
	switch p.Shape {
	case lift.Round, lift.Slabbed:
		facts = append(facts, logFacts(f, p)...)
	case lift.Squared:
		add(f.T("Width"), plain.Metres(p.Width))
		add(f.T("Height"), plain.Metres(p.Height))
	case lift.Measured:
		add(f.T("Volume of wood"), plain.CubicMetres(p.Volume))
	}
	if p.Shape != lift.Squared {
		facts = append(facts, fact{f.T("Bark"), barkText(f, p)})
	}
	if p.Density > 0 {
		add(f.T("Density, weighed"), plain.KilogramsPerCubic(p.Density))
	} else if p.Condition == lift.MeasuredMoisture {
		add(f.T("Moisture measured"), plain.Fraction(p.Moisture))
	}
	if p.HeartKnown {
		add(f.T("Heartwood"), plain.Fraction(p.HeartShare))
	}
	facts = append(facts, weatherFacts(f, &p.Weather)...)
	add(f.T("Snow, ice, water or mud"), plain.Kilograms(p.Extra))
	if p.Balance > 0 {
		add(f.T("Balance point found by trial"), plain.Metres(p.Balance))
	}
	if l.Span > 0 {
		add(f.T("Between the hook points"), plain.Metres(l.Span))
	}
	return facts
}

// logFacts are the ends and the middle as they were measured: girths as girths.
func logFacts(f *views.Frame, p *lift.Piece) (facts []fact) {
	names, round := [3]string{f.T("Small end"), f.T("Middle"), f.T("Large end")}, 1.0
	if p.Girths {
		names, round = [3]string{f.T("Small end, round it"), f.T("Middle, round it"), f.T("Large end, round it")}, math.Pi
	}
	for i, across := range [3]float64{p.Small, p.Middle, p.Large} {
		if across > 0 {
			facts = append(facts, fact{names[i], f.T("%s", plain.Metres(across*round))})
		}
	}
	if p.Shape != lift.Slabbed {
		return facts
	}
	sawn := [4]string{f.T("Sawn off the top"), f.T("Sawn off the bottom"), f.T("Sawn off one side"), f.T("Sawn off the other side")}
	for i, depth := range p.Slabs {
		if depth > 0 {
			facts = append(facts, fact{sawn[i], f.T("%s", plain.Metres(depth))})
		}
	}
	return facts
}

func weatherFacts(f *views.Frame, w *lift.Weather) (facts []fact) {
	layer := func(name string, thick, area float64) {
		if thick > 0 {
			facts = append(facts, fact{name, f.T("%[1]s on %[2]s", plain.Metres(thick), areaText(f, area))})
		}
	}
	layer(f.T("Ice"), w.Ice, w.IceArea)
	layer(f.T("Snow"), w.Snow, w.SnowArea)
	if w.Snow > 0 {
		facts = append(facts, fact{f.T("Kind of snow"), snowText(f, w.SnowKind)})
	}
	if w.Wet {
		facts = append(facts, fact{f.T("Running wet"), f.T("yes")})
	}
	return facts
}

// areaText is the area a layer covers; of one not entered the rules take all
// there is.
func areaText(f *views.Frame, area float64) string {
	r := newReader(measures{units: f.Units})
	switch {
	case area == 0:
		return f.T("all of it")
	case r.square == 1:
		return f.T("%s m²", f.Number(toTenThousandth(area)))
	}
	return f.T("%s ft²", f.Number(toTenThousandth(area/r.square)))
}

func snowText(f *views.Frame, kind lift.Snow) string {
	switch kind {
	case lift.FreshSnow:
		return f.T("fresh")
	case lift.SettledSnow:
		return f.T("settled")
	case lift.LateSnow:
		return f.T("late, wet")
	}
	return f.T("not known, counted as the heaviest")
}

func barkText(f *views.Frame, p *lift.Piece) string {
	switch {
	case !p.Bark:
		return f.T("taken off")
	case p.OverBark:
		return f.T("on, measured over it")
	}
	return f.T("on, measured without it")
}
