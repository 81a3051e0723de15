package checklists

import (
	"math"
	"strconv"
	"strings"

	"stillsaw/procedures/plain"
)

// longestNumber bounds what is read as one typed number, in bytes.
const longestNumber = 32

// ParseNumber reads a measurement as people type it at a machine: "0.5",
// "0,5", "1/32" or "1 1/2". It returns a finite number of zero or more, or a
// [plain.Problems] for the field "number".
func ParseNumber(typed string) (float64, error) {
	var bad plain.Problems
	number, ok := readNumber(strings.TrimSpace(typed))
	bad.Unless(ok, "number", "a number such as 0.5 or 1/2, not negative")
	if !ok {
		return 0, bad.Err()
	}
	return number, nil
}

func readNumber(typed string) (float64, bool) {
	if typed == "" || len(typed) > longestNumber || strings.Trim(typed, "0123456789.,/ ") != "" {
		return 0, false
	}
	whole, fraction, mixed := strings.Cut(typed, " ")
	if !mixed {
		return readPart(typed)
	}
	ones, ok := readDecimal(whole)
	rest, okRest := readPart(strings.TrimSpace(fraction))
	if !ok || !okRest || ones != math.Trunc(ones) || rest >= 1 || !strings.Contains(fraction, "/") {
		return 0, false
	}
	return ones + rest, true
}

func readPart(typed string) (float64, bool) {
	above, below, isFraction := strings.Cut(typed, "/")
	if !isFraction {
		return readDecimal(typed)
	}
	over, ok := readDecimal(above)
	under, okUnder := readDecimal(below)
	if !ok || !okUnder || !(under > 0) || strings.ContainsAny(typed, ".,") { // "17,3/8" is 17 3/8 or nothing
		return 0, false
	}
	return over / under, !math.IsInf(over/under, 0)
}

func readDecimal(typed string) (float64, bool) {
	if strings.Count(typed, ",")+strings.Count(typed, ".") > 1 {
		return 0, false // "1,000.5" and "1.000,5" mean different things in different places
	}
	number, err := strconv.ParseFloat(strings.Replace(typed, ",", ".", 1), 64)
	if err != nil || number < 0 || math.IsInf(number, 0) {
		return 0, false
	}
	return number, true
}

// Plausible tells whether x could be a measurement at all: a number from zero
// up to Most. NaN and the infinities are not.
func (l Limits) Plausible(x float64) bool { return x >= 0 && x <= l.Most }

// Within tells whether x meets the limits. NaN never does, and no limit at all
// is met by any plausible number.
func (l Limits) Within(x float64) bool {
	if !l.Plausible(x) {
		return false
	}
	if l.Low != nil && !(x >= *l.Low) {
		return false
	}
	if l.High == nil {
		return true
	}
	return x < *l.High || x == *l.High && !l.HighOut
}

// Stops tells whether x is so far out that the defect is stop whatever the
// item's severity.
func (l Limits) Stops(x float64) bool { return l.StopAt != nil && x >= *l.StopAt }

// Said is the limits in words, empty when there are none.
func (l Limits) Said() plain.Sentence {
	switch {
	case l.Low != nil && l.High != nil && l.HighOut:
		return plain.Say("at least %v and under %v %s", l.figure(*l.Low), l.figure(*l.High), l.Unit)
	case l.Low != nil && l.High != nil:
		return plain.Say("from %v to %v %s", l.figure(*l.Low), l.figure(*l.High), l.Unit)
	case l.Low != nil:
		return plain.Say("at least %v %s", l.figure(*l.Low), l.Unit)
	case l.High != nil && l.HighOut:
		return plain.Say("under %v %s", l.figure(*l.High), l.Unit)
	case l.High != nil:
		return plain.Say("at most %v %s", l.figure(*l.High), l.Unit)
	}
	return plain.Sentence{}
}

// figure is a limit as it is said.
func (l Limits) figure(x float64) any {
	if said, ok := InchFraction(x, l.Unit); ok {
		return said
	}
	return x
}

// InchFraction is x as a rule with inches shows it, 1/64 or 1 1/2; ok is false for
// another unit, and where no rule has a mark.
func InchFraction(x float64, unit string) (said string, ok bool) {
	const finest = 64
	marks := x * finest
	if unit != "in" || !(x > 0 && x < 1000) || marks != math.Trunc(marks) || x == math.Trunc(x) {
		return "", false
	}
	return plain.MixedNumber(int64(marks), finest), true
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// validateMeter notes under field what is wrong with the unit of a meter. A
// meter has no limits: it only goes on.
func (l Limits) validateMeter(bad *plain.Problems, field string) {
	bad.Unless(worded(l.Unit, LongestText), field+"unit", "a unit, such as h")
	bad.Unless(l.Most > 0 && finite(l.Most), field+"most", "a number above which a typed value is a slip of the hand")
	bad.Unless(l.Low == nil, field+"low", "no limit: a meter only goes on")
	bad.Unless(l.High == nil, field+"high", "no limit: a meter only goes on")
	bad.Unless(l.StopAt == nil, field+"stop_at", "no limit: a meter only goes on")
}

// validate notes under field what is wrong with the limits of a Number item.
func (l Limits) validate(bad *plain.Problems, field string) {
	bad.Unless(strings.TrimSpace(l.Unit) != "", field+"unit", "a unit, such as in or psi")
	bad.Unless(l.Most > 0 && finite(l.Most), field+"most", "a number above which a typed value is a slip of the hand")
	bad.Unless(l.Low != nil || l.High != nil, field+"low", "a lowest or a highest value, or both")
	sane := func(bound *float64) bool { return bound == nil || l.Plausible(*bound) }
	bad.Unless(sane(l.Low), field+"low", "a lowest value from 0 to %v", l.Most)
	bad.Unless(sane(l.High), field+"high", "a highest value from 0 to %v", l.Most)
	bad.Unless(sane(l.StopAt), field+"stop_at", "a value to stop from, from 0 to %v", l.Most)
	if l.Low != nil && l.High != nil {
		bad.Unless(*l.Low < *l.High || *l.Low == *l.High && !l.HighOut, field+"high", "a highest value that is more than the lowest")
	}
	if l.StopAt != nil {
		bad.Unless(l.High != nil && *l.StopAt >= *l.High, field+"stop_at", "a value to stop from that is no less than the highest")
	}
}
