package server

import (
	"slices"
	"time"

	"stillsaw/views"
)

// latelyDays is how many days up to today the record shows of the checks: two weeks.
const latelyDays = 14

// lately is the calendar of the last days, nil where no list was in force.
func (v *visit) lately(f *views.Frame) (*checkGrid, error) {
	y, m, d := v.now.In(v.zone).Date()
	from, until := time.Date(y, m, d-latelyDays+1, 0, 0, 0, 0, v.zone), time.Date(y, m, d+1, 0, 0, 0, 0, v.zone)
	calendar, err := v.calendar(from, until)
	if err != nil {
		return nil, err
	}
	read := calendar.Read(calendar.Days(from, until.Add(-time.Hour)), v.now)
	rows := read.ByList()
	if len(rows) == 0 {
		return nil, nil
	}
	g := gridder{v: v, frame: f, days: read.Days}
	grid := g.grid(rows, 0, len(read.Days), "list")
	grid.Title, grid.Week = f.T("Checks of the last two weeks"), nil
	grid.Rows = slices.DeleteFunc(grid.Rows, func(r gridRow) bool { return r.Quiet })
	for i := range grid.Rows {
		grid.Rows[i].Cells[0].Start = 0 // the first day is at the left, whatever day of the week
	}
	if len(grid.Rows) == 0 {
		return nil, nil
	}
	return &grid, nil
}
