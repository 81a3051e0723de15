package procedures

import (
	"slices"
)

// KeepAffected returns the plant with those people as the ones who run the piece
// or work where it is serviced, 29 CFR 1910.147(b) "affected employee"; nobody is
// an answer too. Its error is a [plain.Problems] for "piece" and "affected".
func (p Plant) KeepAffected(at EquipmentID, who []PersonID, crew []Person) (Plant, error) {
	bad := atPiece(p, at)
	var kept []PersonID
	for _, one := range crew {
		if slices.Contains(who, one.ID) && !one.Left {
			kept = append(kept, one.ID)
		}
	}
	strangers := slices.ContainsFunc(who, func(id PersonID) bool { return !slices.Contains(kept, id) })
	bad.Unless(!strangers, "affected", "people of this mill who haven't left")
	if err := bad.Err(); err != nil {
		return p, err
	}
	return p.with(at, func(piece *Equipment) { piece.Affected = append([]PersonID{}, kept...) })
}

// AffectedPeople returns who is affected by each piece, in the plant's order: who
// was named for the piece itself, and where nobody ever said, whom the program
// names. Somebody who left the mill is none of them.
func (p Plant) AffectedPeople(program []Affected, crew []Person) []Affected {
	var all []Affected
	for _, e := range p {
		named := e.Affected
		for _, said := range program {
			if e.Affected == nil && said.Equipment == e.ID {
				named = append(slices.Clone(named), said.People...)
			}
		}
		one := Affected{Equipment: e.ID}
		for _, person := range crew {
			if slices.Contains(named, person.ID) && !person.Left {
				one.People = append(one.People, person.ID)
			}
		}
		if len(one.People) > 0 {
			all = append(all, one)
		}
	}
	return all
}

// WhoToTell returns the affected people of all that p is for or holds, each once,
// but for those given: whoever locks out needs no telling. 29 CFR 1910.147(c)(9).
func WhoToTell(p Procedure, affected []Affected, but ...PersonID) []PersonID {
	var tell []PersonID
	for _, a := range affected {
		if !slices.Contains(p.Equipment, a.Equipment) && !slices.Contains(p.Holds, a.Equipment) {
			continue
		}
		for _, person := range a.People {
			if !slices.Contains(tell, person) && !slices.Contains(but, person) {
				tell = append(tell, person)
			}
		}
	}
	return tell
}
