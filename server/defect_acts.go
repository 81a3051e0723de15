package server

import (
	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// photoOrBefore keeps the picture sent in field, or takes the one that came with
// an earlier sending of the form.
func (v *visit) photoOrBefore(field string) (string, plain.Problems, error) {
	digest, problems, err := v.photo(field)
	if err != nil || digest != "" || len(problems) > 0 {
		return digest, problems, err
	}
	digest, err = v.sentBefore(field + "_kept")
	return digest, nil, err
}

func (s *Server) describeDefect(v *visit) error {
	d, err := v.defect()
	if err != nil {
		return err
	}
	form := defectForm{What: v.typed("what")}
	photo, problems, err := v.photoOrBefore("what_photo")
	if err != nil {
		return err
	}
	form.WhatPhoto = photo
	if len(problems) == 0 {
		if problems, err = problemsOf(v.desk.DescribeDefect(v.ctx(), v.submission(), d.ID, form.What, photo, v.person, v.now)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.defectPage(d, "", form, problems)
	}
	return v.moveOn("/defects/"+string(d.ID), "described")
}

func (s *Server) mendDefect(v *visit) error {
	d, err := v.defect()
	if err != nil {
		return err
	}
	form := defectForm{Note: v.typed("note")}
	photo, problems, err := v.photoOrBefore("photo")
	if err != nil {
		return err
	}
	form.Photo = photo
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, wrong...); len(problems) == 0 {
		if problems, err = problemsOf(v.desk.MendDefect(v.ctx(), v.submission(), d.ID, form.Note, photo, v.person, v.now)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.defectPage(d, "", form, problems)
	}
	return v.moveOn("/defects/"+string(d.ID), "mended")
}

func (s *Server) runCheckDefect(v *visit) error {
	d, err := v.defect()
	if err != nil {
		return err
	}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		if problems, err = problemsOf(v.desk.AllowRunCheckOf(v.ctx(), v.submission(), d.ID, v.person, v.now)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.defectPage(d, "run-check", defectForm{}, problems)
	}
	return v.moveOn("/defects/"+string(d.ID), "run-check")
}

// recheckDefect answers the item of a mended defect again, as a signed
// amendment of the inspection that found it.
func (s *Server) recheckDefect(v *visit) error {
	d, err := v.defect()
	if err != nil {
		return err
	}
	if d.Item == "" {
		return v.moveOn("/defects/"+string(d.ID), "")
	}
	item, err := v.itemOf(d)
	if err != nil {
		return err
	}
	form, err := v.readAnswers([]checklists.Item{item}, nil)
	if err != nil {
		return err
	}
	problems := form.Problems
	problems.Unless(len(form.Typed) > 0, string(item.ID), "an answer: OK, defect or not checked")
	if typed := form.Typed[item.ID]; len(form.Answers) > 0 && typed.Result != string(checklists.NotChecked) {
		problems.Unless(typed.Photo != "", string(item.ID)+".photo", "a photo of the check after mending, as you work alone")
	}
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, wrong...); len(problems) == 0 {
		if problems, err = problemsOf(v.desk.AmendInspection(v.ctx(), v.submission(), d.Inspection, form.Answers, v.person, v.now)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.defectPage(d, "recheck", defectForm{}, problems)
	}
	return v.moveOn("/defects/"+string(d.ID), "amended")
}

func (s *Server) returnDefect(v *visit) error {
	d, err := v.defect()
	if err != nil {
		return err
	}
	form := defectForm{Note: v.typed("note"), OK: v.typed("ok")}
	photo, problems, err := v.photoOrBefore("photo")
	if err != nil {
		return err
	}
	form.Photo = photo
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	again := checklists.Recheck{Note: form.Note, Answer: checklists.Answer{Photo: photo}}
	if form.OK == "yes" {
		again.Answer.Result = checklists.OK
	}
	if problems = append(problems, wrong...); len(problems) == 0 {
		if problems, err = problemsOf(v.desk.ReturnDefect(v.ctx(), v.submission(), d.ID, again, v.person, v.now)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.defectPage(d, "", form, problems)
	}
	return v.moveOn("/defects/"+string(d.ID), "returned")
}
