package server

import (
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type taskPage struct {
	*views.Frame
	ID, Seen, Submission string
	Removed              bool // off the list: nothing more to say of it here

	As        taskLine // as it is kept
	At        []string // names of its equipment
	What      []views.Field
	Equipment []views.Field
	Kind      views.Field
	Lesser    []views.Field // asked where it is less than servicing
	Minor     []views.Field // asked of minor servicing besides
	Measure   views.Field
	Rest      []views.Field
	Cautions  []plain.Sentence
}

func (s *Server) showNewTask(v *visit) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	t := plant.NewTask("", "")
	if eq := procedures.EquipmentID(v.Query("equipment")); eq != "" {
		t = plant.NewTask("", "", eq)
	}
	return v.taskPage(plant, t, "", taskTyped(t), store.NewID(), nil)
}

func (s *Server) showTask(v *visit) error {
	plant, t, err := v.task()
	if err != nil {
		return err
	}
	return v.taskPage(plant, t, store.Mark(t), taskTyped(t), store.NewID(), nil)
}

// task is the one of the address, or one without id for a new one.
func (v *visit) task() (procedures.Plant, procedures.Task, error) {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil || v.Params("id") == "" {
		return plant, procedures.Task{}, err
	}
	t, err := v.desk.Task(v.ctx(), procedures.TaskID(v.Params("id")))
	return plant, t, err
}

// taskTyped is a task as it stands in the fields.
func taskTyped(t procedures.Task) func(string) string {
	fields := map[string]string{"title": t.Title, "kind": string(t.Kind), "guard_off": string(t.GuardOff), "body_in": string(t.BodyIn), "routine": string(t.Routine),
		"repetitive": string(t.Repetitive), "integral": string(t.Integral), "protected": string(t.Protected), "measure": t.Measure, "procedure": string(t.Procedure), "note": t.Note}
	for _, id := range t.Equipment {
		fields["at."+string(id)] = "yes"
	}
	return func(field string) string { return fields[field] }
}

// readTask is what was typed of t.
func (v *visit) readTask(plant procedures.Plant, t procedures.Task) procedures.Task {
	answer := func(field string) procedures.YesNo { return procedures.YesNo(v.typed(field)) }
	read := procedures.Task{ID: t.ID, Title: v.typed("title"), Kind: procedures.TaskKind(v.typed("kind")), GuardOff: answer("guard_off"), BodyIn: answer("body_in"),
		Routine: answer("routine"), Repetitive: answer("repetitive"), Integral: answer("integral"), Protected: answer("protected"),
		Measure: v.typed("measure"), Procedure: procedures.ProcedureID(v.typed("procedure")), Note: v.typed("note")}
	for _, e := range plant {
		if v.typed("at."+string(e.ID)) == "yes" {
			read.Equipment = append(read.Equipment, e.ID)
		}
	}
	return read
}

// keepTask enters a task, or what a supervisor says of it now: the same once
// more is its yearly review.
func (s *Server) keepTask(v *visit) error {
	plant, stored, err := v.task()
	if err != nil {
		return err
	}
	written, err := v.desk.ProceduresInForce(v.ctx())
	if err != nil {
		return err
	}
	t := v.readTask(plant, stored)
	_, wrong := t.Keep(plant, written, v.person, v.now)
	problems, err := problemsOf(wrong)
	if err != nil {
		return err
	}
	unsigned, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, unsigned...); len(problems) == 0 {
		_, err := v.desk.KeepTask(v.ctx(), v.submission(), v.since(), t, v.person, v.now)
		if err == nil {
			return v.moveOn("/tasks", "task")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.again(problems, stands{store.KindTask, string(stored.ID), store.Mark(stored), func() error { return s.showTask(v) }},
		func() error { return v.taskPage(plant, stored, v.typed("seen"), v.typed, v.submission(), problems) })
}

// removeTask takes a task off the list.
func (s *Server) removeTask(v *visit) error {
	plant, stands, err := v.task()
	if err != nil {
		return err
	}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.RemoveTask(v.ctx(), v.submission(), v.since(), stands.ID, v.person, v.now)
		if err == nil {
			return v.moveOn("/tasks", "task-removed")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.taskPage(plant, stands, store.Mark(stands), taskTyped(stands), v.submission(), problems)
}

func (v *visit) taskPage(plant procedures.Plant, t procedures.Task, seen string, typed func(string) string, submission string, problems plain.Problems) error {
	about, err := v.taskNames()
	if err != nil {
		return err
	}
	page := taskPage{ID: string(t.ID), Seen: seen, Submission: submission, As: about.line(t, v.now, v.person), Cautions: procedures.Cautions()}
	if page.Removed = t.Removed; page.Removed {
		page.Frame = v.frame("%s: taken off the list", t.Title)
	} else if t.ID == "" {
		page.Frame = v.frame("A new task: servicing unless every answer says otherwise")
	} else {
		page.Frame = v.frame("%[1]s: %[2]s", t.Title, page.As.Kind)
	}
	f := page.Frame
	f.Problems = problems
	for _, id := range t.Equipment {
		page.At = append(page.At, nameIn(plant, id))
	}
	page.What = []views.Field{f.TextField("title", f.T("What is done"), typed("title")).WithHint(f.T("One job in a few words, as in: clear a jam at the saw.")).Required()}
	for _, e := range plant {
		if e.Kind != procedures.Site {
			page.Equipment = append(page.Equipment, f.TickField("at."+string(e.ID), e.Name, typed("at."+string(e.ID)) == "yes"))
		}
	}
	var kinds []views.Choice
	for _, kind := range procedures.TaskKinds() {
		kinds = append(kinds, views.Offer(string(kind), f.Say(kind.Words())))
	}
	page.Kind = f.ChoiceField("kind", f.T("What it is"), typed("kind"), kinds)
	asks := func(name, question string) views.Field {
		return f.ChoiceField(name, question, typed(name), []views.Choice{{Value: string(procedures.Yes), Text: f.T("Yes")}, {Value: string(procedures.No), Text: f.T("No")}})
	}
	page.Lesser = []views.Field{
		asks("guard_off", f.T("Does a guard, shield, splitter or interlock come off, open or get defeated?")),
		asks("body_in", f.T("Does any part of the body go into the saw line, the carriage's travel or under a load?"))}
	page.Minor = []views.Field{
		asks("routine", f.T("Is it routine: a set way of doing it, as a matter of course?")),
		asks("repetitive", f.T("Is it repetitive: done again and again while sawing?")),
		asks("integral", f.T("Is it part of production: no sawing without it?")),
		asks("protected", f.T("Does the measure below protect as well as a lock would?"))}
	page.Measure = f.AreaField("measure", f.T("What protects people where nothing is locked"), typed("measure")).WithHint(f.T("For production: the condition on which it is that, as in: nobody in the carriage's travel."))
	choices := make([]views.Choice, len(about.written))
	for i, p := range about.written {
		choices[i] = views.Choice{Value: string(p.ID), Text: p.Title}
	}
	page.Rest = []views.Field{
		f.ChoiceField("procedure", f.T("The procedure it is locked out by"), typed("procedure"), choices).WithHint(f.T("Servicing needs one in force for all of that equipment.")),
		f.AreaField("note", f.T("What matters besides"), typed("note"))}
	return v.show("task", page, problems)
}
