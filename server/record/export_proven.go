package record

import (
	"maps"
	"slices"
	"strconv"
)

// said is what the proven entries of an export say about the record itself, and
// what the others need said.
type said struct {
	keys    map[int64]string   // verifiers, by the entry that names them
	photos  map[string]bool    // said to be dropped
	missing map[int64][]string // personal values neither shown nor kept back
	wanted  map[string]bool    // photos named
	texts   map[string]string  // each path once: a field left out is left out of many
}

func newSaid() said {
	return said{keys: map[int64]string{}, photos: map[string]bool{}, missing: map[int64][]string{}, wanted: map[string]bool{}, texts: map[string]string{}}
}

// hears takes in what a proven entry says of the record.
func (s said) hears(p parsed) {
	switch p.Kind {
	case KindLogKey:
		s.keys[p.Seq] = p.about().Verifier
	case KindDropped:
		about := p.about()
		for _, one := range about.Values {
			left, missing := s.missing[one.Seq]
			if !missing || one.Seq >= p.Seq {
				continue
			}
			left = slices.DeleteFunc(left, func(path string) bool { return slices.Contains(one.Paths, path) })
			if s.missing[one.Seq] = left; len(left) == 0 {
				delete(s.missing, one.Seq)
			}
		}
		for _, digest := range about.Photos {
			s.photos[digest] = true
		}
	}
}

// lacks notes the personal fields of p that are neither shown nor kept back.
func (s said) lacks(p parsed, shown []Opening, withheld ExportWithheld) {
	for _, field := range p.sealed {
		if withheld.hides(field.path) || slices.ContainsFunc(shown, func(o Opening) bool { return o.Path == field.path }) {
			continue
		}
		path, known := s.texts[field.path]
		if !known {
			path, s.texts[field.path] = field.path, field.path
		}
		s.missing[p.Seq] = append(s.missing[p.Seq], path)
	}
}

// unexplained notes what is left out of the export without a word that is proven.
func (x *exportReader) unexplained() {
	r := x.report
	if !x.provable {
		return
	}
	if !r.places["withheld"] {
		for _, seq := range slices.Sorted(maps.Keys(x.said.missing)) {
			for _, path := range x.said.missing[seq] {
				r.fault("entries", entryPlace(seq)+" opening "+path, "Entry %[1]d: what was written at %[2]s is not shown. The export does not say that it is kept back, and no entry in it that it was dropped.", seq, path)
			}
		}
	}
	for _, digest := range slices.Sorted(maps.Keys(x.said.wanted)) {
		if !x.pictured[digest] {
			r.fault("photos", "photo "+shortDigest(digest), "An entry names the photo %s, and the list of photos does not.", shortDigest(digest))
		}
	}
}

// keysNamed holds the keys against the entries of the record that name them:
// whoever has true entries and another key can't prove that it is the mill's.
func (x *exportReader) keysNamed() {
	r := x.report
	if !x.provable || r.places["keys"] {
		return
	}
	keys := r.Header.Keys
	named := map[int64]bool{}
	for i, key := range keys {
		named[key.From] = true
		until := int64(0)
		if i+1 < len(keys) {
			until = keys[i+1].From
		}
		switch {
		case x.said.keys[key.From] != key.Verifier:
			r.fault("keys", "keys", "Key %[1]d, %[2]s, is not proven to be the mill's: entry %[3]d of the record does not name it.", i+1, Fingerprint(key.Verifier), key.From)
		case key.Until != until:
			r.fault("keys", "keys", "Key %d was in use until another was named, which is not what is said of it.", i+1)
		}
	}
	for _, seq := range slices.Sorted(maps.Keys(x.said.keys)) {
		if !named[seq] {
			r.fault("keys", "keys", "Entry %s names a key of the mill that the export does not name.", strconv.FormatInt(seq, 10))
		}
	}
}
