package procedures

import (
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// InspectionWarning is how long before its day an inspection of a procedure is
// announced. Common practice, no source.
const InspectionWarning = 30 * 24 * time.Hour

// DueState is how a procedure stands with its yearly inspection. The zero value
// is overdue.
type DueState int

const (
	DueOverdue   DueState = iota
	DueAtNextUse          // a year is over and it wasn't used since: inspected when it is next used
	DueSoon
	DueLater
)

// InspectionDue is when a procedure is to be inspected next.
type InspectionDue struct {
	By    time.Time
	State DueState
}

// NextInspection returns when p is due, 29 CFR 1910.147(c)(6)(i): a year after
// the newest inspection, or where there is none after its first version was
// put in force. used is when lockouts by it began. A procedure not used since
// is due at its next use, as the agency has held for rare use.
func NextInspection(p ProcedureID, inForce time.Time, all []ProcedureInspection, used []time.Time, now time.Time) InspectionDue {
	since := inForce
	for _, in := range all {
		if in.Procedure == p && in.On.After(since) && !in.On.After(now) {
			since = in.On
		}
	}
	due := InspectionDue{By: plain.MonthsOn(since, 12)}
	switch {
	case now.Add(InspectionWarning).Before(due.By):
		due.State = DueLater
	case now.Before(due.By):
		due.State = DueSoon
	case !usedAfter(since, used):
		due.State = DueAtNextUse
	}
	return due
}

func usedAfter(since time.Time, used []time.Time) bool {
	for _, at := range used {
		if at.After(since) {
			return true
		}
	}
	return false
}

// Words says how it stands.
func (d InspectionDue) Words() plain.Sentence {
	switch d.State {
	case DueLater:
		return plain.Say("due for its yearly inspection on %s", plain.Day(d.By))
	case DueSoon:
		return plain.Say("due soon for its yearly inspection, on %s", plain.Day(d.By))
	case DueAtNextUse:
		return plain.Say("a year is over and it wasn't used since: have it inspected at its next use")
	}
	return plain.Say("overdue for its yearly inspection since %s", plain.Day(d.By))
}

// ActionDone is somebody reporting that what an inspection of a procedure found
// is seen to, (c)(6)(i)(B).
type ActionDone struct {
	Inspection ProcedureInspectionID `json:"inspection"`
	Finding    int                   `json:"finding"` // its place in the certificate, from 0
	Note       string                `json:"note"`
	By         PersonID              `json:"by"`
	At         time.Time             `json:"at"`
}

// Action is a finding still to be seen to.
type Action struct {
	Inspection ProcedureInspectionID
	Procedure  ProcedureID
	At         int // the finding's place
	Finding    Finding
	Late       bool
}

// OpenActions returns what all's findings still ask for, in their order.
func OpenActions(all []ProcedureInspection, done []ActionDone, now time.Time) []Action {
	over := map[ProcedureInspectionID]map[int]bool{}
	for _, d := range done {
		if over[d.Inspection] == nil {
			over[d.Inspection] = map[int]bool{}
		}
		over[d.Inspection][d.Finding] = true
	}
	var open []Action
	for _, in := range all {
		for i, f := range in.Findings {
			if !over[in.ID][i] {
				open = append(open, Action{in.ID, in.Procedure, i, f, now.After(f.Due)})
			}
		}
	}
	return open
}

// SeeTo returns d as by reports it at now for a finding of in. Its errors are
// a [plain.Problems] for "note", or a [plain.Refusal].
func (d ActionDone) SeeTo(in ProcedureInspection, done []ActionDone, by Person, now time.Time) (ActionDone, error) {
	clause := Clause("(c)(6)(i)(B)")
	if d.Finding < 0 || d.Finding >= len(in.Findings) {
		return ActionDone{}, plain.Refuse(clause, "That inspection has no such finding.")
	}
	if !by.Works() || by.ID != in.Findings[d.Finding].Owner && !by.Supervises() {
		return ActionDone{}, plain.Refuse(clause, "Whoever it was given to, or a supervisor, reports it seen to.")
	}
	for _, other := range done {
		if other.Inspection == in.ID && other.Finding == d.Finding {
			return ActionDone{}, plain.Refuse(clause, "This was reported seen to already.")
		}
	}
	d.Note = strings.TrimSpace(d.Note)
	d.Inspection, d.By, d.At = in.ID, by.ID, now
	var bad plain.Problems
	bad.Unless(d.Note != "" && len(d.Note) <= longestText, "note", "what was done about it")
	if err := bad.Err(); err != nil {
		return ActionDone{}, err
	}
	return d, nil
}
