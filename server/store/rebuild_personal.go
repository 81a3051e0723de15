package store

import "strings"

// veiled are the places of a row that hold what a person wrote: those that are
// others when the record is replayed without any opening.
type veiled struct {
	all   bool // nothing is known of the row
	paths []string
}

// veiledIn compares a row that was made with its openings to the same without.
func veiledIn(made, bare []any, shape tableShape) veiled {
	if made == nil || bare == nil {
		return veiled{all: true}
	}
	var v veiled
	for _, field := range (rowDifference{shape: shape, made: made, kept: bare}).fields() {
		v.paths = append(v.paths, field.path)
	}
	return v
}

// covers tells whether what stands at f may be personal: it is so by the record,
// or the record says nothing there that it could be held against.
func (v veiled) covers(f fieldDifference) bool {
	if v.all || f.in == onlyKept || f.made == nil || f.made == "" || f.made == "{}" {
		return true
	}
	for _, path := range v.paths {
		if path == f.path || strings.HasPrefix(path, f.path+"/") || strings.HasPrefix(f.path, path+"/") {
			return true
		}
	}
	return false
}
