package lift

import (
	"strings"

	"stillsaw/procedures/plain"
)

// nameOf returns the name at place i, or the first ("unknown") past the end.
func nameOf(names []string, i int) string {
	if i < 0 || i >= len(names) {
		return names[0]
	}
	return names[i]
}

// indexOf finds text among names, whatever its case and outer spaces. The
// first name stands for "unknown" and is found too, so that a stored zero value
// can be read back. The error is a [plain.Problems] that lists what is allowed.
func indexOf(names []string, text string) (int, error) {
	wanted := strings.ToLower(strings.TrimSpace(text))
	for i, name := range names {
		if wanted == name {
			return i, nil
		}
	}
	return 0, plain.Problems{{Want: plain.Say("one of: %s", strings.Join(names[1:], ", "))}}
}
