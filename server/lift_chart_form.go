package server

import (
	"math"
	"net/url"
	"slices"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// chartForm is what a chart is asked for, as it was typed. It is a query, so
// that the address says all of it.
type chartForm struct {
	Rig, Shape, Condition string
	Span                  string // between the hook points of a sling
	Less                  string // how much less than the piece's length the end hooks are apart
	BarkOff               bool
	Unsigned              bool     // only what needs no supervisor's signature
	Kinds                 []string // common names; none: those sawn here, or all where the mill has no list
	All                   bool     // all kinds, also where it has one
}

// typedChart reads the query. What a fresh address leaves out is filled in.
func typedChart(query url.Values) chartForm {
	get := func(field string) string { return strings.TrimSpace(query.Get(field)) }
	f := chartForm{Rig: get("rig"), Shape: get("shape"), Condition: get("condition"), Span: get("span"), Less: get("less"),
		BarkOff: get("bark-off") == "yes", Unsigned: get("signed") != "yes", Kinds: query["kind"], All: get("kinds") == "all"}
	if f.Shape == "" {
		f.Shape = lift.Round.String()
	}
	if f.Condition == "" {
		f.Condition = lift.Green.String()
	}
	return f
}

// query is the form as an address says it.
func (f chartForm) query() string {
	q := url.Values{"rig": {f.Rig}, "shape": {f.Shape}, "condition": {f.Condition}, "kind": f.Kinds}
	if f.BarkOff {
		q.Set("bark-off", "yes")
	}
	if !f.Unsigned {
		q.Set("signed", "yes")
	}
	if f.All {
		q.Set("kinds", "all")
	}
	if f.Span != "" {
		q.Set("span", f.Span)
	}
	if f.Less != "" {
		q.Set("less", f.Less)
	}
	return q.Encode()
}

// The thicknesses of a chart: steps of the tape at the mill, finer where there
// are few kinds of wood to show. Centimetres even, as forestry's classes are.
const (
	thinnestInches, thickestInches = 6, 30
	thinnestCm, thickestCm         = 16, 76
	fewKinds                       = 40
)

// ruler is the step that lengths and thicknesses of a chart are printed in, m.
func ruler(units checklists.Units) float64 {
	if units == checklists.InchPound {
		return float64(plain.Inch)
	}
	return 0.01
}

func thicknesses(units checklists.Units, kinds int) (all []float64) {
	from, to, step := thinnestCm, thickestCm, 4
	if units == checklists.InchPound {
		from, to, step = thinnestInches, thickestInches, 2
	}
	if kinds <= fewKinds {
		step /= 2
	}
	for n := from; n <= to; n += step {
		all = append(all, float64(n)*ruler(units))
	}
	return all
}

// of is the chart that is asked for, but for the rig as it stands and what the
// scale has shown.
func (f *chartForm) of(rig *lift.Rig, in measures) (lift.ChartOf, plain.Problems) {
	units, r := in.units, newReader(in)
	c := lift.ChartOf{Step: ruler(units), Bark: !f.BarkOff, Unsigned: f.Unsigned}
	var err error
	c.Shape, err = lift.ParseShape(f.Shape)
	r.problems.Unless(err == nil && (c.Shape == lift.Round || c.Shape == lift.Squared), "shape", "logs or squared pieces")
	c.Condition, err = lift.ParseCondition(f.Condition)
	r.problems.Unless(err == nil && slices.Contains(chartConditions(), c.Condition), "condition", "choose how wet it is")
	if grips(rig) {
		c.Span = r.optional("less", f.Less)
		if f.Less == "" {
			c.Span = usualLess(units)
		}
	} else if c.Span = usualSpan(rig, units); f.Span != "" {
		c.Span = r.size("span", f.Span, leastLength)
	}
	c.Kinds = f.kinds(&r.problems)
	c.Diameters = thicknesses(units, len(c.Kinds))
	return c, r.problems
}

// kinds are those that were ticked, in the order of the table; all where none was.
func (f *chartForm) kinds(problems *plain.Problems) (kinds []lift.Species) {
	all := lift.AllSpecies()
	if len(f.Kinds) == 0 {
		return all
	}
	for _, one := range all {
		if slices.Contains(f.Kinds, one.Common) {
			kinds = append(kinds, one)
		}
	}
	for _, name := range f.Kinds {
		known := slices.ContainsFunc(kinds, func(one lift.Species) bool { return one.Common == name })
		problems.Unless(known, "kind", "kinds of wood of the list")
	}
	return kinds
}

// chartConditions are those that need no meter.
func chartConditions() []lift.Condition {
	return []lift.Condition{lift.Green, lift.PartDry, lift.AirDry, lift.Soaked}
}

// grips tells whether the rig holds by end hooks.
func grips(rig *lift.Rig) bool {
	return slices.ContainsFunc(rig.Asks(), func(q lift.Asked) bool { return q.Field == "seated" })
}

// usualLess is an inch, or 25 mm, of bite at either end. Common practice, no source.
func usualLess(units checklists.Units) float64 {
	if units == checklists.InchPound {
		return 2 * float64(plain.Inch)
	}
	return 0.05
}

// usualSpan has the legs at about 60°: half a leg's length out at either side.
func usualSpan(rig *lift.Rig, units checklists.Units) float64 {
	step := ruler(units)
	return math.Floor((rig.YokeWidth+rig.LegLength)/step+1e-9) * step
}
