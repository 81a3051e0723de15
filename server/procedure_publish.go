package server

import (
	"errors"
	"strconv"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type publishPage struct {
	*views.Frame
	ID, Submission, Revision string

	InForce     int // version, 0 for none
	Gaps        []gapLine
	Before      plain.Sentence
	After       plain.Sentence
	Differences []differenceLine
	Substance   int // how many of them change what is done
	Word, Why   views.Field
	Again       []trainLine // who trains again after a change of substance
	Cautions    []plain.Sentence
}

// trainLine is somebody who is to be trained, and why.
type trainLine struct {
	Name string
	Why  plain.Sentence
}

func (s *Server) showPublish(v *visit) error {
	draft, err := v.procedureDraft(v.Params("id"))
	if errors.Is(err, store.ErrNotFound) {
		return v.Redirect("/procedures/" + v.Params("id") + "/edit")
	}
	if err != nil {
		return err
	}
	return v.publishPage(draft, procedureForm{revision: strconv.Itoa(draft.Revision), submission: store.NewID(), typed: func(string) string { return "" }}, nil)
}

// publishProcedure puts the draft in force as it was read, with its author's
// word on what changed.
func (s *Server) publishProcedure(v *visit) error {
	id := v.Params("id")
	form := procedureForm{revision: v.typed("revision"), submission: v.submission(), typed: v.typed}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	draft, err := v.procedureDraft(id)
	if errors.Is(err, store.ErrNotFound) { // sent twice, or somebody published it meanwhile
		draft, err = v.procedureToEdit(id)
	}
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		doc, err := store.DraftOf(store.Procedures, id, draft.Title, draft.Procedure)
		if err != nil {
			return err
		}
		doc.Revision = whole(form.revision)
		doc.Renewal = procedures.Renewal{Said: v.typed("substance") != "", Substance: v.typed("substance") == "yes", Why: v.typed("why")}
		err = v.desk.PublishDraft(v.ctx(), form.submission, doc, v.person, v.now, store.NumberProcedure)
		if err == nil {
			return v.moveOn("/procedures/"+id, "published")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.publishPage(draft, form, placedInEdit(problems, draft.Procedure))
}

func (v *visit) publishPage(draft draftOfProcedure, form procedureForm, problems plain.Problems) error {
	inForce, err := v.desk.Procedure(v.ctx(), draft.ID, 0)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	page := publishPage{ID: string(draft.ID), Submission: form.submission, Revision: strconv.Itoa(draft.Revision), InForce: inForce.Version, Gaps: gapsIn(draft.Procedure),
		Before: versionWords(strconv.Itoa(inForce.Version)), After: versionWords(draftWord), Cautions: procedures.Cautions()}
	differences := procedures.Compare(inForce, draft.Procedure)
	switch {
	case len(page.Gaps) > 0:
		page.Frame = v.frame("%[1]s: not ready to publish, missing: %[2]d", draft.Title, len(page.Gaps))
	case page.InForce == 0:
		page.Frame = v.frame("%s: publish it for the first time", draft.Title)
	case len(differences) == 0:
		page.Frame = v.frame("%[1]s: nothing differs from version %[2]d", draft.Title, page.InForce)
	default:
		page.Frame = v.frame("%[1]s: publish version %[2]d, with what it changes", draft.Title, page.InForce+1)
	}
	f := page.Frame
	f.Problems = problems
	if page.InForce > 0 {
		plant, err := v.desk.Plant(v.ctx())
		if err != nil {
			return err
		}
		page.Differences, page.Substance = differenceLines(plant, inForce, draft.Procedure, differences), countSubstance(differences)
		if page.Again, err = v.toTrainFor(inForce, draft.Procedure); err != nil {
			return err
		}
		kinds := []views.Choice{{Value: "yes", Text: f.T("What is done: who uses it trains again")}}
		if page.Substance == 0 {
			kinds = append(kinds, views.Choice{Value: "no", Text: f.T("Only words, a first photo or the mark in one: nobody trains again for it")})
		}
		page.Word = f.ChoiceField("substance", f.T("What changes"), form.typed("substance"), kinds)
		page.Why = f.AreaField("why", f.T("Why it was changed"), form.typed("why"))
	}
	return v.show("procedure-publish", page, problems)
}

// toTrainFor is who of those who use p could not lock out by next, were it a
// change of substance: what it will do is said as what is to come.
func (v *visit) toTrainFor(p, next procedures.Procedure) ([]trainLine, error) {
	next.Version = p.Version + 1
	edition := procedures.Edition{Procedure: p.ID, Version: next.Version, Kinds: next.Kinds()}
	return v.trainLines(p, func(learned procedures.Learned) plain.Sentence {
		lacking := learned.Gaps(p, v.now)
		_, trained, _ := learned.Newest(p.ID, v.now)
		learned.Editions = append(learned.Editions, edition)
		switch gaps := learned.Gaps(next, v.now); {
		case len(lacking) > 0: // before it is published
			return lacking[0].Why
		case len(gaps) > 0:
			return plain.Say("trained on version %[1]d; version %[2]d will change what is done", trained, next.Version)
		}
		return plain.Sentence{}
	})
}

// toTrain is who of those who may lock out by p lacks training for it, with one
// gap each.
func (v *visit) toTrain(p procedures.Procedure) ([]trainLine, error) {
	return v.trainLines(p, func(learned procedures.Learned) plain.Sentence {
		if gaps := learned.Gaps(p, v.now); len(gaps) > 0 {
			return gaps[0].Why
		}
		return plain.Sentence{}
	})
}

// trainLines are those who may lock out by p of whom lacks says something.
func (v *visit) trainLines(p procedures.Procedure, lacks func(procedures.Learned) plain.Sentence) ([]trainLine, error) {
	state, err := v.desk.TrainingState(v.ctx())
	if err != nil || len(state.Trainings) == 0 {
		return nil, err
	}
	uses := map[procedures.PersonID]bool{}
	for _, id := range procedures.AuthorizedFor(p, state.People, state.Trainings) {
		uses[id] = true
	}
	var lines []trainLine
	for _, one := range state.People {
		if !uses[one.ID] {
			continue
		}
		if why := lacks(state.Learned(one.ID, p.ID)); !why.Empty() {
			lines = append(lines, trainLine{one.Name, why})
		}
	}
	return lines, nil
}
