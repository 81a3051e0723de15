// Package search turns texts into words to be found by, and what somebody typed
// into a query. It knows no database: what keeps the words is package store.
//
// A word is a run of letters, digits and marks of one kind of script, folded: in
// lower case, without the accents of the scripts that write without them too
// (Unicode Standard Annex 15, form NFKD, and case folding by golang.org/x/text).
// Scripts that put no space between words, such as Han, kana or Thai, are taken
// two signs at a time. What belongs together by a stroke or a dot and has a digit
// in it, a tag number such as S-1204, is found in one piece and by its parts.
package search
