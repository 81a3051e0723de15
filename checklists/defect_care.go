package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// LongestDue is how far ahead somebody may be asked to see to a defect. Common
// practice, no source: a date further off is a slip of the hand.
const LongestDue = 365 * 24 * time.Hour

// Assign asks to to see to the defect by due. A supervisor or deputy asks
// anybody of the crew; anybody of the crew takes it on for themselves. It holds
// or frees nothing. Its error is a [plain.Problems] for "assigned" and "due", or
// a [plain.Refusal].
func (d Defect) Assign(by, to procedures.Person, due, now time.Time) (Defect, error) {
	if !by.Supervises() && (!by.Works() || by.ID != to.ID) {
		return Defect{}, plain.Refuse("", "The supervisor or the deputy says who sees to it. You may take it on yourself.")
	}
	if err := d.beforeMending(now); err != nil {
		return Defect{}, err
	}
	var bad plain.Problems
	bad.Unless(to.ID != "" && to.Works(), "assigned", "somebody of the crew")
	bad.Unless(due.After(now) && due.Sub(now) <= LongestDue, "due", "a day to come, within a year")
	if d.Severity == Mend && d.MendBy.After(now) {
		bad.Unless(!due.After(d.MendBy), "due", "no later than %s, when it stops the machine", d.MendBy)
	}
	if err := bad.Err(); err != nil {
		return Defect{}, err
	}
	d.Assigned, d.Due = to.ID, due
	return d, nil
}

// beforeMending refuses what is only done to a defect that nobody has mended yet.
func (d Defect) beforeMending(now time.Time) error {
	switch {
	case !d.Open():
		return plain.Refuse("", "This is back in service already. Found wrong again, it is a new defect.")
	case d.AwaitsReturn():
		return plain.Refuse("", "This is mended already and waits for return to service.")
	case now.Before(d.At):
		return plain.Refuse("", "The clock stands before the time this was found. Set the clock right first.")
	}
	return nil
}

// NewDate is a defect given another date from which it stops its machine, with
// the date it had and why.
type NewDate struct {
	Defect Defect    `json:"defect"`
	Was    time.Time `json:"was"`
	Reason string    `json:"reason"`
}

// Redate gives a defect that may run with a stop-gap another date after which it
// is stop, on the word of the supervisor or deputy. A later one is a loosening
// and needs a reason and the stop-gap said again, and lies no more than
// [LongestStopGap] after it was found; an earlier one needs neither. Once the
// date is reached the defect is stop and ends by mending alone.
//
// Its error is a [plain.Problems] for "mend_by", "stop_gap" and "reason", or a
// [plain.Refusal].
func (d Defect) Redate(by procedures.Person, mendBy time.Time, stopGap, reason string, now time.Time) (NewDate, error) {
	if !by.Supervises() {
		return NewDate{}, plain.Refuse("", "The supervisor or the deputy changes the date.")
	}
	if err := d.beforeMending(now); err != nil {
		return NewDate{}, err
	}
	if d.StopsNow(now) {
		return NewDate{}, plain.Refuse("", "This stops the machine now. It ends by mending and return to service, not by another date.")
	}
	stopGap, reason = strings.TrimSpace(stopGap), strings.TrimSpace(reason)
	later := mendBy.After(d.MendBy)
	var bad plain.Problems
	bad.Unless(mendBy.After(now) && mendBy.Sub(d.At) <= LongestStopGap, "mend_by", "a date to come, within a year of when it was found")
	bad.Unless(!mendBy.Equal(d.MendBy), "mend_by", "another date than %s", d.MendBy)
	bad.Unless(tidy(stopGap, LongestNote) && (stopGap != "" || !later), "stop_gap", "what makes it fit to run until then, looked at again")
	bad.Unless(tidy(reason, LongestNote) && (reason != "" || !later), "reason", "why it can wait longer")
	if err := bad.Err(); err != nil {
		return NewDate{}, err
	}
	n := NewDate{Defect: d, Was: d.MendBy, Reason: reason}
	n.Defect.MendBy = mendBy
	if stopGap != "" {
		n.Defect.StopGap = stopGap
	}
	if n.Defect.Due.After(mendBy) {
		n.Defect.Due = mendBy
	}
	return n, nil
}

// NoteKind is what a note to a defect is about.
type NoteKind string

const (
	Noted   NoteKind = "note"
	Ordered NoteKind = "ordered" // a part was ordered
	Arrived NoteKind = "arrived" // a part came
	Used    NoteKind = "used"    // a part was put in
)

// Known tells whether k is one of the kinds.
func (k NoteKind) Known() bool { return k == Noted || k == Ordered || k == Arrived || k == Used }

// DefectNoteID names one note to a defect.
type DefectNoteID string

// DefectNote is a line in the log of a defect. It holds and frees nothing.
type DefectNote struct {
	ID        DefectNoteID           `json:"id"`
	Defect    DefectID               `json:"defect"`
	Equipment procedures.EquipmentID `json:"equipment"`
	Kind      NoteKind               `json:"kind"`
	Text      string                 `json:"text"` // which part, how many, from whom; or a note
	Photo     string                 `json:"photo"`
	By        procedures.PersonID    `json:"by"`
	At        time.Time              `json:"at"`
}

// Note adds a line to the defect's log, also once it is back in service: a part
// may be written down afterwards. Its error is a [plain.Problems] for "kind" and
// "text", or a [plain.Refusal].
func (d Defect) Note(id DefectNoteID, kind NoteKind, text, photo string, by procedures.Person, now time.Time) (DefectNote, error) {
	if !by.Works() {
		return DefectNote{}, plain.Refuse("", "Only somebody of the crew writes to the log of a defect. Sign in as yourself.")
	}
	text = strings.TrimSpace(text)
	var bad plain.Problems
	bad.Unless(kind.Known(), "kind", "a note, or a part ordered, come in or used")
	bad.Unless(worded(text, LongestNote), "text", "which part and how many, or what is to be noted, in at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return DefectNote{}, err
	}
	return DefectNote{ID: id, Defect: d.ID, Equipment: d.Equipment, Kind: kind, Text: text, Photo: photo, By: by.ID, At: now}, nil
}

// Overdue tells whether the defect is not mended and the day somebody was to see
// to it, or the date from which it is stop, is over.
func (d Defect) Overdue(now time.Time) bool {
	if !d.MendedAt.IsZero() || !d.Open() {
		return false
	}
	return !d.Due.IsZero() && !now.Before(d.Due) || d.Severity == Mend && !now.Before(d.MendBy)
}

// OpenFor is how long the defect has been open, or was until its return.
func (d Defect) OpenFor(now time.Time) time.Duration {
	if !d.Open() {
		now = d.ReturnedAt
	}
	return max(0, now.Sub(d.At))
}
