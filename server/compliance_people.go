package server

import (
	"fmt"
	"net/url"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// signerLine is one person with what lapsed.
type signerLine struct {
	Name, Href string
	Said       plain.Sentence
	Lapsed     []lapseLine
}

type lapseLine struct {
	What  plain.Sentence
	Since time.Time
}

func signerLineOf(f *views.Frame, who procedures.Person, signed, late int, lapsed []checklists.Lapse) signerLine {
	line := signerLine{Name: who.Name, Href: personHref(f, who), Said: signedWords(signed, late)}
	for _, one := range lapsed {
		line.Lapsed = append(line.Lapsed, lapseLine(one))
	}
	return line
}

// personHref is where one reads more of a person: what stands of them, for a
// supervisor, and what they signed, for everybody else.
func personHref(f *views.Frame, who procedures.Person) string {
	if !f.Person.Supervises() {
		return "/record?person=" + url.QueryEscape(string(who.ID))
	}
	return "/people/" + url.PathEscape(string(who.ID))
}

func signedWords(signed, late int) plain.Sentence {
	if late > 0 {
		return plain.Say("%[1]d signed, %[2]d of them late", signed, late)
	}
	return plain.Say("%d signed", signed)
}

func whoSigned(p compliancePeriod) plain.Sentence {
	return plain.Say("%[1]s: who signed what", p.name())
}

// peopleTrained are the people and what each is trained on: what lapsed follows from both.
func (v *visit) peopleTrained() ([]procedures.Person, []procedures.Training, error) {
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return nil, nil, err
	}
	trainings, err := v.desk.Trainings(v.ctx())
	return people, trainings, err
}

// yearByPerson shows who signed what in each month of a year. It follows from what
// was counted day by day.
func (v *visit) yearByPerson(page compliancePage, p compliancePeriod) error {
	year := p.from.Year()
	days, err := v.desk.SignedDays(v.ctx(), p.from.Format(time.DateOnly), p.until().AddDate(0, 0, -1).Format(time.DateOnly))
	if err != nil {
		return err
	}
	people, trainings, err := v.peopleTrained()
	if err != nil {
		return err
	}
	rows := checklists.YearByPerson(year, days, people, trainings, v.now.In(v.zone))
	page.Title = whoSigned(p)
	var firsts []time.Time
	for month := range 12 {
		firsts = append(firsts, p.from.AddDate(0, month, 0))
	}
	grid := yearGrid(page.Frame, firsts)
	for _, r := range rows {
		page.People = append(page.People, signerLineOf(page.Frame, r.Person, r.Whole.Signed, r.Whole.Late, r.Lapsed))
		row := gridRow{Title: r.Person.Name, Href: personHref(page.Frame, r.Person), Words: signedWords(r.Whole.Signed, r.Whole.Late), Quiet: r.Whole.Signed == 0}
		for i, n := range r.Months {
			month := compliancePeriod{period: "month", by: p.by, from: firsts[i]}
			cell := gridCell{On: grid.Heads[i].Text}
			if n.Signed > 0 {
				cell.Marks = []gridMark{{Href: month.href(), Letter: count(n.Signed), Stands: signedClass(n.Late), Label: fmt.Sprintf("%s, %s: %s", r.Person.Name, page.Say(month.name()), page.Say(signedWords(n.Signed, n.Late)))}}
			}
			row.Cells = append(row.Cells, cell)
		}
		grid.Rows = append(grid.Rows, row)
	}
	if len(grid.Rows) > 0 {
		page.Grids = []checkGrid{grid}
	}
	return v.show("compliance", page, nil)
}

// byPerson draws how many checks each person signed on each day.
func (g gridder) byPerson(rows []checklists.PersonRow, p compliancePeriod) []checkGrid {
	if len(rows) == 0 {
		return nil
	}
	at := g.months()
	var grids []checkGrid
	for i := range at[:len(at)-1] {
		grid := checkGrid{Frame: g.frame, Class: "days", Week: g.week(), Corner: g.frame.T("Who"), Heads: g.heads(at[i], at[i+1]), Title: g.frame.T("%[1]s %[2]s", wholeMonth(g.days[at[i]]), g.days[at[i]].Format("2006"))}
		for _, r := range rows {
			row := gridRow{Title: r.Person.Name, Href: personHref(g.frame, r.Person), Quiet: true}
			total, lates := 0, 0
			for n := at[i]; n < at[i+1]; n++ {
				day := r.Days[n]
				cell := gridCell{On: g.days[n].Format("2"), Rest: weekend(g.days[n])}
				if n == at[i] {
					cell.Start = mondayFirst(g.days[n])
				}
				if signed := len(day.Signed); signed > 0 {
					mark := gridMark{Href: "/record?day=" + g.days[n].Format(time.DateOnly) + "&person=" + url.QueryEscape(string(r.Person.ID)), Letter: count(signed), Stands: signedClass(day.Late),
						Label: fmt.Sprintf("%s, %s: %s", r.Person.Name, g.frame.Say(dayOf(g.days[n])), g.frame.Say(signedWords(signed, day.Late)))}
					if signed == 1 {
						mark.Href = "/inspections/" + string(day.Signed[0].ID)
					}
					cell.Marks, row.Quiet = []gridMark{mark}, false
				}
				total, lates = total+len(day.Signed), lates+day.Late
				row.Cells = append(row.Cells, cell)
			}
			row.Words = signedWords(total, lates)
			grid.Rows = append(grid.Rows, row)
		}
		grids = append(grids, grid)
	}
	return grids
}

func signedClass(late int) string {
	if late > 0 {
		return className(checklists.StandsLate)
	}
	return className(checklists.StandsDone)
}
