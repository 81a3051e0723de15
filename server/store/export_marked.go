package store

import (
	"slices"
	"strings"

	"stillsaw/server/record"
)

// lacking are the paths none of the openings opens.
func lacking(paths []string, openings []record.Opening) (missing []string) {
	for _, path := range paths {
		if !slices.ContainsFunc(openings, func(o record.Opening) bool { return o.Path == path }) {
			missing = append(missing, path)
		}
	}
	return missing
}

// Marked is the entry with a word in place of each personal field not shown, so
// that a sentence made of it says so instead of leaving a gap: withheld for what
// was kept back from the export, dropped for what is no longer kept. Fields that
// are no words for a reader stay empty.
func (x Exported) Marked(withheld, dropped string) Entry {
	if len(x.Withheld) == 0 {
		return x.Entry
	}
	read, err := record.ReadMarked(x.Row.Leaf, x.Row.Openings, func(path string) string {
		switch field := path[strings.LastIndex(path, "/")+1:]; {
		case field == "minor_until" || field == "holds": // a day; JSON
			return ""
		case slices.Contains(x.Dropped, path):
			return dropped
		}
		return withheld
	})
	if err != nil {
		return x.Entry
	}
	marked := x.Entry
	if b, err := decode(x.Row.Columns.Kind, x.Row.Columns.Version, read); err == nil && b != nil {
		marked.Body = domainOf(b)
	}
	return marked
}
