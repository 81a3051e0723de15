// Package checklists holds the rules of checking: what is checked at a mill,
// when it falls due, what was found and what follows from it. From these and
// from the lockouts under way it derives whether each piece of equipment may
// run. It computes only with what it is given: no storage, no clock, no network.
package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// MillID names one mill; every row and every log carries it.
type MillID string

// Units is the system of units a mill's screens show.
type Units string

const (
	InchPound Units = "inch-pound"
	Metric    Units = "metric"
)

// Mill is what holds for the mill as a whole.
type Mill struct {
	ID     MillID    `json:"id"`
	Name   string    `json:"name"`
	Zone   string    `json:"zone"` // IANA name, "America/New_York"
	Units  Units     `json:"units"`
	SetUp  SetUp     `json:"set_up"`
	Shifts []Shift   `json:"shifts"`
	Closed []Closure `json:"closed"`
	// SingleHanded: one person works here alone and says so. Returns to
	// service without a second person are then possible and marked for good.
	SingleHanded bool `json:"single_handed"`
	// Kinds are the names, common or scientific, of the kinds of wood sawn here;
	// none: the mill has no list of its own.
	Kinds []string `json:"kinds,omitempty"`
	// Zones are later changes of zone, by their instants; before the first, Zone holds.
	Zones []ZoneFrom `json:"zones,omitzero"`
	// MinorsAllowed: a supervisor has signed that the law here lets people under 18
	// work at the machines; see [procedures.MinorRule].
	MinorsAllowed bool `json:"minors_allowed,omitzero"`
}

// ZoneFrom is a change of the mill's time zone: it moved, or its law did.
type ZoneFrom struct {
	Zone string    `json:"zone"` // IANA name
	From time.Time `json:"from"`
}

// SetUp is what the mill answered about its machine; starter lists, procedures
// and the plant follow from it.
type SetUp struct {
	Law               string `json:"law"`   // "us-federal", "us-state", "canada", "uk", "other", "farm"
	Drive             string `json:"drive"` // "electric", "engine", "tractor-shaft"
	Feed              string `json:"feed"`  // "mandrel", "own-motor", "hydraulic", "hand"
	Dogs              string `json:"dogs"`  // "hand", "power"
	Headblocks        int    `json:"headblocks"`
	EntryPoints       int    `json:"entry_points"` // ways a person could walk into the carriage's travel
	Hoist             string `json:"hoist"`        // "electric", "hand-chain"
	Collector         string `json:"collector"`    // "none", "cyclone", "bag-house", "open-bag"
	Portable          bool   `json:"portable"`
	IsolatorCutsPower bool   `json:"isolator_cuts_power"`  // a saw isolator also cuts this server's power
	Setworks          string `json:"setworks,omitzero"`    // "hand", "powered"; "" is not asked yet, and by hand
	OffBearing        string `json:"off_bearing,omitzero"` // "none", "powered": rolls, conveyor, blower; "" is not asked yet, and none

	SawDiameter  plain.Metres `json:"saw_diameter"`  // largest head saw in use; 0 if not stated
	SpindleSpeed float64      `json:"spindle_speed"` // of the head saw, rpm; 0 if not stated
}

// Shift is a daily span of work in the mill's zone. An End at or before Start
// is on the next day.
type Shift struct {
	Name  string         `json:"name"`
	Start int            `json:"start"` // minutes after local midnight
	End   int            `json:"end"`
	Days  []time.Weekday `json:"days"`

	People []procedures.PersonID `json:"people,omitzero"` // expected to do its checks; none: anyone
}

// SawnHere are the kinds of wood of the mill's own list, as published; nil where
// it has none, or where one of them is not in the table any more: what stands in
// for a kind nobody knows is then the heaviest of the whole table.
func (m Mill) SawnHere() []lift.Species {
	var kinds []lift.Species
	for _, name := range m.Kinds {
		kind, known := lift.FindSpecies(name)
		if !known {
			return nil
		}
		kinds = append(kinds, kind)
	}
	return kinds
}

// Plant is the equipment tree that follows from the set-up answers; see
// procedures.StarterPlant.
type Plant = procedures.Plant
