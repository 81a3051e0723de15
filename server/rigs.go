package server

import (
	"encoding/json"
	"errors"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) rigRoutes() {
	s.get("/rigs/new", supervisors, s.showNewRig)
	s.post("/rigs/new", supervisors, s.newRig)
	s.get("/rigs/:id", signedIn, s.showRig)
	s.get("/rigs/:id/file", signedIn, s.rigFile)
	s.get("/rigs/:id/edit", supervisors, s.showRigEdit)
	s.post("/rigs/:id/edit", supervisors, s.editRig)
}

type rigPage struct {
	*views.Frame
	ID      string
	Rig     lift.Rig
	Version int // 0: nothing is in force
	By      string
	At      time.Time
	Hitch   string
	Links   []gearPart
	Clear   float64 // m wanted free below the piece
	Faults  []findingLine
	Hoist   string // equipment to stop, "" where there is none
	Draft   bool
	Edits   bool
	Works   bool
}

type linkLine struct {
	Name, Kind, State, Tag string
	Rated, Own             string
	Marked                 string // of legs: for what the load is marked, and the chain
	Inspected, Due         string
	InspectedBy            string
	Readable, Fit          bool
	Table                  string // what the published table has for the leg
}

// showRig shows the rig in force: what hangs in what, and what is known of it.
func (s *Server) showRig(v *visit) error {
	id := v.Params("id")
	page := rigPage{ID: id, Edits: v.person.Supervises(), Works: v.person.Works()}
	rig, published, err := v.desk.Rig(v.ctx(), id, 0)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	draft, noDraft := v.desk.Draft(v.ctx(), store.Rigs, id)
	if noDraft != nil && !errors.Is(noDraft, store.ErrNotFound) {
		return noDraft
	}
	if err != nil && noDraft != nil {
		return err
	}
	page.Draft = noDraft == nil
	if err != nil {
		page.Frame = v.frame("%s: not in force yet", draft.Title)
		return v.show("rig", page, nil)
	}
	known, err := v.desk.Gear(v.ctx(), id)
	if err != nil {
		return err
	}
	parts := rig
	rig = registered(rig, known, v.now)
	names, err := v.names()
	if err != nil {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page.Frame = v.frame("%[1]s, version %[2]d", rig.Name, published.Version)
	page.Rig, page.Version, page.By, page.At = rig, published.Version, names[published.By], published.At
	page.Hitch, page.Clear = hitchText(page.Frame, rig.Hitch), clearOf(&rig)
	page.Links = partsOf(page.Frame, &parts, known, v.now)
	for _, f := range rig.Faults(v.now) {
		page.Faults = append(page.Faults, findingLine{Said: f.Said, Source: f.Source, Blocks: true})
	}
	if len(page.Faults) > 0 {
		page.Title = plain.Say("%s: no lift may be made with it", rig.Name)
	}
	for _, e := range plant {
		if e.Kind == procedures.Hoist && page.Hoist == "" {
			page.Hoist = string(e.ID)
		}
	}
	return v.show("rig", page, nil)
}

// clearOf is what is kept free below a piece on its way, m.
func clearOf(r *lift.Rig) float64 {
	if r.Clearance == 0 {
		return lift.DefaultClearance
	}
	return r.Clearance
}

// rigFile is the rig in force, with what the register says of its parts at this
// moment, as the file that "stillsaw lift" reads.
func (s *Server) rigFile(v *visit) error {
	rig, _, err := v.desk.Rig(v.ctx(), v.Params("id"), 0)
	if err != nil {
		return err
	}
	known, err := v.desk.Gear(v.ctx(), v.Params("id"))
	if err != nil {
		return err
	}
	text, err := json.MarshalIndent(registered(rig, known, v.now), "", "  ")
	if err != nil {
		return err
	}
	v.Attachment("rig.json")
	v.Set(fiber.HeaderContentType, fiber.MIMEApplicationJSONCharsetUTF8)
	return v.Send(append(text, '\n'))
}

func (p *rigPage) line(l *lift.Link) linkLine {
	mass := func(kg float64) string {
		if !(kg > 0) {
			return p.T("not known")
		}
		return p.T("%s", plain.Kilograms(kg))
	}
	line := linkLine{Name: l.Name, Kind: kindText(p.Frame, l.Kind), State: stateText(p.Frame, l.State), Tag: l.Tag, Rated: mass(l.RatedLoad), Own: mass(l.OwnMass),
		Inspected: p.Day(l.Inspected), InspectedBy: l.InspectedBy, Due: p.Day(l.InspectionDue), Readable: l.TagReadable, Fit: l.State == lift.InService}
	if l.Kind == lift.Beam && !(l.OwnMass > 0) {
		line.Own = p.T("doesn't count: nothing bears it")
	}
	if l.Pair {
		line.Kind = p.T("%s, a pair", line.Kind)
	}
	if kg, from, ok := l.Table(); ok {
		line.Table = p.T("%[1]s: %[2]s for such a chain so marked", from, plain.Kilograms(kg))
	}
	if l.Kind == lift.Leg {
		line.Marked = columnText(p.Frame, l.MarkedFor)
		if l.Grade == lift.NotChain {
			line.Marked = p.T("%s, rope or webbing", line.Marked)
		} else {
			line.Marked = p.T("%[1]s; chain %[2]s in, Grade %[3]s", line.Marked, l.Size.String(), l.Grade.String())
		}
	}
	return line
}
