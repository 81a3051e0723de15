package server

import (
	"encoding/json"
	"errors"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) procedureRoutes() {
	s.get("/procedures/new", supervisors, s.showNewProcedure)
	s.post("/procedures/new", supervisors, s.draftProcedure)
	s.get("/procedures/:id", signedIn, s.showProcedure)
	s.get("/procedures/:id/placard", signedIn, s.showPlacard)
	s.get("/procedures/:id/placard.pdf", signedIn, s.placardFile)
	s.get("/procedures/:id/tags.pdf", signedIn, s.tagsFile)
	s.get("/procedures/:id/compare", signedIn, s.showCompare)
	s.get("/procedures/:id/edit", supervisors, s.showProcedureEdit)
	s.post("/procedures/:id/edit", supervisors, s.editProcedure)
	s.post("/procedures/:id/discard", supervisors, s.discardProcedure)
	s.get("/procedures/:id/publish", supervisors, s.showPublish)
	s.post("/procedures/:id/publish", supervisors, s.publishProcedure)
}

type procedurePage struct {
	*views.Frame
	Procedure procedures.Procedure
	Draft     bool // what is shown is in force nowhere
	HasDraft  bool
	InForce   int            // the version in force, where another is shown
	Said      plain.Sentence // its author's word on what changed
	Again     []trainLine    // who is to be trained before locking out by it
	Versions  int
	Equipment []string
	Holds     []string
	Energy    []energyLine
	Devices   []deviceLine
	Stages    []stageSteps
	By        string
	At        time.Time
	UnderWay  string
	LeftOut   []plain.Sentence // energies of the register it hasn't
	Cautions  []plain.Sentence
}

// showProcedure shows the version in force; the draft where there is none, or
// where the address asks for it; an earlier version where it asks for that.
func (s *Server) showProcedure(v *visit) error {
	id := v.Params("id")
	draft, draftErr := v.procedureDraft(id)
	inForce, err := v.desk.Published(v.ctx(), store.Procedures, id, 0)
	none := errors.Is(err, store.ErrNotFound)
	if err != nil && !none {
		return err
	}
	if draftErr != nil && !errors.Is(draftErr, store.ErrNotFound) {
		return draftErr
	}
	if none && draftErr != nil {
		return store.ErrNotFound
	}
	page := procedurePage{HasDraft: draftErr == nil, Cautions: procedures.Cautions()}
	if page.Draft = none || page.HasDraft && v.Context().QueryArgs().Has("draft"); page.Draft {
		page.Procedure = draft.Procedure
		page.Frame = v.frame("%s: a draft, not in force", page.Procedure.Title)
	} else {
		newest := inForce.Version
		if asked := whole(v.Query("version")); asked > 0 && asked != newest {
			if inForce, err = v.desk.Published(v.ctx(), store.Procedures, id, asked); err != nil {
				return err
			}
			page.InForce = newest
		}
		if page.Procedure, err = v.desk.Procedure(v.ctx(), procedures.ProcedureID(id), inForce.Version); err != nil {
			return err
		}
		page.Versions = newest
		if page.InForce > 0 {
			page.Frame = v.frame("%[1]s: procedure, version %[2]d, no longer in force", page.Procedure.Title, inForce.Version)
		} else {
			page.Frame = v.frame("%[1]s: procedure, version %[2]d in force", page.Procedure.Title, inForce.Version)
			if page.Again, err = v.toTrain(page.Procedure); err != nil {
				return err
			}
		}
		said, err := v.desk.Renewal(v.ctx(), page.Procedure.ID, inForce.Version)
		if err != nil {
			return err
		}
		if said.Said {
			page.Said = plain.Say("Signed when it was put in force: %[1]s. Why: %[2]s", renewalSaid(said), said.Why)
		}
		names, err := v.names()
		if err != nil {
			return err
		}
		page.By, page.At = names[inForce.By], inForce.At
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page.LeftOut = leftOut(plant, page.Procedure)
	for _, eq := range page.Procedure.Equipment {
		page.Equipment = append(page.Equipment, nameIn(plant, eq))
	}
	for _, eq := range page.Procedure.Holds {
		page.Holds = append(page.Holds, nameIn(plant, eq))
	}
	page.Energy, page.Devices, page.Stages = energyLines(page.Procedure), deviceLines(page.Procedure), stagesToRead(page.Procedure)
	for i, d := range page.Procedure.Devices {
		if page.Devices[i].Photo, err = v.marked(d); err != nil {
			return err
		}
	}
	open, err := v.desk.OpenLockouts(v.ctx())
	if err != nil {
		return err
	}
	for _, l := range open {
		if l.Procedure.ID == page.Procedure.ID {
			page.UnderWay = "/lockouts/" + string(l.ID)
		}
	}
	return v.show("procedure", page, nil)
}

// draftOfProcedure is a draft with the revision it was read at.
type draftOfProcedure struct {
	procedures.Procedure
	Revision int
}

func (v *visit) procedureDraft(id string) (draftOfProcedure, error) {
	row, err := v.desk.Draft(v.ctx(), store.Procedures, id)
	if err != nil {
		return draftOfProcedure{}, err
	}
	draft := draftOfProcedure{Revision: row.Revision}
	err = json.Unmarshal([]byte(row.Doc), &draft.Procedure)
	return draft, err
}
