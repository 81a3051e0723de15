package checklists

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// LongestStopGap is how far ahead a mend-by date may lie. Common practice, no
// source; a date further off is a slip of the hand or no date at all.
const LongestStopGap = 365 * 24 * time.Hour

// Known tells whether r is one of the answers.
func (r Result) Known() bool { return r == OK || r == Found || r == NotChecked }

// Take checks one answer given by a person now, as [TakeSeen] does.
func Take(list List, item ItemID, answer Answer, by procedures.Person, f Facts, now time.Time) (Answer, error) {
	return TakeSeen(list, item, answer, by, f, now, now)
}

// TakeSeen checks one answer a person gave when it was seen, without contact, and
// that is told now, and returns it as it will be
// kept: who and when filled in, a number outside the limits turned into a
// defect, the severity no looser than the list's author set it, and the lockout
// or run check it was done under.
//
// Its errors are a [plain.Problems] for the fields "result", "number", "text",
// "note", "photo", "person", "severity", "stop_gap" and "mend_by", else a
// [plain.Refusal]: a person who may not check, an item the list doesn't ask, an
// item under lock without a lockout verified for that person, an item of a
// running machine without that person's run check, or while something holds the
// machine that a run check is not given under. Saying that something was not
// checked needs neither.
//
// The lockout or run check must have held when it was seen, and nothing that is
// known by now may speak against it: a lockout that is over, a stop raised since.
func TakeSeen(list List, item ItemID, answer Answer, by procedures.Person, f Facts, seen, now time.Time) (Answer, error) {
	if seen.IsZero() || seen.After(now) {
		seen = now
	}
	asked, known := list.asks(item)
	if !known {
		return Answer{}, plain.Refuse("", "This version of the list does not ask %s. Load the page again.", string(item))
	}
	if !by.Works() {
		return Answer{}, plain.Refuse("", "Only somebody of the crew checks. Sign in as yourself.")
	}
	kept := asked.settle(answer)
	kept.By, kept.At = by.ID, seen
	if err := asked.Accepts(kept); err != nil {
		return Answer{}, err
	}
	if err := f.suits(asked, kept, by, now); err != nil {
		return Answer{}, err
	}
	if kept.Result == NotChecked {
		return kept, nil
	}
	var err error
	switch asked.State {
	case LockedOut:
		kept.Under, err = underLock(asked, by, f.Lockouts, f.Plant, seen)
	case Running:
		kept.Run, err = f.inRunCheck(asked, by, seen, now)
	}
	if err != nil {
		return Answer{}, err
	}
	return kept, nil
}

// settle is the answer with everything that follows from the item and the
// number typed. What belongs to another kind of item or another result is dropped.
func (i Item) settle(a Answer) Answer {
	a.Item, a.Under, a.Run = i.ID, "", ""
	a.Text, a.Note, a.StopGap = strings.TrimSpace(a.Text), strings.TrimSpace(a.Note), strings.TrimSpace(a.StopGap)
	a.Meter = ""
	if i.Kind != Number && i.Kind != MeterReading || a.Result == NotChecked {
		a.Number = nil
	}
	if i.Kind == MeterReading && a.Number != nil {
		a.Meter = i.Meter
	}
	a.Replaced = a.Replaced && a.Meter != ""
	if i.Kind != Somebody || a.Result == NotChecked {
		a.Person = ""
	}
	chosen := slices.Contains(i.Options, a.Text)
	if i.Kind != Text && !(i.Kind == Choice && chosen) || i.Kind == Choice && a.Result == NotChecked {
		a.Text = ""
	}
	if i.Kind == Choice && chosen && a.Result == "" {
		a.Result = OK
	}
	if a.Number != nil && (a.Result == OK || a.Result == "") && i.Limits.Plausible(*a.Number) {
		a.Result = OK
		if !i.Limits.Within(*a.Number) {
			a.Result = Found
		}
	}
	if a.Result != Found {
		a.Severity, a.StopGap, a.MendBy = "", "", time.Time{}
		return a
	}
	if a.Severity == "" {
		a.Severity = i.Severity
	}
	if a.Number != nil && i.Limits.Stops(*a.Number) {
		a.Severity = Stop
	}
	if a.Severity == Stop {
		a.StopGap, a.MendBy = "", time.Time{}
	}
	return a
}

// Accepts returns nil or a [plain.Problems] with what keeps the answer from
// standing for the item, as far as the answer alone shows it. Its At is when it
// was given.
func (i Item) Accepts(a Answer) error {
	var bad plain.Problems
	implausible := a.Number != nil && !i.Limits.Plausible(*a.Number) // said below; no need to ask for a tick beside it
	bad.Unless(a.Result.Known() || a.Result == "" && implausible, "result", "OK, defect or not checked")
	bad.Unless(tidy(a.Note, LongestNote), "note", "at most %d letters", LongestNote)
	bad.Unless(tidy(a.Text, LongestText), "text", "at most %d letters", LongestText)
	bad.Unless(a.Photo != "" || !i.AlwaysPhoto && i.Kind != Photo || a.Result == NotChecked, "photo", "a photo, always with this item")
	bad.Unless(!a.Replaced || a.Note != "", "note", "why the meter shows less: replaced, set back, or read wrong before")
	if implausible {
		bad.Unless(false, "number", "a number from 0 to %v %s", i.Limits.Most, i.Limits.Unit)
	}
	switch a.Result {
	case OK:
		if i.Kind == Number || i.Kind == MeterReading {
			bad.Unless(a.Number != nil, "number", "the number measured")
			bad.Unless(a.Number == nil || implausible || i.Limits.Within(*a.Number), "number", "outside the limits: a defect")
		}
		bad.Unless(i.Kind != Text || a.Text != "", "text", "what is asked for, in words")
		bad.Unless(i.Kind != Choice || len(i.Options) == 0 || slices.Contains(i.Options, a.Text), "text", "one of the words to choose from")
		bad.Unless(i.Kind != Somebody || a.Person != "", "person", "who, of the crew")
	case Found:
		i.acceptsFound(&bad, a)
	case NotChecked:
		bad.Unless(a.Note != "", "note", "why it was not checked")
	}
	return bad.Err()
}

func (i Item) acceptsFound(bad *plain.Problems, a Answer) {
	outside := a.Number != nil && !i.Limits.Within(*a.Number)
	if outside && a.Note == "" {
		bad.Unless(false, "note", "this number is outside the limits (%s), a defect: say what you saw", i.Limits.Said())
	} else {
		bad.Unless(a.Note != "", "note", "what is wrong")
	}
	bad.Unless(a.Photo != "" || !i.DefectPhoto || i.AlwaysPhoto || i.Kind == Photo, "photo", "a photo of the defect")
	bad.Unless(a.Severity.Known(), "severity", "stop or mend")
	bad.Unless(i.Severity != Stop || a.Severity == Stop, "severity", "stop: the list's author set it, only the list can change it")
	if a.Severity == Mend {
		bad.Unless(worded(a.StopGap, LongestNote), "stop_gap", "what makes it fit to run until it is mended")
		bad.Unless(a.MendBy.After(a.At) && a.MendBy.Sub(a.At) <= LongestStopGap, "mend_by", "a date to come, within a year")
	}
}

// underLock finds the lockout the person answers the item under.
func underLock(item Item, by procedures.Person, lockouts []procedures.Lockout, plant procedures.Plant, now time.Time) (procedures.LockoutID, error) {
	var begun bool
	for _, l := range lockouts {
		other, powered := procedures.PoweredBeside(l, lockouts, plant)
		switch verified := l.VerifiedFor(by.ID, item.Equipment, now); {
		case verified && powered:
			return "", plain.Refuse(procedures.Clause("(f)(1)(ii)"), "Another lockout is reported under power for a test that reaches here: %s. Stay out until its end is reported, then answer.", other.Procedure.Title)
		case verified:
			return l.ID, nil
		}
		begun = begun || l.Open() && slices.Contains(l.HoldsEquipment(), item.Equipment)
	}
	if begun {
		return "", plain.Refuse(procedures.Clause("(d)(6)"),
			"this is checked under lock. Put your own lock on, take the lockout through to verified or verify it again, then answer.")
	}
	return "", plain.Refuse(procedures.Clause("(d)"),
		"this is checked under lock. Begin a lockout of this machine, put your own lock on and verify it, then answer.")
}

// inRunCheck finds the run check the person answered the item in when it was seen.
// A stop the person found on the way doesn't end it: what was seen in it besides is
// still told.
func (f Facts) inRunCheck(item Item, by procedures.Person, seen, now time.Time) (RunCheckID, error) {
	ended := false
	for _, r := range f.RunChecks {
		if by.ID == "" || r.Person != by.ID || !r.inForce(seen) || !slices.Contains(r.Equipment, item.Equipment) {
			continue
		}
		for _, h := range tidyHolds(f.holds(now)[item.Equipment]) {
			if barsRunCheck(h) && !(h.Kind == HeldByFinding && h.By == by.ID) {
				return "", plain.Refuse("", "%s needs the machine turning, and it is held. %s %s", string(item.ID), h.Reason, h.Clears)
			}
		}
		if !f.ended(r, item.Equipment, now) {
			return r.ID, nil
		}
		ended = true
	}
	if ended {
		return "", plain.Refuse("", "%s needs the machine turning. Your run check ended when its check was signed, a lockout begun or a stop raised; look at the machine and ask for a new one.", string(item.ID))
	}
	return "", plain.Refuse("", "%s needs the machine turning. Ask for a run check in your name first; it lasts %d minutes.",
		string(item.ID), int(RunCheckLasts/time.Minute))
}

func (r RunCheck) inForce(now time.Time) bool { return !now.Before(r.From) && now.Before(r.Until) }
