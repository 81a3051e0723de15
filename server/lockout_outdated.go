package server

import (
	"slices"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// notLocked says what an open lockout doesn't hold though the mill knows of it: that
// a newer version is in force and which energies that one has, and which the
// register has and no version, 29 CFR 1910.147(c)(4)(ii). Nothing of one that is over.
func (v *visit) notLocked(l procedures.Lockout, plant procedures.Plant) ([]plain.Sentence, error) {
	if !l.Open() {
		return nil, nil
	}
	inForce, err := v.desk.Published(v.ctx(), store.Procedures, string(l.Procedure.ID), 0)
	if err != nil {
		return nil, err
	}
	if inForce.Version <= l.Procedure.Version {
		return leftOut(plant, l.Procedure), nil
	}
	newest, err := v.desk.Procedure(v.ctx(), l.Procedure.ID, inForce.Version)
	if err != nil {
		return nil, err
	}
	said := []plain.Sentence{plain.Say("Version %[1]d of this procedure is in force since %[2]s; this lockout goes by version %[3]d.", newest.Version, inForce.At, l.Procedure.Version)}
	for _, e := range newest.Energies {
		if !slices.ContainsFunc(l.Procedure.Energies, func(own procedures.Energy) bool { return own.ID == e.ID }) {
			said = append(said, plain.Say("Version %[1]d has %[2]s, which this lockout leaves out: nothing reported here holds it.", newest.Version, e.Source))
		}
	}
	return append(said, leftOut(plant, newest)...), nil
}
