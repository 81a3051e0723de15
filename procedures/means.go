package procedures

import "stillsaw/procedures/plain"

// ExtraMeans is what is done beside a tag where no lock holds the device, 29
// CFR 1910.147(c)(3)(ii): one of these at least makes up for the lock.
type ExtraMeans string

const (
	ElementOut      ExtraMeans = "element-out"      // a fuse or link of the circuit taken out
	SwitchBlocked   ExtraMeans = "switch-blocked"   // the control switch blocked
	ExtraDisconnect ExtraMeans = "extra-disconnect" // one more disconnect opened
	HandleOff       ExtraMeans = "handle-off"       // the valve's handle taken off
	PartKept        ExtraMeans = "part-kept"        // the part taken away and kept on one's person
)

// ExtraMeansKnown returns the kinds in the order a form offers them. The first
// four are the examples of the clause; the last is its like for a belt or shaft.
func ExtraMeansKnown() []ExtraMeans {
	return []ExtraMeans{ElementOut, SwitchBlocked, ExtraDisconnect, HandleOff, PartKept}
}

// Words says what was done.
func (m ExtraMeans) Words() plain.Sentence {
	switch m {
	case ElementOut:
		return plain.Say("a fuse or link of the circuit is out")
	case SwitchBlocked:
		return plain.Say("the control switch is blocked")
	case ExtraDisconnect:
		return plain.Say("one more disconnect is open")
	case HandleOff:
		return plain.Say("the valve's handle is off")
	case PartKept:
		return plain.Say("the part is taken away and kept by the one who hung the tag")
	}
	return plain.Say("not known")
}

// Position is where a lock holds a device, 29 CFR 1910.147(d)(4)(ii).
type Position string

const (
	PositionOff     Position = "off"
	PositionClosed  Position = "closed"
	PositionRemoved Position = "removed"
	PositionBlocked Position = "blocked"
)

// Position is the one that keeps energy away with a device of this kind, ""
// for an unknown kind.
func (k DeviceKind) Position() Position {
	switch k {
	case Disconnect, BatteryLock:
		return PositionOff
	case Valve, FuelValve:
		return PositionClosed
	case Plug, PartRemoved:
		return PositionRemoved
	case Block:
		return PositionBlocked
	}
	return ""
}

// Words says how the device stands.
func (p Position) Words() plain.Sentence {
	switch p {
	case PositionOff:
		return plain.Say("off")
	case PositionClosed:
		return plain.Say("closed")
	case PositionRemoved:
		return plain.Say("pulled out or taken off")
	case PositionBlocked:
		return plain.Say("blocked")
	}
	return plain.Say("not known")
}
