package server

import (
	"encoding/json"
	"errors"
	"net/url"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) procedureRoutes() {
	s.get("/procedures/:id", signedIn, s.showProcedure)
	s.get("/procedures/:id/placard", signedIn, s.showPlacard)
	s.get("/procedures/:id/edit", supervisors, s.showProcedureEdit)
	s.post("/procedures/:id/edit", supervisors, s.editProcedure)
}

type procedurePage struct {
	*views.Frame
	Procedure procedures.Procedure
	Draft     bool // what is shown is in force nowhere
	HasDraft  bool
	Equipment []string
	Holds     []string
	Energy    []energyLine
	Devices   []deviceLine
	Stages    []stageSteps
	By        string
	At        time.Time
	UnderWay  string
	Cautions  []plain.Sentence
}

// showProcedure shows the version in force; the draft where there is none, or
// where the address asks for it.
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
		if page.Procedure, err = v.desk.Procedure(v.ctx(), procedures.ProcedureID(id), inForce.Version); err != nil {
			return err
		}
		page.Frame = v.frame("%[1]s: procedure, version %[2]d in force", page.Procedure.Title, inForce.Version)
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
	for _, eq := range page.Procedure.Equipment {
		page.Equipment = append(page.Equipment, nameIn(plant, eq))
	}
	for _, eq := range page.Procedure.Holds {
		page.Holds = append(page.Holds, nameIn(plant, eq))
	}
	page.Energy, page.Devices, page.Stages = energyLines(page.Procedure), deviceLines(page.Procedure), stagesToRead(page.Procedure)
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

type placardPage struct {
	*views.Frame
	Procedure procedures.Procedure
	Devices   []deviceLine
	Energy    []energyLine
	Stages    []stageSteps
	By        string
	At        time.Time
	Address   string // where the code leads
	OnlyHere  bool   // an address that no phone reaches
	Dense     bool   // many steps: printed smaller, so that it is one page
	Code      qrCode
	Cautions  []plain.Sentence
}

// roomySteps is how many steps fit on one printed page in the larger type,
// measured in Chromium on Letter paper.
const roomySteps = 40

// showPlacard is the procedure on paper, for the machine. A draft isn't printed:
// nobody may work by it.
func (s *Server) showPlacard(v *visit) error {
	inForce, err := v.desk.Published(v.ctx(), store.Procedures, v.Params("id"), 0)
	if err != nil {
		return err
	}
	p, err := v.desk.Procedure(v.ctx(), procedures.ProcedureID(inForce.ID), inForce.Version)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := placardPage{Frame: v.frame("%s: lockout placard", p.Title), Procedure: p, Devices: deviceLines(p), Energy: energyLines(p), Stages: stagesToRead(p),
		By: names[inForce.By], At: inForce.At, Address: v.BaseURL() + "/procedures/" + url.PathEscape(inForce.ID), Cautions: procedures.Cautions()}
	page.Dense = len(p.Steps) > roomySteps
	host := strings.Split(v.Hostname(), ":")[0]
	page.OnlyHere = host == "localhost" || strings.HasPrefix(host, "127.") || strings.HasPrefix(v.Hostname(), "[::1]")
	if page.Code, err = qrOf(page.Address); err != nil {
		return err
	}
	return v.show("placard", page, nil)
}
