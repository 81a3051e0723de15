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
	Chain string // grade and size
	Late  bool
	Last  string         // day of the last inspection entered, later than the yearly one; no look before a shift
	Idle  plain.Sentence // the inspection owed for having hung idle
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
		rig = registered(rig, known, v.now)
		shown := gearRig{ID: p.ID, Name: rig.Name}
		for i := range rig.Links {
			part := partOf(page.Frame, p.ID, &rig.Links[i], known, v.now)
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

func partOf(f *views.Frame, rig string, l *lift.Link, known store.Gear, now time.Time) gearPart {
	lines := rigPage{Frame: f}
	part := gearPart{linkLine: lines.line(l), Late: l.InspectionDue.IsZero() || now.After(l.InspectionDue)}
	if l.Kind == lift.Leg && l.Grade != lift.NotChain {
		part.Chain = f.T("chain %[1]s in, Grade %[2]s", l.Size.String(), l.Grade.String())
	}
	part.Idle, _ = l.Idle()
	if l.ID != "" {
		part.Href = gearPath(rig, l.ID)
	}
	for _, in := range known.Of(l.ID).Inspections {
		if in.Photo != "" {
			part.Photo = "/photos/" + in.Photo
		}
		if every, err := lift.ParseEvery(in.Every); err == nil && every.Thorough() && in.At.After(l.Inspected) {
			part.Last = f.Day(in.At)
		}
	}
	return part
}
