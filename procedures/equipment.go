// Package procedures holds the rules of energy control: what equipment a mill
// has and how its parts can move one another, which energies it holds, the
// written procedures that control them, and lockouts under way.
//
// It follows 29 CFR 1910.147. It computes only with what it is given: no
// storage, no clock, no network.
package procedures

import "time"

// EquipmentID names one piece of equipment of a mill.
type EquipmentID string

// EquipmentKind says what a piece of equipment is; starters and checks vary
// with it. The zero value is unknown and refused.
type EquipmentKind string

const (
	Site           EquipmentKind = "site" // the mill as a whole; root of the tree, never itself run
	HeadSaw        EquipmentKind = "head-saw"
	Carriage       EquipmentKind = "carriage"
	DogsAndKnees   EquipmentKind = "dogs-and-knees"
	Hoist          EquipmentKind = "hoist"
	DustCollection EquipmentKind = "dust-collection"
	OffBearing     EquipmentKind = "off-bearing"
	Supply         EquipmentKind = "supply" // engine, generator, compressor, hydraulic pack
)

// Equipment is one node of the mill's equipment tree.
type Equipment struct {
	ID       EquipmentID   `json:"id"`
	PartOf   EquipmentID   `json:"part_of"` // "" only for the site
	Kind     EquipmentKind `json:"kind"`
	Name     string        `json:"name"`
	Energies []Energy      `json:"energies"`
	Devices  []Device      `json:"devices"`
	Links    []Link        `json:"links"`

	// Headblocks are where a carriage's headblocks stand along its track and
	// LandingMark is where a piece's half-length mark is set down, in metres from
	// one zero mark beside the track; none and 0 = not measured.
	Headblocks  []float64 `json:"headblocks,omitempty"`
	LandingMark float64   `json:"landing_mark,omitzero"`
	// Affected are who runs it or works where it is serviced; nil is not said
	// here, an empty list is nobody. See [Plant.AffectedPeople].
	Affected []PersonID `json:"affected,omitzero"`
}

// LinkKind says how one piece of equipment acts on another.
type LinkKind string

const (
	Drives   LinkKind = "drives"   // moving this moves the other, even by hand
	Supplies LinkKind = "supplies" // power, air or oil comes from this
	LandsOn  LinkKind = "lands-on" // this sets loads down on the other
)

// Link goes from the equipment that holds it to another.
type Link struct {
	Kind LinkKind    `json:"kind"`
	To   EquipmentID `json:"to"`
}

// Plant is a mill's whole equipment tree, the site first.
type Plant []Equipment

// EnergyID names one energy source of a piece of equipment, unique in the plant.
type EnergyID string

// EnergyKind is a kind of hazardous energy, 29 CFR 1910.147(b) "energy source",
// with the stored kinds of a mill told apart.
type EnergyKind string

const (
	Electrical EnergyKind = "electrical"
	Rotation   EnergyKind = "rotation" // coasting, windmilling, turned by hand
	Moving     EnergyKind = "moving"   // carriage and load along the track
	Gravity    EnergyKind = "gravity"
	Spring     EnergyKind = "spring"
	Hydraulic  EnergyKind = "hydraulic"
	Pneumatic  EnergyKind = "pneumatic"
	Engine     EnergyKind = "engine" // fuel and starting means
	Shaft      EnergyKind = "shaft"  // tractor power take-off, mandrel drive
	Thermal    EnergyKind = "thermal"
	Strain     EnergyKind = "strain" // bent or growth-stressed wood
	Chemical   EnergyKind = "chemical"
)

// Energy is one source with its size and how it is brought to zero.
type Energy struct {
	ID        EnergyID      `json:"id"`
	Kind      EnergyKind    `json:"kind"`
	Source    string        `json:"source"`    // "saw motor"
	Magnitude string        `json:"magnitude"` // number and unit as the mill states it, "" if not yet measured
	Hazard    string        `json:"hazard"`    // what goes wrong
	Stored    bool          `json:"stored"`    // left over after isolation: needs relief
	Relief    string        `json:"relief"`
	Zero      string        `json:"zero"` // how zero is shown
	Coast     time.Duration `json:"coast"`
	// Recheck: once it is relieved it can build up again, and is proven at zero
	// again at least this often, 29 CFR 1910.147(d)(5)(ii). 0: it can't.
	Recheck time.Duration `json:"recheck,omitzero"`
}

// DeviceID names one energy isolating device, unique in the plant.
type DeviceID string

// DeviceKind is the fixed list of what can isolate. Stop buttons, emergency
// stops, pendants, selector switches, keys alone and clutch levers are control
// devices and are not on it: 29 CFR 1910.147(b) "energy isolating device".
type DeviceKind string

const (
	Disconnect  DeviceKind = "disconnect" // lockable switch or breaker
	Plug        DeviceKind = "plug"
	Valve       DeviceKind = "valve" // shuts and vents
	BatteryLock DeviceKind = "battery-lock"
	FuelValve   DeviceKind = "fuel-valve"
	PartRemoved DeviceKind = "part-removed" // shaft or belt taken off and kept
	Block       DeviceKind = "block"        // pin, chock, tie-down, strap
)

// Device is one energy isolating device.
type Device struct {
	ID       DeviceID   `json:"id"`
	Number   int        `json:"number"` // as painted at the machine and on the photo
	Kind     DeviceKind `json:"kind"`
	Label    string     `json:"label"`
	Place    string     `json:"place"`
	Lockable bool       `json:"lockable"`
	Cuts     []EnergyID `json:"cuts"`
	// Adapter: it takes a lock by means of one, a clamp or cover that is kept
	// with the locks. Only with Lockable; without it the lock goes straight on.
	Adapter bool `json:"adapter,omitzero"`
	// Photo is the digest of a picture of the place, "" if there is none, and
	// Point where the device is in it.
	Photo string `json:"photo,omitzero"`
	Point Point  `json:"point,omitzero"`
}

// Point is a place in a picture: the share of its width from the left and of
// its height from the top, 0 to 1. The zero Point marks nothing.
type Point struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}
