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
	if used+1 < len(fields) && slices.Contains([]string{"to", "until", "-", "–", "..", "a", "al", "hasta", "au", "à", "jusqu'au"}, fields[used]) {
		if _, last, more := period(fields[used+1:], r); more > 0 && last >= until {
			return from, last, used + 1 + more
		}
	}
	return from, until, used
}

// period reads one day, month or year. A day of the week before it is passed over
// where it is the one of that day: otherwise it may be somebody's name.
func period(fields []string, r Reading) (from, until string, used int) {
	if from, until, used = unnamed(fields, r); used > 0 || len(fields) < 2 {
		return from, until, used
	}
	named, is := r.weekday(fields[0])
	if !is {
		return "", "", 0
	}
	from, until, used = unnamed(fields[1:], r)
	if day, err := time.Parse(time.DateOnly, from); err != nil || used == 0 || from != until || !slices.Contains(named, day.Weekday()) {
		return "", "", 0
	}
	return from, until, used + 1
}

// unnamed is a period without a day of the week.
func unnamed(fields []string, r Reading) (from, until string, used int) {
	for _, layout := range []string{time.DateOnly, "2006-01", "2006"} {
		if at, err := time.Parse(layout, fields[0]); err == nil && at.Year() >= oldest && at.Year() <= newest {
			from, until = ends(at, layout)
			return from, until, 1
		}
	}
	if day := r.numbered(strings.Trim(fields[0], ",.")); day != "" {
		return day, day, 1
	}
	text, at := meant(fields)
	if len(text) >= 3 {
		for _, order := range [][2]int{{0, 1}, {1, 0}} { // 12 Mar 2026, Mar 12, 2026
			day, err := strconv.Atoi(ordinal(text[order[0]]))
			month := r.month(text[order[1]])
			year, wrong := strconv.Atoi(text[2])
			if err != nil || wrong != nil || month == 0 || year < oldest || year > newest {
				continue
			}
			if date := time.Date(year, month, day, 0, 0, 0, 0, time.UTC); date.Day() == day && date.Month() == month {
				from, until = ends(date, time.DateOnly)
				return from, until, at[2] + 1
			}
		}
	}
	if len(text) >= 2 {
		month := r.month(text[0])
		if year, err := strconv.Atoi(text[1]); err == nil && month > 0 && year >= oldest && year <= newest {
			from, until = ends(time.Date(year, month, 1, 0, 0, 0, 0, time.UTC), "2006-01")
			return from, until, at[1] + 1
		}
	}
	return "", "", 0
}

// meant are up to three fields that may be a date, and their places: "de" and the
// like between them are passed over, as in "12 de marzo de 2026".
func meant(fields []string) (text []string, at []int) {
	for i, field := range fields {
		field = strings.Trim(field, ",.")
		if len(text) > 0 && slices.Contains([]string{"de", "del", "of"}, fold(field)) {
			continue
		}
		if text, at = append(text, field), append(at, i); len(text) == 3 {
			break
		}
	}
	return text, at
}

// ordinal is the first of a month as a number: "1er" in French, "1º" in Spanish.
func ordinal(text string) string {
	switch text {
	case "1er", "1º", "1°", "1ro", "1st":
		return "1"
	}
	return text
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
