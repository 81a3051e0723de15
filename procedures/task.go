package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// TaskID names one task.
type TaskID string

// TaskKind says what a task is to 29 CFR 1910.147(a)(2). Hot taps,
// (a)(2)(iii)(B), are no kind of it: a small mill has none, and Stillsaw offers
// no way around a lockout for them.
type TaskKind string

const (
	Production     TaskKind = "production"      // (a)(2)(ii): the machine used for what it is meant to do
	MinorServicing TaskKind = "minor-servicing" // (a)(2)(ii) note: routine, repetitive, part of production, and protected otherwise
	Servicing      TaskKind = "servicing"       // (a)(2)(i), (b): locked out
)

// TaskKinds returns every kind, the one asked for most first.
func TaskKinds() []TaskKind { return []TaskKind{Servicing, Production, MinorServicing} }

// Words names the kind.
func (k TaskKind) Words() plain.Sentence {
	switch k {
	case Production:
		return plain.Say("production")
	case MinorServicing:
		return plain.Say("minor servicing")
	case Servicing:
		return plain.Say("servicing, under lockout")
	}
	return plain.Say("not said: servicing, under lockout")
}

// YesNo answers a question; the zero value is no answer.
type YesNo string

const (
	Yes YesNo = "yes"
	No  YesNo = "no"
)

func (a YesNo) answered() bool { return a == Yes || a == No }

// Task is one job done at the mill's equipment, and how people are kept safe at
// it: 29 CFR 1910.147(a)(2).
type Task struct {
	ID        TaskID        `json:"id"`
	Title     string        `json:"title"`
	Equipment []EquipmentID `json:"equipment"`
	Kind      TaskKind      `json:"kind"`
	// GuardOff: does it take off, open or defeat a guard, shield, splitter or
	// interlock? (a)(2)(ii)(A)
	GuardOff YesNo `json:"guard_off,omitzero"`
	// BodyIn: does any part of the body come into the saw line, the carriage's
	// travel, or under a load? (a)(2)(ii)(B)
	BodyIn YesNo `json:"body_in,omitzero"`
	// The four questions of minor servicing, (a)(2)(ii) note.
	Routine    YesNo `json:"routine,omitzero"`
	Repetitive YesNo `json:"repetitive,omitzero"`
	Integral   YesNo `json:"integral,omitzero"`
	Protected  YesNo `json:"protected,omitzero"` // the measure protects as well as a lock would
	// Measure is what protects where nothing is locked: for production the
	// condition on which it is that.
	Measure   string      `json:"measure,omitzero"`
	By        PersonID    `json:"by,omitzero"`       // the supervisor who answers for its being less than servicing
	Reviewed  time.Time   `json:"reviewed,omitzero"` // when that was last looked at
	Procedure ProcedureID `json:"procedure,omitzero"`
	Note      string      `json:"note,omitzero"`    // what matters beyond the procedure
	Removed   bool        `json:"removed,omitzero"` // taken off the list: servicing again wherever it is done
}

// ReviewOver is when the review of minor servicing no longer counts: after a year.
// Common practice, no source: with the yearly inspection of procedures, (c)(6)(i).
func (t Task) ReviewOver() time.Time { return plain.MonthsOn(t.Reviewed, 12) }

// reviewOver tells whether t was never reviewed, or its review no longer counts.
func (t Task) reviewOver(now time.Time) bool {
	return t.Reviewed.IsZero() || now.Before(t.Reviewed) || !now.Before(t.ReviewOver())
}

// NewTask is a task at that equipment before anything is answered: servicing,
// under lockout, wherever there is an energy, 29 CFR 1910.147(a)(1)(i). Where
// none is registered its kind is still to be said.
func (p Plant) NewTask(id TaskID, title string, equipment ...EquipmentID) Task {
	t := Task{ID: id, Title: title, Equipment: equipment}
	if p.holdsEnergy(equipment) {
		t.Kind = Servicing
	}
	return t
}

// holdsEnergy tells whether any energy can reach somebody at that equipment.
// Where it isn't known, one can.
func (p Plant) holdsEnergy(equipment []EquipmentID) bool {
	if len(equipment) == 0 || slices.ContainsFunc(equipment, p.coversAll) {
		return true
	}
	return slices.ContainsFunc(p.actingOn(equipment), func(id EquipmentID) bool {
		e, _ := p.Find(id)
		return len(e.Energies) > 0
	})
}

// Treated is what t counts as at now: production or minor servicing while every
// answer for that stands, else servicing. An answer missing, a yes where a guard
// comes off or a body goes in, and a review older than a year make it servicing.
func (t Task) Treated(now time.Time) TaskKind {
	if t.Removed || refusedBy(lesserRules(), taskAsked{t: t, now: now}) != nil {
		return Servicing
	}
	return t.Kind
}

// taskAsked is a task and what it is held against.
type taskAsked struct {
	t         Task
	plant     Plant
	published []Procedure
	now       time.Time
}

// Keep returns t as it may be kept, entered by by at now. Less than servicing is
// the supervisor's word, who stands on it with the day. Its error is a
// [plain.Problems] for "title", "equipment", "kind", "guard_off", "body_in",
// "routine", "repetitive", "integral", "protected", "measure" and "procedure",
// or a [plain.Refusal] naming what makes it servicing, with its clause.
func (t Task) Keep(plant Plant, published []Procedure, by Person, now time.Time) (Task, error) {
	if !by.Supervises() {
		return t, plain.Refuse(Clause("(a)(2)"), "A supervisor or deputy says what a task is.")
	}
	t.By, t.Reviewed, t.Removed = "", time.Time{}, false
	if t.Kind != Servicing {
		t.By, t.Reviewed = by.ID, now
	}
	return t, t.validate(plant, published, now)
}

// Remove returns t taken off the list of tasks by by. What was said of it stays
// on the record. Its error is a [plain.Refusal].
func (t Task) Remove(by Person) (Task, error) {
	if !by.Supervises() {
		return t, plain.Refuse(Clause("(a)(2)"), "A supervisor or deputy takes a task off the list.")
	}
	if t.Removed {
		return t, plain.Refuse("", "This task was taken off the list already.")
	}
	t.By, t.Reviewed, t.Removed = "", time.Time{}, true
	return t, nil
}

func (t Task) validate(plant Plant, published []Procedure, now time.Time) error {
	asked := taskAsked{t, plant, published, now}
	if err := problemsBy(taskRules(), asked); err != nil {
		return err
	}
	return refusedBy(lesserRules(), asked)
}

// Validate returns nil or what is wrong with t as it is kept, as [Task.Keep]
// does but for who enters it. A review that is over is not wrong, it makes the
// task servicing: [Task.Treated].
func (t Task) Validate(plant Plant, published []Procedure) error {
	return t.validate(plant, published, t.Reviewed)
}
