package search

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// longest is how many signs of a word count.
const longest = 40

// Token is a word as it stands in a text: a run of letters and digits, or one
// sign of a script without spaces.
type Token struct {
	Word       string // folded
	Start, End int    // bytes of the text
	sign       bool   // of a script without spaces
}

// Tokens are the words of text in their order.
func Tokens(text string) []Token {
	var tokens []Token
	for at := 0; at < len(text); {
		r, size := utf8.DecodeRuneInString(text[at:])
		if !inWord(r) || isMark(r) {
			at += size
			continue
		}
		sign, end := unspaced(r), at+size
		for end < len(text) {
			next, size := utf8.DecodeRuneInString(text[end:])
			if !isMark(next) && (sign || !inWord(next) || unspaced(next)) {
				break
			}
			end += size
		}
		if word := fold(text[at:end]); word != "" {
			tokens = append(tokens, Token{Word: word, Start: at, End: end, sign: sign})
		}
		at = end
	}
	return tokens
}

func inWord(r rune) bool {
	if r < utf8.RuneSelf {
		return 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' || '0' <= r && r <= '9'
	}
	return unicode.IsLetter(r) || unicode.IsNumber(r) || unicode.IsMark(r)
}

// isMark tells whether r belongs to the sign before it; the narrow marks of kana
// are letters to Unicode.
func isMark(r rune) bool { return unicode.IsMark(r) || r == 'ﾞ' || r == 'ﾟ' }

// unspaced tells whether r is of a script that puts no space between words.
func unspaced(r rune) bool {
	return r >= 0x0E00 && unicode.In(r, unicode.Han, unicode.Hiragana, unicode.Katakana, unicode.Bopomofo, unicode.Thai, unicode.Lao, unicode.Khmer, unicode.Myanmar) || r == 'ー'
}

// fold is a word as it is compared.
func fold(word string) string {
	if ascii(word) {
		word = strings.ToLower(word)
		return word[:min(len(word), longest)]
	}
	var bare strings.Builder
	strip := false
	for _, r := range norm.NFKD.String(word) {
		switch {
		case unicode.IsMark(r):
			if strip {
				continue
			}
		case !inWord(r):
			continue // the stroke of a fraction
		default:
			strip = unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Hebrew, unicode.Arabic)
		}
		bare.WriteRune(r)
	}
	folded := barred.Replace(cases.Fold().String(bare.String()))
	signs := []rune(norm.NFC.String(folded))
	return string(signs[:min(len(signs), longest)])
}

// barred are the letters Unicode does not take apart into a plain one and a mark.
var barred = strings.NewReplacer("ø", "o", "ł", "l", "đ", "d", "ħ", "h", "ı", "i", "æ", "ae", "œ", "oe")

func ascii(s string) bool {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}
