package server

import (
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// roundPage is where somebody who looked over every part of a rig in one go
// signs once that they passed. What did not pass is entered on its own page.
type roundPage struct {
	*views.Frame
	Form    partForm
	ID      string
	Parts   []roundPart
	Everies []views.Choice
}

// roundPart is one part with its box to tick.
type roundPart struct {
	gearPart
	Box    string
	Passed bool
}

// Signing is the box in which the round is signed.
func (p roundPage) Signing() views.Sign {
	return p.SignBox(p.T("I looked at each of these parts itself, and each may stay in use."), p.T("Sign and keep"))
}

func (s *Server) showRound(v *visit) error {
	return v.roundPage(partForm{Submission: store.NewID()}, nil)
}

func (v *visit) roundPage(form partForm, problems plain.Problems) error {
	id := v.Params("rig")
	rig, _, err := v.desk.Rig(v.ctx(), id, 0)
	if err != nil {
		return err
	}
	known, err := v.desk.Gear(v.ctx(), id)
	if err != nil {
		return err
	}
	page := roundPage{Frame: v.frame("%s: inspect all its parts", rig.Name), Form: form, ID: id}
	page.Problems = problems
	for i, shown := range partsOf(page.Frame, &rig, known, v.now) {
		part := roundPart{gearPart: shown, Box: "passed-" + rig.Links[i].ID}
		part.Passed = v.typed(part.Box) == "yes"
		page.Parts = append(page.Parts, part)
	}
	for e := lift.EveryShift; e <= lift.EveryYear; e++ {
		page.Everies = append(page.Everies, views.Offer(e.String(), everyText(page.Frame, e.String())))
	}
	return v.show("gear-round", page, problems)
}

func (s *Server) inspectRound(v *visit) error {
	id := v.Params("rig")
	rig, _, err := v.desk.Rig(v.ctx(), id, 0)
	if err != nil {
		return err
	}
	form := typedPart(v)
	var problems plain.Problems
	every, err := lift.ParseEvery(form.Every)
	problems.Unless(err == nil && every != lift.EveryUnknown, "every", "choose which inspection it was")
	problems.Unless(len(form.Note) <= noteMost, "gear-note", "fewer words")
	var all []store.GearInspection
	for i := range rig.Links {
		part := rig.Links[i].ID
		problems.Unless(v.typed("passed-"+part) == "yes" || part == "", "passed-"+part, "look at it and tick it; what is not fit is entered on its own page")
		if part != "" {
			all = append(all, store.GearInspection{Rig: id, Link: part, Every: every.String(), Fit: true, Note: form.Note})
		}
	}
	if problems, err = v.signedToo(problems); err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.roundPage(form, problems)
	}
	if _, err = v.desk.KeepGearInspections(v.ctx(), form.Submission, all, every.Thorough(), v.person, v.now); err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.roundPage(form, problems)
	}
	return v.moveOn("/gear", "gear")
}
