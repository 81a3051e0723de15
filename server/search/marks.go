package search

import "slices"

// Part is a piece of a text, and whether it is of what was looked for.
type Part struct {
	Text string
	Hit  bool
}

// Parts cut text where it meets q; together they are text.
func (q Query) Parts(text string) []Part {
	tokens := Tokens(text)
	hit := make([]bool, len(text)+1) // for each byte
	mark := func(start, end int) {
		for i := start; i < end; i++ {
			hit[i] = true
		}
	}
	for _, term := range q.Terms {
		if term.Phrase == nil {
			for _, w := range term.Words {
				for _, t := range slices.Concat(tokens, joined(text, tokens)) {
					if w.Met(t.Word) {
						mark(t.Start, t.End)
					}
				}
			}
			continue
		}
		for i := range tokens {
			if stands(tokens[i:], term.Phrase) {
				mark(tokens[i].Start, tokens[i+len(term.Phrase)-1].End)
			}
		}
	}
	var parts []Part
	for start, i := 0, 1; i <= len(text); i++ {
		if i == len(text) || hit[i] != hit[start] {
			parts = append(parts, Part{Text: text[start:i], Hit: hit[start]})
			start = i
		}
	}
	return parts
}

// Hits tells whether text meets any word of q.
func (q Query) Hits(text string) bool {
	return slices.ContainsFunc(q.Parts(text), func(p Part) bool { return p.Hit })
}

// Stands tells whether the words of phrase follow each other in text.
func Stands(text string, phrase []string) bool {
	tokens := Tokens(text)
	for i := range tokens {
		if stands(tokens[i:], phrase) {
			return true
		}
	}
	return false
}

func stands(tokens []Token, phrase []string) bool {
	if len(tokens) < len(phrase) {
		return false
	}
	for i, word := range phrase {
		if tokens[i].Word != word {
			return false
		}
	}
	return true
}
