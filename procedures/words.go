package procedures

import "stillsaw/procedures/plain"

// EquipmentKinds returns every kind but the site, in the order a form offers them.
func EquipmentKinds() []EquipmentKind {
	return []EquipmentKind{HeadSaw, Carriage, DogsAndKnees, Hoist, DustCollection, OffBearing, Supply}
}

// Words names the kind for a heading.
func (k EquipmentKind) Words() plain.Sentence {
	switch k {
	case Site:
		return plain.Say("the mill as a whole")
	case HeadSaw:
		return plain.Say("head saw")
	case Carriage:
		return plain.Say("carriage")
	case DogsAndKnees:
		return plain.Say("dogs and knees")
	case Hoist:
		return plain.Say("hoist")
	case DustCollection:
		return plain.Say("dust collection")
	case OffBearing:
		return plain.Say("off-bearing")
	case Supply:
		return plain.Say("supply of power, air or oil")
	}
	return plain.Say("not known")
}

// EnergyKinds returns every kind of energy, in the order a form offers them.
func EnergyKinds() []EnergyKind {
	return []EnergyKind{Electrical, Rotation, Moving, Gravity, Spring, Hydraulic, Pneumatic, Engine, Shaft, Thermal, Strain, Chemical}
}

// Words names the kind of energy.
func (k EnergyKind) Words() plain.Sentence {
	switch k {
	case Electrical:
		return plain.Say("electrical")
	case Rotation:
		return plain.Say("rotation")
	case Moving:
		return plain.Say("movement along the track")
	case Gravity:
		return plain.Say("gravity")
	case Spring:
		return plain.Say("spring")
	case Hydraulic:
		return plain.Say("hydraulic")
	case Pneumatic:
		return plain.Say("pneumatic")
	case Engine:
		return plain.Say("engine")
	case Shaft:
		return plain.Say("drive shaft or mandrel")
	case Thermal:
		return plain.Say("heat")
	case Strain:
		return plain.Say("strain in the wood")
	case Chemical:
		return plain.Say("chemical")
	}
	return plain.Say("not known")
}

// Words names the kind of device.
func (k DeviceKind) Words() plain.Sentence {
	switch k {
	case Disconnect:
		return plain.Say("disconnect")
	case Plug:
		return plain.Say("plug")
	case Valve:
		return plain.Say("valve")
	case BatteryLock:
		return plain.Say("battery lock")
	case FuelValve:
		return plain.Say("fuel valve")
	case PartRemoved:
		return plain.Say("part taken off and kept")
	case Block:
		return plain.Say("block, pin or chock")
	}
	return plain.Say("not known")
}

// Acts says in words what a link means, the other piece's name in its place.
func (k LinkKind) Acts(on string) plain.Sentence {
	switch k {
	case Drives:
		return plain.Say("drives %s: moving one moves the other, even by hand", on)
	case Supplies:
		return plain.Say("supplies %s", on)
	case LandsOn:
		return plain.Say("sets loads down on %s", on)
	}
	return plain.Say("acts on %s in a way that is not known", on)
}
