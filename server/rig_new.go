package server

import (
	"errors"
	"strings"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/starters"
	"stillsaw/server/store"
	"stillsaw/views"
)

type newRigPage struct {
	*views.Frame
	Submission, Name, From string
	Rigs                   []views.Choice // in force, and none of them
}

func (s *Server) showNewRig(v *visit) error { return v.newRigPage(store.NewID(), "", "", nil) }

func (v *visit) newRigPage(submission, name, from string, problems plain.Problems) error {
	page := newRigPage{Frame: v.frame("Another rig"), Submission: submission, Name: name, From: from}
	page.Problems = problems
	published, err := v.desk.InForce(v.ctx(), store.Rigs)
	if err != nil {
		return err
	}
	page.Rigs = []views.Choice{views.Offer("none", page.T("on none of these: every part is another one"))}
	for _, p := range published {
		page.Rigs = append(page.Rigs, views.Offer(p.ID, page.T("on the same hoist as %s", p.Title)))
	}
	return v.show("rig-new", page, problems)
}

// newRig begins a draft with the usual load path and nothing known of it but what
// it shares with another on purpose. The submission is the rig's id, so that a
// form sent twice makes one rig.
func (s *Server) newRig(v *visit) error {
	id, name, from := v.submission(), v.typed("name"), v.typed("from")
	var problems plain.Problems
	problems.Unless(name != "" && len(name) <= 80, "name", "a name the crew knows it by")
	var shared lift.Rig
	if from != "" && from != "none" {
		var err error
		shared, _, err = v.desk.Rig(v.ctx(), from, 0)
		if err != nil && !errors.Is(err, store.ErrNotFound) {
			return err
		}
		problems.Unless(err == nil, "from", "choose one of the list")
	}
	if len(problems) > 0 {
		return v.newRigPage(id, name, from, problems)
	}
	words, err := starters.In(v.words.Lang())
	if err != nil {
		return err
	}
	rig := lift.BeginRig(id, name, shared)
	for i, link := range rig.Links {
		if strings.HasPrefix(string(link.ID), id+"-") { // the parts of a rig it hangs on have their names
			rig.Links[i].Name = words.Text(link.Name)
		}
	}
	draft, err := store.DraftOf(store.Rigs, id, name, rig)
	if err != nil {
		return err
	}
	if err := v.desk.KeepDraft(v.ctx(), draft, v.now); err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.newRigPage(store.NewID(), name, from, problems)
	}
	return v.moveOn("/rigs/"+id+"/edit", "draft")
}
