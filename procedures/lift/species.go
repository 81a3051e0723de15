package lift

import (
	_ "embed"
	"encoding/csv"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Species is what the published tables say of one kind of wood. The zero value
// is a kind nobody knows. A moisture of 0 was not published.
type Species struct {
	Common, Scientific string
	Gravity            float64 // basic specific gravity: oven-dry mass over green volume, relative to water
	HeartMoisture      float64 // green heartwood, fraction of oven-dry mass
	SapMoisture        float64 // green sapwood
	MeanMoisture       float64 // green wood as a whole, USDA Forest Service FIADB
	BarkVolume         float64 // bark as a fraction of the wood's volume
	BarkGravity        float64 // basic specific gravity of bark
	BarkMoisture       float64 // green bark
	Shrinkage          float64 `json:",omitzero"` // volume lost from green to oven-dry, fraction of the green volume; 0 = not published
	Source, Note       string
}

//go:embed species.csv
var speciesFile string

// The table is read once and only ever copied out of.
var speciesTable = sync.OnceValue(func() []Species { return readSpecies(speciesFile) })

// AllSpecies returns every kind of the table, sorted by common name. The slice
// is the caller's own. Sources stand in each row; in the main USDA Wood Handbook
// FPL-GTR-282 Tables 5-3b, 4-1 and 4-3 and the Forest Service FIADB REF_SPECIES table.
func AllSpecies() []Species { return slices.Clone(speciesTable()) }

// FindSpecies looks a kind up by its common or scientific name, whatever the
// case and outer spaces.
func FindSpecies(name string) (Species, bool) {
	name = strings.TrimSpace(name)
	for _, s := range speciesTable() {
		if strings.EqualFold(s.Common, name) || strings.EqualFold(s.Scientific, name) {
			return s, true
		}
	}
	return Species{}, false
}

// Heaviest returns the kind of the list with the largest green upper density,
// the first of equals, or the zero Species of an empty list.
func Heaviest(list []Species) Species {
	var most Species
	for _, s := range list {
		if most == (Species{}) || s.upperGreenDensity() > most.upperGreenDensity() {
			most = s
		}
	}
	return most
}

// heaviestOfTable stands in for a kind nobody named.
var heaviestOfTable = sync.OnceValue(func() Species { return Heaviest(speciesTable()) })

func readSpecies(text string) []Species {
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		panic("lift: embedded species table: " + err.Error()) // a fault of the build, not of any input
	}
	wood := regexp.MustCompile(`FIADB mean wood MC ([0-9.]+)%`)
	bark := regexp.MustCompile(`bark MC ([0-9.]+)%`)
	list := make([]Species, 0, len(rows)-1)
	for _, row := range rows[1:] {
		list = append(list, Species{
			Common: row[0], Scientific: row[1],
			Gravity:       number(row[2], 1),
			HeartMoisture: number(row[3], 100),
			SapMoisture:   number(row[4], 100),
			MeanMoisture:  percentIn(wood, row[8]),
			BarkVolume:    number(row[5], 100),
			BarkGravity:   number(row[6], 1),
			BarkMoisture:  percentIn(bark, row[8]),
			Shrinkage:     number(row[9], 100),
			Source:        row[7], Note: row[8],
		})
	}
	slices.SortStableFunc(list, func(a, b Species) int {
		return strings.Compare(strings.ToLower(a.Common), strings.ToLower(b.Common))
	})
	return list
}

func percentIn(pattern *regexp.Regexp, note string) float64 {
	found := pattern.FindStringSubmatch(note)
	if found == nil {
		return 0
	}
	return number(found[1], 100)
}

func number(text string, per float64) float64 {
	if text == "" {
		return 0
	}
	n, err := strconv.ParseFloat(text, 64)
	if err != nil {
		panic("lift: embedded species table: " + err.Error())
	}
	return n / per
}
