package server

import (
	"math"
	"strconv"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/starters"
	"stillsaw/views"
)

// editStage is the steps of a stage with what one more of it would be.
type editStage struct {
	Number  int
	Heading plain.Sentence
	Clause  string
	Steps   []editStep
	New     []views.Field
	Adding  bool // something of a new one was typed
}

// editStep is one step being written.
type editStep struct {
	ID, Text    string
	Waited      string         // the wait that stood in its field at first
	Said        plain.Sentence // what it asks beside its words
	Fields      []views.Field
	First, Last bool
	Open        bool
}

// procedureTyped is a procedure as it stands in the fields.
func procedureTyped(p procedures.Procedure) func(string) string {
	w := p.Wording()
	fields := map[string]string{"title": w.Title, "purpose": w.Purpose, "scope": w.Scope, "authorization": w.Authorization,
		"rules": w.Rules, "techniques": w.Techniques, "enforcement": w.Enforcement}
	for id, size := range w.Sizes {
		fields["size."+string(id)] = size
		fields["coast."+string(id)] = seconds(procedures.Energy{Coast: w.Coasts[id]})
	}
	for id, m := range w.Devices {
		fields["label."+string(id)], fields["place."+string(id)], fields["number."+string(id)] = m.Label, m.Place, strconv.Itoa(m.Number)
	}
	for _, s := range p.Steps {
		id := string(s.ID)
		fields["step."+id], fields["device."+id], fields["energy."+id] = s.Text, string(s.Device), string(s.Energy)
		fields["proof."+id], fields["clause."+id], fields["wait."+id], fields["recheck."+id] = string(s.Proof), s.Clause, secondsTyped(s.Wait), minutesTyped(s.Recheck)
		fields["waited."+id] = fields["wait."+id]
		fields["stage."+id] = strconv.Itoa(int(s.Stage))
		if s.AsksPhoto {
			fields["photo."+id] = "yes"
		}
	}
	return func(field string) string { return fields[field] }
}

func secondsTyped(d time.Duration) string {
	if d == 0 {
		return ""
	}
	return measures{}.filled(d.Seconds(), 1, math.Inf(1))
}

func minutesTyped(d time.Duration) string {
	if d == 0 {
		return ""
	}
	return measures{}.filled(d.Minutes(), 1, math.Inf(1))
}

// readProcedure is the draft with everything typed: words, sizes and marks
// first, from which waits may follow, then what else was said of each step, and
// the steps that are new.
func (v *visit) readProcedure(p procedures.Procedure) (procedures.Procedure, plain.Problems, error) {
	var problems plain.Problems
	words := v.wording(p, &problems)
	notes, err := starters.WaitNotes()
	if err != nil {
		return p, nil, err
	}
	words.Notes = notes
	edited, err := p.Reworded(words)
	problems.Add("", err)
	if err != nil {
		edited = p
	}
	for _, s := range edited.Steps {
		id := string(s.ID)
		if !v.asked(s.ID) {
			continue
		}
		read := v.readStep(s, id, &problems)
		if err == nil {
			read.Text = s.Text // as typed, what it says of the coast time put right
		}
		if v.typed("wait."+id) == v.typed("waited."+id) {
			read.Wait = s.Wait // nobody touched it: it follows the coast time
		}
		kept, err := edited.KeepStep(read)
		if placeStep(&problems, err, "step."+id, id) {
			edited = kept
		}
	}
	for stage := procedures.Prepare; stage <= procedures.NotifyRestored; stage++ {
		id := "new" + strconv.Itoa(int(stage))
		if v.typed("step."+id) == "" {
			continue
		}
		// The id follows from the form, so that one sent twice adds one step.
		submission, _, _ := strings.Cut(v.typed("submission"), "~")
		made := procedures.Step{ID: procedures.StepID(submission + "-" + strconv.Itoa(int(stage))), Stage: stage}
		kept, err := edited.KeepStep(v.readStep(made, id, &problems))
		if placeStep(&problems, err, "step."+id, id) {
			edited = kept
		}
	}
	return edited, problems, nil
}

// placeStep puts what is wrong with a step beside its fields and tells whether
// nothing is.
func placeStep(problems *plain.Problems, err error, text, id string) bool {
	wrong, err := problemsOf(err)
	if err != nil {
		wrong = nil
		wrong.Add(text, err)
	}
	for _, one := range wrong {
		field := one.Field + "." + id
		if one.Field == "text" || one.Field == "step" || one.Field == "" {
			field = text
		}
		if problems.For(field) == nil {
			*problems = append(*problems, plain.Problem{Field: field, Want: one.Want})
		}
	}
	return len(wrong) == 0
}

// readStep reads what was typed of s.
func (v *visit) readStep(s procedures.Step, id string, problems *plain.Problems) procedures.Step {
	s.Text, s.Clause = v.typed("step."+id), v.typed("clause."+id)
	s.Device, s.Energy = procedures.DeviceID(v.typed("device."+id)), procedures.EnergyID(v.typed("energy."+id))
	s.Proof, s.AsksPhoto = procedures.Proof(v.typed("proof."+id)), v.typed("photo."+id) == "yes"
	s.Wait = v.lasting("wait."+id, time.Second, problems)
	s.Recheck = v.lasting("recheck."+id, time.Minute, problems)
	if was := s.Stage; v.typed("stage."+id) != "" { // not asked of a new step, which is added at its stage
		s.Stage = procedures.Stage(whole(v.typed("stage." + id)))
		if s.Stage != was && s.Clause == was.Clause() {
			s.Clause = s.Stage.Clause()
		}
	}
	return s
}

// lasting reads a span typed as a number of unit; none for nothing.
func (v *visit) lasting(field string, unit time.Duration, problems *plain.Problems) time.Duration {
	typed := v.typed(field)
	if typed == "" {
		return 0
	}
	const longest = 48 * time.Hour // longer than the rules allow, and no overflow
	n, err := checklists.ParseNumber(v.typedIn.pointed(field, typed, problems))
	if err != nil || !(n >= 0 && n*float64(unit) <= float64(longest)) {
		problems.Unless(false, field, "a number, or nothing")
		return 0
	}
	return time.Duration(math.Round(n * float64(unit)))
}

// wording reads the words, sizes and marks of p. What isn't a number is a
// problem here; what may be said the domain knows.
func (v *visit) wording(p procedures.Procedure, problems *plain.Problems) procedures.Wording {
	w := p.Wording()
	w.Title, w.Purpose, w.Scope, w.Authorization = v.typed("title"), v.typed("purpose"), v.typed("scope"), v.typed("authorization")
	w.Rules, w.Techniques, w.Enforcement = v.typed("rules"), v.typed("techniques"), v.typed("enforcement")
	for _, e := range p.Energies {
		id := string(e.ID)
		w.Sizes[e.ID] = v.typed("size." + id)
		w.Coasts[e.ID] = 0
		if typed := v.typed("coast." + id); typed != "" {
			measured, err := checklists.ParseNumber(v.typedIn.pointed("coast."+id, typed, problems))
			// Below a tenth of a second it is no measurement; huge ones overflow a time.
			if ok := err == nil && measured >= 0.1 && measured <= procedures.CoastMost.Seconds(); ok {
				w.Coasts[e.ID] = time.Duration(math.Ceil(measured*10)) * (time.Second / 10)
			} else {
				problems.Unless(false, "coast."+id, "a number of seconds, at most %s; empty while not yet measured", procedures.CoastMost)
			}
		} else if e.Kind != procedures.Rotation {
			w.Coasts[e.ID] = e.Coast // not asked
		}
	}
	for _, d := range p.Devices {
		id := string(d.ID)
		w.Devices[d.ID] = procedures.Marking{Label: v.typed("label." + id), Place: v.typed("place." + id), Number: whole(v.typed("number." + id))}
	}
	for _, s := range p.Steps {
		if v.asked(s.ID) {
			w.Steps[s.ID] = v.typed("step." + string(s.ID))
		}
	}
	return w
}

// asked tells whether the form had fields for that step: one sent twice has
// none for the step it added.
func (v *visit) asked(id procedures.StepID) bool {
	return v.Context().PostArgs().Has("waited." + string(id))
}

// editStages are the steps by stage, each with its fields.
func editStages(f *views.Frame, p procedures.Procedure, typed func(string) string, compared func(views.Field) views.Field, open string) []editStage {
	var stages []editStage
	for stage := procedures.Prepare; stage <= procedures.NotifyRestored; stage++ {
		if stage == procedures.Work {
			continue
		}
		one := editStage{Number: int(stage), Heading: stage.Words(), Clause: stage.Clause()}
		for _, s := range p.Steps {
			if s.Stage != stage {
				continue
			}
			id := string(s.ID)
			step := editStep{ID: id, Text: typed("step." + id), Waited: typed("waited." + id), Said: stepAsks(s), Fields: stepFields(f, p, stage, id, typed, compared), First: len(one.Steps) == 0, Open: open == id}
			step.Fields = append(step.Fields, stageField(f, id, typed))
			for _, field := range step.Fields {
				step.Open = step.Open || field.Problem != ""
			}
			one.Steps = append(one.Steps, step)
		}
		if n := len(one.Steps); n > 0 {
			one.Steps[n-1].Last = true
		}
		id := "new" + strconv.Itoa(int(stage))
		one.Adding = typed("step."+id) != ""
		fresh := func(field string) string {
			switch said := typed(field); {
			case said != "" || one.Adding:
				return said
			case field == "proof."+id:
				return string(procedures.Tick)
			case field == "clause."+id:
				return stage.Clause()
			}
			return ""
		}
		one.New = stepFields(f, p, stage, id, fresh, func(field views.Field) views.Field { return field })
		stages = append(stages, one)
	}
	return stages
}

// stageField asks at which stage a step is done; another puts it last there.
func stageField(f *views.Frame, id string, typed func(string) string) views.Field {
	var stages []views.Choice
	for stage := procedures.Prepare; stage <= procedures.NotifyRestored; stage++ {
		if stage != procedures.Work {
			stages = append(stages, views.Offer(strconv.Itoa(int(stage)), f.Say(stage.Words())))
		}
	}
	return f.ChoiceField("stage."+id, f.T("Done at the stage"), typed("stage."+id), stages).AsList().WithHint(f.T("Another one moves the step there, as its last."))
}

// stepAsks says what a step asks beside its words.
func stepAsks(s procedures.Step) plain.Sentence {
	said := plain.Say("Proof: %s.", s.Proof.Words())
	if s.Wait > 0 {
		said = plain.Say("%[1]s Wait at least %[2]s after shutting down.", said, s.Wait)
	}
	if s.Recheck > 0 {
		said = plain.Say("%[1]s Proven again every %[2]s.", said, s.Recheck)
	}
	if s.AsksPhoto {
		said = plain.Say("%s With a photo.", said)
	}
	return said
}

func stepFields(f *views.Frame, p procedures.Procedure, stage procedures.Stage, id string, typed func(string) string, compared func(views.Field) views.Field) []views.Field {
	devices, energies := make([]views.Choice, len(p.Devices)), make([]views.Choice, len(p.Energies))
	for i, d := range p.Devices {
		devices[i] = views.Choice{Value: string(d.ID), Text: strconv.Itoa(d.Number) + " · " + d.Label}
	}
	for i, e := range p.Energies {
		energies[i] = views.Choice{Value: string(e.ID), Text: e.Source}
	}
	var proofs []views.Choice
	for _, proof := range procedures.Proofs() {
		proofs = append(proofs, views.Offer(string(proof), f.Say(proof.Words())))
	}
	list := func(name, label string, choices []views.Choice) views.Field {
		return f.ChoiceField(name+id, label, typed(name+id), choices).AsList()
	}
	fields := []views.Field{
		compared(f.AreaField("step."+id, f.T("What to do"), typed("step."+id))),
		list("device.", f.T("Isolator, if it is at one"), devices), list("energy.", f.T("Energy, if it is about one"), energies),
		list("proof.", f.T("What is reported"), proofs),
		compared(f.NumberField("wait."+id, f.T("Wait after shutting down, at least"), typed("wait."+id))).WithUnit(f.T("s")),
	}
	if stage == procedures.Verify {
		fields = append(fields, compared(f.NumberField("recheck."+id, f.T("Proven again every"), typed("recheck."+id))).WithUnit(f.T("min")).WithHint(f.T("Where the energy can build up again; else empty.")))
	}
	return append(fields, compared(f.TextField("clause."+id, f.T("Clause that asks for it"), typed("clause."+id))),
		f.TickField("photo."+id, f.T("Ask for a photo"), typed("photo."+id) == "yes"))
}
