package lift

import (
	"math"
	"time"

	"stillsaw/procedures/plain"
)

// checkRig says what is missing of the rig as a whole. sound is false where its
// numbers can't be computed with.
func (v *Verdict) checkRig(r *Rig) (sound bool) {
	sound = true
	if err := r.Validate(); err != nil {
		for _, one := range err.(plain.Problems) {
			v.block(RigRule, "", "", "the rig, %s: want %s", fieldOfRig(one.Field), one.Want)
		}
		sound = false
	}
	if r.Hitch < TwoLegBridle || r.Hitch > Basket {
		v.block(HitchRule, "", "", "how the legs take hold of the piece is not known")
	}
	for _, must := range []struct {
		kind Kind
		said plain.Sentence
	}{{Beam, plain.Say("beam")}, {Hoist, plain.Say("hoist")}, {HoistHook, plain.Say("hoist hook")}} {
		if r.has(must.kind) == 0 {
			v.block(PathRule, "", "every part of the load path counts", "the load path has no %s", must.said)
		}
	}
	yoke := r.has(Yoke) > 0
	if yoke != (r.YokeWidth > 0) {
		v.block(PathRule, "", "", "yoke and width of the yoke: one is entered without the other")
	}
	if r.unset() {
		v.block(SettingRule, "", "", "how the yoke is set is not said: look at the mark on it and choose that setting")
	}
	v.checkLegCount(r)
	if n := r.has(EndHook); r.grips() && n != 2 {
		v.block(PathRule, "", "", "two end hooks are wanted, entered are %d", n)
	}
	v.checkOrder(r)
	return sound
}

// checkLegCount wants two legs, and counts two of three or four: a stiff load
// may come to hang on any two of them.
func (v *Verdict) checkLegCount(r *Rig) {
	switch n := r.has(Leg); {
	case n == 2:
	case n == 3 || n == maxLegs:
		if r.grips() || r.SecondLeg != 0 {
			v.block(PathRule, "", "", "two legs are wanted with end hooks or legs of two lengths, entered are %d", n)
			return
		}
		v.Findings = append(v.Findings, Finding{Rule: LegsRule, Source: "statics",
			Said: plain.Say("of the %d legs two are counted: a stiff load may hang on any two of them", n)})
	default:
		v.block(PathRule, "", "", "two legs are wanted, entered are %d", n)
	}
}

// checkOrder wants the links from the beam down: what carries the whole load
// before the legs, legs before end hooks.
func (v *Verdict) checkOrder(r *Rig) {
	highest := KindUnknown
	for i := range r.Links {
		kind := r.Links[i].Kind
		if kind == Fitting {
			continue
		}
		if kind < highest {
			v.block(PathRule, r.Links[i].label(), "", "%s stands out of order: enter the load path from the beam down to the piece", r.Links[i].label())
			return
		}
		highest = kind
	}
}

// label is the link's name, or its kind where it has none.
func (l *Link) label() string {
	if l.Name == "" {
		return l.Kind.String()
	}
	return l.Name
}

// checkLinks judges each link by itself: tag, state, inspection, markings.
func (v *Verdict) checkLinks(r *Rig, now time.Time) {
	for i := range r.Links {
		l := &r.Links[i]
		if l.Kind < Beam || l.Kind > Fitting {
			v.block(PathRule, l.label(), "", "%s: what kind of part it is, is not known", l.label())
		}
		if !l.TagReadable {
			v.block(TagRule, l.label(), "29 CFR 1910.184; 1910.179(b)(5)", "%s: its tag or marking can't be read, so it has no rating", l.label())
		}
		switch l.State {
		case InService:
		case OutOfService:
			v.block(StateRule, l.label(), "", "%s is out of service", l.label())
		case Destroyed:
			v.block(StateRule, l.label(), "", "%s is destroyed", l.label())
		default:
			v.block(StateRule, l.label(), "", "%s: whether it is in service is not known", l.label())
		}
		if !(l.OwnMass > 0) && l.Kind != Beam {
			v.block(OwnMassRule, l.label(), "what hangs below a part counts as load on it", "%s: its own weight is not known", l.label())
		}
		v.checkInspection(l, now)
		v.checkIdle(l)
		v.checkRating(l, r.Hitch)
		if l.Kind == Leg {
			v.checkLegMark(l)
		}
	}
}

// checkEdges tells of slings that go round sawn wood: a mark holds for a sling
// round a curve, and how much less it bears over a corner only its maker knows.
func (v *Verdict) checkEdges(l *Lift) {
	if (l.Rig.Hitch == Choker || l.Rig.Hitch == Basket) && (l.Piece.Shape == Squared || l.Piece.Shape == Slabbed) {
		v.Findings = append(v.Findings, Finding{Rule: EdgeRule, Source: "29 CFR 1910.184(c)(8), from memory",
			Said: plain.Say("a sling bent over a sharp corner bears less than its mark: pad the corners, and keep to the maker's sheet")})
	}
}

func (v *Verdict) checkRating(l *Link, hitch Hitch) {
	const source = "29 CFR 1910.184; 1910.179(b)(5)"
	switch {
	case !(l.RatedLoad > 0) && l.Kind == EndHook:
		v.block(NoRatingRule, l.label(), "no published rating covers a point in wood", "%s: no rated load is known; it comes from the maker or a qualified person; use a sling instead", l.label())
	case !(l.RatedLoad > 0):
		v.block(NoRatingRule, l.label(), source, "%s: its rated load is not known", l.label())
	case l.Kind == Leg && l.MarkedFor.pull() == 0:
		v.block(NoRatingRule, l.label(), source, "%s: whether its rated load is for one leg, or for two and at what angle, is not known", l.label())
	case l.Kind == Leg && hitch == Choker && !(l.ChokerLoad > 0):
		v.block(NoRatingRule, l.label(), source, "%s: its rated load as a choker is not known", l.label())
	}
}

func (v *Verdict) checkInspection(l *Link, now time.Time) {
	const source = "29 CFR 1910.184; 1910.179(j); 1910.265(c)(24)"
	switch {
	case l.Inspected.IsZero() || l.InspectionDue.IsZero():
		v.block(InspectionRule, l.label(), source, "%s: when it was inspected, or is due, is not known", l.label())
	case l.Inspected.After(now):
		v.block(InspectionRule, l.label(), source, "%s: its inspection is dated later than now", l.label())
	case now.After(l.DueBy()):
		v.block(InspectionRule, l.label(), source, "%s: its inspection was due %s", l.label(), l.DueBy())
	}
}

// tagSlack lets a tag stand that is the table's figure rounded in another unit.
const tagSlack = 1.005

func (v *Verdict) checkLegMark(l *Link) {
	const source = "OSHA, Guidance on Safe Sling Use, Tables 1 and 2"
	switch l.Grade {
	case NotChain:
		return
	case Grade80, Grade100:
	case Grade30, Grade43, Grade70:
		v.block(ChainRule, l.label(), "makers' practice, from memory", "%s: Grade %s is no chain for overhead lifting", l.label(), l.Grade.String())
		return
	default:
		v.block(ChainRule, l.label(), "29 CFR 1910.184(e)(1)", "%s: its grade is not known", l.label())
		return
	}
	if l.Size == SizeUnknown || l.Size > Chain1_1_4 {
		v.block(ChainRule, l.label(), "29 CFR 1910.184(e)(1)", "%s: its size is not known", l.label())
		return
	}
	if table, ok := ChainRating(l.Grade, l.Size, l.MarkedFor); ok && l.RatedLoad > table*tagSlack {
		v.block(TagAboveRule, l.label(), source, "%s: the tag says %s, the published table %s for such a chain: read the tag again", l.label(), plain.Kilograms(l.RatedLoad), plain.Kilograms(table))
	}
}

// checkStrength draws the ladder: each link's load against what it bears.
// Without a hang the legs and what hangs on them can't be judged, and the
// finding that says why stands already.
func (v *Verdict) checkStrength(r *Rig, h hang, hung bool) {
	first := r.firstLeg()
	upper, below := float64(v.Weight.Upper), 0.0
	for i := len(r.Links) - 1; i >= first; i-- {
		below += r.Links[i].OwnMass
	}
	onLegs := upper + below
	if hung {
		g := plain.StandardGravity
		v.LegTension = append(v.LegTension, plain.Newtons(onLegs*h.pull[0]*g), plain.Newtons(onLegs*h.pull[1]*g))
		level := math.Max(h.pull[0]*math.Cos(h.angle[0]*degree), h.pull[1]*math.Cos(h.angle[1]*degree))
		v.Inward = plain.Newtons(onLegs * level * g)
	}
	worst := 0.0
	above := 0.0
	for i := range r.Links {
		above += r.Links[i].OwnMass
	}
	for i := range r.Links {
		l := &r.Links[i]
		above -= l.OwnMass
		if i >= first && !hung {
			continue
		}
		load, limit := upper+math.Max(0, above), l.RatedLoad
		if i >= first {
			load, limit = l.legLoad(r, &h, upper, onLegs)
		}
		ratio := v.bar(l, load, limit, r.margin())
		if ratio > worst {
			worst, v.Weakest = ratio, l.label()
		}
	}
}

// legLoad is the load on a link of the legs and what it bears, both kg: a leg's
// pull as the mass it could hold up, a pair of end hooks twice the larger share.
func (l *Link) legLoad(r *Rig, h *hang, upper, onLegs float64) (load, limit float64) {
	pull := math.Max(h.pull[0], h.pull[1])
	switch {
	case l.Kind == Leg:
		one := l.oneLeg(r.Hitch)
		pair := l.pair(r.Hitch, h.flattest) / 2
		load, limit = onLegs*h.pull[0], math.Min(one, pair*AngleFactor(h.angle[0]))
		if h.angle[1] == h.angle[0] {
			return onLegs * pull, limit
		}
		// Legs of two lengths: the one that bears more of its own limit counts.
		if other := math.Min(one, pair*AngleFactor(h.angle[1])); onLegs*h.pull[1]*limit > load*other {
			return onLegs * h.pull[1], other
		}
		return load, limit
	case l.Kind == EndHook && l.Pair:
		return upper * 2 * math.Max(h.share[0], h.share[1]), l.RatedLoad
	case l.Kind == EndHook:
		return upper * pull, l.RatedLoad
	}
	return onLegs * pull, l.RatedLoad
}

// bar adds a rung and what it finds of strength, and returns the ratio of load
// and limit.
func (v *Verdict) bar(l *Link, load, limit, margin float64) float64 {
	ratio := math.Inf(1)
	if limit > 0 {
		ratio = load / limit
	}
	v.Bars = append(v.Bars, Bar{l.label(), l.Kind, plain.Kilograms(load), plain.Kilograms(limit), ratio})
	f := Finding{Link: l.label(), Load: plain.Kilograms(load), Limit: plain.Kilograms(limit), Ratio: ratio}
	switch {
	case !(limit > 0): // said by checkRating or by the angle's floor
		return ratio
	case !(ratio <= 1):
		f.Rule, f.Blocks, f.Source = RatingRule, true, "29 CFR 1910.179(n)(1); 1910.184(c)"
		f.Said = plain.Say("%s would bear %s; it may bear %s", l.label(), f.Load, f.Limit)
	case ratio > margin:
		f.Rule, f.Source = MarginRule, "this mill's own margin"
		f.Said = plain.Say("%s would bear %s of its %s, above the house margin", l.label(), plain.Fraction(ratio), f.Limit)
	default:
		return ratio
	}
	v.Findings = append(v.Findings, f)
	return ratio
}
