package store

import (
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

const (
	// shortestSought is the shortest text, in letters, that is looked for within
	// others: shorter ones stand in many by chance.
	shortestSought = 8
	// leftShown is how many entries where words stay are named.
	leftShown = 20
)

// showField gathers what stands at path in the entry, and the same words in every
// other entry about the same thing, what hangs on it, or that names it: each act of
// a defect carries the whole defect, so does the inspection that found it, and an
// incident's words are its defect's. A lift that was forbidden quotes what forbade
// it; what it quotes goes whole. Where else the words stand is told.
func (k *keeping) showField(shown *Shown, seq int64, path string, by procedures.Person, zone *time.Location) error {
	row, openings, err := k.entry(seq)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(openings, func(o record.Opening) bool { return o.Path == path })
	if i < 0 {
		return ErrNotFound
	}
	shown.add(seq, openings[i:i+1])
	words := openings[i].Value
	if words == "" {
		return plain.Refuse("", "Nothing was written there.")
	}
	same, err := k.holding(words, shortestSought)
	if err != nil {
		return err
	}
	for _, o := range same {
		if o.Seq == seq && o.Path == path {
			continue
		}
		goes, err := k.goesWith(row, o, words, by, zone)
		if err != nil {
			return err
		}
		if goes {
			shown.add(o.Seq, []record.Opening{{Path: o.Path, Value: o.Value}})
		} else {
			shown.stays(o.Seq)
		}
	}
	return nil
}

// named notes the entries of others where somebody's names stand: who trained
// them, who was told.
func (k *keeping) named(shown *Shown, names []string) error {
	slices.Sort(names)
	for _, name := range slices.Compact(names) {
		if name == "" {
			continue
		}
		rows, err := k.holding(name, shortestMailed)
		if err != nil {
			return err
		}
		for _, o := range rows {
			if !slices.ContainsFunc(shown.Values, func(one DroppedValues) bool { return one.Seq == o.Seq }) {
				shown.stays(o.Seq)
			}
		}
	}
	return nil
}

// holding are the openings where the words stand, by themselves or, if they are
// long enough, within another text.
func (k *keeping) holding(words string, shortest int) ([]openingRow, error) {
	q := k.r.gorm().Where("mill = ?", k.mill).Order("seq, path")
	if len([]rune(words)) < shortest {
		q = q.Where("value = ?", words)
	} else {
		within, err := json.Marshal(words)
		if err != nil {
			return nil, err
		}
		q = q.Where("(length(replace(value, ?, '')) < length(value) OR length(replace(value, ?, '')) < length(value))", words, strings.Trim(string(within), `"`))
	}
	var rows []openingRow
	return rows, q.Find(&rows).Error
}

// goesWith tells whether what stands at o goes with the words dropped of an entry.
func (k *keeping) goesWith(from entryRow, o openingRow, words string, by procedures.Person, zone *time.Location) (bool, error) {
	other, err := one[entryRow](k.r, "entry", "mill = ? AND seq = ?", k.mill, o.Seq)
	if err != nil || keepSortOf(other.Kind) == "" {
		return false, err
	}
	ofMill := from.Subject == "" || from.Subject == string(k.mill)
	switch {
	case o.Value == words && !ofMill && k.hangs.about(other, from.Subject):
		return true, nil
	case o.Value == words && ofMill && other.Kind == from.Kind && other.Subject == from.Subject, quotes(other.Kind, o, words):
		// Another version, or a quotation: each by itself, as far as it may go.
		openings, err := openingsOf(k.r, k.mill, []entryRow{other})
		if err != nil {
			return false, err
		}
		err = k.allows(other, openings[o.Seq], by, zone)
		var refusal *plain.Refusal
		if errors.As(err, &refusal) {
			return false, nil
		}
		return err == nil, err
	}
	return false, nil
}

// quotes tells whether o is a lift's list of what forbade it, and quotes the words.
func quotes(kind string, o openingRow, words string) bool {
	if kind != KindLift || o.Path != "/holds" {
		return false
	}
	var doc any
	return json.Unmarshal([]byte(o.Value), &doc) == nil && textIn(doc, func(text string) bool { return strings.Contains(text, words) })
}

// stays notes an entry where the words stay.
func (s *Shown) stays(seq int64) {
	switch n := len(s.Left); {
	case n > 0 && s.Left[n-1] == seq:
	case n < leftShown:
		s.Left = append(s.Left, seq)
	default:
		s.More++
	}
}
