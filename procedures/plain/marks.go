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
		thousands := body[at:at+1] != own && maybeThousands(whole, decimals)
		if strings.ContainsAny(decimals, ".,") || thousands {
			bad.Unless(false, "", "the number without a mark for thousands: %s can be read in two ways", body)
			return number
		}
		return whole + "." + decimals + number[len(body):]
	})
	return read, bad.Err()
}

// maybeThousands tells whether what stands before and behind a mark may be one
// number set off by thousands.
func maybeThousands(whole, decimals string) bool {
	return len(decimals) == 3 && !strings.ContainsAny(decimals, ".,") && whole != "" && !strings.HasPrefix(whole, "0") && len(whole) <= 3
}

// OneWay is nil unless a number in what somebody typed may be set off by thousands,
// whichever mark is theirs: "1,200" is 1.2 to one and 1200 to another. The error is
// a [Problems] of one problem without a field that says how to write either.
func OneWay(typed string) error {
	var bad Problems
	for _, number := range markedNumber.FindAllString(typed, -1) {
		body := strings.TrimRight(number, ".,")
		at := strings.IndexAny(body, ".,")
		if whole, decimals := body[:at], body[at+1:]; maybeThousands(whole, decimals) {
			bad.Unless(false, "", "a number that reads one way only, %[1]s or %[2]s: %[3]s can be read in two ways", whole+decimals, body+"0", body)
			break
		}
	}
	return bad.Err()
}
