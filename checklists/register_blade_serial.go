package checklists

import (
	"time"

	"stillsaw/procedures/plain"
)

// FittedItem is the item of a check that asks for the serial number of the saw
// that is on.
const FittedItem ItemID = "S1"

// SerialSaid compares the serial number somebody read off the saw with the
// register: no sentence when it is the one reported fitted, or when the register
// has no saw or nothing was written.
func SerialSaid(read string, register []BladeStanding) plain.Sentence {
	if len(register) == 0 || read == "" {
		return plain.Sentence{}
	}
	on, some := FittedBlade(register)
	if some && sameSerial(on.Serial, read) {
		return plain.Sentence{}
	}
	for _, s := range register {
		if !sameSerial(s.Serial, read) {
			continue
		}
		if some {
			return plain.Say("Saw %[1]s was read off the spindle, and the register has saw %[2]s as fitted. One of the two is wrong: look again, then report the change.", read, on.Serial)
		}
		return plain.Say("Saw %s was read off the spindle, and the register has none as fitted. Report that it was fitted.", read)
	}
	return plain.Say("No saw of the register has the serial number %s. Read it again, or enter the saw.", read)
}

// SerialReadSaid is [SerialSaid] of what was read at that time: nothing, where a
// saw was fitted or taken off since.
func SerialReadSaid(read string, at time.Time, register []BladeStanding) plain.Sentence {
	for _, s := range register {
		for _, a := range s.Acts {
			if (a.Work == BladeFitted || a.Work == BladeTakenOff) && a.On.After(at) {
				return plain.Sentence{}
			}
		}
	}
	return SerialSaid(read, register)
}

// BladesAt is the register as it stood at that time, by what is entered by now.
func BladesAt(register []BladeStanding, at time.Time) []BladeStanding {
	var blades []Blade
	var acts []BladeAct
	for _, s := range register {
		blades = append(blades, s.Blade)
		for _, a := range s.Acts {
			if !a.On.After(at) {
				acts = append(acts, a)
			}
		}
	}
	return Blades(blades, acts)
}
