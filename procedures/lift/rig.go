package lift

import (
	"math"
	"slices"
	"strconv"

	"stillsaw/procedures/plain"
)

// Hitch is how the legs take hold of the piece.
type Hitch uint8

// The hitches. EndHooks are pointed hooks driven into the ends of the piece.
const (
	HitchUnknown Hitch = iota
	TwoLegBridle
	EndHooks
	Choker
	Basket
)

func hitchNames() []string { return []string{"unknown", "bridle", "end-hooks", "choker", "basket"} }

// String is the name ParseHitch takes.
func (h Hitch) String() string { return nameOf(hitchNames(), int(h)) }

// ParseHitch reads bridle, end-hooks, choker or basket.
func ParseHitch(text string) (Hitch, error) {
	i, err := indexOf(hitchNames(), text)
	return Hitch(i), err
}

// MarshalText writes the name.
func (h Hitch) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText is ParseHitch.
func (h *Hitch) UnmarshalText(text []byte) (err error) {
	*h, err = ParseHitch(string(text))
	return err
}

// LeastAngle is the flattest a sling leg may hang, in degrees from the
// horizontal. OSHA, Guidance on Safe Sling Use, chain slings.
const LeastAngle = 30.0

// DefaultMargin is the share of a rated load above which a supervisor signs.
// Common practice, no source.
const DefaultMargin = 0.80

// Band is the range of leg angles, in degrees from the horizontal, in which a
// pair of end hooks holds. No published rating covers a point in wood: it comes
// from the maker's sheet or the dated statement of a qualified person.
type Band struct {
	Low, High float64
	Source    string
}

// Rig is a load path as it stands, links from the beam down to the piece.
// Lengths are metres, angles degrees from the horizontal.
type Rig struct {
	ID, Name    string
	Links       []Link
	Hitch       Hitch
	YokeWidth   float64 // between the legs' upper ends; 0 = no yoke, both legs from one point
	Setting     string  // the yoke's setting as marked on it
	LegLength   float64 // upper end to hook point; 0 = unknown
	FloorAngle  float64 // 0 = LeastAngle, and never less
	HouseFloor  float64 // the mill's own floor where steeper; 0 = none
	EndHookBand Band
	HouseMargin float64 // 0 = DefaultMargin

	// SecondLeg is the length of the leg nearer the large end where the two
	// differ, LegLength then that of the other; 0 = alike.
	SecondLeg float64 `json:",omitzero"`
	// Headroom is from the hoist hook's saddle at its highest down to what the
	// piece has to pass over; 0 = unknown, and then nothing is said about it.
	Headroom   float64   `json:",omitzero"`
	HookToYoke float64   `json:",omitzero"` // saddle to the legs' upper ends; 0 = unknown under a yoke
	Clearance  float64   `json:",omitzero"` // wanted below the piece on its way; 0 = DefaultClearance
	Settings   []Setting `json:",omitempty"`

	// Begun is the rig this one was begun from, keeping its parts as the same
	// steel under the same ids; empty where it was begun from nothing.
	Begun string `json:",omitzero"`
	// Why says, of this version, why a part that the register has out of use was
	// taken out of the rig or entered otherwise.
	Why string `json:",omitzero"`
}

// Setting is one way the yoke can be set, as marked on it.
type Setting struct {
	Name      string
	YokeWidth float64 // m
	LegLength float64 // m
	SecondLeg float64 `json:",omitzero"` // m; 0 = as LegLength
}

// DefaultClearance is kept below a piece on its way where the mill says nothing
// else, in metres. Own choice.
const DefaultClearance = 0.15

// texts points at what people wrote into r in their own words: the yoke's
// setting, who stands for the band, the tag of each link, the name of each
// marked setting, who inspected each link and why a part was taken out, in that
// order.
func (r *Rig) texts() []*string {
	texts := []*string{&r.Setting, &r.EndHookBand.Source}
	for i := range r.Links {
		texts = append(texts, &r.Links[i].Tag)
	}
	for i := range r.Settings {
		texts = append(texts, &r.Settings[i].Name)
	}
	for i := range r.Links {
		texts = append(texts, &r.Links[i].InspectedBy)
	}
	return append(texts, &r.Why)
}

// WithoutTexts is the rig without what people wrote into it in their own words,
// which may name somebody, and those texts: the setting, who stands for the band
// of the end hooks, the tag of each link, the names of the settings, who
// inspected each link, why one was taken out. Names of the rig and its links
// stay: the reasons of an answer are told by them.
func (r Rig) WithoutTexts() (bare Rig, texts []string) {
	r.Links, r.Settings = slices.Clone(r.Links), slices.Clone(r.Settings)
	for _, text := range r.texts() {
		texts = append(texts, *text)
		*text = ""
	}
	for most := 2 + len(r.Links) + len(r.Settings); len(texts) > most && texts[len(texts)-1] == ""; {
		texts = texts[:len(texts)-1] // of rigs that say nothing of who inspected
	}
	return r, texts
}

// WithTexts puts back what WithoutTexts took out; a text that is missing stays
// empty, and one too many is left.
func (r Rig) WithTexts(texts []string) Rig {
	r.Links, r.Settings = slices.Clone(r.Links), slices.Clone(r.Settings)
	for i, text := range r.texts() {
		if i < len(texts) {
			*text = texts[i]
		}
	}
	return r
}

const (
	maxLinks = 24
	maxRated = 1e5 // kg
	maxOwn   = 1e4 // kg
	maxLegs  = 4
	maxHigh  = 30.0 // m, of headroom

	maxSettings = 50
)

// Validate returns nil or a [plain.Problems] with every number that can't be
// meant, fields named as on a form, those of links as link-1-rated-load. What
// is merely unknown is no problem here: [Check] answers it with NO-GO.
func (r *Rig) Validate() error {
	var bad plain.Problems
	upTo(&bad, r.YokeWidth, maxLength, "yoke-width")
	upTo(&bad, r.LegLength, maxLength, "leg-length")
	upTo(&bad, r.SecondLeg, maxLength, "second-leg")
	upTo(&bad, r.Headroom, maxHigh, "headroom")
	upTo(&bad, r.HookToYoke, maxLength, "hook-to-yoke")
	upTo(&bad, r.Clearance, maxLength, "clearance")
	if len(r.Settings) > maxSettings {
		bad.Unless(false, "settings", "at most %d settings", maxSettings)
	}
	for i := range r.Settings {
		r.Settings[i].validate(&bad, i)
	}
	bad.Unless(r.FloorAngle == 0 || r.FloorAngle >= LeastAngle && r.FloorAngle <= 85, "floor-angle", "30° to 85°, or left empty")
	bad.Unless(r.HouseFloor >= 0 && r.HouseFloor <= 85, "house-floor", "at most 85°, or left empty")
	bad.Unless(r.HouseMargin >= 0 && r.HouseMargin <= 1, "house-margin", "0 to 100 %, or left empty")
	b := r.EndHookBand
	bad.Unless(b.Low >= 0 && b.Low <= 90, "band-low", "0° to 90°")
	bad.Unless(b.High >= b.Low && b.High <= 90, "band-high", "no less than the low angle, at most 90°")
	bad.Unless(len(r.Links) <= maxLinks, "links", "at most 24 links")
	for i := range r.Links {
		r.Links[i].validate(&bad, i)
	}
	return bad.Err()
}

func (s *Setting) validate(bad *plain.Problems, place int) {
	for _, one := range [...]struct {
		x     float64
		field string
	}{{s.YokeWidth, "yoke-width"}, {s.LegLength, "leg-length"}, {s.SecondLeg, "second-leg"}} {
		if !(one.x >= 0 && one.x <= maxLength) {
			upTo(bad, one.x, maxLength, "setting-"+strconv.Itoa(place+1)+"-"+one.field)
		}
	}
}

func (l *Link) validate(bad *plain.Problems, place int) {
	note := func(x, most float64, field string) {
		if !(x >= 0 && x <= most) {
			bad.Unless(false, "link-"+strconv.Itoa(place+1)+"-"+field, "at most %s, or left empty", plain.Kilograms(most))
		}
	}
	note(l.RatedLoad, maxRated, "rated-load")
	note(l.ChokerLoad, maxRated, "choker-load")
	note(l.OwnMass, maxOwn, "own-mass")
}

// floor is the flattest angle this rig may hang at, and whether the mill set it.
func (r *Rig) floor() (degrees float64, house bool) {
	least := math.Max(LeastAngle, r.FloorAngle)
	if r.HouseFloor > least {
		return r.HouseFloor, true
	}
	return least, false
}

// legLengths are those of the leg nearer the small end and of the other.
func (r *Rig) legLengths() (first, second float64) {
	if r.SecondLeg == 0 {
		return r.LegLength, r.LegLength
	}
	return r.LegLength, r.SecondLeg
}

func (r *Rig) margin() float64 {
	if r.HouseMargin == 0 {
		return DefaultMargin
	}
	return r.HouseMargin
}

// has counts the links of a kind, a pair as two.
func (r *Rig) has(kind Kind) (n int) {
	for i := range r.Links {
		if r.Links[i].Kind == kind {
			n += r.Links[i].legs()
		}
	}
	return n
}

// grips tells whether anything of the rig holds by biting into the wood.
func (r *Rig) grips() bool { return r.Hitch == EndHooks || r.has(EndHook) > 0 }

// firstLeg is the place of the first leg, or the number of links.
func (r *Rig) firstLeg() int {
	for i := range r.Links {
		if r.Links[i].Kind == Leg {
			return i
		}
	}
	return len(r.Links)
}
