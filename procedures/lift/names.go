package lift

import (
	"fmt"
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

// fieldOfRig says in words which entry of a rig a problem is about; of a part's
// entries, which part.
func fieldOfRig(field string) plain.Sentence {
	switch field {
	case "settings":
		return plain.Say("the settings")
	case "floor-angle":
		return plain.Say("the flattest leg by the maker")
	case "house-floor":
		return plain.Say("the flattest leg in this mill")
	case "house-margin":
		return plain.Say("the share above which a supervisor signs")
	case "band-low", "band-high":
		return plain.Say("the angles the maker gives")
	case "links":
		return plain.Say("the parts of the load path")
	}
	var part int
	if _, err := fmt.Sscanf(field, "link-%d-", &part); err == nil {
		return plain.Say("part %d of the load path", part)
	}
	return plain.Say("%s", field)
}
