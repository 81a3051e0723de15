package server

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// chosen are the values of a field that may be sent several times, in the body
// or in the address.
func (v *visit) chosen(field string) []string {
	args := v.Context().PostArgs()
	if args.Len() == 0 {
		args = v.Context().QueryArgs()
	}
	var values []string
	for _, value := range args.PeekMulti(field) {
		if len(value) > 0 {
			values = append(values, string(value))
		}
	}
	return values
}

// dayTyped is a day as the moment it begins at the mill, zero for none; what is
// no day is noted as a problem.
func (v *visit) dayTyped(field string, problems *plain.Problems) time.Time {
	typed := v.typed(field)
	if typed == "" {
		return time.Time{}
	}
	day, err := time.ParseInLocation(time.DateOnly, typed, v.zone)
	problems.Unless(err == nil, field, "the day as 2026-03-02")
	if err != nil {
		return time.Time{}
	}
	return day.UTC()
}

// dayText is a day as a form takes it.
func (v *visit) dayText(day time.Time) string {
	if day.IsZero() {
		return ""
	}
	return day.In(v.zone).Format(time.DateOnly)
}

// trainingForm is what was typed.
type trainingForm struct {
	People, Procedures, Kinds, TagPoints []string
	Level, Covered, Trainer, On, Expires string
	Tags, Again, OwnWord                 bool
}

func (v *visit) typedTraining() trainingForm {
	ticked := func(field string) bool { return v.typed(field) == "yes" }
	return trainingForm{People: v.chosen("person"), Procedures: v.chosen("procedure"), Kinds: v.chosen("kind"), TagPoints: v.chosen("tag_point"),
		Level: v.typed("level"), Covered: v.typed("covered"), Trainer: v.typed("trainer"), On: v.typed("on"), Expires: v.typed("expires"),
		Tags: ticked("tags"), Again: ticked("again"), OwnWord: ticked("own_word")}
}

type newTrainingPage struct {
	*views.Frame
	Submission string
	Whole      bool // the whole form, not only what it is filled in from
	Form       trainingForm
	People     views.TickGroup
	Level      views.Field
	Procedures views.TickGroup
	Kinds      views.TickGroup
	TagPoints  views.TickGroup
	Deputy     bool
	Cautions   []plain.Sentence
}

// showNewTraining asks first who, what for and by which procedures, and fills in
// the rest from that.
func (s *Server) showNewTraining(v *visit) error {
	form := trainingForm{People: v.chosen("person"), Procedures: v.chosen("procedure"), Level: v.Query("level"), Trainer: v.person.Name, On: v.dayText(v.now)}
	whole := v.Query("next") == "yes"
	if form.Level == "" {
		form.Level = string(procedures.AffectedLevel)
		if v.person.Role == procedures.Supervisor {
			form.Level = string(procedures.AuthorizedLevel)
		}
	}
	if whole {
		if err := v.filledFrom(&form); err != nil {
			return err
		}
	}
	return v.newTrainingPage(form, whole, store.NewID(), nil)
}

// filledFrom puts in what the procedures chosen are about.
func (v *visit) filledFrom(form *trainingForm) error {
	for _, id := range form.Procedures {
		p, err := v.desk.Procedure(v.ctx(), procedures.ProcedureID(id), 0)
		if err != nil {
			return err
		}
		for _, kind := range p.Kinds() {
			if !slices.Contains(form.Kinds, string(kind)) {
				form.Kinds = append(form.Kinds, string(kind))
			}
		}
		form.Tags = form.Tags || p.TagOnly()
	}
	state, err := v.desk.TrainingState(v.ctx())
	for _, who := range form.People {
		for _, id := range form.Procedures {
			on := procedures.ProcedureID(id)
			if _, _, before := state.Learned(procedures.PersonID(who), on).Newest(on, v.now); before {
				form.Again = true
			}
		}
	}
	return err
}

func (v *visit) newTrainingPage(form trainingForm, whole bool, submission string, problems plain.Problems) error {
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	published, err := v.desk.InForce(v.ctx(), store.Procedures)
	if err != nil {
		return err
	}
	page := newTrainingPage{Frame: v.frame("Enter training"), Submission: submission, Whole: whole, Form: form,
		Deputy: v.person.Role != procedures.Supervisor, Cautions: procedures.Cautions()}
	page.Problems = problems
	var who, on, kinds, points []views.Tick
	for _, p := range people {
		if p.Works() {
			who = append(who, views.Tick{Value: string(p.ID), Text: p.Name, Ticked: slices.Contains(form.People, string(p.ID))})
		}
	}
	for _, p := range published {
		on = append(on, views.Tick{Value: p.ID, Text: p.Title, Ticked: slices.Contains(form.Procedures, p.ID)})
	}
	for _, kind := range procedures.EnergyKinds() {
		kinds = append(kinds, views.Tick{Value: string(kind), Text: page.Say(kind.Words()), Ticked: slices.Contains(form.Kinds, string(kind))})
	}
	for _, point := range procedures.TagPoints() {
		points = append(points, views.Tick{Value: string(point), Text: page.Say(point.Words()), Ticked: slices.Contains(form.TagPoints, string(point))})
	}
	page.People = page.TicksField("person", page.T("Who was trained"), who)
	page.Procedures = page.TicksField("procedure", page.T("Procedures gone through"), on).WithHint(page.T("Each as it was in force on the day of the training."))
	page.Kinds = page.TicksField("kind", page.T("Kinds of energy gone through"), kinds).WithHint(page.T("Filled in from the procedures; take out what was left out."))
	page.TagPoints = page.TicksField("tag_point", page.T("What was said of tags"), points).WithHint(page.T("All six, where tags were part of it."))
	var levels []views.Choice
	for _, level := range procedures.Levels() {
		levels = append(levels, views.Offer(string(level), page.Say(level.Words())))
	}
	page.Level = page.ChoiceField("level", page.T("What it was for"), form.Level, levels)
	return v.show("training-new", page, problems)
}

// trainingFields are the rules' fields by the names of the form.
func trainingFields() map[string]string {
	return map[string]string{"procedures": "procedure", "energy_kinds": "kind", "tag_points": "tag_point"}
}

func (s *Server) enterTraining(v *visit) error {
	form := v.typedTraining()
	var problems plain.Problems
	t := procedures.Training{Level: procedures.Level(form.Level), Tags: form.Tags, Again: form.Again, Covered: form.Covered, Trainer: form.Trainer,
		OwnWord: form.OwnWord, On: v.dayTyped("on", &problems), Expires: v.dayTyped("expires", &problems)}
	for _, id := range form.Procedures {
		t.Procedures = append(t.Procedures, procedures.TrainedOn{Procedure: procedures.ProcedureID(id)})
	}
	for _, kind := range form.Kinds {
		t.EnergyKinds = append(t.EnergyKinds, procedures.EnergyKind(kind))
	}
	for _, point := range form.TagPoints {
		t.TagPoints = append(t.TagPoints, procedures.TagPoint(point))
	}
	if t.OwnWord {
		t.Trainer = ""
	}
	var of []procedures.PersonID
	for _, id := range form.People {
		of = append(of, procedures.PersonID(id))
	}
	problems, err := v.signedToo(problems)
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		_, err := v.desk.EnterTrainings(v.ctx(), v.submission(), t, of, v.person, v.now)
		if err == nil {
			return v.moveOn("/training", "training")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
		problems = renamed(problems, trainingFields())
	}
	return v.newTrainingPage(form, true, v.submission(), problems)
}
