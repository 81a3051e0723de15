package record

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
)

// exportLineMost bounds a line of an export: a photo as the program keeps it has
// a tenth of that.
const exportLineMost = 32 << 20

// ReadExport reads an export and checks all that can be checked without the
// database: the form of every line, the checkpoint, each entry, its openings and
// its proof, photos, counts and the seal. It says where something is wrong and
// reads on. Memory is bounded by the longest line and the photos named.
func ReadExport(from io.Reader, hold ExportHold) *ExportReport {
	x := &exportReader{
		in: bufio.NewReaderSize(from, 1<<16), digest: newExportDigests(), hold: hold,
		report: &ExportReport{places: map[string]bool{}, Agreed: map[int64]bool{}}, last: -1, named: map[string]bool{}, pictured: map[string]bool{}, said: newSaid(),
	}
	for x.sealed == nil {
		line, err := x.read()
		if err != nil {
			x.stopped(err)
			return x.report
		}
		x.line(line)
	}
	x.finish()
	return x.report
}

// exportReader is one run of ReadExport.
type exportReader struct {
	in     *bufio.Reader
	digest exportDigests
	hold   ExportHold
	report *ExportReport

	number int    // of the line at hand, from 1
	next   int    // which of exportParts is due
	list   string // "entries", "also" or "photos" while inside
	comma  bool   // the element before ended with one
	some   bool   // the list has an element
	sealed []byte // the line of the seal

	keys     keyed
	judged   bool // the checkpoint was looked at
	provable bool // and proofs can be held against it
	last     int64
	edge     Frontier // over the entries, while none is left out from the first on
	gap      bool     // one is
	named    map[string]bool
	pictured map[string]bool
	said     said
	counts   ExportCounts // as the export says
}

var errLineLong = errors.New("a line is longer than any this program writes")

// read is the next line with its end.
func (x *exportReader) read() ([]byte, error) {
	x.number++
	var line []byte
	for {
		part, err := x.in.ReadSlice('\n')
		line = append(line, part...)
		switch {
		case len(line) > exportLineMost:
			return nil, errLineLong
		case errors.Is(err, bufio.ErrBufferFull):
		case errors.Is(err, io.EOF) && len(line) > 0:
			return line, nil
		default:
			return line, err
		}
	}
}

// stopped notes why there are no more lines before the seal.
func (x *exportReader) stopped(err error) {
	switch {
	case errors.Is(err, io.EOF):
		x.report.fault("end", "end", "The file ends at line %d, before its seal: its end is missing.", x.number-1)
	case errors.Is(err, errLineLong):
		x.bad("Line %d is longer than any this program writes.", x.number)
	default:
		x.bad("The file could not be read from line %d on: %s.", x.number, err.Error())
	}
}

// bad notes that the line at hand is not of the form.
func (x *exportReader) bad(what string, args ...any) {
	x.report.fault(x.part(), "line "+strconv.Itoa(x.number), what, args...)
}

// part is the member the line at hand belongs to.
func (x *exportReader) part() string {
	if x.list != "" {
		return x.list
	}
	if x.next > 0 && x.next <= len(exportParts()) {
		return exportParts()[x.next-1]
	}
	return ""
}

// line takes one line.
func (x *exportReader) line(line []byte) {
	if bytes.HasPrefix(line, []byte(`"seal":`)) {
		x.leaveList(false)
		if x.next < len(exportParts()) {
			x.bad("Line %d is the seal, before which %s should come.", x.number, exportParts()[x.next])
		}
		x.sealed = line
		return
	}
	begun := x.begins(line)
	if begun >= 0 {
		x.leaveList(false)
		if begun != x.next {
			x.bad("Line %d does not follow on the line before it: something is missing or in another place.", x.number)
		}
		x.next = begun + 1
		x.digest.add(exportParts()[begun], line)
		x.member(exportParts()[begun], line)
		return
	}
	x.digest.add(x.part(), line)
	switch {
	case x.list != "" && string(line) == "],\n":
		x.leaveList(true)
	case x.list == "":
		x.bad("Line %d is none of those an export has.", x.number)
	default:
		x.element(line)
	}
}

// begins tells which member begins on line, -1 for none.
func (x *exportReader) begins(line []byte) int {
	return slices.IndexFunc(exportParts(), func(part string) bool {
		before := ""
		if part == "format" {
			before = "{"
		}
		return bytes.HasPrefix(line, []byte(before+`"`+part+`":`))
	})
}

// leaveList ends the list at hand, by its closing line or without one.
func (x *exportReader) leaveList(closed bool) {
	if x.list != "" && (!closed || x.comma) {
		x.bad("The list of %s does not end as it should at line %d.", x.list, x.number)
	}
	x.list = ""
}

// member reads the line of a member.
func (x *exportReader) member(part string, line []byte) {
	var format string
	h := &x.report.Header
	values := map[string]any{"format": &format, "mill": &h.Mill, "made": &h.Made, "selection": &h.Selection, "withheld": &h.Withheld,
		"checkpoint": &h.Checkpoint, "keys": &h.Keys, "counts": &x.counts, "files": &x.report.Files}
	value, whole := values[part]
	if !whole {
		if x.list, x.comma, x.some = part, false, false; string(line) != `"`+part+"\":[\n" {
			x.bad("Line %d is not in the form the program writes.", x.number)
		}
		x.judge()
		if part == "also" {
			x.last = -1
		}
		return
	}
	before := ""
	if part == "format" {
		before = "{"
	}
	text, ended := bytes.CutSuffix(line, []byte(",\n"))
	text = text[len(before)+len(part)+len(`"":`):]
	err := strictly(text, value)
	if err == nil {
		var again []byte
		if again, err = memberLine(part, before, value, ","); err == nil && !bytes.Equal(again, line) {
			err = errors.New("other spelling")
		}
	}
	if err != nil || !ended {
		x.bad("Line %d is not in the form the program writes.", x.number)
	}
	if part == "format" && err == nil && format != exportFormat {
		x.report.fault(part, "format", "The file is of the form %s; this program reads %s.", format, exportFormat)
	}
}

// element reads an entry or a photo.
func (x *exportReader) element(line []byte) {
	if x.some && !x.comma {
		x.bad("There is no comma before line %d.", x.number)
	}
	text, ended := bytes.CutSuffix(line, []byte("\n"))
	text, x.comma = bytes.CutSuffix(text, []byte(","))
	x.some = true
	var err error
	if x.list != "photos" {
		var entry exportEntryLine
		if err = strictly(text, &entry); err == nil {
			entry.tidy()
			x.form(text, entry, ended)
			if x.list == "also" {
				x.also(entry)
			} else {
				x.entry(entry)
			}
			return
		}
	} else {
		var photo exportPhotoLine
		if err = strictly(text, &photo); err == nil {
			x.form(text, photo, ended)
			x.photo(photo)
			return
		}
	}
	if x.list != "photos" {
		x.gap = x.gap || x.list == "entries"
		x.bad("Line %d, where an entry stands, can't be read.", x.number)
		return
	}
	x.bad("Line %d, where a photo stands, can't be read.", x.number)
}

// form notes a line that says what the program would write otherwise.
func (x *exportReader) form(text []byte, value any, ended bool) {
	again, err := exportValue(value)
	if err != nil || !bytes.Equal(again, text) || !ended {
		x.bad("Line %d is not in the form the program writes.", x.number)
	}
}

// strictly decodes one JSON value without unknown members.
func strictly(text []byte, value any) error {
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(value); err != nil {
		return err
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return errors.New("more than one value")
	}
	return nil
}

// shortDigest is how a photo is named in a place.
func shortDigest(digest string) string {
	return strings.ToValidUTF8(digest[:min(12, len(digest))], "?")
}
