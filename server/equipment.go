package server

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) equipmentRoutes() {
	s.get("/equipment", signedIn, s.showEquipment)
	s.get("/equipment/new", supervisors, s.showNewEquipment)
	s.post("/equipment/new", supervisors, s.addEquipment)
	s.get("/equipment/:id", signedIn, s.showMachine)
	s.get("/equipment/:id/edit", supervisors, s.showPiece)
	s.post("/equipment/:id/edit", supervisors, s.changePiece)
	s.post("/equipment/:id/declare", supervisors, s.declareException)
	s.get("/equipment/:id/affected", supervisors, s.showAffected)
	s.post("/equipment/:id/affected", supervisors, s.keepAffected)
	s.get("/equipment/:id/coast", signedIn, s.showCoast)
	s.post("/equipment/:id/coast", crew, s.keepCoast)
	s.get("/equipment/:id/energy/:energy", supervisors, s.showEnergy)
	s.post("/equipment/:id/energy/:energy", supervisors, s.keepEnergy)
	s.post("/equipment/:id/energy/:energy/remove", supervisors, s.dropEnergy)
	s.get("/equipment/:id/device/:device", supervisors, s.showDevice)
	s.post("/equipment/:id/device/:device", supervisors, s.keepDevice)
	s.post("/equipment/:id/device/:device/remove", supervisors, s.dropDevice)
	s.get("/equipment/:id/device/:device/point", supervisors, s.showPoint)
	s.post("/equipment/:id/device/:device/point", supervisors, s.setPoint)
	s.post("/equipment/:id/remove", supervisors, s.removePiece)
}

type equipmentPage struct {
	*views.Frame
	Edit   bool
	Pieces []plantPiece
}

// plantPiece is one piece of the tree in words.
type plantPiece struct {
	ID, Name, Href, Edit string
	Kind                 plain.Sentence
	PartOf               string
	Acts                 []plain.Sentence
	Energies             []plantEnergy
	Devices              []plantDevice
	Lockout              []string // what a lockout of it holds besides
	Stop                 []string // what a stop defect on it holds besides
	Site                 bool
}

type plantEnergy struct {
	Source string
	Kind   plain.Sentence
	Size   string // "" while not yet measured
	Turns  bool
	Coast  time.Duration // 0: not yet measured
	Hazard string
}

type plantDevice struct {
	Label, Place string
	Number       int
	Kind, Lock   plain.Sentence
	Cuts         []string
}

func (s *Server) showEquipment(v *visit) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := equipmentPage{Frame: v.frame("Equipment"), Edit: v.person.Supervises()}
	for _, e := range plant {
		page.Pieces = append(page.Pieces, pieceOf(e, plant))
	}
	page.Title = plain.Say("Equipment: %s", measured(plant...))
	return v.show("equipment", page, nil)
}

// measured says how many energies of the pieces still want their size.
func measured(pieces ...procedures.Equipment) plain.Sentence {
	all, missing := 0, 0
	for _, e := range pieces {
		for _, energy := range e.Energies {
			all++
			if energy.Magnitude == "" {
				missing++
			}
		}
	}
	switch {
	case all == 0:
		return plain.Say("no energy of its own")
	case missing == 0:
		return plain.Say("every energy is measured")
	}
	return plain.Say("%d energies not yet measured", missing)
}

func pieceOf(e procedures.Equipment, plant procedures.Plant) plantPiece {
	line := plantPiece{ID: string(e.ID), Name: e.Name, Kind: e.Kind.Words(), Href: machinePath(e.ID), Edit: machinePath(e.ID) + "/edit", Site: e.Kind == procedures.Site}
	if strings.EqualFold(e.Name, line.Kind.String()) {
		line.Kind = plain.Sentence{}
	}
	if whole, ok := plant.Find(e.PartOf); ok && whole.Kind != procedures.Site {
		line.PartOf = whole.Name
	}
	for _, link := range e.Links {
		line.Acts = append(line.Acts, link.Kind.Acts(nameIn(plant, link.To)))
	}
	for _, energy := range e.Energies {
		turns := energy.Kind == procedures.Rotation || energy.Coast > 0
		line.Energies = append(line.Energies, plantEnergy{Source: energy.Source, Kind: energy.Kind.Words(), Size: energy.Magnitude, Turns: turns, Coast: energy.Coast, Hazard: energy.Hazard})
	}
	for _, d := range e.Devices {
		device := plantDevice{Label: d.Label, Place: d.Place, Number: d.Number, Kind: d.Kind.Words(), Lock: d.TakesLock()}
		for _, id := range d.Cuts {
			device.Cuts = append(device.Cuts, energyIn(plant, id))
		}
		line.Devices = append(line.Devices, device)
	}
	if !line.Site {
		line.Lockout, line.Stop = others(plant, e.ID, plant.ReachedByLockout(e.ID)), others(plant, e.ID, plant.ReachedByStop(e.ID))
	}
	return line
}

func energyIn(plant procedures.Plant, id procedures.EnergyID) string {
	for _, e := range plant {
		for _, energy := range e.Energies {
			if energy.ID == id {
				return energy.Source
			}
		}
	}
	return string(id)
}

func others(plant procedures.Plant, but procedures.EquipmentID, reached []procedures.EquipmentID) []string {
	var names []string
	for _, id := range reached {
		if id != but {
			names = append(names, nameIn(plant, id))
		}
	}
	return names
}

type newPiecePage struct {
	*views.Frame
	Submission string
	Fields     []views.Field
}

func (s *Server) showNewEquipment(v *visit) error {
	return v.newPiecePage(procedures.Equipment{PartOf: "site"}, store.NewID(), nil)
}

func (v *visit) newPiecePage(e procedures.Equipment, submission string, problems plain.Problems) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := newPiecePage{Frame: v.frame("A new piece of equipment"), Submission: submission}
	page.Problems = problems
	var kinds, wholes []views.Choice
	for _, kind := range procedures.EquipmentKinds() {
		kinds = append(kinds, views.Offer(string(kind), page.Say(kind.Words())))
	}
	for _, whole := range plant {
		wholes = append(wholes, views.Choice{Value: string(whole.ID), Text: whole.Name})
	}
	page.Fields = []views.Field{page.TextField("name", page.T("Name"), e.Name), page.ChoiceField("kind", page.T("Kind"), string(e.Kind), kinds),
		page.ChoiceField("part_of", page.T("Part of"), string(e.PartOf), wholes).WithHint(page.T("A hold on a part holds the whole."))}
	return v.show("new-piece", page, problems)
}

func (s *Server) addEquipment(v *visit) error {
	e := procedures.Equipment{ID: procedures.EquipmentID(store.NewID()), Name: v.typed("name"), Kind: procedures.EquipmentKind(v.typed("kind")), PartOf: procedures.EquipmentID(v.typed("part_of"))}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	var problems plain.Problems
	_, wrong := plant.Added(e)
	problems.Add("", wrong)
	unsigned, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, unsigned...); len(problems) == 0 {
		err := v.desk.AddEquipment(v.ctx(), v.submission(), e, v.person, v.now)
		if err == nil {
			return v.moveOn("/equipment", "equipment")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.newPiecePage(e, v.submission(), problems)
}
