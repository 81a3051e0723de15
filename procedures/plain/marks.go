package plain

import (
	"regexp"
	"strings"
)

var markedNumber = regexp.MustCompile(`[0-9]*[.,][0-9][0-9.,]*`)

// WithPoint writes the numbers in what somebody typed with a decimal point,
// whether they typed a point or a comma. comma tells that theirs is a comma. A
// number with several marks, or with one that is not theirs before just three
// digits, may have been set off by thousands: the error is a [Problems] of one
// problem without a field that says which.
func WithPoint(typed string, comma bool) (string, error) {
	own := "."
	if comma {
		own = ","
	}
	var bad Problems
	read := markedNumber.ReplaceAllStringFunc(typed, func(number string) string {
		body := strings.TrimRight(number, ".,") // the end of a sentence, or of a list
		at := strings.IndexAny(body, ".,")
		whole, decimals := body[:at], body[at+1:]
		thousands := body[at:at+1] != own && len(decimals) == 3 && whole != "" && !strings.HasPrefix(whole, "0") && len(whole) <= 3
		if strings.ContainsAny(decimals, ".,") || thousands {
			bad.Unless(false, "", "the number without a mark for thousands: %s can be read in two ways", body)
			return number
		}
		return whole + "." + decimals + number[len(body):]
	})
	return read, bad.Err()
}
