package search

import (
	"strings"
	"unicode"
)

// joinMost is how many parts of a number are taken in one piece.
const joinMost = 6

// Words are what text is found by, in no order to rely on and some of them twice.
func Words(text string) []string {
	tokens := Tokens(text)
	words := make([]string, 0, len(tokens))
	for i, t := range tokens {
		word := t.Word
		if i+1 < len(tokens) && follows(t, tokens[i+1]) {
			word += tokens[i+1].Word
		}
		words = append(words, word)
	}
	for _, j := range joined(text, tokens) {
		words = append(words, j.Word)
	}
	return words
}

// follows tells whether b is the next sign of the run of signs that a is in.
func follows(a, b Token) bool { return a.sign && b.sign && a.End == b.Start }

// noGo is NO-GO in one piece, the opposite of GO and not a text with both words.
const noGo = "nogo"

// joined are the numbers of several parts, such as S-1204, each in one piece, and
// NO-GO.
func joined(text string, tokens []Token) []Token {
	var found []Token
	for first := 0; first < len(tokens); {
		last := first
		for last+1 < len(tokens) && last-first+1 < joinMost && joins(text, tokens[last], tokens[last+1]) {
			last++
		}
		if last > first {
			word := ""
			for _, t := range tokens[first : last+1] {
				word += t.Word
			}
			if (strings.ContainsFunc(word, unicode.IsDigit) || word == noGo) && len(word) <= longest {
				found = append(found, Token{Word: word, Start: tokens[first].Start, End: tokens[last].End})
			}
		}
		first = last + 1
	}
	return found
}

// joins tells whether one sign that belongs into a number stands between two words.
func joins(text string, a, b Token) bool {
	between := text[a.End:b.Start]
	return !a.sign && !b.sign && (len(between) == 1 && strings.Contains("-./_:", between) || between == "–")
}
