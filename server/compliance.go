package server

import (
	"net/url"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func (s *Server) complianceRoutes() {
	s.get("/compliance", signedIn, s.showCompliance)
}

// gapsShown is how many checks not done the page lists before its calendar.
const gapsShown = 8

type compliancePage struct {
	*views.Frame
	Periods, Sorts []switchLink
	Earlier, Later switchLink
	Gaps           []undoneLine
	MoreGaps       int
	Grids          []checkGrid
	Legend         []legendLine
	People         []signerLine
	Clauses, Whole []clauseCard // with gaps, and without
	AsOf           time.Time    // of the clauses
	None           bool         // no list was in force
}

// switchLink is one way to look at it.
type switchLink struct {
	Href, Text string
	Here       bool
}

// undoneLine is one check that was not done.
type undoneLine struct {
	Href string
	Said plain.Sentence
}

// compliancePeriod is the stretch of the calendar that is shown.
type compliancePeriod struct {
	period string
	by     string
	from   time.Time // first day
	months int
}

func periodMonths() map[string]int { return map[string]int{"month": 1, "quarter": 3, "year": 12} }

// compliancePeriod reads the address. A period or a way to sort it does not know
// is this month by list; a day it can't read is a problem.
func (v *visit) compliancePeriod() (p compliancePeriod, problems plain.Problems) {
	day := v.now.In(v.zone)
	if text := v.Query("from"); text != "" {
		typed, err := time.ParseInLocation(time.DateOnly, text, v.zone)
		if readable := err == nil && typed.Year() >= 2000 && typed.Year() <= 9000; readable {
			day = typed
		} else {
			problems.Unless(false, "from", "a day, such as 2026-03-02")
		}
	}
	return wholePeriod(v.Query("period"), v.Query("by"), day), problems
}

// wholePeriod is the month, quarter or year that day is in.
func wholePeriod(period, by string, day time.Time) compliancePeriod {
	p := compliancePeriod{period: period, by: by}
	if periodMonths()[period] == 0 {
		p.period = "month"
	}
	switch by {
	case "list", "equipment", "person", "clause":
	default:
		p.by = "list"
	}
	p.months = periodMonths()[p.period]
	first := int(day.Month()) - (int(day.Month())-1)%p.months
	p.from = time.Date(day.Year(), time.Month(first), 1, 0, 0, 0, 0, day.Location())
	return p
}

func (p compliancePeriod) until() time.Time { return p.from.AddDate(0, p.months, 0) }

func (p compliancePeriod) href() string {
	return "/compliance?" + url.Values{"period": {p.period}, "by": {p.by}, "from": {p.from.Format(time.DateOnly)}}.Encode()
}

// name is the period in words.
func (p compliancePeriod) name() plain.Sentence {
	switch p.period {
	case "quarter":
		return plain.Say("%[1]s to %[2]s %[3]s", wholeMonth(p.from), wholeMonth(p.from.AddDate(0, 2, 0)), p.from.Format("2006"))
	case "year":
		return plain.Say("The year %s", p.from.Format("2006"))
	}
	return plain.Say("%[1]s %[2]s", wholeMonth(p.from), p.from.Format("2006"))
}

func wholeMonth(t time.Time) plain.Sentence { return plain.Say(t.Format("January")) }

func (p compliancePeriod) switches(page *compliancePage, now time.Time) {
	for _, one := range []struct {
		period string
		text   string
	}{{"month", page.T("Month")}, {"quarter", page.T("Quarter")}, {"year", page.T("Year")}} {
		other := p
		other.period = one.period
		page.Periods = append(page.Periods, switchLink{other.href(), one.text, p.period == one.period})
	}
	for _, one := range []struct {
		by   string
		text string
	}{{"list", page.T("Lists")}, {"equipment", page.T("Equipment")}, {"person", page.T("People")}, {"clause", page.T("Clauses")}} {
		other := p
		other.by = one.by
		page.Sorts = append(page.Sorts, switchLink{other.href(), one.text, p.by == one.by})
	}
	earlier, later := p, p
	earlier.from, later.from = p.from.AddDate(0, -p.months, 0), p.until()
	page.Earlier = switchLink{Href: earlier.href(), Text: page.Say(earlier.name())}
	if !later.from.After(now) {
		page.Later = switchLink{Href: later.href(), Text: page.Say(later.name())}
	}
}

func (s *Server) showCompliance(v *visit) error {
	p, problems := v.compliancePeriod()
	page := compliancePage{Frame: v.frame("Checks on the calendar")}
	p.switches(&page, v.now)
	if page.Problems = problems; len(problems) > 0 {
		return v.show("compliance", page, problems)
	}
	if p.by == "clause" {
		return v.clausesPage(page)
	}
	if p.by == "person" && p.period == "year" {
		return v.yearByPerson(page, p)
	}
	calendar, err := v.calendar(p.from, p.until())
	if err != nil {
		return err
	}
	read := calendar.Read(calendar.Days(p.from, p.until().Add(-time.Hour)), v.now)
	g := gridder{v: v, frame: page.Frame, days: read.Days}
	rows := read.ByList()
	page.None, page.Legend = len(rows) == 0, legend(page.Frame)
	page.Title = complianceTitle(p.name(), rows)
	page.Gaps, page.MoreGaps = g.gaps(rows)
	switch p.by {
	case "equipment":
		plant, err := v.desk.Plant(v.ctx())
		if err != nil {
			return err
		}
		rows = read.ByEquipment(plant)
	case "person":
		people, trainings, err := v.peopleTrained()
		if err != nil {
			return err
		}
		who := read.ByPerson(people, trainings)
		page.Legend, page.Gaps, page.MoreGaps = nil, nil, 0
		for _, r := range who {
			page.People = append(page.People, signerLineOf(page.Frame, r.Person, r.Signed, r.Late, r.Lapsed))
		}
		page.Title = whoSigned(p)
		page.Grids = g.byPerson(who, p)
		return v.show("compliance", page, nil)
	}
	page.Grids = g.byRow(rows, p)
	return v.show("compliance", page, nil)
}

// complianceTitle is the answer: what was not done, or that nothing was left out.
func complianceTitle(name plain.Sentence, rows []checklists.CalendarRow) plain.Sentence {
	missed, overdue, late := 0, 0, 0
	for _, r := range rows {
		missed, overdue, late = missed+r.Tally.Missed, overdue+r.Tally.Overdue, late+r.Tally.Late
	}
	var bad []plain.Sentence
	if missed > 0 {
		bad = append(bad, plain.Say("%d checks missed", missed))
	}
	if overdue > 0 {
		bad = append(bad, plain.Say("%d overdue now", overdue))
	}
	if late > 0 {
		bad = append(bad, plain.Say("%d checks late", late))
	}
	if len(rows) == 0 {
		return plain.Say("%s: no list in force, so nothing was asked", name)
	}
	if len(bad) == 0 {
		return plain.Say("%s: no check missed or late", name)
	}
	return plain.Say("%[1]s: %[2]s", name, bad)
}

// legendWord is one letter with its words said.
type legendWord struct{ Letter, Stands, Words string }

// LegendWords are the letters for the part that shows them.
func (p compliancePage) LegendWords() []legendWord {
	var all []legendWord
	for _, line := range p.Legend {
		all = append(all, legendWord{line.Letter, line.Stands, p.Say(line.Said)})
	}
	return all
}

// Piece is one piece of evidence with the page's words.
func (p compliancePage) Piece(e evidenceLine) any {
	return struct {
		*views.Frame
		Piece evidenceLine
	}{p.Frame, e}
}

// Card is one clause with the page's words.
func (p compliancePage) Card(c clauseCard) any {
	return struct {
		compliancePage
		Card clauseCard
	}{p, c}
}
