package server

import (
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type newRigPage struct {
	*views.Frame
	Submission, Name string
}

func (s *Server) showNewRig(v *visit) error { return v.newRigPage(store.NewID(), "", nil) }

func (v *visit) newRigPage(submission, name string, problems plain.Problems) error {
	page := newRigPage{Frame: v.frame("Another rig"), Submission: submission, Name: name}
	page.Problems = problems
	return v.show("rig-new", page, problems)
}

// newRig begins a draft with the usual load path and nothing known of it. The
// submission is the rig's id, so that a form sent twice makes one rig.
func (s *Server) newRig(v *visit) error {
	id, name := v.submission(), v.typed("name")
	var problems plain.Problems
	problems.Unless(name != "" && len(name) <= 80, "name", "a name the crew knows it by")
	if len(problems) > 0 {
		return v.newRigPage(id, name, problems)
	}
	rig := lift.StarterRig()
	rig.ID, rig.Name = id, name
	draft, err := store.DraftOf(store.Rigs, id, name, rig)
	if err != nil {
		return err
	}
	if err := v.desk.KeepDraft(v.ctx(), draft, v.now); err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.newRigPage(store.NewID(), name, problems)
	}
	return v.moveOn("/rigs/"+id+"/edit", "draft")
}
