package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
)

// SignedDay is how many checks of a list one person signed on one day of the mill's
// calendar, and how many of them late.
type SignedDay struct {
	Day          string // local date, "2026-03-02"
	List         ListID
	Signer       procedures.PersonID
	Signed, Late int
}

// SignedCount is how many checks were signed, and how many of them late.
type SignedCount struct{ Signed, Late int }

func (c *SignedCount) add(d SignedDay) { c.Signed, c.Late = c.Signed+d.Signed, c.Late+d.Late }

// PersonYear is what one person signed in each month of a year.
type PersonYear struct {
	Person procedures.Person
	Months [12]SignedCount // January first
	Whole  SignedCount
	Lapsed []Lapse
}

// YearByPerson is a row for each of the people who signed a check in that year up to
// now, or of whom something lapsed; whoever has a lapse first. now is in the mill's
// zone.
func YearByPerson(year int, days []SignedDay, people []procedures.Person, trainings []procedures.Training, now time.Time) []PersonYear {
	by := map[procedures.PersonID]*PersonYear{}
	today := now.Format(time.DateOnly)
	for _, d := range days {
		on, err := time.Parse(time.DateOnly, d.Day)
		if err != nil || on.Year() != year || d.Day > today {
			continue
		}
		if by[d.Signer] == nil {
			by[d.Signer] = &PersonYear{}
		}
		by[d.Signer].Months[on.Month()-1].add(d)
		by[d.Signer].Whole.add(d)
	}
	var rows []PersonYear
	for _, who := range people {
		row := PersonYear{}
		if known := by[who.ID]; known != nil {
			row = *known
		}
		row.Person, row.Lapsed = who, lapses(who, trainings, now)
		if row.Whole.Signed > 0 || len(row.Lapsed) > 0 {
			rows = append(rows, row)
		}
	}
	slices.SortStableFunc(rows, func(a, b PersonYear) int { return len(b.Lapsed) - len(a.Lapsed) })
	return rows
}
