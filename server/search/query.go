package search

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// termsMost is how many terms of a query count.
const termsMost = 12

// Query is what somebody looks for: every term of it must be met.
type Query struct {
	Text  string // as typed
	Terms []Term
}

// Term is one thing looked for: a word, an exact phrase, or a time. A word that
// is a year too is met by either.
type Term struct {
	Words  []Wanted // all of which an entry is found by; none for a time alone
	Phrase []string // folded, in the order they must stand in; nil for a word

	From, Until string // local days, both within; "" where it is no time
}

// Wanted is a word, or the beginning of one.
type Wanted struct {
	Word   string
	Prefix bool
}

// Met tells whether a word of a text is the one wanted.
func (w Wanted) Met(word string) bool {
	return word == w.Word || w.Prefix && strings.HasPrefix(word, w.Word)
}

// Parse reads a query. Several words must all be there, the last may be the
// beginning of one, what stands in quotes must stand so. A time is a day, a month
// or a year as the mill writes them: "12 Mar 2026", "2026-03-12", "Mar 2026",
// "2026-03", or two of them with "to" between. A year alone may be a number too.
// "3/12/2026" is read as this mill writes it, see [Reading].
// months are the names of the twelve beside the English ones.
func Parse(text string, months []string) Query {
	return Reading{Names: NamesOf(months, nil)}.Parse(text)
}

// Reading is how who looks writes their days.
type Reading struct {
	Names    Names // beside the English ones
	DayFirst bool  // 3/12/2026 is 3 December; where only the other order is a day, it is that
}

// Parse reads a query as the function of that name does.
func (r Reading) Parse(text string) Query {
	if r.Names.months == nil {
		r.Names = english()
	}
	q := Query{Text: strings.TrimSpace(text)}
	for i, part := range strings.Split(oneQuote.Replace(q.Text), `"`) {
		if i%2 == 1 {
			q.phrase(part)
		} else {
			q.plain(part, r)
		}
	}
	q.Terms = q.Terms[:min(len(q.Terms), termsMost)]
	if n := len(q.Terms); n > 0 && q.Terms[n-1].Phrase == nil && len(q.Terms[n-1].Words) > 0 {
		last := &q.Terms[n-1].Words[0]
		last.Prefix = utf8.RuneCountInString(last.Word) > 1
	}
	return q
}

// Empty tells whether there is nothing to look for.
func (q Query) Empty() bool { return len(q.Terms) == 0 }

// oneQuote makes every sign of quotation the same.
var oneQuote = strings.NewReplacer("“", `"`, "”", `"`, "„", `"`, "‟", `"`, "«", `"`, "»", `"`)

func (q *Query) plain(text string, r Reading) {
	fields := strings.Fields(text)
	for i := 0; i < len(fields); {
		from, until, used := span(fields[i:], r)
		if used == 0 {
			q.chunk(fields[i])
			i++
			continue
		}
		term := Term{From: from, Until: until}
		if used == 1 && len(fields[i]) == len("2026") {
			term.Words = []Wanted{{Word: fields[i]}}
		}
		q.Terms = append(q.Terms, term)
		i += used
	}
}

// chunk takes what stands between two spaces: words, numbers of several parts in
// one piece, and runs of signs without spaces as phrases.
func (q *Query) chunk(text string) {
	tokens := Tokens(text)
	whole := joined(text, tokens)
	for i := 0; i < len(tokens); {
		last := i
		j := slices.IndexFunc(whole, func(j Token) bool { return j.Start == tokens[i].Start })
		switch {
		case j >= 0:
			for last+1 < len(tokens) && tokens[last+1].Start < whole[j].End {
				last++
			}
			q.Terms = append(q.Terms, Term{Words: []Wanted{{Word: whole[j].Word}}})
		case tokens[i].sign:
			for last+1 < len(tokens) && follows(tokens[last], tokens[last+1]) {
				last++
			}
			q.phrase(text[tokens[i].Start:tokens[last].End])
		default:
			q.Terms = append(q.Terms, Term{Words: []Wanted{{Word: tokens[i].Word}}})
		}
		i = last + 1
	}
}

func (q *Query) phrase(text string) {
	var term Term
	tokens := Tokens(text)
	for i, t := range tokens {
		term.Phrase = append(term.Phrase, t.Word)
		wanted := Wanted{Word: t.Word}
		if t.sign {
			switch {
			case i+1 < len(tokens) && follows(t, tokens[i+1]):
				wanted.Word += tokens[i+1].Word
			case i > 0 && follows(tokens[i-1], t):
				continue // the sign before is found with this one
			default:
				wanted.Prefix = true // the text may go on where the query ends
			}
		}
		if !slices.Contains(term.Words, wanted) {
			term.Words = append(term.Words, wanted)
		}
	}
	if len(term.Phrase) > 0 {
		q.Terms = append(q.Terms, term)
	}
}
