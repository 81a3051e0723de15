package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// emergencySaid says what an emergency card on the record is.
func emergencySaid(c checklists.EmergencyCard) plain.Sentence {
	if lacks := len(c.Missing()); lacks > 0 {
		return plain.Say("The mill's emergency card; it does not say %d things.", lacks)
	}
	return plain.Say("The mill's emergency card.")
}
