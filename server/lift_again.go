package server

import (
	"math"
	"net/url"
	"strconv"
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// again is the address of a fresh form with the same piece and rig. The
// questions and the tags are looked at anew for every lift.
func again(rig string, lands procedures.EquipmentID, l *lift.Lift, in measures) string {
	p := &l.Piece
	query := url.Values{"rig": {rig}, "lands": {string(lands)}, "shape": {p.Shape.String()}, "species": {p.Species.Common}}
	if p.Species == (lift.Species{}) {
		query.Set("species", unknownSpecies)
	}
	if p.Condition != lift.ConditionUnknown {
		query.Set("condition", p.Condition.String())
	}
	if l.Placing != lift.PlacingUnknown {
		query.Set("placing", l.Placing.String())
	}
	if !p.Bark && p.Shape != lift.Squared {
		query.Set("bark-off", "yes")
	}
	if p.OverBark {
		query.Set("over-bark", "yes")
	}
	in.comma = false // numbers are written with a point here
	query.Set(measuresField, in.String())
	r := newReader(in)
	typed := func(field string, x, size, most float64, unit string) {
		if x > 0 {
			query.Set(field, strings.TrimSpace(in.filled(x, size, most)+" "+unit))
		}
	}
	inch := func(field string, x float64) { typed(field, x, r.lengthSize, lift.LongestMeant, r.length.String()) }
	across := func(field string, x float64) {
		if p.Girths {
			x *= math.Pi
		}
		inch(field, x)
	}
	if p.Girths {
		query.Set("girths", "tape")
	}
	inch("length", p.Length)
	across("small", p.Small)
	across("middle", p.Middle)
	across("large", p.Large)
	inch("width", p.Width)
	inch("height", p.Height)
	inch("balance", p.Balance)
	inch("span", l.Span)
	if p.Shape == lift.Measured {
		inch("thick", p.Large)
	}
	for i, depth := range p.Slabs {
		inch("slab-"+strconv.Itoa(i+1), depth)
	}
	typed("volume", p.Volume, r.cubic, lift.BulkiestMeant, "")
	typed("moisture", p.Moisture, 0.01, 0, "")
	typed("extra", p.Extra, r.weightSize, math.Inf(1), r.weight.String())
	if p.HeartKnown {
		query.Set("heart-share", typedNumber(100*p.HeartShare))
	}
	typed("density", p.Density, r.weightSize/r.cubic, lift.DensestMeant, "")
	w := &p.Weather
	inch("ice", w.Ice)
	inch("snow", w.Snow)
	typed("ice-area", w.IceArea, r.square, 0, "")
	typed("snow-area", w.SnowArea, r.square, 0, "")
	if w.SnowKind != lift.SnowUnknown {
		query.Set("snow-kind", w.SnowKind.String())
	}
	if w.Wet {
		query.Set("wet", "yes")
	}
	return "/lifts/new?" + query.Encode()
}

// typedNumber is x as a person would type it, to a ten-thousandth.
func typedNumber(x float64) string {
	return strconv.FormatFloat(toTenThousandth(x), 'f', -1, 64)
}

func toTenThousandth(x float64) float64 { return math.Round(x*1e4) / 1e4 }

// lastAgain is the address of a fresh form with the piece that was kept last,
// "" where none was, or with a rig no longer in force.
func (v *visit) lastAgain() (string, error) {
	kept, err := v.desk.Lifts(v.ctx(), 1)
	if err != nil || len(kept) == 0 {
		return "", err
	}
	rigs, err := v.desk.InForce(v.ctx(), store.Rigs)
	if err != nil {
		return "", err
	}
	for _, rig := range rigs {
		if rig.ID == kept[0].Rig {
			j, err := readLift(kept[0])
			return again(kept[0].Rig, kept[0].LandsOn, &j.Lift, v.typedIn), err
		}
	}
	return "", nil
}

// remedyKept fills in what would have made a kept NO-GO a GO, worked out again
// from what was asked. Nothing where something elsewhere in the mill forbade it,
// or where the rules would answer otherwise today.
func (a *liftAnswer) remedyKept(j *judged) {
	for _, f := range j.Verdict.Findings {
		if f.Rule == lift.HoldRule {
			return
		}
	}
	now := lift.Check(j.Lift)
	if !j.allowed() && now.Go == j.Verdict.Go && now.NeedsSupervisor == j.Verdict.NeedsSupervisor {
		a.remedy(&j.Lift)
	}
}

// remedy fills in what would make the lift a GO, each proven by the rules.
func (a *liftAnswer) remedy(l *lift.Lift) {
	for _, one := range lift.Remedies(*l) {
		var rigging plain.Sentence
		if rigging, a.Answers = one.Apart(); !rigging.Empty() {
			a.Remedies = append(a.Remedies, rigging)
		}
	}
}
