package checklists

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// SafetyID names one extinguisher, first-aid kit or eyewash.
type SafetyID string

// SafetyKind is what a piece of safety equipment is. The zero value is unknown
// and refused.
type SafetyKind string

const (
	ExtinguisherKind SafetyKind = "extinguisher"
	FirstAidKind     SafetyKind = "first-aid"
	EyewashKind      SafetyKind = "eyewash"
)

// SafetyKinds returns every kind, in the order a form offers them.
func SafetyKinds() []SafetyKind {
	return []SafetyKind{ExtinguisherKind, FirstAidKind, EyewashKind}
}

// Words names the kind.
func (k SafetyKind) Words() plain.Sentence {
	switch k {
	case ExtinguisherKind:
		return plain.Say("fire extinguisher")
	case FirstAidKind:
		return plain.Say("first-aid kit")
	case EyewashKind:
		return plain.Say("eyewash")
	}
	return plain.Say("not known")
}

// SafetyItem is one of them as it stands in the register. Days are given as the
// moment they begin in the mill's zone.
type SafetyItem struct {
	ID       SafetyID            `json:"id"`
	Kind     SafetyKind          `json:"kind"`
	Place    string              `json:"place"`
	Serial   string              `json:"serial"` // serial or the mill's own number, "" for none
	Size     string              `json:"size"`
	Type     ExtinguisherType    `json:"type"`     // of an extinguisher
	Made     time.Time           `json:"made"`     // day it was made, or last tested under pressure before it came into the register
	Throw    bool                `json:"throw"`    // an extinguisher that is not refilled but thrown away
	Contents []string            `json:"contents"` // what a first-aid kit is to hold
	Retired  time.Time           `json:"retired"`  // zero while it is there
	By       procedures.PersonID `json:"by"`
	At       time.Time           `json:"at"`
}

// mostContents bounds the list of a first-aid kit.
const mostContents = 60

// Keep returns i as entered by by at now in place of before, the zero item for a
// new one. Its error is a [plain.Problems] for the fields "kind", "place",
// "serial", "size", "type", "made" and "contents", or a [plain.Refusal].
func (i SafetyItem) Keep(before SafetyItem, by procedures.Person, now time.Time) (SafetyItem, error) {
	switch {
	case !by.Supervises():
		return SafetyItem{}, plain.Refuse("", "Only a supervisor or deputy enters safety equipment, or takes it out of the register. That it was looked at, anybody of the crew enters.")
	case !before.Retired.IsZero():
		return SafetyItem{}, plain.Refuse("", "This was taken out of the register. A new one is entered anew.")
	}
	i.Place, i.Serial, i.Size = strings.TrimSpace(i.Place), strings.TrimSpace(i.Serial), strings.TrimSpace(i.Size)
	var contents []string
	for _, one := range i.Contents {
		if one = strings.TrimSpace(one); one != "" {
			contents = append(contents, one)
		}
	}
	i.Contents = contents
	var bad plain.Problems
	bad.Unless(slices.Contains(SafetyKinds(), i.Kind) && (before.ID == "" || i.Kind == before.Kind), "kind", "what it is")
	bad.Unless(worded(i.Place, longestMark), "place", "where it hangs or stands, in at most %d letters", longestMark)
	bad.Unless(tidy(i.Serial, longestMark), "serial", "at most %d letters", longestMark)
	bad.Unless(tidy(i.Size, longestMark), "size", "at most %d letters", longestMark)
	if i.Kind == ExtinguisherKind {
		row, known := i.Type.Row()
		bad.Unless(known, "type", "the type on its plate")
		bad.Unless(!known || row.Years > 0, "type", "one that may still be used: a shell of copper or brass joined by soft solder or rivets was to be out of service by 1982, 29 CFR 1910.157(f)(3)")
		bad.Unless(worded(i.Size, longestMark), "size", "its size, as on the plate")
	} else {
		i.Type, i.Made, i.Throw = "", time.Time{}, false
	}
	bad.Unless(!i.Made.After(now), "made", "a day not later than today, or none where nobody knows")
	bad.Unless(i.Kind != FirstAidKind || len(contents) > 0, "contents", "what it is to hold, one thing a line")
	bad.Unless(len(contents) <= mostContents, "contents", "at most %d things", mostContents)
	if i.Kind != FirstAidKind {
		i.Contents = nil
	}
	for _, one := range contents {
		if !tidy(one, longestMark) {
			bad.Unless(false, "contents", "each in at most %d letters", longestMark)
			break
		}
	}
	if err := bad.Err(); err != nil {
		return SafetyItem{}, err
	}
	i.By, i.At = by.ID, now
	return i, nil
}

// SafetyCheck is that somebody looked at one of them, or worked on it.
type SafetyCheck struct {
	ID      string              `json:"id"`
	Item    SafetyID            `json:"item"`
	Work    SafetyWork          `json:"work"`
	On      time.Time           `json:"on"` // the day
	Right   bool                `json:"right"`
	Missing []string            `json:"missing"` // of a first-aid kit's list
	Who     string              `json:"who"`     // firm or person who did it, where that is not who entered it
	Note    string              `json:"note"`
	By      procedures.PersonID `json:"by"`
	At      time.Time           `json:"at"`
}

// Check returns c of i as entered by by at now. Its error is a [plain.Problems]
// for the fields "work", "on", "right", "who" and "note", or a [plain.Refusal].
func (i SafetyItem) Check(c SafetyCheck, by procedures.Person, now time.Time) (SafetyCheck, error) {
	switch {
	case !by.Works():
		return SafetyCheck{}, plain.Refuse("", "Only somebody of the crew enters that this was looked at. Sign in as yourself.")
	case !i.Retired.IsZero():
		return SafetyCheck{}, plain.Refuse("", "This was taken out of the register.")
	}
	c.Item, c.By, c.At = i.ID, by.ID, now
	c.Who, c.Note = strings.TrimSpace(c.Who), strings.TrimSpace(c.Note)
	c.Missing = slices.DeleteFunc(slices.Clone(c.Missing), func(one string) bool { return !slices.Contains(i.Contents, one) })
	var bad plain.Problems
	bad.Unless(slices.ContainsFunc(i.works(), func(w safetyRule) bool { return w.work == c.Work }), "work", "what was done")
	bad.Unless(!c.On.IsZero() && !c.On.After(now), "on", "a day not later than today")
	bad.Unless(c.Work == SafetyLook || c.Who != "", "who", "the firm or person who did it")
	bad.Unless(tidy(c.Who, longestMark), "who", "a name, in at most %d letters", longestMark)
	bad.Unless(!c.Right || len(c.Missing) == 0, "right", "not right, while something of its list is missing")
	bad.Unless(tidy(c.Note, LongestNote) && (c.Right || c.Note != "" || len(c.Missing) > 0), "note", "what is wrong, in at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return SafetyCheck{}, err
	}
	return c, nil
}

// History returns the checks of i, the newest first; checks stand in the order
// they were entered.
func (i SafetyItem) History(checks []SafetyCheck) []SafetyCheck {
	var own []SafetyCheck
	for _, c := range slices.Backward(checks) {
		if c.Item == i.ID {
			own = append(own, c)
		}
	}
	slices.SortStableFunc(own, func(a, b SafetyCheck) int { return cmp.Or(b.On.Compare(a.On), b.At.Compare(a.At)) })
	return own
}

// Wrong is the newest check where that found something not right.
func (i SafetyItem) Wrong(checks []SafetyCheck) (SafetyCheck, bool) {
	own := i.History(checks)
	if len(own) == 0 || own[0].Right {
		return SafetyCheck{}, false
	}
	return own[0], true
}
