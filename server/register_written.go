package server

import (
	"encoding/json"
	"net/url"
	"slices"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// writtenLine is a procedure in force that is about a piece of equipment, and
// what the register has that it hasn't.
type writtenLine struct {
	*views.Frame
	Title   string
	Version int
	Href    string
	Wrong   []plain.Sentence
	Draft   string // where a supervisor writes it anew from the register
}

// registerProcedures are the procedures in force.
func (v *visit) registerProcedures() ([]procedures.Procedure, error) {
	inForce, err := v.desk.InForce(v.ctx(), store.Procedures)
	if err != nil {
		return nil, err
	}
	written := make([]procedures.Procedure, len(inForce))
	for i, one := range inForce {
		if err := json.Unmarshal([]byte(one.Doc), &written[i]); err != nil {
			return nil, err
		}
	}
	return written, nil
}

// writtenFor is the procedures for the piece, or that hold it, with what changed
// in the register since: energies they leave out and waits that are too short,
// 29 CFR 1910.147(c)(4)(ii), (d)(5)(i).
func (v *visit) writtenFor(f *views.Frame, plant procedures.Plant, id procedures.EquipmentID, written []procedures.Procedure) []writtenLine {
	var lines []writtenLine
	for _, p := range written {
		if !slices.Contains(p.Equipment, id) && !slices.Contains(p.Holds, id) {
			continue
		}
		line := v.writtenLine(f, p)
		line.Wrong = append(leftOut(plant, p), shortWaits(plant, p)...)
		lines = append(lines, line)
	}
	return lines
}

// leftOut says which energies of the register p leaves out.
func leftOut(plant procedures.Plant, p procedures.Procedure) []plain.Sentence {
	var said []plain.Sentence
	for _, energy := range plant.LeftOut(p) {
		said = append(said, plain.Say("It leaves out %s, which the register has: renew the procedure, 29 CFR 1910.147(c)(4)(ii).", energyIn(plant, energy)))
	}
	return said
}

// shortWaits says which waits of p are too short for what is measured now, each
// energy once.
func shortWaits(plant procedures.Plant, p procedures.Procedure) []plain.Sentence {
	var said []plain.Sentence
	seen := map[procedures.EnergyID]bool{}
	for _, short := range plant.ShortWaits(p) {
		if !seen[short.Energy] {
			seen[short.Energy] = true
			said = append(said, plain.Say("%[1]s: %[2]s", energyIn(plant, short.Energy), short.Words()))
		}
	}
	return said
}

// writtenLine is p as the register's pages name it; only a supervisor is led to
// where it is written anew.
func (v *visit) writtenLine(f *views.Frame, p procedures.Procedure) writtenLine {
	line := writtenLine{Frame: f, Title: p.Title, Version: p.Version, Href: "/procedures/" + url.PathEscape(string(p.ID))}
	if v.person.Supervises() {
		line.Draft = line.Href + "/edit"
	}
	return line
}
