package lift

import "stillsaw/procedures/plain"

// Rule names what a finding was found by. Stored with a kept lift: never rename.
type Rule string

// The rules.
const (
	PieceRule      Rule = "piece"           // the piece can't be weighed as entered
	RigRule        Rule = "rig"             // a number of the rig can't be meant
	PathRule       Rule = "load-path"       // a part of the load path is missing or out of order
	RatingRule     Rule = "rated-load"      // more than a rated load
	NoRatingRule   Rule = "rating-unknown"  // no rated load, or none for this way of use
	OwnMassRule    Rule = "own-mass"        // what the gear itself weighs is unknown
	TagRule        Rule = "tag"             // the tag can't be read
	StateRule      Rule = "state"           // out of service, destroyed or unknown
	InspectionRule Rule = "inspection"      // overdue, undated or unknown
	ChainRule      Rule = "chain"           // grade or size unknown, or no lifting chain
	TagAboveRule   Rule = "tag-above-table" // the tag says more than any such chain bears
	HitchRule      Rule = "hitch"           // unknown hitch
	SettingRule    Rule = "setting"         // how the yoke is set was not said
	SpanRule       Rule = "span"            // distance of the hook points unknown or impossible
	OutwardRule    Rule = "yoke-too-wide"   // legs plumb or pulling outward
	FloorRule      Rule = "angle-floor"     // legs flatter than allowed
	HouseFloorRule Rule = "house-floor"     // legs flatter than the mill allows
	GripRule       Rule = "end-hook-band"   // end hooks outside their angles, or these unknown
	BalanceRule    Rule = "balance"         // balance point unknown or outside the hook points
	TiltRule       Rule = "tilt"            // hangs too far out of level
	QuestionRule   Rule = "question"        // a question at the hook not answered with yes
	HoldRule       Rule = "hold"            // reported from elsewhere in the mill
	TimeRule       Rule = "time"            // the time of the check is unknown
	MarginRule     Rule = "house-margin"    // above the house margin: a supervisor signs
	HeadroomRule   Rule = "headroom"        // more height is needed than there is
	LegsRule       Rule = "legs"            // more than two legs: two are counted
	EdgeRule       Rule = "edge"            // a sling bends over a sawn corner
	IdleRule       Rule = "idle"            // idle a month or more and not inspected since
)

// Finding is one thing a verdict rests on. Where it is about strength, Load and
// Limit are set and Ratio is the one over the other.
type Finding struct {
	Rule        Rule
	Link        string // the link's name, where it is about one
	Load, Limit plain.Kilograms
	Ratio       float64
	Said        plain.Sentence
	Source      string
	Blocks      bool // it alone makes the lift a NO-GO
}

// Bar is one rung of the ladder of the load path, the beam first. The load of a
// leg is its pull as the mass it could hold up. An unknown limit is 0 and its
// ratio +Inf.
type Bar struct {
	Name        string
	Kind        Kind
	Load, Limit plain.Kilograms
	Ratio       float64
}

// Verdict is the answer to one lift. The zero value is a NO-GO.
type Verdict struct {
	Go              bool
	NeedsSupervisor bool // above the house margin
	Weight          Weight

	// Geometry of the hang; zero where it could not be worked out.
	Angle      plain.Degrees    // of the flatter leg, piece level
	LegAngle   [2]plain.Degrees // of each leg, piece level, the one nearer the small end first
	Height     plain.Metres     // of the legs' upper ends above the hook points
	Balance    plain.Metres     // balance point from the small end
	FirstHook  plain.Metres     // hook point nearer the small end, from that end
	Tilt       plain.Degrees    // at the most, small end or large end down
	LegTension []plain.Newtons  // leg nearer the small end first
	Inward     plain.Newtons    // level pull at each hook point

	Findings []Finding // worst first
	Bars     []Bar
	Weakest  string // the link with the largest ratio
}

func (v *Verdict) reset() {
	weight, tension, findings, bars := v.Weight, v.LegTension[:0], v.Findings[:0], v.Bars[:0]
	*v = Verdict{Weight: weight, LegTension: tension, Findings: findings, Bars: bars}
}

func (v *Verdict) block(rule Rule, link, source, said string, args ...any) {
	v.Findings = append(v.Findings, Finding{Rule: rule, Link: link, Source: source, Said: plain.Say(said, args...), Blocks: true})
}
