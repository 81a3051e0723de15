package server

import (
	"net/url"
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func machinePath(id procedures.EquipmentID) string { return "/equipment/" + url.PathEscape(string(id)) }

// machinePage is one piece of equipment with all the register says of it.
type machinePage struct {
	*views.Frame
	Piece      plantPiece
	Cautions   []plain.Sentence
	Edit       bool
	Energies   []registerEnergy
	Devices    []registerDevice
	Unlockable []plain.Sentence
	Affected   []atWorkLine
	Written    []writtenLine
	Draft      string // where a procedure is drafted from the register
	Exception  exceptionBox
	Plug       plain.Sentence // whether a pulled plug is enough
	Submission string
}

// registerEnergy is one energy in words.
type registerEnergy struct {
	Source, Size, Hazard, Relief, Zero string
	Kind                               plain.Sentence
	Stored, Turns                      bool
	Coast, Recheck                     time.Duration
	Edit                               string
}

// registerDevice is one isolating device in words.
type registerDevice struct {
	Number       int
	Label, Place string
	Kind, Lock   plain.Sentence
	Cuts         []string
	Photo        *markedPhoto
	Edit, Point  string
}

// atWorkLine is one person who works at the equipment, with what they were
// never told.
type atWorkLine struct {
	Name string
	Gaps []procedures.Gap
}

func (s *Server) showMachine(v *visit) error { return v.machinePage(nil, nil) }

// machinePage shows the piece; typed is what was typed into the declaration, nil
// for how it stands.
func (v *visit) machinePage(typed func(string) string, problems plain.Problems) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	page := machinePage{Frame: v.frame("%[1]s: %[2]s", e.Name, measured(e)), Piece: pieceOf(e, plant), Cautions: procedures.Cautions(), Edit: v.person.Supervises(),
		Draft: "/procedures/new?equipment=" + url.QueryEscape(string(e.ID)), Submission: store.NewID()}
	page.Problems = problems
	if page.Piece.Site {
		page.Title = plain.Say("%s: the mill as a whole", e.Name)
		return v.show("machine", page, problems)
	}
	for _, energy := range e.Energies {
		page.Energies = append(page.Energies, energyWords(e.ID, energy))
	}
	if page.Devices, err = v.devicesOf(plant, e); err != nil {
		return err
	}
	for _, u := range plant.ToBeMadeLockable() {
		if u.Equipment == e.ID {
			page.Unlockable = append(page.Unlockable, u.Words())
		}
	}
	written, err := v.registerProcedures()
	if err != nil {
		return err
	}
	page.Written = v.writtenFor(page.Frame, plant, e.ID, written)
	if page.Affected, err = v.affectedOf(e.ID, written); err != nil {
		return err
	}
	if page.Exception, err = v.exceptionOf(e.ID, typed); err != nil {
		return err
	}
	page.Plug = plain.Say("It may be served with its plug pulled and kept in the hand of the one who works, and nothing locked: %s.", procedures.Clause("(a)(2)(iii)(A)"))
	if refused, _ := problemsOf(plant.MayBeCordAndPlug(e.ID)); len(refused) > 0 {
		page.Plug = refused[0].Want
	}
	return v.show("machine", page, problems)
}

func energyWords(at procedures.EquipmentID, e procedures.Energy) registerEnergy {
	return registerEnergy{Source: e.Source, Size: e.Magnitude, Hazard: e.Hazard, Relief: e.Relief, Zero: e.Zero, Kind: e.Kind.Words(), Stored: e.Stored,
		Turns: e.Kind == procedures.Rotation, Coast: e.Coast, Recheck: e.Recheck, Edit: machinePath(at) + "/energy/" + url.PathEscape(string(e.ID))}
}

func (v *visit) devicesOf(plant procedures.Plant, e procedures.Equipment) ([]registerDevice, error) {
	var lines []registerDevice
	for _, d := range e.Devices {
		line := registerDevice{Number: d.Number, Label: d.Label, Place: d.Place, Kind: d.Kind.Words(), Lock: d.TakesLock(), Edit: machinePath(e.ID) + "/device/" + url.PathEscape(string(d.ID))}
		for _, id := range d.Cuts {
			line.Cuts = append(line.Cuts, energyIn(plant, id))
		}
		if d.Photo != "" {
			line.Point = line.Edit + "/point"
		}
		var err error
		if line.Photo, err = v.marked(d); err != nil {
			return nil, err
		}
		lines = append(lines, line)
	}
	return lines, nil
}

// affectedOf is who works at the piece, by name, and what each was never told.
func (v *visit) affectedOf(id procedures.EquipmentID, written []procedures.Procedure) ([]atWorkLine, error) {
	affected, err := v.desk.Affected(v.ctx())
	if err != nil {
		return nil, err
	}
	trainings, err := v.desk.Trainings(v.ctx())
	if err != nil {
		return nil, err
	}
	names, err := v.names()
	if err != nil {
		return nil, err
	}
	gaps := procedures.AffectedGaps(id, affected, written, trainings, v.now)
	var lines []atWorkLine
	for _, a := range affected {
		if a.Equipment != id {
			continue
		}
		for _, person := range a.People {
			line := atWorkLine{Name: names[person]}
			for _, gap := range gaps {
				if gap.Person == person {
					line.Gaps = append(line.Gaps, gap.Gap)
				}
			}
			lines = append(lines, line)
		}
	}
	return lines, nil
}

// whoToTell names the people to be told of a lockout by p, but for who is signed
// in: those affected by what it is for or holds, 29 CFR 1910.147(c)(9).
func (v *visit) whoToTell(p procedures.Procedure) ([]string, error) {
	affected, err := v.desk.Affected(v.ctx())
	if err != nil {
		return nil, err
	}
	names, err := v.names()
	if err != nil {
		return nil, err
	}
	var told []string
	for _, person := range procedures.WhoToTell(p, affected, v.person.ID) {
		told = append(told, names[person])
	}
	slices.Sort(told)
	return told, nil
}
