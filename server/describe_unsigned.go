package server

import (
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// unsignedSaid says what was finished without contact.
func unsignedSaid(u checklists.Unsigned) plain.Sentence {
	if len(u.Stops) == 0 {
		return plain.Say("%[1]s: gone through without contact, %[2]d answers, nothing to stop for. It waits for the signature and holds what it checks.", u.Title, u.Answers)
	}
	var stops []string
	for _, id := range u.Stops {
		stops = append(stops, string(id))
	}
	return plain.Say("%[1]s: gone through without contact, %[2]d answers. Stops found at: %[3]s. It waits for the signature and holds what it checks.", u.Title, u.Answers, strings.Join(stops, ", "))
}
