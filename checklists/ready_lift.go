package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// LiftHolds returns what forbids a lift now with that hoist onto that piece of
// equipment, beyond weight and rigging: every hold on the hoist, and any lockout
// that reaches the place where the load would be set down, where somebody may
// have a hand in. No sentence means that nothing known forbids it. A hoist or a
// landing place the plant doesn't know forbids it.
func LiftHolds(f Facts, hoist, landsOn procedures.EquipmentID, now time.Time) []plain.Sentence {
	var said []plain.Sentence
	lifting, known := f.Plant.Find(hoist)
	if !known || lifting.Kind != procedures.Hoist {
		said = append(said, plain.Say("It is not known which hoist lifts."))
	}
	landing, placeKnown := f.Plant.Find(landsOn)
	if !placeKnown {
		said = append(said, plain.Say("It is not known where the load is set down."))
	}
	holds := f.holds(now)
	told := make(map[string]bool)
	for _, h := range tidyHolds(holds[hoist]) {
		said = append(said, plain.Say("%s is held. %s", lifting.Name, h.Reason))
		told[h.Ref] = true
	}
	for _, h := range tidyHolds(holds[landsOn]) {
		if h.Kind == HeldByLockout && !told[h.Ref] {
			said = append(said, plain.Say("Nothing is set down on %s. %s", landing.Name, h.Reason))
		}
	}
	return said
}
