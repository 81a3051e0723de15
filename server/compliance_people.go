package server

import (
	"fmt"
	"net/url"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
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

func (g gridder) signerLines(rows []checklists.PersonRow) []signerLine {
	var lines []signerLine
	for _, r := range rows {
		line := signerLine{Name: r.Person.Name, Href: g.personHref(r), Said: signedWords(r.Signed, r.Late)}
		for _, one := range r.Lapsed {
			line.Lapsed = append(line.Lapsed, lapseLine(one))
		}
		lines = append(lines, line)
	}
	return lines
}

// personHref is where one reads more of a person: what stands of them, for a
// supervisor, and what they signed, for everybody else.
func (g gridder) personHref(r checklists.PersonRow) string {
	if !g.frame.Person.Supervises() {
		return "/record?person=" + url.QueryEscape(string(r.Person.ID))
	}
	return "/people/" + url.PathEscape(string(r.Person.ID))
}

func signedWords(signed, late int) plain.Sentence {
	if late > 0 {
		return plain.Say("%[1]d signed, %[2]d of them late", signed, late)
	}
	return plain.Say("%d signed", signed)
}

// byPerson draws how many checks each person signed on each day.
func (g gridder) byPerson(rows []checklists.PersonRow, p compliancePeriod) []checkGrid {
	if len(rows) == 0 {
		return nil
	}
	at := g.months()
	if p.period == "year" {
		grid := g.yearGrid(at)
		for _, r := range rows {
			row := gridRow{Title: r.Person.Name, Href: g.personHref(r), Words: signedWords(r.Signed, r.Late), Quiet: r.Signed == 0}
			for i := range at[:len(at)-1] {
				month := compliancePeriod{period: "month", by: p.by, from: g.days[at[i]]}
				cell := gridCell{On: g.frame.Say(plain.Say(g.days[at[i]].Format("Jan")))}
				signed, late := 0, 0
				for _, day := range r.Days[at[i]:at[i+1]] {
					signed, late = signed+len(day.Signed), late+day.Late
				}
				if signed > 0 {
					cell.Marks = []gridMark{{Href: month.href(), Letter: count(signed), Stands: signedClass(late), Label: fmt.Sprintf("%s, %s: %s", r.Person.Name, g.frame.Say(month.name()), g.frame.Say(signedWords(signed, late)))}}
				}
				row.Cells = append(row.Cells, cell)
			}
			grid.Rows = append(grid.Rows, row)
		}
		return []checkGrid{grid}
	}
	var grids []checkGrid
	for i := range at[:len(at)-1] {
		grid := checkGrid{Frame: g.frame, Class: "days", Week: g.week(), Corner: g.frame.T("Who"), Heads: g.heads(at[i], at[i+1]), Title: g.frame.T("%[1]s %[2]s", wholeMonth(g.days[at[i]]), g.days[at[i]].Format("2006"))}
		for _, r := range rows {
			row := gridRow{Title: r.Person.Name, Href: g.personHref(r), Quiet: true}
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
