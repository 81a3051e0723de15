package plain

import "fmt"

// MixedNumber is a count of equal parts of a whole, of to each, as a rule shows it:
// 139 of 8 are "17 3/8", 2 of 8 "1/4", 16 of 8 "2". parts is not negative; of is a
// power of two, as on rules with inches.
func MixedNumber(parts, of int64) string {
	whole, over, under := parts/of, parts%of, of
	for over > 0 && over%2 == 0 {
		over, under = over/2, under/2
	}
	switch {
	case over == 0:
		return fmt.Sprint(whole)
	case whole == 0:
		return fmt.Sprintf("%d/%d", over, under)
	}
	return fmt.Sprintf("%d %d/%d", whole, over, under)
}
