package checklists

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// ReminderState is how pressing a reminder is. The zero value is the gravest.
type ReminderState int

const (
	ReminderOverdue ReminderState = iota // its time is over, or it is not known that it was done
	ReminderDue                          // its time has come
	ReminderLapsing                      // it runs out soon
	ReminderLater                        // known, and not yet to be spoken of
)

// Words is one word for it.
func (s ReminderState) Words() plain.Sentence {
	switch s {
	case ReminderDue:
		return plain.Say("due")
	case ReminderLapsing:
		return plain.Say("lapsing")
	case ReminderLater:
		return plain.Say("later")
	}
	return plain.Say("overdue")
}

// ReminderKind is what a reminder is about.
type ReminderKind string

const (
	AboutList      ReminderKind = "list"
	AboutDefect    ReminderKind = "defect"
	AboutAction    ReminderKind = "incident-action"
	AboutSafety    ReminderKind = "safety"
	AboutGear      ReminderKind = "gear"
	AboutProcedure ReminderKind = "procedure"
	AboutTraining  ReminderKind = "training"
	AboutPerson    ReminderKind = "person" // a qualification, or a deputy's time
	AboutCard      ReminderKind = "card"
	AboutBackup    ReminderKind = "backup"
)

// How long before its time a lapse and a defect with a date are spoken of. Common
// practice, no source.
const (
	lapsesWithin    = 30 * 24 * time.Hour
	spokenOfDefects = 7 * 24 * time.Hour
)

// Reminder is one thing somebody has to see to.
type Reminder struct {
	Kind    ReminderKind
	Subject string // what the page of it is found by: a list, a defect, a person
	Part    string // of the subject: a shift's start, a link, a work; "" for none
	What    plain.Sentence
	State   ReminderState

	// From is when it may first be done, Due when it is over; either may be zero.
	// AllDay: Due is a moment of the last day on which it is in time, and the time
	// of day means nothing.
	From, Due time.Time
	AllDay    bool

	People  []procedures.PersonID // who is concerned; none: anyone of Role
	Role    procedures.Role       // Supervisor takes deputies in; "" is anyone of the crew
	Private bool                  // about what is kept of a person: for those people and supervisors only
}

// ID names the reminder: the same thing of the same thing has it again.
func (r Reminder) ID() string {
	return strings.Join([]string{string(r.Kind), r.Subject, r.Part}, "/")
}

// Concerns tells whether the reminder is for p. Readers see to nothing.
func (r Reminder) Concerns(p procedures.Person) bool {
	switch {
	case !p.Works():
		return false
	case len(r.People) > 0 && slices.Contains(r.People, p.ID):
		return true
	case r.Role == procedures.Supervisor:
		return p.Supervises()
	case len(r.People) > 0:
		return false
	}
	return r.Role == "" || r.Role == p.Role
}

// ShownTo tells whether p may read it.
func (r Reminder) ShownTo(p procedures.Person) bool {
	return !p.Left && (!r.Private || p.Supervises() || r.Concerns(p))
}

// GearDue is when a part of a rig is to be inspected next; a zero Due is not known.
type GearDue struct {
	Rig, RigName   string
	Link, LinkName string
	Due            time.Time
}

// ProcedureDue is when a procedure is to be inspected next.
type ProcedureDue struct {
	ID    procedures.ProcedureID
	Title string
	Due   procedures.InspectionDue
}

// Remindable is everything reminders follow from, as loaded at one moment.
type Remindable struct {
	Facts      Facts
	Actions    []IncidentAction // not yet done
	Safety     []SafetyItem
	Looks      []SafetyCheck // at these items
	Gear       []GearDue     // of rigs in force
	Procedures []ProcedureDue
	Trainings  []procedures.Training
	Card       EmergencyCard
	Backups    []BackupDue
}

// Ahead lists all that is to be seen to, now or at a known later time: the
// overdue first, then what is due, what lapses and what comes later, each by its
// time.
func (r Remindable) Ahead(now time.Time) []Reminder {
	var all []Reminder
	all = append(all, r.lists(now)...)
	all = append(all, r.unsigned(now)...)
	all = append(all, r.defects(now)...)
	all = append(all, r.actions(now)...)
	all = append(all, r.safety(now)...)
	all = append(all, r.gear(now)...)
	all = append(all, r.procedures(now)...)
	all = append(all, r.trainings(now)...)
	all = append(all, r.people(now)...)
	all = append(all, r.card(now)...)
	all = append(all, r.backups(now)...)
	slices.SortStableFunc(all, func(a, b Reminder) int {
		if order := int(a.State) - int(b.State); order != 0 {
			return order
		}
		if order := a.when().Compare(b.when()); order != 0 {
			return order
		}
		return strings.Compare(a.ID(), b.ID())
	})
	return all
}

// Reminders lists what is overdue, due or lapsing at now, sorted as
// [Remindable.Ahead] sorts.
func (r Remindable) Reminders(now time.Time) []Reminder {
	return slices.DeleteFunc(r.Ahead(now), func(one Reminder) bool { return one.State == ReminderLater })
}

// when sorts a reminder: by its end, or where none is known by its start.
func (r Reminder) when() time.Time {
	if r.Due.IsZero() {
		return r.From
	}
	return r.Due
}

// Overdue are those of all that are overdue.
func Overdue(all []Reminder) []Reminder {
	var over []Reminder
	for _, one := range all {
		if one.State == ReminderOverdue {
			over = append(over, one)
		}
	}
	return over
}

// lapsing is the state of what holds until the end of a day.
func lapsing(until, now time.Time) ReminderState {
	switch {
	case !now.Before(until):
		return ReminderOverdue
	case now.Add(lapsesWithin).Before(until):
		return ReminderLater
	}
	return ReminderLapsing
}

// lastDay is a moment of the last day before until, the first that is over.
func lastDay(until time.Time) time.Time { return until.Add(-time.Minute) }
