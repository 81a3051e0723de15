package server

import (
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/server/search"
	"stillsaw/views"
)

// dateNames are what months and days of the week are called, by the language of
// who looks for a date: in that one first, then in the others, as whoever reads a
// record in one language may type another.
func dateNames(words *views.Catalogue) map[string]search.Names {
	months, days := map[string][]string{}, map[string][]string{}
	for _, tag := range words.Languages() {
		f := &views.Frame{Words: words.For(tag)}
		short, whole := []string{}, []string{}
		for m := time.January; m <= time.December; m++ {
			short, whole = append(short, f.T(m.String()[:3])), append(whole, f.T(m.String()))
		}
		months[tag] = slices.Concat(short, whole)
		short, whole = nil, nil
		for d := time.Sunday; d <= time.Saturday; d++ {
			short, whole = append(short, f.T(d.String()[:3])), append(whole, f.T(d.String()))
		}
		days[tag] = slices.Concat(short, whole)
	}
	names := map[string]search.Names{}
	for _, own := range words.Languages() {
		monthsHere, daysHere := months[own], days[own]
		for _, tag := range words.Languages() {
			if tag != own {
				monthsHere, daysHere = slices.Concat(monthsHere, months[tag]), slices.Concat(daysHere, days[tag])
			}
		}
		names[own] = search.NamesOf(monthsHere, daysHere)
	}
	return names
}

// readDates is how who reads f writes days: the month comes first where English is
// read in inches, elsewhere the day.
func (s *Server) readDates(f *views.Frame) search.Reading {
	return search.Reading{Names: s.dates()[f.Lang()], DayFirst: dayFirst(f)}
}

func dayFirst(f *views.Frame) bool { return f.Lang() != "en" || f.Units != checklists.InchPound }

// exampleDay is a day in words and in numbers, as the reader would type it. Its
// day is no month, so that it shows which of the two comes first.
func exampleDay(f *views.Frame) (words, numbers string) {
	words = f.T("%[1]s %[2]s %[3]s", "24", f.T("Nov"), "2026")
	if dayFirst(f) {
		return words, "24/11/2026"
	}
	return words, "11/24/2026"
}
