package checklists

import (
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// facet is one thing an item or a list says, in words and as it is kept.
type facet struct {
	field string
	name  plain.Sentence
	said  plain.Sentence
	kept  any
}

// facets is everything an item says but its place.
func (i Item) facets() []facet {
	l := i.Limits
	return []facet{
		{"station", plain.Say("section"), saidText(i.Station), i.Station},
		{"equipment", plain.Say("equipment"), saidText(string(i.Equipment)), i.Equipment},
		{"prompt", plain.Say("what to check"), saidText(i.Prompt), i.Prompt},
		{"how", plain.Say("how to check it"), saidText(i.How), i.How},
		{"picture", plain.Say("picture"), saidText(i.Picture), i.Picture},
		{"state", plain.Say("done while the machine is"), i.State.Said(), i.State},
		{"kind", plain.Say("answered by"), i.Kind.Said(), i.Kind},
		{"options", plain.Say("words to choose from"), saidTexts(i.Options), append([]string{}, i.Options...)},
		{"meter", plain.Say("meter"), saidText(string(i.Meter)), i.Meter},
		{"qualified", plain.Say("who may be named at it, or answer it OK"), i.Qualified.Said(), i.Qualified},
		{"limits.unit", plain.Say("unit"), saidText(l.Unit), l.Unit},
		{"limits.low", plain.Say("lowest value"), saidBound(l.Low, l.Unit), l.Low},
		{"limits.high", plain.Say("highest value"), saidBound(l.High, l.Unit), l.High},
		{"limits.high_out", plain.Say("highest value itself is out"), saidYes(l.HighOut), l.HighOut},
		{"limits.stop_at", plain.Say("stop from"), saidBound(l.StopAt, l.Unit), l.StopAt},
		{"limits.most", plain.Say("a slip of the hand beyond"), saidBound(&l.Most, l.Unit), l.Most},
		{"limits.site_set", plain.Say("start values, to be replaced"), saidYes(l.SiteSet), l.SiteSet},
		{"severity", plain.Say("a defect means"), i.Severity.Said(), i.Severity},
		{"defect_photo", plain.Say("a defect needs a photo"), saidYes(i.DefectPhoto), i.DefectPhoto},
		{"always_photo", plain.Say("always needs a photo"), saidYes(i.AlwaysPhoto), i.AlwaysPhoto},
		{"not_fitted", plain.Say("not fitted"), saidYes(i.NotFitted), i.NotFitted},
		{"repeat", plain.Say("asked"), i.Repeat.Said(), i.Repeat},
		{"when", plain.Say("condition"), i.When.Said(), i.When},
		{"source", plain.Say("why"), saidText(i.Source), i.Source},
	}
}

// facets is what the list says as a whole, its version and times aside.
func (l List) facets() []facet {
	s := l.Schedule
	var on, people []string
	var events []plain.Sentence
	for _, kind := range s.On {
		on, events = append(on, string(kind)), append(events, kind.Said())
	}
	for _, person := range s.People {
		people = append(people, string(person))
	}
	days := float64(s.Days)
	return []facet{
		{"title", plain.Say("title"), saidText(l.Title), l.Title},
		{"schedule", plain.Say("due"), s.Every.Said(), s.Every},
		{"schedule.days", plain.Say("days"), saidCount(days), days},
		{"schedule.hours", plain.Say("running hours"), saidCount(s.Hours), s.Hours},
		{"schedule.meter", plain.Say("meter"), saidText(string(s.Meter)), s.Meter},
		{"schedule.on", plain.Say("events"), saidEvents(events), on},
		{"schedule.grace", plain.Say("late after"), saidCount(float64(s.Grace)), s.Grace},
		{"holds", plain.Say("holds its equipment while due"), saidYes(s.Holds), s.Holds},
		{"holds_late", plain.Say("holds its equipment only once late"), saidYes(s.HoldsLate), s.HoldsLate},
		{"schedule.people", plain.Say("expected of"), saidTexts(people), people},
		{"schedule.role", plain.Say("expected of anyone who is"), saidRole(s.Role), s.Role},
	}
}

func saidCount(x float64) plain.Sentence {
	if x == 0 {
		return plain.Say("none")
	}
	return plain.Say("%v", x)
}

func saidEvents(events []plain.Sentence) plain.Sentence {
	if len(events) == 0 {
		return plain.Say("none")
	}
	return plain.Say("%s", events)
}

func saidRole(role procedures.Role) plain.Sentence {
	switch role {
	case "":
		return plain.Say("nobody named")
	case procedures.Operator:
		return plain.Say("operator")
	case procedures.Supervisor:
		return plain.Say("supervisor")
	}
	return plain.Say("not said")
}
