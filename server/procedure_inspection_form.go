package server

import (
	"errors"
	"fmt"
	"slices"
	"strconv"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) procedureInspectionRoutes() {
	s.get("/procedures/:id/inspections/new", crew, s.showInspectProcedure)
	s.post("/procedures/:id/inspections/new", crew, s.inspectProcedure)
	s.get("/procedure-inspections/:id", signedIn, s.showProcedureInspection)
	s.post("/procedure-inspections/:id/findings", crew, s.seeToFinding)
}

// Who inspected, as the form asks it.
const (
	inspectedByMe      = "me"
	inspectedByOutside = "outside"
)

// When a procedure was gone over with somebody.
const (
	reviewedThen  = "then"  // on the day of the inspection
	reviewedOther = "other" // on another day
	reviewedAway  = "away"  // it follows
)

// Findings of a form: how many it is read for, and how many are offered empty.
const (
	mostFindings  = 20
	spareFindings = 2
)

// watchedMost is how many lockouts are offered as watched.
const watchedMost = 8

// procedureInspectionForm is what was typed.
type procedureInspectionForm struct {
	Watched, On, Inspector, Outside, Firm string
	ShownBy, WhyLater                     string
	Equipment                             []string
	Reviewed, Affected                    map[procedures.PersonID]reviewForm
	TagLimits                             []string
	Findings                              []findingForm
}

type reviewForm struct{ How, Day string }

type findingForm struct{ Said, Kind, Person, Owner, Due string }

func (v *visit) typedProcedureInspection(f procedures.InspectionFacts) procedureInspectionForm {
	form := procedureInspectionForm{Watched: v.typed("watched"), On: v.typed("on"), Inspector: v.typed("inspector"), Outside: v.typed("outside"), Firm: v.typed("firm"),
		ShownBy: v.typed("shown_by"), WhyLater: v.typed("why_later"), Equipment: v.chosen("equipment"), TagLimits: v.chosen("tag_limits"), Reviewed: map[procedures.PersonID]reviewForm{}, Affected: map[procedures.PersonID]reviewForm{}}
	for _, p := range f.People {
		id := string(p.ID)
		form.Reviewed[p.ID] = reviewForm{v.typed("reviewed." + id), v.typed("reviewed." + id + ".day")}
		form.Affected[p.ID] = reviewForm{v.typed("affected." + id), v.typed("affected." + id + ".day")}
	}
	for n := 1; n <= mostFindings; n++ {
		name := fmt.Sprintf("findings.%d.", n)
		if !v.Context().PostArgs().Has(name + "said") {
			break
		}
		form.Findings = append(form.Findings, findingForm{v.typed(name + "said"), v.typed(name + "kind"), v.typed(name + "person"), v.typed(name + "owner"), v.typed(name + "due")})
	}
	return form
}

// inspection is the form as a certificate, with the names its findings have in
// the form; an empty finding is none.
func (v *visit) procedureInspection(form procedureInspectionForm, f procedures.InspectionFacts, problems *plain.Problems) (procedures.ProcedureInspection, map[string]string) {
	in := procedures.ProcedureInspection{Procedure: f.Procedure.ID, On: v.dayTyped("on", problems), WhyLater: form.WhyLater}
	if form.Watched == "none" {
		in.ShownBy = procedures.PersonID(form.ShownBy)
	}
	if form.Inspector == inspectedByOutside {
		in.Outside, in.Firm = form.Outside, form.Firm
	} else {
		in.Inspector = v.person.ID
		problems.Unless(form.Inspector == inspectedByMe, "inspector", "who inspected")
	}
	for _, id := range form.Equipment {
		in.Equipment = append(in.Equipment, procedures.EquipmentID(id))
	}
	for _, point := range form.TagLimits {
		in.TagLimits = append(in.TagLimits, procedures.TagPoint(point))
	}
	in.Reviewed = v.reviews("reviewed.", procedures.AuthorizedFor(f.Procedure, f.People, f.Trainings), form.Reviewed, in, problems)
	if f.Procedure.TagOnly() {
		in.Affected = v.reviews("affected.", f.AffectedHere(), form.Affected, in, problems)
	}
	places := map[string]string{}
	for i, typed := range form.Findings {
		if typed == (findingForm{}) {
			continue
		}
		name := fmt.Sprintf("findings.%d.", i+1)
		in.Findings = append(in.Findings, procedures.Finding{Said: typed.Said, Kind: procedures.FindingKind(typed.Kind), Person: procedures.PersonID(typed.Person),
			Owner: procedures.PersonID(typed.Owner), Due: v.dayTyped(name+"due", problems)})
		for _, field := range []string{"said", "kind", "person", "owner", "due"} {
			places["findings."+strconv.Itoa(len(in.Findings))+"."+field] = name + field
		}
	}
	return in, places
}

func (v *visit) reviews(prefix string, people []procedures.PersonID, typed map[procedures.PersonID]reviewForm, in procedures.ProcedureInspection, problems *plain.Problems) []procedures.Review {
	var all []procedures.Review
	for _, id := range people {
		day := v.dayTyped(prefix+string(id)+".day", problems)
		review := procedures.Review{Person: id}
		switch typed[id].How {
		case reviewedThen:
			review.On = in.On
		case reviewedOther:
			review.On = day
		case reviewedAway:
			review.FollowUp = day
		}
		if (!review.On.IsZero() || !review.FollowUp.IsZero()) && id != in.Inspector {
			all = append(all, review)
		}
	}
	return all
}

type procedureInspectionPage struct {
	*views.Frame
	Submission string
	Act        string
	Procedure  procedures.Procedure
	Due        plain.Sentence
	Not        *plain.Refusal // why the visitor may not be the inspector
	Form       procedureInspectionForm
	Watched    []views.Choice
	ShownBy    []views.Choice
	Inspectors []views.Choice
	Equipment  views.TickGroup
	Reviewed   []reviewPart
	Affected   []reviewPart
	TagOnly    bool
	TagLimits  views.TickGroup
	Findings   []findingPart
	Cautions   []plain.Sentence
}

// reviewPart asks when it was gone over with one person.
type reviewPart struct {
	Name string
	How  views.Field
	Day  views.Field
	Self bool // the visitor: asked only when somebody else inspected
}

type findingPart struct {
	Heading string
	Open    bool // something is typed or wrong
	Fields  []views.Field
}

func (s *Server) showInspectProcedure(v *visit) error {
	f, err := v.desk.InspectionFacts(v.ctx(), procedures.ProcedureID(v.Params("id")), "")
	if err != nil {
		return err
	}
	form := procedureInspectionForm{Watched: v.Query("watched"), On: v.dayText(v.now), Inspector: inspectedByMe}
	if f.MayInspect(v.person) != nil {
		form.Inspector = inspectedByOutside
	}
	for _, id := range f.Procedure.Equipment {
		form.Equipment = append(form.Equipment, string(id))
	}
	return v.inspectProcedurePage(f, form, store.NewID(), nil)
}

func (v *visit) inspectProcedurePage(f procedures.InspectionFacts, form procedureInspectionForm, submission string, problems plain.Problems) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	of, _, err := v.inspectionsDue()
	if err != nil {
		return err
	}
	page := procedureInspectionPage{Frame: v.frame("Inspect the procedure: %s", f.Procedure.Title), Submission: submission,
		Act: "/procedures/" + string(f.Procedure.ID) + "/inspections/new", Procedure: f.Procedure, Due: of[f.Procedure.ID].Said, Form: form, TagOnly: f.Procedure.TagOnly(),
		Cautions: procedures.Cautions()}
	page.Problems = problems
	errors.As(f.MayInspect(v.person), &page.Not)
	names := map[procedures.PersonID]string{}
	for _, p := range f.People {
		names[p.ID] = p.Name
	}
	page.choices(v, f, names)
	var machines, limits []views.Tick
	for _, id := range f.Procedure.Equipment {
		machines = append(machines, views.Tick{Value: string(id), Text: nameIn(plant, id), Ticked: slices.Contains(form.Equipment, string(id))})
	}
	page.Equipment = page.TicksField("equipment", page.T("Inspected at"), machines)
	for _, point := range procedures.TagPoints() {
		limits = append(limits, views.Tick{Value: string(point), Text: page.Say(point.Words()), Ticked: slices.Contains(form.TagLimits, string(point))})
	}
	page.TagLimits = page.TicksField("tag_limits", page.T("What tags can't do was gone over too"), limits)
	for _, id := range procedures.AuthorizedFor(f.Procedure, f.People, f.Trainings) {
		page.Reviewed = append(page.Reviewed, page.review("reviewed.", id, names[id], form.Reviewed[id]))
		page.ShownBy = append(page.ShownBy, views.Choice{Value: string(id), Text: names[id]})
	}
	if page.TagOnly {
		for _, id := range f.AffectedHere() {
			page.Affected = append(page.Affected, page.review("affected.", id, names[id], form.Affected[id]))
		}
	}
	page.findings(f, form)
	return v.show("procedure-inspect", page, problems)
}

// choices offers the lockouts that may have been watched, the newest first, and
// who inspected.
func (p *procedureInspectionPage) choices(v *visit, f procedures.InspectionFacts, names map[procedures.PersonID]string) {
	p.Watched = []views.Choice{{Value: "none", Text: p.T("None: somebody showed every step at the machine")}}
	for _, l := range slices.Backward(f.Used) {
		if len(p.Watched) > watchedMost {
			break
		}
		if !f.MayHaveWatched(l) {
			continue
		}
		p.Watched = append(p.Watched, views.Choice{Value: string(l.ID), Text: p.T("%[1]s, by %[2]s, %[3]s", l.Task, names[l.Primary], l.Begun)})
	}
	p.Inspectors = []views.Choice{{Value: inspectedByMe, Text: p.T("I did: %s", v.person.Name)}}
	if v.person.Supervises() {
		p.Inspectors = append(p.Inspectors, views.Choice{Value: inspectedByOutside, Text: p.T("An authorized person from outside, named below")})
	}
}

func (p procedureInspectionPage) review(prefix string, id procedures.PersonID, name string, typed reviewForm) reviewPart {
	field := prefix + string(id)
	return reviewPart{Name: name, Self: id == p.Person.ID && prefix == "reviewed.",
		How: p.ChoiceField(field, name, typed.How, []views.Choice{{Value: reviewedThen, Text: p.T("Gone over on the day of the inspection")},
			{Value: reviewedOther, Text: p.T("Gone over on the day below")}, {Value: reviewedAway, Text: p.T("Away: it follows on the day below")}}),
		Day: p.DayField(field+".day", p.T("Day, if another"), typed.Day)}
}

func (p *procedureInspectionPage) findings(f procedures.InspectionFacts, form procedureInspectionForm) {
	var kinds, people, crew []views.Choice
	for _, kind := range procedures.FindingKinds() {
		kinds = append(kinds, views.Offer(string(kind), p.Say(kind.Words())))
	}
	for _, one := range f.People {
		if one.Left {
			continue
		}
		people = append(people, views.Choice{Value: string(one.ID), Text: one.Name})
		if one.Works() {
			crew = append(crew, views.Choice{Value: string(one.ID), Text: one.Name})
		}
	}
	filled := 0
	for i, one := range form.Findings {
		if one != (findingForm{}) {
			filled = i + 1
		}
	}
	for n := 1; n <= min(filled+spareFindings, mostFindings); n++ {
		one := findingForm{}
		if n <= len(form.Findings) {
			one = form.Findings[n-1]
		}
		name := fmt.Sprintf("findings.%d.", n)
		part := findingPart{Heading: p.T("Finding %d", n), Open: one != (findingForm{}), Fields: []views.Field{
			p.AreaField(name+"said", p.T("What was found"), one.Said),
			p.ChoiceField(name+"kind", p.T("What kind of thing"), one.Kind, kinds),
			p.ChoiceField(name+"person", p.T("Whose, where somebody's"), one.Person, people).WithHint(p.T("They are trained again before their next lockout by this procedure.")),
			p.ChoiceField(name+"owner", p.T("Who sees to it"), one.Owner, crew),
			p.DayField(name+"due", p.T("By"), one.Due),
		}}
		p.Findings = append(p.Findings, part)
	}
}

func (s *Server) inspectProcedure(v *visit) error {
	watched := procedures.LockoutID(v.typed("watched"))
	if watched == "none" {
		watched = ""
	}
	f, err := v.desk.InspectionFacts(v.ctx(), procedures.ProcedureID(v.Params("id")), "")
	if err != nil {
		return err
	}
	form := v.typedProcedureInspection(f)
	var problems plain.Problems
	in, places := v.procedureInspection(form, f, &problems)
	problems.Unless(form.Watched != "", "watched", "which lockout was watched, or none")
	if problems, err = v.signedToo(problems); err != nil {
		return err
	}
	if len(problems) == 0 {
		id, err := v.desk.InspectProcedure(v.ctx(), v.submission(), in, watched, v.person, v.now)
		if err == nil {
			return v.moveOn("/procedure-inspections/"+string(id), "procedure-inspected")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
		problems = renamed(problems, places)
	}
	return v.inspectProcedurePage(f, form, v.submission(), problems)
}
