package search

import (
	"slices"
	"strconv"
	"strings"
	"time"
)

// oldest and newest are the years a number of four digits may be.
const (
	oldest = 2000
	newest = 2199
)

// span reads a time at the head of fields: its first and last day, and how many
// fields it takes, 0 where there is none.
func span(fields []string, r Reading) (from, until string, used int) {
	from, until, used = period(fields, r)
	if used == 0 {
		first, second, two := strings.Cut(fields[0], "..")
		if !two {
			return "", "", 0
		}
		from, until, one := period([]string{first}, r)
		_, last, other := period([]string{second}, r)
		if one == 0 || other == 0 || last < until {
			return "", "", 0
		}
		return from, last, 1
	}
	if used+1 < len(fields) && slices.Contains([]string{"to", "until", "-", "–", ".."}, fields[used]) {
		if _, last, more := period(fields[used+1:], r); more > 0 && last >= until {
			return from, last, used + 1 + more
		}
	}
	return from, until, used
}

// period reads one day, month or year.
func period(fields []string, r Reading) (from, until string, used int) {
	skipped := 0
	if len(fields) > 1 && weekday(fields[0]) {
		fields, skipped = fields[1:], 1
	}
	for _, layout := range []string{time.DateOnly, "2006-01", "2006"} {
		if at, err := time.Parse(layout, fields[0]); err == nil && at.Year() >= oldest && at.Year() <= newest {
			from, until = ends(at, layout)
			return from, until, skipped + 1
		}
	}
	if day := r.numbered(strings.Trim(fields[0], ",.")); day != "" {
		return day, day, skipped + 1
	}
	text := func(i int) string { return strings.Trim(fields[i], ",.") }
	if len(fields) >= 3 {
		for _, order := range [][2]int{{0, 1}, {1, 0}} { // 12 Mar 2026, Mar 12, 2026
			day, err := strconv.Atoi(text(order[0]))
			month := monthOf(text(order[1]), r.Months)
			year, wrong := strconv.Atoi(text(2))
			if err != nil || wrong != nil || month == 0 || year < oldest || year > newest {
				continue
			}
			if at := time.Date(year, month, day, 0, 0, 0, 0, time.UTC); at.Day() == day && at.Month() == month {
				from, until = ends(at, time.DateOnly)
				return from, until, skipped + 3
			}
		}
	}
	if len(fields) >= 2 {
		month := monthOf(text(0), r.Months)
		if year, err := strconv.Atoi(text(1)); err == nil && month > 0 && year >= oldest && year <= newest {
			from, until = ends(time.Date(year, month, 1, 0, 0, 0, 0, time.UTC), "2006-01")
			return from, until, skipped + 2
		}
	}
	return "", "", 0
}

// numbered reads a day in numbers alone, year last: 11/24/2026, 24.11.2026. With
// points the day is first everywhere. "" where it is none.
func (r Reading) numbered(text string) string {
	orders := []string{"1/2/2006", "2/1/2006"}
	if r.DayFirst {
		slices.Reverse(orders)
	}
	for _, layout := range append(orders, "2.1.2006") {
		if at, err := time.Parse(layout, text); err == nil && at.Year() >= oldest && at.Year() <= newest {
			return at.Format(time.DateOnly)
		}
	}
	return ""
}

// ends are the first and the last day of what layout tells of at.
func ends(at time.Time, layout string) (from, until string) {
	next := at.AddDate(0, 0, 1)
	switch layout {
	case "2006-01":
		next = at.AddDate(0, 1, 0)
	case "2006":
		next = at.AddDate(1, 0, 0)
	}
	return at.Format(time.DateOnly), next.AddDate(0, 0, -1).Format(time.DateOnly)
}

func weekday(text string) bool {
	text = fold(strings.Trim(text, ",."))
	for d := time.Sunday; d <= time.Saturday; d++ {
		if name := fold(d.String()); text == name || text == name[:3] {
			return true
		}
	}
	return false
}

// monthOf reads the name of a month, 0 where it is none.
func monthOf(text string, months []string) time.Month {
	text = fold(text)
	for m := time.January; m <= time.December; m++ {
		name := fold(m.String())
		if text == name || text == name[:3] || int(m) <= len(months) && text == fold(months[m-1]) {
			return m
		}
	}
	return 0
}

// Stretches take the days from one to another apart into whole years, months and
// days: "2026", "2026-03", "2026-03-12".
func Stretches(from, until string) []string {
	at, err := time.Parse(time.DateOnly, from)
	last, wrong := time.Parse(time.DateOnly, until)
	if err != nil || wrong != nil {
		return nil
	}
	var all []string
	for !at.After(last) {
		layout, next := time.DateOnly, at.AddDate(0, 0, 1)
		if year := at.AddDate(1, 0, 0); at.YearDay() == 1 && !year.AddDate(0, 0, -1).After(last) {
			layout, next = "2006", year
		} else if month := at.AddDate(0, 1, 0); at.Day() == 1 && !month.AddDate(0, 0, -1).After(last) {
			layout, next = "2006-01", month
		}
		all = append(all, at.Format(layout))
		at = next
	}
	return all
}
