package lift

import (
	_ "embed"
	"encoding/csv"
	"strings"
	"sync"
)

// Wood is a kind of wood as a sentence names it: by its common name in English,
// put into the reader's language where it is shown.
type Wood string

//go:embed species_names.csv
var woodNamesFile string

// woodNames are the names by language, then by common name. The table is read once
// and only ever looked up. Names in use in North American Spanish and Canadian
// French, from memory; the scientific name beside each is what holds.
var woodNames = sync.OnceValue(func() map[string]map[string]string {
	rows, err := csv.NewReader(strings.NewReader(woodNamesFile)).ReadAll()
	if err != nil {
		panic("lift: embedded names of species: " + err.Error()) // a fault of the build, not of any input
	}
	names := map[string]map[string]string{}
	for column, tag := range rows[0][1:] {
		names[tag] = map[string]string{}
		for _, row := range rows[1:] {
			names[tag][row[0]] = row[column+1]
		}
	}
	return names
})

// In is the name in a language by its tag. In any but English, of which the table
// is, the scientific name stands beside it, so that nobody takes the wrong wood; a
// kind without a name there keeps its English one.
func (w Wood) In(language string) string {
	s, known := FindSpecies(string(w))
	if !known || language == "en" {
		return string(w)
	}
	name := woodNames()[language][s.Common]
	if name == "" {
		name = s.Common
	}
	return name + " (" + s.Scientific + ")"
}
