package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// An export is part of a record in a file that proves itself: a JSON text in a
// fixed form of lines, each value in the form of RFC 8785 (JCS).
//
//	{"format":"stillsaw-export-1",
//	"mill":{"id":…,"name":…,"zone":…},
//	"made":{"at":…,"by":{"id":…,"name":…},"program":…},
//	"selection":{"equipment":…,"from":…,"person":…,"subject":…,"until":…,"words":…},
//	"withheld":{"names":false,"notes":false,"photos":false,"words":…},
//	"checkpoint":"stillsaw/…",
//	"keys":[{"from":0,"until":0,"verifier":…}],
//	"entries":[
//	{"hash":…,"leaf":…,"openings":[{"path":…,"salt":…,"value":…}],"proof":[…],"seq":41},
//	…
//	],
//	"also":[
//	{"hash":…,"leaf":…,"openings":[],"proof":[…],"seq":7}
//	],
//	"photos":[
//	{"bytes":…,"digest":…,"left":"","type":"image/jpeg"},
//	…
//	],
//	"counts":{"entries":1,"openings":1,"photos":1,"withheld":0},
//	"files":[{"digest":"sha256:…","name":"record.csv","size":123}],
//	"seal":"stillsaw-export-seal-1\n…"}
//
// Under "also" stand entries that were not asked for and that the others lean on,
// without their personal values: those that name the keys, and those that say that
// a value or a photo of the entries was dropped.
//
// The seal is a signed note by the mill's key. Its text names the log and the
// SHA-256 of every byte before the line it stands in, as a whole and for each
// member by itself, so that what was changed can be told from what was not.

const (
	exportFormat = "stillsaw-export-1"
	sealFormat   = "stillsaw-export-seal-1"
)

// Why a photo's bytes are not in an export.
const (
	PhotoLeftOut = "left out" // by whoever made the export
	PhotoDropped = "dropped"  // by an entry that says so
	PhotoNotKept = "not kept" // and no entry says why
)

// exportParts are the members of an export before its seal, in their order.
func exportParts() []string {
	return []string{"format", "mill", "made", "selection", "withheld", "checkpoint", "keys", "entries", "also", "photos", "counts", "files"}
}

// ExportHeader is what an export says of itself before its entries.
type ExportHeader struct {
	Mill       ExportMill
	Made       ExportMade
	Selection  ExportSelection
	Withheld   ExportWithheld
	Checkpoint string // the signed note every proof leads to
	Keys       []ExportKey
}

// ExportMill is whose record it is.
type ExportMill struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Zone string `json:"zone"` // IANA
}

// ExportMade says when an export was made, by whom and with which program.
type ExportMade struct {
	At      string   `json:"at"` // see ExportTime
	By      ExportBy `json:"by"`
	Program string   `json:"program"`
}

// ExportBy is who made an export, the name as it was shown, "" where names are
// withheld.
type ExportBy struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// ExportTime is t as it stands in an export, in UTC to the millisecond.
func ExportTime(t time.Time) string { return t.UTC().Format(timeLayout) }

// ExportSelection is what was asked for, as ids and in words.
type ExportSelection struct {
	Equipment string `json:"equipment"`
	From      string `json:"from"` // local days, both inclusive
	Person    string `json:"person"`
	Subject   string `json:"subject"`
	Until     string `json:"until"`
	Words     string `json:"words"`
}

// ExportWithheld is what whoever made an export kept back.
type ExportWithheld struct {
	Names  bool   `json:"names"`
	Notes  bool   `json:"notes"`
	Photos bool   `json:"photos"`
	Words  string `json:"words"`
}

// ExportKey is a key of the mill as its record names it: From is the seq of the
// entry that named it, Until of the one that replaced it, 0 while it is in use.
type ExportKey struct {
	From     int64  `json:"from"`
	Until    int64  `json:"until"`
	Verifier string `json:"verifier"`
}

// held tells whether k was the key of a log of size entries.
func (k ExportKey) held(size int64) bool { return size > k.From && (k.Until == 0 || size <= k.Until) }

// ExportPhoto is a picture that an entry of the export names. Left says why
// Bytes are not there, "" where they are.
type ExportPhoto struct {
	Digest string // SHA-256 of the bytes in hex
	Type   string
	Bytes  []byte
	Left   string
}

// ExportFile is a file made together with the export.
type ExportFile struct {
	Digest string `json:"digest"` // "sha256:" and hex
	Name   string `json:"name"`
	Size   int64  `json:"size"`
}

// FileDigest is a file's digest as [ExportFile] has it.
func FileDigest(sum [sha256.Size]byte) string { return digestPrefix + hex.EncodeToString(sum[:]) }

// ExportCounts are how many of each an export has.
type ExportCounts struct {
	Entries  int64 `json:"entries"`
	Openings int64 `json:"openings"`
	Photos   int64 `json:"photos"` // with bytes or without
	Withheld int64 `json:"withheld"`
}

// The lines of an export's two lists. Members stand in the order of their names,
// as RFC 8785 asks.
type (
	exportEntryLine struct {
		Hash     string              `json:"hash"` // of the leaf, base64
		Leaf     string              `json:"leaf"` // as it stands in the log
		Openings []exportOpeningLine `json:"openings"`
		Proof    []string            `json:"proof"` // base64, from the leaf up
		Seq      int64               `json:"seq"`
	}
	exportOpeningLine struct {
		Path  string `json:"path"`
		Salt  string `json:"salt"` // base64
		Value string `json:"value"`
	}
	exportPhotoLine struct {
		Bytes  string `json:"bytes"` // base64
		Digest string `json:"digest"`
		Left   string `json:"left"`
		Type   string `json:"type"`
	}
)

func entryLine(row Row, proof []tlog.Hash) exportEntryLine {
	line := exportEntryLine{Hash: tlog.RecordHash(row.Leaf).String(), Leaf: string(row.Leaf), Openings: []exportOpeningLine{}, Proof: []string{}, Seq: row.Seq}
	for _, o := range row.Openings {
		line.Openings = append(line.Openings, exportOpeningLine{o.Path, base64.StdEncoding.EncodeToString(o.Salt), o.Value})
	}
	for _, hash := range proof {
		line.Proof = append(line.Proof, hash.String())
	}
	return line
}

// tidy makes absent lists empty ones, so that only what the writer writes is
// written again as it was.
func (l *exportEntryLine) tidy() {
	if l.Openings == nil {
		l.Openings = []exportOpeningLine{}
	}
	if l.Proof == nil {
		l.Proof = []string{}
	}
}

// exportValue is the RFC 8785 form of a value whose structs have their members
// in the order of their names, and whose numbers are whole.
func exportValue(value any) ([]byte, error) {
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(value); err != nil {
		return nil, fmt.Errorf("record: export: %w", err)
	}
	return unescapeSeparators(bytes.TrimSuffix(out.Bytes(), []byte("\n"))), nil
}

// unescapeSeparators writes U+2028 and U+2029 as themselves: the one thing in
// which encoding/json without HTML differs from RFC 8785.
func unescapeSeparators(text []byte) []byte {
	if !bytes.Contains(text, []byte(`\u202`)) {
		return text
	}
	var out []byte
	for i := 0; i < len(text); i++ {
		if text[i] != '\\' || i+1 == len(text) {
			out = append(out, text[i])
			continue
		}
		switch rest := text[i:]; {
		case bytes.HasPrefix(rest, []byte(`\u2028`)):
			out, i = append(out, "\u2028"...), i+5
		case bytes.HasPrefix(rest, []byte(`\u2029`)):
			out, i = append(out, "\u2029"...), i+5
		default:
			out, i = append(out, text[i], text[i+1]), i+1
		}
	}
	return out
}

// sealText is what a seal signs.
func sealText(mill string, whole string, parts map[string]string) string {
	var text strings.Builder
	fmt.Fprintf(&text, "%s\n%s\nwhole %s\n", sealFormat, Origin(mill), whole)
	for _, part := range exportParts() {
		fmt.Fprintf(&text, "%s %s\n", part, parts[part])
	}
	return text.String()
}
