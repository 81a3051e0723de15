package server

import (
	"slices"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// affectedPage asks who runs a piece or works where it is serviced.
type affectedPage struct {
	*views.Frame
	Back       string
	People     []views.Field
	Submission string
	Seen       string
}

func (s *Server) showAffected(v *visit) error {
	_, e, err := v.piece()
	if err != nil {
		return err
	}
	affected, err := v.desk.Affected(v.ctx())
	if err != nil {
		return err
	}
	named := func(person procedures.PersonID) bool {
		return slices.ContainsFunc(affected, func(a procedures.Affected) bool {
			return a.Equipment == e.ID && slices.Contains(a.People, person)
		})
	}
	return v.affectedPage(e, named, store.NewID(), store.Mark(e), nil)
}

func (v *visit) affectedPage(e procedures.Equipment, ticked func(procedures.PersonID) bool, submission, seen string, problems plain.Problems) error {
	if e.Kind == procedures.Site {
		return store.ErrNotFound
	}
	crew, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	page := affectedPage{Frame: v.frame("%s: who works there", e.Name), Back: machinePath(e.ID), Submission: submission, Seen: seen}
	page.Problems = problems
	for _, p := range crew {
		if !p.Left {
			page.People = append(page.People, page.TickField("affected."+string(p.ID), p.Name, ticked(p.ID)))
		}
	}
	return v.show("affected", page, problems)
}

func (s *Server) keepAffected(v *visit) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	crew, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	var who []procedures.PersonID
	for _, p := range crew {
		if !p.Left && v.typed("affected."+string(p.ID)) == "yes" {
			who = append(who, p.ID)
		}
	}
	var problems plain.Problems
	_, wrong := plant.KeepAffected(e.ID, who, crew)
	problems.Add("", wrong)
	return v.keepRegister(e, problems, func(p procedures.Plant) (procedures.Plant, error) { return p.KeepAffected(e.ID, who, crew) },
		func(problems plain.Problems) error {
			ticked := func(id procedures.PersonID) bool { return slices.Contains(who, id) }
			return v.again(problems, stands{mark: store.Mark(e), page: func() error { return s.showAffected(v) }},
				func() error { return v.affectedPage(e, ticked, v.submission(), v.typed("seen"), problems) })
		})
}
