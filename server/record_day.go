package server

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// dayGlance is one day at a glance.
type dayGlance struct {
	Title      plain.Sentence
	Lists      []dayLine
	Raised     []dayLine
	Mended     []dayLine
	Returned   []dayLine
	Lockouts   []dayLine
	Departures []dayLine
	Go, NoGo   int
}

// dayLine is one thing of the day; Bad marks what a supervisor looks at first.
type dayLine struct {
	Href string
	Said plain.Sentence
	Who  plain.Sentence
	Late plain.Sentence // both times and by how much, empty where it was not entered late
	Bad  bool
}

// glance is the day that starts at from, without what u keeps back.
func (v *visit) glance(from time.Time, u unseen) (*dayGlance, error) {
	year, month, date := from.Date()
	until := time.Date(year, month, date+1, 0, 0, 0, 0, v.zone)
	day, err := v.desk.Day(v.ctx(), from, until)
	if err != nil {
		return nil, err
	}
	t, err := v.teller(nil)
	if err != nil {
		return nil, err
	}
	day, t.names = u.day(day), u.names(t.names)
	g := &dayGlance{Go: day.Go, NoGo: day.NoGo}
	missed := g.lists(day, u.mill(v.mill), t, from, until, v.now)
	for _, d := range day.Raised {
		g.Raised = append(g.Raised, dayLine{Href: "/defects/" + string(d.ID), Said: t.raised(d), Who: t.who(d.By), Bad: d.Open() && d.StopsNow(v.now)})
	}
	for _, d := range day.Mended {
		g.Mended = append(g.Mended, dayLine{Href: "/defects/" + string(d.ID), Said: t.defect(store.KindMended, d), Who: t.who(d.MendedBy)})
	}
	for _, d := range day.Returned {
		g.Returned = append(g.Returned, dayLine{Href: "/defects/" + string(d.ID), Said: t.defect(store.KindReturned, d), Who: t.who(d.ReturnedBy), Bad: d.NoSecond})
	}
	for _, l := range day.Lockouts {
		g.Lockouts = append(g.Lockouts, dayLine{Href: "/lockouts/" + string(l.ID), Said: plain.Say("%[1]s, for %[2]s: %[3]s", l.Procedure.Title, l.Task, lockoutSaid(l, v.now)), Who: t.who(l.Primary), Late: lateEvent(l.Events[0])})
	}
	for _, d := range day.Departures {
		g.Departures = append(g.Departures, dayLine{Href: "/departures/" + string(d.ID), Said: t.departure(store.KindDeparture, d), Who: t.who(d.By), Late: procedures.LateSaid(d.At, d.Happened), Bad: true})
	}
	g.Title = g.title(from, missed)
	return g, nil
}

// lists adds how each list stood, and what was signed outside any shift; it
// returns how many were missed.
func (g *dayGlance) lists(day store.Day, mill checklists.Mill, t teller, from, until, now time.Time) (missed int) {
	shown := map[checklists.InspectionID]bool{}
	for _, l := range day.Lists {
		for _, state := range checklists.OnDay(l, mill, day.Inspections, day.Excuses, from, until, now) {
			line := dayLine{Said: state.Said, Bad: state.Status == checklists.IsMissed || state.Status == checklists.IsLate}
			if state.Shift != "" {
				line.Said = plain.Say("Shift %[1]s: %[2]s", state.Shift, state.Said)
			}
			if state.Done != nil {
				shown[state.Done.ID] = true
				line.Href, line.Who = "/inspections/"+string(state.Done.ID), t.who(state.Done.Signer)
			}
			if state.Status == checklists.IsMissed {
				missed++
			}
			g.Lists = append(g.Lists, line)
		}
	}
	for i := range day.Inspections {
		in := &day.Inspections[i]
		if shown[in.ID] || in.At.Before(from) || !in.At.Before(until) {
			continue
		}
		g.Lists = append(g.Lists, dayLine{Href: "/inspections/" + string(in.ID), Said: plain.Say("%[1]s was also done, %[2]s.", in.Title, in.At), Who: t.who(in.Signer)})
	}
	return missed
}

// raised says what was found, whether by an inspection or by stopping.
func (t teller) raised(d checklists.Defect) plain.Sentence {
	if d.Inspection == "" {
		return t.defect(store.KindDefect, d)
	}
	if d.Severity == checklists.Mend {
		return plain.Say("%[1]s, to mend: %[2]s", t.machine(d.Equipment), d.What)
	}
	return plain.Say("%[1]s, stop: %[2]s", t.machine(d.Equipment), d.What)
}

// title says the day's answer: what went wrong, or that nothing did.
func (g *dayGlance) title(from time.Time, missed int) plain.Sentence {
	var bad []plain.Sentence
	if missed > 0 {
		bad = append(bad, plain.Say("%d checks missed", missed))
	}
	if len(g.Raised) > 0 {
		bad = append(bad, plain.Say("%d defects raised", len(g.Raised)))
	}
	if len(g.Departures) > 0 {
		bad = append(bad, plain.Say("%d departures", len(g.Departures)))
	}
	if len(bad) == 0 {
		return plain.Say("%s: no check missed, no defect, no departure", dayOf(from))
	}
	return plain.Say("%[1]s: %[2]s", dayOf(from), bad)
}

// dayOf is the date alone, for a heading.
func dayOf(t time.Time) plain.Sentence {
	number := plain.Say(t.Format("2"))
	if t.Day() == 1 {
		number = plain.Say("1") // a word in some languages
	}
	return plain.Say("%[1]s %[2]s %[3]s %[4]s", plain.Say(t.Format("Mon")), number, plain.Say(t.Format("Jan")), t.Format("2006"))
}
