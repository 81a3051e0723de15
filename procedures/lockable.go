package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

// Unlockable is an isolating device that takes no lock and is to be made to,
// 29 CFR 1910.147(c)(2)(iii).
type Unlockable struct {
	Equipment EquipmentID
	Device    Device
	Alone     []EnergyID // what nothing that takes a lock keeps away besides
}

// ToBeMadeLockable returns every device of the plant that takes no lock, in the
// plant's order. A pin or chock is among them: 29 CFR 1910.147(b) counts a
// block as an isolating device.
func (p Plant) ToBeMadeLockable() []Unlockable {
	var all []Unlockable
	for _, e := range p {
		for _, d := range e.Devices {
			if d.Lockable {
				continue
			}
			u := Unlockable{Equipment: e.ID, Device: d}
			for _, id := range d.Cuts {
				if !p.lockedAway(id) {
					u.Alone = append(u.Alone, id)
				}
			}
			all = append(all, u)
		}
	}
	return all
}

// lockedAway tells whether something that takes a lock keeps that energy away.
func (p Plant) lockedAway(id EnergyID) bool {
	return slices.ContainsFunc(p, func(e Equipment) bool {
		return slices.ContainsFunc(e.Devices, func(d Device) bool { return d.Lockable && d.cuts(id) })
	})
}

// Words says what is to be done.
func (u Unlockable) Words() plain.Sentence {
	if len(u.Alone) == 0 {
		return plain.Say("%s takes no lock. Another that does keeps the same energies away; make it take one at the next repair or change, 29 CFR 1910.147(c)(2)(iii).", u.Device.Label)
	}
	return plain.Say("%s takes no lock, and nothing else that does keeps the same away: only a tag warns. Make it take a lock, 29 CFR 1910.147(c)(2)(iii).", u.Device.Label)
}

// TakesLock says in a word how d takes a lock, 29 CFR 1910.147(b) "capable of
// being locked out".
func (d Device) TakesLock() plain.Sentence {
	switch {
	case d.Lockable && d.Adapter:
		return plain.Say("takes a lock with an adapter")
	case d.Lockable:
		return plain.Say("takes a lock")
	}
	return plain.Say("takes no lock")
}
