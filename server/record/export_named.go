package record

import (
	"encoding/json"
	"regexp"
	"strings"
)

// Kinds of entries that say something about the record itself, which an export
// carries the proof of: which key signs, and what was dropped.
const (
	KindLogKey  = "log-key"
	KindDropped = "dropped"
)

// NamesSomebody tells the personal fields that say who somebody is from those in
// which somebody wrote something. A new field that is none of these is taken for
// a note.
func NamesSomebody(path string) bool {
	switch path[strings.LastIndex(path, "/")+1:] {
	case "name", "minor_until", "who", "present", "harmed", "outside", "trainer", "told":
		return true
	}
	return false
}

// hides tells whether w may keep back the personal field at path. What somebody
// wrote may name people, and goes with their names then.
func (w ExportWithheld) hides(path string) bool {
	switch path[strings.LastIndex(path, "/")+1:] {
	case "name", "minor_until":
		return w.Names
	}
	return w.Names || w.Notes
}

// photoMembers are the members of a leaf that hold the digest of a photo. A leaf
// is canonical, and quotes within its strings are escaped, so that what somebody
// wrote does not pass for one.
var photoMembers = regexp.MustCompile(`"(?:photo|mend_photo|picture)":"([0-9a-f]{64})"`)

// PhotosNamed are the digests of the photos a leaf names.
func PhotosNamed(leaf []byte) (digests []string) {
	for _, found := range photoMembers.FindAllSubmatch(leaf, -1) {
		digests = append(digests, string(found[1]))
	}
	return digests
}

// aboutRecord is what the body of a [KindLogKey] or [KindDropped] entry says.
type aboutRecord struct {
	Verifier string `json:"verifier"`
	Values   []struct {
		Seq   int64    `json:"seq"`
		Paths []string `json:"paths"`
	} `json:"values"`
	Photos []string `json:"photos"`
}

func (p parsed) about() (a aboutRecord) {
	if err := json.Unmarshal(p.body, &a); err != nil {
		return aboutRecord{} // which names nothing
	}
	return a
}
