package server

import (
	"math"
	"strconv"
	"time"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// rigForm is a rig as it was typed; lengths and masses in the mill's units.
type rigForm struct {
	Submission, Revision, From            string
	Name, Hitch, YokeWidth, Setting       string
	LegLength, FloorAngle, HouseFloor     string
	BandLow, BandHigh, BandSource, Margin string
	SecondLeg, HookToYoke                 string
	Headroom, Clearance                   string
	Why                                   string
	Settings                              []settingForm
	Links                                 []linkForm
}

// settingForm is one way the yoke can be set, as marked on it.
type settingForm struct {
	Name, YokeWidth, LegLength, SecondLeg string
}

type linkForm struct {
	ID, Name, Kind, RatedLoad, OwnMass string
	Tag, Inspected, Due, State         string
	InspectedBy                        string
	TagReadable, Pair                  bool
	MarkedFor, ChokerLoad, Grade, Size string
	Open                               bool // shown unfolded
}

// How many links and settings a form is read for; the rules allow fewer.
const (
	linksMost    = 30
	settingsMost = 60
)

// rigFormOf is what stands in the form of a rig that is stored.
func rigFormOf(r lift.Rig, in measures, zone *time.Location) rigForm {
	size := newReader(in)
	filled := func(x, unit, most float64) string {
		if x == 0 {
			return ""
		}
		return size.filled(x, unit, most)
	}
	length := func(x float64) string { return filled(x, size.lengthSize, lift.LongestMeant) }
	f := rigForm{Name: r.Name, Hitch: r.Hitch.String(), YokeWidth: length(r.YokeWidth), Setting: r.Setting, LegLength: length(r.LegLength),
		FloorAngle: size.orEmpty(r.FloorAngle), HouseFloor: size.orEmpty(r.HouseFloor), BandLow: size.orEmpty(r.EndHookBand.Low),
		BandHigh: size.orEmpty(r.EndHookBand.High), BandSource: r.EndHookBand.Source, Margin: size.orEmpty(100 * r.HouseMargin), Why: r.Why}
	f.SecondLeg, f.HookToYoke, f.Headroom, f.Clearance = length(r.SecondLeg), length(r.HookToYoke), length(r.Headroom), length(r.Clearance)
	for _, s := range r.Settings {
		f.Settings = append(f.Settings, settingForm{Name: s.Name, YokeWidth: length(s.YokeWidth), LegLength: length(s.LegLength), SecondLeg: length(s.SecondLeg)})
	}
	mass := func(x float64) string { return filled(x, size.weightSize, math.Inf(1)) }
	for _, l := range r.Links {
		f.Links = append(f.Links, linkForm{ID: l.ID, Name: l.Name, Kind: l.Kind.String(), RatedLoad: mass(l.RatedLoad), OwnMass: mass(l.OwnMass),
			Tag: l.Tag, Inspected: dayTyped(l.Inspected, zone), InspectedBy: l.InspectedBy, Due: dayTyped(l.InspectionDue, zone), State: l.State.String(),
			TagReadable: l.TagReadable, Pair: l.Pair, MarkedFor: l.MarkedFor.String(), ChokerLoad: mass(l.ChokerLoad), Grade: l.Grade.String(), Size: l.Size.String()})
	}
	return f
}

// orEmpty is nothing for a 0.
func (m measures) orEmpty(x float64) string {
	if x == 0 {
		return ""
	}
	return m.typed(x)
}

func dayTyped(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return ""
	}
	return t.In(zone).Format(time.DateOnly)
}

func linkField(place int, name string) string { return "link-" + strconv.Itoa(place+1) + "-" + name }

// typedRig reads the form through get.
func typedRig(get func(string) string) rigForm {
	f := rigForm{Submission: get("submission"), Revision: get("revision"), From: get("from"), Name: get("name"), Hitch: get("hitch"), YokeWidth: get("yoke-width"),
		Setting: get("setting"), LegLength: get("leg-length"), FloorAngle: get("floor-angle"), HouseFloor: get("house-floor"),
		BandLow: get("band-low"), BandHigh: get("band-high"), BandSource: get("band-source"), Margin: get("house-margin"),
		SecondLeg: get("second-leg"), HookToYoke: get("hook-to-yoke"), Headroom: get("headroom"), Clearance: get("clearance"), Why: get("why")}
	for i := range min(max(whole(get("settings")), 0), settingsMost) {
		field := func(name string) string { return get(settingField(i, name)) }
		f.Settings = append(f.Settings, settingForm{Name: field("name"), YokeWidth: field("yoke-width"), LegLength: field("leg-length"), SecondLeg: field("second-leg")})
	}
	for i := range min(max(whole(get("links")), 0), linksMost) {
		field := func(name string) string { return get(linkField(i, name)) }
		f.Links = append(f.Links, linkForm{ID: field("id"), Name: field("name"), Kind: field("kind"), RatedLoad: field("rated-load"), OwnMass: field("own-mass"),
			Tag: field("tag"), Inspected: field("inspected"), InspectedBy: field("inspected-by"), Due: field("due"), State: field("state"),
			TagReadable: field("readable") == "yes", Pair: field("pair") == "yes",
			MarkedFor: field("marked-for"), ChokerLoad: field("choker-load"), Grade: field("grade"), Size: field("size")})
	}
	return f
}

func settingField(place int, name string) string {
	return "setting-" + strconv.Itoa(place+1) + "-" + name
}

// resets carries out the button that adds or removes a setting of the yoke, or
// takes one for the present, and tells whether do is one.
func (f *rigForm) resets(do string) bool {
	if do == "add-setting" {
		f.Settings = append(f.Settings, settingForm{})
		return true
	}
	for i, s := range f.Settings {
		switch place := strconv.Itoa(i + 1); do {
		case "remove-setting-" + place:
			f.Settings = append(f.Settings[:i:i], f.Settings[i+1:]...)
			return true
		case "set-to-" + place:
			f.Setting, f.YokeWidth, f.LegLength, f.SecondLeg = s.Name, s.YokeWidth, s.LegLength, s.SecondLeg
			return true
		}
	}
	return false
}

// rearrange carries out the button that adds, removes or moves a link or a
// setting, and tells whether do is one.
func (f *rigForm) rearrange(do string) bool {
	if f.resets(do) {
		return true
	}
	if do == "add" {
		f.Links = append(f.Links, linkForm{ID: store.NewID(), Open: true})
		return true
	}
	for i := range f.Links {
		place := strconv.Itoa(i + 1)
		switch {
		case do == "remove-"+place:
			f.Links = append(f.Links[:i:i], f.Links[i+1:]...)
			return true
		case do == "up-"+place && i > 0:
			f.Links[i-1], f.Links[i] = f.Links[i], f.Links[i-1]
			return true
		case do == "down-"+place && i+1 < len(f.Links):
			f.Links[i], f.Links[i+1] = f.Links[i+1], f.Links[i]
			return true
		case do == "up-"+place, do == "down-"+place:
			return true
		}
	}
	return false
}

const textMost = 200 // characters of a tag, a setting, a source

// rig turns the form into a rig, filled in where it can be looked up; filled are
// the links whose rated load was. What is left empty else is unknown, which is
// no problem here: a lift with it is a NO-GO.
func (f *rigForm) rig(id string, in measures, zone *time.Location) (rig lift.Rig, filled []int, problems plain.Problems) {
	r := newReader(in)
	r.problems.Unless(f.Name != "" && len(f.Name) <= 80, "name", "a name the crew knows it by")
	r.problems.Unless(len(f.Setting) <= textMost, "setting", "fewer words")
	r.problems.Unless(len(f.BandSource) <= textMost, "band-source", "fewer words")
	r.problems.Unless(len(f.Why) <= noteMost, "why", "fewer words")
	rig = lift.Rig{ID: id, Name: f.Name, Why: f.Why, Setting: f.Setting, YokeWidth: r.optional("yoke-width", f.YokeWidth), LegLength: r.optional("leg-length", f.LegLength),
		FloorAngle: r.degrees("floor-angle", f.FloorAngle), HouseFloor: r.degrees("house-floor", f.HouseFloor), HouseMargin: r.share("house-margin", f.Margin),
		EndHookBand: lift.Band{Low: r.degrees("band-low", f.BandLow), High: r.degrees("band-high", f.BandHigh), Source: f.BandSource}}
	rig.Hitch = chosen(r, "hitch", f.Hitch, lift.ParseHitch)
	rig.SecondLeg, rig.HookToYoke = r.optional("second-leg", f.SecondLeg), r.optional("hook-to-yoke", f.HookToYoke)
	rig.Headroom, rig.Clearance = r.optional("headroom", f.Headroom), r.optional("clearance", f.Clearance)
	for i := range f.Settings {
		rig.Settings = append(rig.Settings, f.Settings[i].setting(r, i))
	}
	for i := range f.Links {
		rig.Links = append(rig.Links, f.Links[i].link(r, i, zone))
	}
	r.take(rig.Validate())
	rig, filled, err := rig.Fill()
	r.take(err)
	return rig, filled, r.problems
}

func (f *settingForm) setting(r *reader, place int) lift.Setting {
	at := func(name string) string { return settingField(place, name) }
	r.problems.Unless(f.Name != "" && len(f.Name) <= 80, at("name"), "what is marked on the yoke there, as 2nd hole")
	r.problems.Unless(f.LegLength != "", at("leg-length"), "the length of the legs at this setting")
	return lift.Setting{Name: f.Name, YokeWidth: r.optional(at("yoke-width"), f.YokeWidth), LegLength: r.optional(at("leg-length"), f.LegLength), SecondLeg: r.optional(at("second-leg"), f.SecondLeg)}
}

func (f *linkForm) link(r *reader, place int, zone *time.Location) lift.Link {
	at := func(name string) string { return linkField(place, name) }
	r.problems.Unless(f.Name != "" && len(f.Name) <= 80, at("name"), "a name for this part")
	r.problems.Unless(len(f.Tag) <= textMost, at("tag"), "fewer words")
	r.problems.Unless(len(f.InspectedBy) <= textMost, at("inspected-by"), "fewer words")
	l := lift.Link{ID: f.ID, Name: f.Name, Pair: f.Pair, RatedLoad: r.mass(at("rated-load"), f.RatedLoad), OwnMass: r.mass(at("own-mass"), f.OwnMass),
		ChokerLoad: r.mass(at("choker-load"), f.ChokerLoad), Tag: f.Tag, TagReadable: f.TagReadable, InspectedBy: f.InspectedBy}
	l.Kind = chosen(r, at("kind"), f.Kind, lift.ParseKind)
	l.State = chosen(r, at("state"), f.State, lift.ParseState)
	l.MarkedFor = chosen(r, at("marked-for"), f.MarkedFor, lift.ParseColumn)
	l.Grade = chosen(r, at("grade"), f.Grade, lift.ParseGrade)
	l.Size = chosen(r, at("size"), f.Size, lift.ParseChainSize)
	l.Inspected = r.day(at("inspected"), f.Inspected, zone)
	if due := r.day(at("due"), f.Due, zone); !due.IsZero() {
		l.InspectionDue = due.AddDate(0, 0, 1).Add(-time.Second) // to the end of that day
	}
	return l
}

// chosen reads one of a list; nothing chosen is unknown.
func chosen[T any](r *reader, field, text string, parse func(string) (T, error)) T {
	var unknown T
	if text == "" {
		return unknown
	}
	value, err := parse(text)
	r.problems.Unless(err == nil, field, "choose one of the list")
	return value
}

func (r *reader) degrees(field, text string) float64 {
	if text == "" {
		return 0
	}
	return r.decimal(field, text, "degrees as a number, from the level: 45")
}

// share is a percentage, 0 where nothing was typed.
func (r *reader) share(field, text string) float64 {
	if text == "" {
		return 0
	}
	return r.percent(field, text)
}

// day reads a date as its first moment in the mill's zone.
func (r *reader) day(field, text string, zone *time.Location) time.Time {
	if text == "" {
		return time.Time{}
	}
	t, err := time.ParseInLocation(time.DateOnly, text, zone)
	r.problems.Unless(err == nil && t.Year() >= 1950 && t.Year() <= 2100, field, "a day, as 2026-03-31")
	return t
}
