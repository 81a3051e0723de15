package server

import (
	"slices"
	"strings"

	"stillsaw/server/store"
	"stillsaw/server/table"
)

// cover puts the word in place of what a finished row of the table may not show,
// and names the columns that show something withheld or no longer kept: of an
// answer, at the place within of its entry, those of its own fields, of any other
// entry its note, and of each its sentence where the word stands in it.
func (x *exportTable) cover(row *table.Row, e store.Exported, within string) {
	var kept, lost columnNames
	if x.asked.Names && row.ActorID != "" {
		kept.add("actor")
	}
	for _, path := range e.Withheld {
		into := &kept
		if slices.Contains(e.Dropped, path) {
			into = &lost
		}
		field, own := strings.CutPrefix(path, within)
		switch {
		case within != "" && own && (field == "text" || field == "note"):
			into.add(field)
		case within == "" && path == noteAt(row.Kind):
			into.add("note")
		}
	}
	if x.asked.Names && row.Text == x.unseen.word {
		kept.add("text") // one of the crew
	}
	for _, one := range []struct {
		column string
		text   *string
	}{{"equipment", &row.Equipment}, {"list", &row.ListTitle}, {"item", &row.ItemText}, {"text", &row.Text}, {"note", &row.Note}, {"said", &row.Said}} {
		if shown := x.unseen.sentence(*one.text); shown != *one.text {
			*one.text = shown
			kept.add(one.column)
		}
	}
	if (x.asked.Names || x.asked.Notes) && strings.Contains(row.Said, x.unseen.word) {
		kept.add("said")
	}
	if len(e.Dropped) > 0 && strings.Contains(row.Said, x.gone) {
		lost.add("said")
	}
	row.Withheld, row.NotKept = kept.String(), lost.String()
}

// columnNames are columns of the table, each once.
type columnNames []string

func (c *columnNames) add(column string) {
	if !slices.Contains(*c, column) {
		*c = append(*c, column)
	}
}

func (c columnNames) String() string { return strings.Join(c, " ") }

// noteAt is where an entry of a kind keeps what stands in the column note.
func noteAt(kind string) string {
	switch kind {
	case store.KindDefect, store.KindDescribed, store.KindDeparture, store.KindIncident:
		return "/what"
	case store.KindMended:
		return "/mend_note"
	case store.KindReturned:
		return "/return_note"
	case store.KindDefectNoted:
		return "/text"
	case store.KindDepartureClosed:
		return "/reason"
	case store.KindLockout:
		return "/event/note"
	}
	return ""
}

// answersPath is where an entry keeps what was answered.
const answersPath = "/answers/"

func answerPath(i int) string { return answersPath + numeral(float64(i)) + "/" }
