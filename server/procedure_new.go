package server

import (
	"errors"
	"strings"

	"github.com/google/uuid"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/starters"
	"stillsaw/server/store"
	"stillsaw/views"
)

type newProcedurePage struct {
	*views.Frame
	Submission string
	Name       views.Field
	Equipment  []views.Field
	Cautions   []plain.Sentence
}

func (s *Server) showNewProcedure(v *visit) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	fields := map[string]string{}
	if e, ok := plant.Find(procedures.EquipmentID(v.Query("equipment"))); ok && e.Kind != procedures.Site {
		fields["title"], fields["at."+string(e.ID)] = e.Name, "yes"
	}
	return v.newProcedurePage(plant, func(field string) string { return fields[field] }, store.NewID(), nil)
}

func (v *visit) newProcedurePage(plant procedures.Plant, typed func(string) string, submission string, problems plain.Problems) error {
	page := newProcedurePage{Frame: v.frame("A new procedure, drafted from the register"), Submission: submission, Cautions: procedures.Cautions()}
	page.Problems = problems
	page.Name = page.TextField("title", page.T("Name"), typed("title")).WithHint(page.T("As the crew calls it, as in: Head saw.")).Required()
	for _, e := range plant {
		if e.Kind != procedures.Site {
			page.Equipment = append(page.Equipment, page.TickField("at."+string(e.ID), e.Name, typed("at."+string(e.ID)) == "yes"))
		}
	}
	return v.show("procedure-new", page, problems)
}

// draftProcedure writes the draft from the register and goes on to editing it.
func (s *Server) draftProcedure(v *visit) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	var equipment []procedures.EquipmentID
	for _, e := range plant {
		if v.typed("at."+string(e.ID)) == "yes" {
			equipment = append(equipment, e.ID)
		}
	}
	// The draft's id is the form's, so that one sent twice makes one draft.
	sent, _, _ := strings.Cut(v.typed("submission"), "~")
	id, err := uuid.Parse(sent)
	if err != nil {
		id = uuid.Must(uuid.NewV7())
	}
	problems, err := v.keepNewDraft(plant, procedures.ProcedureID(id.String()), equipment)
	if errors.Is(err, store.ErrChanged) { // the form was gone back to
		id = uuid.Must(uuid.NewV7())
		problems, err = v.keepNewDraft(plant, procedures.ProcedureID(id.String()), equipment)
	}
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.newProcedurePage(plant, v.typed, v.submission(), problems)
	}
	return v.moveOn("/procedures/"+id.String()+"/edit", "draft")
}

func (v *visit) keepNewDraft(plant procedures.Plant, id procedures.ProcedureID, equipment []procedures.EquipmentID) (plain.Problems, error) {
	var problems plain.Problems
	title := v.typed("title")
	problems.Unless(title != "" && len(title) <= 200, "title", "give it a name")
	draft, err := plant.DraftProcedure(id, title, equipment...)
	problems.Add("", err)
	if len(problems) > 0 {
		return problems, nil
	}
	words, err := starters.In(v.words.Lang())
	if err != nil {
		return nil, err
	}
	doc, err := store.DraftOf(store.Procedures, string(id), title, words.Drafted(draft))
	if err != nil {
		return nil, err
	}
	return nil, v.desk.KeepDraft(v.ctx(), doc, v.now)
}
