package server

import (
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func recordOperations() []operation {
	return []operation{
		reads("searchRecord", "/search", "/record", "Entries found by words, names, tag numbers or a date, newest first", searchRecord,
			parameter{name: "q", says: "what to look for, as on the page of the record; in quotes exactly so"}, beforeParameter(), limitParameter()),
		reads("getCalendar", "/calendar", "/compliance", "How each list stood on each day of a month, a quarter or a year", getCalendar,
			parameter{name: "period", says: "month where it is left out", oneOf: []string{"month", "quarter", "year"}}, parameter{name: "from", says: "a day in it, 2026-03-02; left out: today"}),
	}
}

type apiFound struct {
	Items   []apiEntry `json:"items"`
	Next    string     `json:"next,omitzero" says:"send as before for the following page"`
	Without int64      `json:"without" says:"how many of the oldest entries can't be found by words yet"`
}

func searchRecord(c *call) (apiFound, error) {
	out := apiFound{Items: []apiEntry{}}
	limit, err := c.limit()
	if err != nil {
		return out, err
	}
	before, err := c.wholeQuery("before", 0)
	if err != nil {
		return out, err
	}
	page := recordPage{Frame: c.frame("The record")}
	page.Form.Q = c.Query("q")
	var bad plain.Problems
	query := page.queryOf(c.s.readDates(page.Frame), &bad)
	bad.Unless(query != nil || len(bad) > 0, "q", "a word, a number or a date to look for")
	if err := bad.Err(); err != nil {
		return out, err
	}
	kinds, outcomes := lineWords(page.Frame)
	found, err := c.desk.Search(c.ctx(), store.Looking{Filter: store.Filter{Before: before, Limit: limit}, Query: query.Query, Kinds: kinds, Outcomes: outcomes})
	if err != nil {
		return out, err
	}
	entries := each(found.Entries, func(f store.FoundEntry) store.Entry { return f.Entry })
	switch {
	case found.Further > 0:
		out.Next = strconv.FormatInt(found.Further, 10)
	case found.More && len(entries) > 0:
		out.Next = strconv.FormatInt(entries[len(entries)-1].Seq, 10)
	}
	out.Without = found.Without
	out.Items, err = c.entries(entries)
	return out, err
}

type apiCalendar struct {
	From  string            `json:"from" says:"the first day, 2026-03-01"`
	Until string            `json:"until" says:"the last day"`
	Lists []apiCalendarList `json:"lists" says:"those in force on one of the days, those with gaps first"`
}

type apiCalendarList struct {
	List  checklists.ListID `json:"list"`
	Title string            `json:"title"`
	Days  []apiCalendarDay  `json:"days" says:"those on which something was asked, or the mill was closed"`
}

type apiCalendarDay struct {
	Day    string                   `json:"day"`
	Stands string                   `json:"stands" says:"at its worst; empty: not known" oneof:"|not-due|not-yet|done|late|missed|overdue|excused|held|closed"`
	Covers []procedures.EquipmentID `json:"covers" says:"what the version of that day asks about"`
	Checks []apiCalendarCheck       `json:"checks" says:"each shift or period by itself"`
}

type apiCalendarCheck struct {
	Stands string                  `json:"stands"`
	Shift  string                  `json:"shift,omitzero"`
	Starts time.Time               `json:"starts,omitzero"`
	Ends   time.Time               `json:"ends,omitzero"`
	Done   checklists.InspectionID `json:"done,omitzero" says:"the inspection that did it"`
	Excuse string                  `json:"excuse,omitzero" says:"the reason given"`
}

func getCalendar(c *call) (out apiCalendar, err error) {
	period, err := c.wordQuery("period", "month", "month", "quarter", "year")
	if err != nil {
		return out, err
	}
	day := c.now.In(c.zone)
	if from := c.Query("from"); from != "" {
		if day, err = time.ParseInLocation(time.DateOnly, from, c.zone); err != nil || day.Year() < 2000 || day.Year() > 9000 {
			return out, wrongField("from", "a day, such as 2026-03-02")
		}
	}
	p := wholePeriod(period, "list", day)
	calendar, err := c.calendar(p.from, p.until())
	if err != nil {
		return out, err
	}
	read := calendar.Read(calendar.Days(p.from, p.until().Add(-time.Hour)), c.now)
	out = apiCalendar{From: p.from.Format(time.DateOnly), Until: p.until().AddDate(0, 0, -1).Format(time.DateOnly), Lists: []apiCalendarList{}}
	for _, row := range read.ByList() {
		list := apiCalendarList{List: row.List, Title: row.Title, Days: []apiCalendarDay{}}
		for i, d := range row.Days {
			if len(d.Checks) == 0 && d.Stands != checklists.StandsClosed {
				continue
			}
			list.Days = append(list.Days, apiCalendarDay{Day: read.Days[i].In(c.zone).Format(time.DateOnly), Stands: string(d.Stands), Covers: each(d.Covers, func(id procedures.EquipmentID) procedures.EquipmentID { return id }),
				Checks: each(d.Checks, checkForAPI)})
		}
		out.Lists = append(out.Lists, list)
	}
	return out, nil
}

func checkForAPI(check checklists.Check) apiCalendarCheck {
	out := apiCalendarCheck{Stands: string(check.Stands), Shift: check.Shift, Starts: check.Starts, Ends: check.Ends}
	if check.Done != nil {
		out.Done = check.Done.ID
	}
	if check.Excuse != nil {
		out.Excuse = check.Excuse.Reason
	}
	return out
}
