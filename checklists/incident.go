package checklists

import (
	"time"

	"stillsaw/procedures"
)

// IncidentID names one incident.
type IncidentID string

// IncidentKind is what came of what happened.
type IncidentKind string

const (
	NearMiss IncidentKind = "near-miss" // nobody hurt and nothing broken, this time
	Hurt     IncidentKind = "hurt"
	Damage   IncidentKind = "damage"
)

// Known tells whether k is one of the kinds.
func (k IncidentKind) Known() bool { return k == NearMiss || k == Hurt || k == Damage }

// Harm is the worst that came to somebody hurt, as far as it is known. The zero
// value is not known.
type Harm string

const (
	HarmNotKnown Harm = ""
	FirstAid     Harm = "first-aid"
	Treated      Harm = "treated"  // by a doctor, not kept in hospital
	Hospital     Harm = "hospital" // taken in as an in-patient
	Amputation   Harm = "amputation"
	EyeLost      Harm = "eye"
	Death        Harm = "death"
)

// Known tells whether h is one of the values, not known among them.
func (h Harm) Known() bool {
	switch h {
	case HarmNotKnown, FirstAid, Treated, Hospital, Amputation, EyeLost, Death:
		return true
	}
	return false
}

// Holding is how an incident holds its equipment. The zero value holds it.
type Holding string

const (
	HoldByStop      Holding = "" // a stop defect: until looked at, mended and returned to service
	HoldByDeparture Holding = "departure"
	HoldNothing     Holding = "nothing"
)

// Incident is somebody hurt, something broken, or nearly so. It is entered by
// anyone of the mill and closed by a supervisor once what followed from it is
// done; it stays on the record.
type Incident struct {
	ID        IncidentID             `json:"id"`
	Kind      IncidentKind           `json:"kind"`
	Equipment procedures.EquipmentID `json:"equipment"`
	Happened  time.Time              `json:"happened"`
	Where     string                 `json:"where"`
	What      string                 `json:"what"`
	Present   string                 `json:"present"` // names of those who were there
	Harmed    string                 `json:"harmed"`  // names of those hurt, with what
	Harm      Harm                   `json:"harm"`
	Photo     string                 `json:"photo"`
	By        procedures.PersonID    `json:"by"` // who entered it
	At        time.Time              `json:"at"`

	// What it holds its equipment by, "" for nothing.
	Defect    DefectID    `json:"defect,omitzero"`
	Departure DepartureID `json:"departure,omitzero"`

	// What harm was learnt of after it was entered: who entered that, when, and
	// since when it was known at the mill; see [Incident.Learned].
	HarmBy    procedures.PersonID `json:"harm_by,omitzero"`
	HarmAt    time.Time           `json:"harm_at,omitzero"`
	HarmKnown time.Time           `json:"harm_known,omitzero"`

	ClosedBy procedures.PersonID `json:"closed_by,omitzero"`
	ClosedAt time.Time           `json:"closed_at,omitzero"`
	Reason   string              `json:"reason,omitzero"`
}

// Open tells whether no supervisor has closed the incident yet.
func (i Incident) Open() bool { return i.ClosedAt.IsZero() }

// IncidentActionID names one thing to be done after an incident.
type IncidentActionID string

// IncidentAction is one thing to be done after an incident, by whom and when.
type IncidentAction struct {
	ID        IncidentActionID       `json:"id"`
	Incident  IncidentID             `json:"incident"`
	Equipment procedures.EquipmentID `json:"equipment"` // of the incident
	What      string                 `json:"what"`
	Person    procedures.PersonID    `json:"person"`
	Due       time.Time              `json:"due"`
	By        procedures.PersonID    `json:"by"`
	At        time.Time              `json:"at"`

	DoneBy procedures.PersonID `json:"done_by,omitzero"`
	DoneAt time.Time           `json:"done_at,omitzero"`
	Done   string              `json:"done,omitzero"` // what was done
}

// Open tells whether nobody has reported it done.
func (a IncidentAction) Open() bool { return a.DoneAt.IsZero() }

// Overdue tells whether it is not done and its day is over.
func (a IncidentAction) Overdue(now time.Time) bool { return a.Open() && !now.Before(a.Due) }
