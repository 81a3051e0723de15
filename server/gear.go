package server

import (
	"time"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) gearRoutes() {
	s.get("/gear", signedIn, s.showGear)
	s.get("/gear/:rig", crew, s.showRound)
	s.post("/gear/:rig", crew, s.inspectRound)
	s.get("/gear/:rig/:link", signedIn, s.showPart)
	s.post("/gear/:rig/:link/inspected", crew, s.inspectPart)
	s.post("/gear/:rig/:link/measured", crew, s.measurePart)
}

type gearPage struct {
	*views.Frame
	Rigs  []gearRig
	Edits bool
	Works bool
}

type gearRig struct {
	ID, Name string
	Parts    []gearPart
}

// gearPart is one part with what the rig and the register say of it.
type gearPart struct {
	linkLine
	Href  string
	Photo string // address of the newest picture
	Chain string // grade and size, without what the load is marked for
	Late  bool
	Idle  plain.Sentence // the inspection owed for having hung idle
	Also  []string       // the other rigs that have it
	// Rounds are the weekly, the monthly and the yearly inspection.
	Rounds []roundLine
}

// roundLine is one inspection that comes round.
type roundLine struct {
	Name, Last, Due string // of Last and Due the day
	Owed, Late      bool
	Said            plain.Sentence
	Source          string
}

func (s *Server) showGear(v *visit) error {
	published, err := v.desk.InForce(v.ctx(), store.Rigs)
	if err != nil {
		return err
	}
	page := gearPage{Frame: v.frame("Lifting gear: no part out of use or overdue"), Edits: v.person.Supervises(), Works: v.person.Works()}
	wrong := 0
	for _, p := range published {
		rig, err := store.ReadRig(p.Doc)
		if err != nil {
			return err
		}
		known, err := v.desk.Gear(v.ctx(), p.ID)
		if err != nil {
			return err
		}
		shown := gearRig{ID: p.ID, Name: rig.Name}
		for _, part := range partsOf(page.Frame, &rig, known, v.now) {
			if part.Late || !part.Fit || !part.Idle.Empty() {
				wrong++
			}
			shown.Parts = append(shown.Parts, part)
		}
		page.Rigs = append(page.Rigs, shown)
	}
	switch {
	case len(page.Rigs) == 0:
		page.Title = plain.Say("Lifting gear: no rig is in force")
	case wrong == 1:
		page.Title = plain.Say("Lifting gear: one part not to be used")
	case wrong > 0:
		page.Title = plain.Say("Lifting gear: %d parts not to be used", wrong)
	}
	return v.show("gear", page, nil)
}

// Names are those of the inspections that come round, for the head of the table.
func (r gearRig) Names() (names []string) {
	if len(r.Parts) > 0 {
		for _, one := range r.Parts[0].Rounds {
			names = append(names, one.Name)
		}
	}
	return names
}

// roundCell is one inspection that comes round, as a table shows it.
type roundCell struct {
	*views.Frame
	roundLine
}

// RoundCell is the cell of one.
func (p gearPage) RoundCell(one roundLine) roundCell { return roundCell{p.Frame, one} }

// RoundCell is the cell of one.
func (p partPage) RoundCell(one roundLine) roundCell { return roundCell{p.Frame, one} }

// partsOf is each part of a rig as published with what the register says of it.
func partsOf(f *views.Frame, rig *lift.Rig, known store.Gear, now time.Time) []gearPart {
	told := registered(*rig, known, now)
	looked, _ := known.Register.Of(rig)
	parts := make([]gearPart, len(rig.Links))
	for i := range parts {
		l := &told.Links[i]
		part := gearPart{linkLine: (&rigPage{Frame: f}).line(l), Late: l.InspectionDue.IsZero() || now.After(l.InspectionDue)}
		if l.Kind == lift.Leg && l.Grade != lift.NotChain {
			part.Chain = f.T("chain %[1]s in, Grade %[2]s", l.Size.String(), l.Grade.String())
		}
		part.Idle, _ = l.Idle()
		for _, one := range rig.Links[i].Rounds(looked) {
			line := roundLine{Name: everyText(f, one.Every.String()), Owed: one.Owed, Said: one.Said, Source: one.Source,
				Last: f.Day(one.Last), Due: f.Day(one.Due), Late: one.Owed && (one.Due.IsZero() || now.After(one.Due))}
			part.Rounds = append(part.Rounds, line)
		}
		if l.ID != "" {
			part.Href, part.Also = gearPath(rig.ID, l.ID), known.Also(rig, l.ID)
		}
		inspections, _ := known.Of(rig, l.ID)
		for _, in := range inspections {
			if in.Photo != "" {
				part.Photo = "/photos/" + in.Photo
			}
		}
		parts[i] = part
	}
	return parts
}
