package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// AnswerLasts is how long after it was seen an answer to a list of each shift
// may still be signed, so that a draft of yesterday doesn't pass for today.
// Common practice, no source.
const AnswerLasts = 12 * time.Hour

// Complete turns the answers of a walk, each taken by [Take], into a signed
// inspection and a defect for each thing found. Answers stand in the order of
// the list; of two to one item the later one counts. ids makes a new id for the
// inspection and for each defect; an answer to an item that turned out not to be
// asked, its condition not met, is kept all the same. open is the mill's open defects, of which none
// is made a second time unless it was found to stop its machine sooner: [Defect.Covers].
//
// Its errors are a [plain.Problems] whose field is the id of an item left out
// or not acceptable, "began" for a start after the end, or a [plain.Refusal]
// for a signer who may not check. Nothing is completed with an answer missing.
func Complete(list List, answers []Answer, signer procedures.Person, ids func() string, mill Mill, began, now, phone time.Time, open []Defect) (Inspection, []Defect, error) {
	if !signer.Works() {
		return Inspection{}, nil, plain.Refuse("", "Only somebody of the crew signs a check. Sign in as yourself.")
	}
	if !list.inForce(began) && !list.inForce(now) {
		return Inspection{}, nil, plain.Refuse("", "This version of the list is a draft or not yet in force; it can't be signed.")
	}
	var bad plain.Problems
	bad.Unless(!began.IsZero() && !began.After(now), "began", "a time before now")
	given := latest(answers, now)
	askings := list.Askings(given)
	kept := make([]Answer, 0, len(list.Items))
	asked := 0
	for _, item := range list.Asks() {
		answer, answered := given[item.ID]
		if !answered && askings[item.ID] == NotAsked {
			continue
		}
		asked++
		if !answered {
			bad.Unless(false, string(item.ID), "an answer: OK, defect or not checked")
			continue
		}
		bad.Add(string(item.ID), item.stands(answer))
		bad.Unless(fresh(list, mill, answer.At, now), string(item.ID), "to be answered again: this was checked at %s, too long ago", answer.At)
		kept = append(kept, answer)
	}
	bad.Unless(asked > 0, "items", "a list that asks something")
	if err := bad.Err(); err != nil {
		return Inspection{}, nil, err
	}
	in := Inspection{
		ID: InspectionID(ids()), List: list.ID, Version: list.Version, Title: list.Title,
		Answers: kept, Signer: signer.ID, Began: began, At: now, Phone: phone,
	}
	if list.Schedule.Every == EachShift {
		in.Late = Due(list, mill, nil, now).Status == IsLate
	}
	return in, defectsOf(list, kept, in.ID, ids, open), nil
}

// latest is the last answer to each item, none of them from the future.
func latest(answers []Answer, now time.Time) map[ItemID]Answer {
	given := make(map[ItemID]Answer, len(answers))
	for _, a := range answers {
		if before, twice := given[a.Item]; a.At.After(now) || twice && before.At.After(a.At) {
			continue
		}
		given[a.Item] = a
	}
	return given
}

// stands returns nil or a [plain.Problems] with what the answer, taken earlier,
// lacks to stand for the item: fields "" for the answer as a whole, ".note" and
// the like for a part of it.
func (i Item) stands(a Answer) error {
	var bad plain.Problems
	bad.Add(".", i.Accepts(a))
	bad.Unless(a.By != "" && !a.At.IsZero(), "", "to be answered again: who answered, or when, is not known")
	if a.Result != NotChecked {
		bad.Unless(i.State != LockedOut || a.Under != "", "", "to be answered under a verified lockout")
		bad.Unless(i.State != Running || a.Run != "", "", "to be answered in a run check")
	}
	return bad.Err()
}

// fresh tells whether what was seen at that time may be signed now: seen within
// [AnswerLasts], or for a list of a calendar period within the same period.
func fresh(list List, mill Mill, seen, now time.Time) bool {
	if seen.After(now) {
		return false
	}
	if now.Sub(seen) <= AnswerLasts {
		return true
	}
	w, err := mill.wall()
	return err == nil && w.period(list.Schedule.Every, now, 0).holds(seen)
}

// Overtaken tells whether an inspection begun then with this version of a list is
// not to be signed any more: a later version is in force, and it was begun more
// than [AnswerLasts] ago. Until then an inspection under way keeps its version.
func (f Facts) Overtaken(walked List, began, now time.Time) bool {
	for _, l := range f.Lists {
		if l.ID == walked.ID && l.inForce(now) && l.Version > walked.Version {
			return now.Sub(began) > AnswerLasts
		}
	}
	return false
}

// Carried is an answer of an inspection that was begun anew: all that was typed,
// and nothing of when and under what it was seen. It is not signed before it is
// given again.
func (a Answer) Carried() Answer {
	a.At, a.Under, a.Run = time.Time{}, "", ""
	return a
}

// defectsOf makes a defect for each thing found that is not known already.
func defectsOf(list List, answers []Answer, in InspectionID, ids func() string, open []Defect) []Defect {
	var found []Defect
	for _, a := range answers {
		item, known := list.Item(a.Item)
		if !known || a.Result != Found {
			continue
		}
		if known, stands := KnownDefect(open, list.ID, item); stands && known.Covers(a) {
			continue
		}
		found = append(found, Defect{
			ID: DefectID(ids()), Equipment: item.Equipment, Inspection: in, List: list.ID, Item: item.ID,
			What: a.Note, Severity: a.Severity, StopGap: a.StopGap, MendBy: a.MendBy,
			Photo: a.Photo, By: a.By, At: a.At,
		})
	}
	return found
}

// KnownDefect is the defect that stands open and unmended on an item from an
// earlier check: found again it is the same one, unless it has got worse, see
// [Defect.Covers]. Of several it is the one that stops, or stops first.
func KnownDefect(open []Defect, list ListID, item Item) (known Defect, stands bool) {
	for _, d := range open {
		if d.List != list || d.Item != item.ID || d.Equipment != item.Equipment || !d.Open() || d.AwaitsReturn() {
			continue
		}
		if !stands || !known.stopsNoLater(d) {
			known, stands = d, true
		}
	}
	return known, stands
}

// Covers tells whether the defect, found again as the answer says, is still the
// one defect. A mend that became stop is another, and so is one that is signed to
// be mended by an earlier date, with its own stop-gap: a date somebody set after
// looking at it again counts. A later date puts nothing off, that is for
// [Defect.Redate].
func (d Defect) Covers(again Answer) bool {
	return d.stopsNoLater(Defect{Severity: again.Severity, MendBy: again.MendBy})
}

func (d Defect) stopsNoLater(than Defect) bool {
	return d.Severity != Mend || than.Severity == Mend && !than.MendBy.Before(d.MendBy)
}
