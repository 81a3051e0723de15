package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

const liftingClause = "29 CFR 1910.265(c)(24)(iii)"

// Raise stops a piece of equipment on the word of anyone, also somebody not
// signed in (by is then ""): it is a stop defect from now. What is wrong may be
// left unsaid. Its error is a [plain.Problems] for "equipment", "what".
func Raise(id DefectID, equipment procedures.EquipmentID, what, photo string, by procedures.PersonID, plant procedures.Plant, now time.Time) (Defect, error) {
	var bad plain.Problems
	_, known := plant.Find(equipment)
	bad.Unless(known, "equipment", "a piece of equipment of this mill")
	what = strings.TrimSpace(what)
	bad.Unless(tidy(what, LongestNote), "what", "at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return Defect{}, err
	}
	return Defect{ID: id, Equipment: equipment, What: what, Severity: Stop, Photo: photo, By: by, At: now}, nil
}

// Open tells whether the defect is not yet returned to service.
func (d Defect) Open() bool { return d.ReturnedAt.IsZero() }

// AwaitsReturn tells whether it is mended and nobody has returned it yet.
func (d Defect) AwaitsReturn() bool { return d.Open() && !d.MendedAt.IsZero() }

// StopsNow tells whether the defect keeps its equipment from running: until
// its return, if it is stop, or a mend whose date is reached or was never set.
func (d Defect) StopsNow(now time.Time) bool {
	return d.Open() && (d.Severity != Mend || !now.Before(d.MendBy))
}

// stoppedAfter tells whether the defect still kept its equipment from running
// at some moment after that time and up to now.
func (d Defect) stoppedAfter(at, now time.Time) bool {
	until := d.MendedAt
	if until.IsZero() || until.After(now) {
		until = now
	}
	return (until.After(at) || d.MendedAt.IsZero()) && (d.Severity != Mend || !until.Before(d.MendBy))
}

// Mended notes that somebody of the crew mended it, with a note of what was
// done and a photo if there is one. The equipment stays held until [Defect.Return].
// Its error is a [plain.Problems] for "note", or a [plain.Refusal].
func (d Defect) Mended(by procedures.Person, note, photo string, now time.Time) (Defect, error) {
	if !by.Works() {
		return Defect{}, plain.Refuse("", "Only somebody of the crew reports mending. Sign in as yourself.")
	}
	if !d.Open() {
		return Defect{}, plain.Refuse("", "This is back in service already. Found wrong again, it is a new defect.")
	}
	if d.AwaitsReturn() {
		return Defect{}, plain.Refuse("", "This is mended already and waits for return to service. If it is not right, raise a new defect.")
	}
	if now.Before(d.At) {
		return Defect{}, plain.Refuse("", "The clock stands before the time this was found. Set the clock right first.")
	}
	note = strings.TrimSpace(note)
	var bad plain.Problems
	bad.Unless(worded(note, LongestNote), "note", "what was done, in at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return Defect{}, err
	}
	d.MendedBy, d.MendedAt, d.MendNote, d.MendPhoto = by.ID, now, note, photo
	return d, nil
}

// Return puts a mended defect's equipment back in service on the word of a
// second person: somebody of the crew other than the mender. At a mill declared
// single-handed the mender may, having answered the item OK again and turned
// the machine in a run check, both after mending, with a photo of the mend and
// of the recheck; it is then marked NoSecond for good. A hoist always needs
// somebody qualified for lifting gear, 29 CFR 1910.265(c)(24)(iii).
//
// Its error is a [plain.Refusal], or a [plain.Problems] for "note".
func (d Defect) Return(by procedures.Person, mill Mill, plant procedures.Plant, recheck Recheck, now time.Time) (Defect, error) {
	if err := d.mayReturn(by, plant, now); err != nil {
		return Defect{}, err
	}
	note := strings.TrimSpace(recheck.Note)
	var bad plain.Problems
	bad.Unless(tidy(note, LongestNote), "note", "at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return Defect{}, err
	}
	if by.ID == d.MendedBy {
		if !mill.SingleHanded {
			return Defect{}, plain.Refuse("", "You mended it, so somebody else returns it to service: another person, not another role.")
		}
		if err := d.aloneRecheck(by, recheck, now); err != nil {
			return Defect{}, err
		}
		d.NoSecond = true
	}
	d.ReturnedBy, d.ReturnedAt, d.ReturnNote = by.ID, now, note
	return d, nil
}

func (d Defect) mayReturn(by procedures.Person, plant procedures.Plant, now time.Time) error {
	if !by.Works() {
		return plain.Refuse("", "Only somebody of the crew returns a machine to service. Sign in as yourself.")
	}
	if !d.Open() {
		return plain.Refuse("", "This is back in service already.")
	}
	if !d.AwaitsReturn() || d.MendedBy == "" {
		return plain.Refuse("", "This is not mended yet. Report the mending first, with what was done.")
	}
	if now.Before(d.MendedAt) {
		return plain.Refuse("", "The clock stands before the time this was mended. Set the clock right first.")
	}
	equipment, known := plant.Find(d.Equipment)
	if !known {
		return plain.Refuse("", "It is not known what kind of equipment this is on. The supervisor puts the equipment in order first.")
	}
	if equipment.Kind == procedures.Hoist && !by.LiftingAt(now) {
		return plain.Refuse(liftingClause, "Lifting gear is returned to service only by somebody recorded as qualified for it.")
	}
	return nil
}

// aloneRecheck is what stands in for the second person at a single-handed mill.
func (d Defect) aloneRecheck(by procedures.Person, recheck Recheck, now time.Time) error {
	after := func(t time.Time) bool { return !t.Before(d.MendedAt) && !t.After(now) }
	a, run := recheck.Answer, recheck.Run
	if a.Result != OK || a.Item != d.Item || a.By != by.ID || !after(a.At) {
		return plain.Refuse("", "Working alone: check the item again after mending and answer it OK.")
	}
	turned := false
	for _, e := range run.Equipment {
		turned = turned || e == d.Equipment
	}
	if run.ID == "" || run.Person != by.ID || !turned || !after(run.From) {
		return plain.Refuse("", "Working alone: after mending, ask for a run check of this machine and turn it.")
	}
	if d.MendPhoto == "" || a.Photo == "" {
		return plain.Refuse("", "Working alone: two photos are needed, one of the mending and one of the check after it.")
	}
	return nil
}

// StandingStop returns the stop by somebody not signed in that already stands on the
// equipment, unmended and with nothing said. Another such stop would hold
// nothing more, so a finger on the button all day fills no record.
func StandingStop(open []Defect, equipment procedures.EquipmentID) (DefectID, bool) {
	for _, d := range open {
		if d.Equipment == equipment && d.By == "" && d.What == "" && d.Photo == "" && d.Open() && !d.AwaitsReturn() {
			return d.ID, true
		}
	}
	return "", false
}
