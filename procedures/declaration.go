package procedures

import (
	"time"

	"stillsaw/procedures/plain"
)

// Declaration is a supervisor's signed word on the two parts of the exception
// that nothing kept can show, for one piece of equipment. The newest one stands;
// none, and neither part holds. 29 CFR 1910.147(c)(4)(i), exception, parts 3 and 7.
type Declaration struct {
	Equipment EquipmentID `json:"equipment"`
	FullyDead bool        `json:"fully_dead"` // locking that one source off takes all energy away
	NoHazard  bool        `json:"no_hazard"`  // the job makes no hazard for others
	By        PersonID    `json:"by"`
	At        time.Time   `json:"at"`
}

// Sign returns d signed by by at now. Its error is a [plain.Problems] for
// "equipment", or a [plain.Refusal] for somebody who doesn't supervise.
func (d Declaration) Sign(by Person, p Plant, now time.Time) (Declaration, error) {
	if !by.Supervises() {
		return Declaration{}, plain.Refuse(Clause("(c)(4)(i)"), "That is the employer's word: a supervisor signs it.")
	}
	var bad plain.Problems
	bad.At("equipment", atPiece(p, d.Equipment).Err())
	if err := bad.Err(); err != nil {
		return Declaration{}, err
	}
	d.By, d.At = by.ID, now
	return d, nil
}

// Declared is what the exception is computed from.
func (d Declaration) Declared() Declared {
	var said Declared
	if d.FullyDead {
		said.FullyDead = d.By
	}
	if d.NoHazard {
		said.NoHazard = d.By
	}
	return said
}
