package store

import (
	"context"
	"strings"
	"unicode"
	"unicode/utf8"

	"stillsaw/checklists"
	"stillsaw/server/search"
)

// alone is how many letters of a name say by themselves who is meant.
const alone = 3

// Names are what people are called, to find out whether a text names one of them.
// The zero value names nobody.
type Names struct {
	words map[string]bool       // a given or family name by itself
	whole map[string][][]string // whole names, by their first word
}

// NamesOf are the names of these people. Of "Ludwig van der Berg" the words with
// a capital count by themselves, too, where they have three letters or more.
func NamesOf(people ...string) Names {
	n := Names{words: map[string]bool{}, whole: map[string][][]string{}}
	for _, name := range people {
		n.phrase(name)
		capitals := strings.ContainsFunc(name, unicode.IsUpper)
		for _, t := range search.Tokens(name) {
			first, _ := utf8.DecodeRuneInString(name[t.Start:])
			if utf8.RuneCountInString(t.Word) >= alone && !(capitals && unicode.IsLower(first)) {
				n.words[t.Word] = true
			}
		}
	}
	return n
}

// phrase adds a name that counts as a whole only.
func (n Names) phrase(name string) {
	tokens := search.Tokens(name)
	if len(tokens) == 0 {
		return
	}
	words := make([]string, len(tokens))
	for i, t := range tokens {
		words[i] = t.Word
	}
	n.whole[words[0]] = append(n.whole[words[0]], words)
}

// In tells whether text holds one of the names, whole or a given or family name of
// it, in whatever letters it is written. A word counts without an s at its end,
// too: "Martas lock".
func (n Names) In(text string) bool { return n.in(text, func(string) bool { return true }) }

// Called is [Names.In] for a sentence in which somebody's word may stand among
// those of the program: only what is written as a name is taken for one, not the
// "may" of "may run".
func (n Names) Called(text string) bool {
	return n.in(text, func(word string) bool {
		first, _ := utf8.DecodeRuneInString(word)
		return !unicode.IsLower(first)
	})
}

func (n Names) in(text string, counts func(word string) bool) bool {
	if len(n.whole) == 0 {
		return false
	}
	tokens := search.Tokens(text)
	for i, t := range tokens {
		if !counts(text[t.Start:t.End]) {
			continue
		}
		if n.words[t.Word] || n.words[strings.TrimSuffix(t.Word, "s")] {
			return true
		}
		for _, words := range n.whole[t.Word] {
			if begins(tokens[i:], words) {
				return true
			}
		}
	}
	return false
}

func begins(tokens []search.Token, words []string) bool {
	if len(tokens) < len(words) {
		return false
	}
	for i, word := range words {
		if tokens[i].Word != word {
			return false
		}
	}
	return true
}

// Names are those of everybody the mill knows or ever knew: its people, those of
// firms from outside, whom the emergency card names. Who trained people or
// inspected a procedure from outside, and the addresses mail goes to, count as a
// whole. A name that was dropped from the record is not known any more.
func (m *Mill) Names(ctx context.Context) (Names, error) {
	return namesKnown(ctxReader{m, ctx}, m.id)
}

func namesKnown(r reader, mill checklists.MillID) (Names, error) {
	people, err := openedAt(r, mill, KindPerson, "/name")
	if err != nil {
		return Names{}, err
	}
	var cards []entryRow
	if err := r.gorm().Find(&cards, "mill = ? AND kind = ?", mill, KindEmergencyCard).Error; err != nil {
		return Names{}, err
	}
	openings, err := openingsOf(r, mill, cards)
	if err != nil {
		return Names{}, err
	}
	for _, row := range cards {
		e, err := entryOf(row, openings[row.Seq])
		if err != nil {
			continue // whoever checks the export is told of an altered entry
		}
		if card, ok := e.Body.(checklists.EmergencyCard); ok {
			people = append(people, card.FirstAiders...)
			for _, one := range card.Contacts {
				people = append(people, one.Who)
			}
		}
	}
	n := NamesOf(people...)
	for _, of := range [][2]string{{KindTraining, "/trainer"}, {KindProcedureInspected, "/outside"}} {
		others, err := openedAt(r, mill, of[0], of[1])
		if err != nil {
			return Names{}, err
		}
		for _, name := range others {
			n.phrase(name)
		}
	}
	var addresses []string
	if err := r.gorm().Raw("SELECT address FROM mail_recipients WHERE mill = ?", mill).Scan(&addresses).Error; err != nil {
		return Names{}, err
	}
	for _, address := range addresses {
		n.phrase(address)
	}
	return n, nil
}

// openedAt is what stands at one place of all entries of a kind.
func openedAt(r reader, mill checklists.MillID, kind, path string) (values []string, err error) {
	err = r.gorm().Raw(`SELECT DISTINCT openings.value FROM entries JOIN openings ON openings.mill = entries.mill AND openings.seq = entries.seq
		WHERE entries.mill = ? AND entries.kind = ? AND openings.path = ?`, mill, kind, path).Scan(&values).Error
	return values, err
}
