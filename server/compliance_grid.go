package server

import (
	"fmt"
	"net/url"
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// checkGrid is one table of days, or of months, against lists, machines or people.
type checkGrid struct {
	*views.Frame
	Title  string
	Corner string
	Class  string // "days" or "months"
	Heads  []gridHead
	Week   []string // names of its days, Monday first, over each row on a phone; none where a row is no month
	Rows   []gridRow
}

type gridHead struct {
	Text, Under string // of a day its number, and the day of the week
	Full        string // for who can't see the column
	Rest, Today bool
}

type gridRow struct {
	Title, Href string
	Words       plain.Sentence
	Quiet       bool // nothing was asked in all of it
	Cells       []gridCell
}

// gridCell is one day: the worst of its marks gives it its look. Start is where
// its week has it, 1 for Monday, on the first day of a table.
type gridCell struct {
	Stands, On string
	Start      int
	Rest       bool
	Marks      []gridMark
	Words      plain.Sentence // of a month
}

type gridMark struct {
	Href, Letter, Stands, Label string
}

type legendLine struct {
	Letter, Stands string
	Said           plain.Sentence
}

// letterOf is how a standing is written on the calendar.
func letterOf(s checklists.Standing) plain.Sentence {
	switch s {
	case checklists.StandsDone:
		return plain.Say("D")
	case checklists.StandsLate:
		return plain.Say("L")
	case checklists.StandsMissed:
		return plain.Say("M")
	case checklists.StandsOverdue:
		return plain.Say("O")
	case checklists.StandsExcused:
		return plain.Say("E")
	case checklists.StandsHeld:
		return plain.Say("H")
	case checklists.StandsClosed:
		return plain.Say("C")
	case checklists.StandsNotYet:
		return plain.Say("·")
	case checklists.StandsNotDue:
		return plain.Sentence{}
	}
	return plain.Say("?")
}

// standingWords is what a letter of the calendar means.
func standingWords(s checklists.Standing) plain.Sentence {
	switch s {
	case checklists.StandsDone:
		return plain.Say("done in time")
	case checklists.StandsLate:
		return plain.Say("done late, after its shift had started")
	case checklists.StandsMissed:
		return plain.Say("missed")
	case checklists.StandsOverdue:
		return plain.Say("overdue: still to be done")
	case checklists.StandsExcused:
		return plain.Say("not done, and a supervisor said why")
	case checklists.StandsHeld:
		return plain.Say("not done, and every machine of it was held or locked out all through")
	case checklists.StandsClosed:
		return plain.Say("the mill was closed")
	case checklists.StandsNotYet:
		return plain.Say("its time is not over")
	case checklists.StandsNotDue:
		return plain.Say("nothing asked")
	}
	return plain.Say("not known")
}

func legend(f *views.Frame) []legendLine {
	var lines []legendLine
	for _, s := range checklists.Standings() {
		if s != checklists.StandsNotDue {
			lines = append(lines, legendLine{f.Say(letterOf(s)), className(s), standingWords(s)})
		}
	}
	return lines
}

func className(s checklists.Standing) string {
	if s == checklists.StandsUnknown {
		return "unknown"
	}
	return string(s)
}

// gridder draws rows as tables.
type gridder struct {
	v     *visit
	frame *views.Frame
	days  []time.Time
}

// months are the places at which each month of the days begins, and the end.
func (g gridder) months() []int {
	var at []int
	for i, day := range g.days {
		if i == 0 || day.Month() != g.days[i-1].Month() {
			at = append(at, i)
		}
	}
	return append(at, len(g.days))
}

// heads are the columns of the days from one place to another.
func (g gridder) heads(from, until int) []gridHead {
	var heads []gridHead
	today := g.v.now.In(g.v.zone).Format(time.DateOnly)
	for _, day := range g.days[from:until] {
		heads = append(heads, gridHead{Text: day.Format("2"), Under: g.frame.Say(plain.Say(day.Format("Mon"))), Full: g.frame.Say(dayOf(day)),
			Rest: weekend(day), Today: day.Format(time.DateOnly) == today})
	}
	return heads
}

// week names the days of a week, Monday first.
func (g gridder) week() []string {
	var names []string
	for day := 1; day <= 7; day++ { // 1 January 2024 was a Monday
		names = append(names, g.frame.Say(plain.Say(time.Date(2024, 1, day, 0, 0, 0, 0, time.UTC).Format("Mon"))))
	}
	return names
}

func weekend(day time.Time) bool {
	return day.Weekday() == time.Saturday || day.Weekday() == time.Sunday
}

// mondayFirst is the place of a day in its week, 1 for Monday.
func mondayFirst(day time.Time) int { return (int(day.Weekday())+6)%7 + 1 }

// byRow draws lists or machines: a table a month, a year as its months.
func (g gridder) byRow(rows []checklists.CalendarRow, p compliancePeriod) []checkGrid {
	if len(rows) == 0 {
		return nil
	}
	at := g.months()
	if p.period == "year" {
		var firsts []time.Time
		for _, first := range at[:len(at)-1] {
			firsts = append(firsts, g.days[first])
		}
		grid := yearGrid(g.frame, firsts)
		for _, r := range rows {
			row := gridRow{Title: r.Title, Href: rowHref(r), Words: r.Tally.Words(), Quiet: r.Tally == checklists.Tally{Stands: checklists.StandsNotDue}}
			for i := range at[:len(at)-1] {
				t := r.Over(at[i], at[i+1])
				month := compliancePeriod{period: "month", by: p.by, from: firsts[i]}
				cell := gridCell{Stands: className(t.Stands), On: grid.Heads[i].Text}
				if closed := closedDays(r.Days[at[i]:at[i+1]]); t.Stands == checklists.StandsClosed && closed < at[i+1]-at[i] {
					cell.Stands, cell.Words = className(checklists.StandsNotDue), plain.Say("%d days closed", closed)
				} else if t.Stands != checklists.StandsNotDue {
					words := g.frame.Say(t.Words())
					if t.Stands != checklists.StandsClosed {
						cell.Words = t.Words()
					}
					cell.Marks = []gridMark{{Href: month.href(), Letter: g.frame.Say(letterOf(t.Stands)), Stands: className(t.Stands), Label: fmt.Sprintf("%s, %s: %s", r.Title, g.frame.Say(month.name()), words)}}
				}
				row.Cells = append(row.Cells, cell)
			}
			grid.Rows = append(grid.Rows, row)
		}
		return []checkGrid{grid}
	}
	var grids []checkGrid
	for i := range at[:len(at)-1] {
		grids = append(grids, g.grid(rows, at[i], at[i+1], p.by))
	}
	return grids
}

// closedDays counts the days on which the mill was closed and nothing was asked.
func closedDays(days []checklists.ListDay) (n int) {
	for _, d := range days {
		if len(d.Checks) == 0 && d.Stands == checklists.StandsClosed {
			n++
		}
	}
	return n
}

// yearGrid has a column for each of the months that begin on those days.
func yearGrid(f *views.Frame, months []time.Time) checkGrid {
	grid := checkGrid{Frame: f, Class: "months", Title: months[0].Format("2006"), Corner: f.T("What")}
	for _, first := range months {
		grid.Heads = append(grid.Heads, gridHead{Text: f.Say(plain.Say(first.Format("Jan"))), Full: f.Say(wholeMonth(first))})
	}
	return grid
}

// grid draws the days from one place to another.
func (g gridder) grid(rows []checklists.CalendarRow, from, until int, by string) checkGrid {
	grid := checkGrid{Frame: g.frame, Class: "days", Corner: g.frame.T("What"), Heads: g.heads(from, until),
		Title: g.frame.T("%[1]s %[2]s", wholeMonth(g.days[from]), g.days[from].Format("2006"))}
	grid.Week = g.week()
	for _, r := range rows {
		tally := r.Over(from, until)
		row := gridRow{Title: r.Title, Href: rowHref(r), Words: tally.Words(), Quiet: tally == checklists.Tally{Stands: checklists.StandsNotDue}}
		for i := from; i < until; i++ {
			cell := g.cell(r.Days[i], g.days[i], r, by)
			if i == from {
				cell.Start = mondayFirst(g.days[i])
			}
			row.Cells = append(row.Cells, cell)
			row.Quiet = row.Quiet && len(cell.Marks) == 0
		}
		grid.Rows = append(grid.Rows, row)
	}
	return grid
}

func rowHref(r checklists.CalendarRow) string {
	if r.Equipment != "" {
		return "/equipment/" + url.PathEscape(string(r.Equipment))
	}
	return "/lists/" + url.PathEscape(string(r.List))
}

// cell is one day of one row. Of a list each shift or period has a mark of its
// own; of a machine the worst alone, and the day behind it.
func (g gridder) cell(d checklists.ListDay, day time.Time, r checklists.CalendarRow, by string) gridCell {
	cell := gridCell{Stands: className(d.Stands), On: day.Format("2"), Rest: weekend(day)}
	name := fmt.Sprintf("%s, %s", r.Title, g.frame.Say(dayOf(day)))
	onDay := "/record?day=" + day.Format(time.DateOnly)
	switch {
	case len(d.Checks) == 0 && d.Stands == checklists.StandsClosed:
		cell.Marks = []gridMark{{Letter: g.frame.Say(letterOf(d.Stands)), Stands: className(d.Stands), Label: fmt.Sprintf("%s: %s", name, g.frame.Say(standingWords(d.Stands)))}}
	case by == "equipment" && len(d.Checks) > 1:
		cell.Marks = []gridMark{{Href: onDay + "&equipment=" + url.QueryEscape(string(r.Equipment)), Letter: g.frame.Say(letterOf(d.Stands)), Stands: className(d.Stands),
			Label: fmt.Sprintf("%s: %s", name, g.frame.T("%[1]s, the worst of %[2]d", standingWords(d.Stands), len(d.Checks)))}}
	default:
		for _, check := range d.Checks {
			mark := gridMark{Href: onDay, Letter: g.frame.Say(letterOf(check.Stands)), Stands: className(check.Stands), Label: fmt.Sprintf("%s: %s", name, g.frame.Say(standingWords(check.Stands)))}
			if check.Shift != "" {
				mark.Label = fmt.Sprintf("%s, %s: %s", name, check.Shift, g.frame.Say(standingWords(check.Stands)))
			}
			if check.Done != nil {
				mark.Href = "/inspections/" + string(check.Done.ID)
			}
			cell.Marks = append(cell.Marks, mark)
		}
	}
	return cell
}

// gaps lists what was not done, the newest first, and how much more there is.
func (g gridder) gaps(rows []checklists.CalendarRow) (lines []undoneLine, more int) {
	today := g.v.now.In(g.v.zone).Format(time.DateOnly)
	for i := len(g.days) - 1; i >= 0; i-- {
		day := g.days[i]
		for _, r := range rows {
			for _, check := range r.Days[i].Checks {
				open := check.Stands == checklists.StandsOverdue && day.Format(time.DateOnly) == today
				if check.Stands != checklists.StandsMissed && !open {
					continue
				}
				if len(lines) == gapsShown {
					more++
					continue
				}
				line := undoneLine{Href: "/record?day=" + day.Format(time.DateOnly), Said: plain.Say("%[1]s, %[2]s: %[3]s", r.Title, dayOf(day), standingWords(check.Stands))}
				if check.Shift != "" {
					line.Said = plain.Say("%[1]s, %[2]s, shift %[3]s: %[4]s", r.Title, dayOf(day), check.Shift, standingWords(check.Stands))
				}
				if open {
					line.Href = "/due"
				}
				lines = append(lines, line)
			}
		}
	}
	return lines, more
}

// count is a number as a mark shows it.
func count(n int) string { return strconv.Itoa(n) }
