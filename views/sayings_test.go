package views

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

var (
	verb = regexp.MustCompile(`%(?:\[(\d+)\])?[-+#0]*\d*(?:\.\d+)?(?:\[(\d+)\])?([a-zA-Z%])`)
	// bareVerb is what looks like a verb in a format without values. "5 % d…" does not.
	bareVerb = regexp.MustCompile(`%(?:\[\d+\])?(?:\.\d+)?[sdvqfgx](?:\b|$)`)
)

// verbs checks format against a count of values and says what is wrong.
func verbs(format string, args int) error {
	if args == 0 {
		if found := bareVerb.FindString(format); found != "" {
			return fmt.Errorf("%s without a value", found)
		}
		return nil
	}
	plain, indexed := 0, 0
	for _, match := range verb.FindAllStringSubmatch(format, -1) {
		switch {
		case match[3] == "%":
		case !strings.Contains("sdvfgqx", match[3]):
			return fmt.Errorf("verb %s", match[0])
		case match[1]+match[2] != "": // "%[2]s", "%.0[2]f"
			at, err := strconv.Atoi(match[1] + match[2])
			if err != nil {
				return err
			}
			indexed = max(indexed, at)
		default:
			plain++
		}
	}
	if left := strings.ReplaceAll(verb.ReplaceAllString(format, ""), "%%", ""); strings.Contains(left, "%") {
		return fmt.Errorf("a %% that is no verb: write %%%%")
	}
	switch {
	case plain > 0 && indexed > 0:
		return fmt.Errorf("some verbs have a position, some not")
	case args > 0 && plain > 0 && plain != args, args > 0 && indexed > args, args > 0 && plain+indexed == 0:
		return fmt.Errorf("%d values", args)
	}
	return nil
}
