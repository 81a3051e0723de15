package record

import (
	"bufio"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"hash"
	"io"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// ExportWriter writes an export as its entries come: first [ExportWriter.Entry]
// for each in the order of the log, then [ExportWriter.Also] for each that was not
// asked for and is leant on, then [ExportWriter.Photo] for each picture, then [ExportWriter.Close]. It keeps nothing of what it wrote. After an error
// the export is none.
type ExportWriter struct {
	out    *bufio.Writer
	mill   string
	digest exportDigests
	counts ExportCounts

	last  int64  // seq of the entry before, in the list at hand
	begun bool   // the list at hand has an element
	list  string // at hand: "entries", "also", "photos"
	err   error
}

// NewExportWriter begins an export on w.
func NewExportWriter(w io.Writer, h ExportHeader) (*ExportWriter, error) {
	if !isMill(h.Mill.ID) {
		return nil, fmt.Errorf("record: %.60q is no mill", h.Mill.ID)
	}
	x := &ExportWriter{out: bufio.NewWriterSize(w, 1<<16), mill: h.Mill.ID, digest: newExportDigests(), last: -1}
	if h.Keys == nil {
		h.Keys = []ExportKey{}
	}
	x.put("format", "{", exportFormat, ",")
	x.put("mill", "", h.Mill, ",")
	x.put("made", "", h.Made, ",")
	x.put("selection", "", h.Selection, ",")
	x.put("withheld", "", h.Withheld, ",")
	x.put("checkpoint", "", h.Checkpoint, ",")
	x.put("keys", "", h.Keys, ",")
	x.list = "entries"
	x.raw("entries", []byte("\"entries\":[\n"))
	return x, x.err
}

// Entry writes the entry of row with the openings to be shown and the proof that
// its leaf lies under the header's checkpoint.
func (x *ExportWriter) Entry(row Row, proof []tlog.Hash) error {
	if err := x.follows(row, "entries"); err != nil {
		return err
	}
	x.counts.Entries++
	x.counts.Openings += int64(len(row.Openings))
	if p, err := parse(row.Leaf); err == nil {
		x.counts.Withheld += int64(max(0, len(p.sealed)-len(row.Openings)))
	}
	return x.element("entries", entryLine(row, proof))
}

// Also writes an entry that was not asked for, which says which key signs or that
// something was dropped. Its openings are left out.
func (x *ExportWriter) Also(row Row, proof []tlog.Hash) error {
	if x.list == "entries" {
		x.toList("also")
	}
	if err := x.follows(row, "also"); err != nil {
		return err
	}
	row.Openings = nil
	return x.element("also", entryLine(row, proof))
}

func (x *ExportWriter) follows(row Row, list string) error {
	if x.list != list || row.Seq <= x.last {
		return errors.New("record: an export has its entries in the order of the log, then those it leans on, then its photos")
	}
	x.last = row.Seq
	return nil
}

// Photo writes a picture that an entry names, or why it is not there.
func (x *ExportWriter) Photo(p ExportPhoto) error {
	x.toPhotos()
	x.counts.Photos++
	return x.element("photos", exportPhotoLine{base64.StdEncoding.EncodeToString(p.Bytes), p.Digest, p.Left, p.Type})
}

// Close names the files made together with the export and seals it by the
// mill's key.
func (x *ExportWriter) Close(files []ExportFile, signer note.Signer) error {
	x.toPhotos()
	x.endList("photos")
	if files == nil {
		files = []ExportFile{}
	}
	x.put("counts", "", x.counts, ",")
	x.put("files", "", files, ",")
	if x.err != nil {
		return x.err
	}
	if signer.Name() != Origin(x.mill) {
		return fmt.Errorf("record: the key %s does not seal for %s", signer.Name(), Origin(x.mill))
	}
	whole, parts := x.digest.sums()
	seal, err := note.Sign(&note.Note{Text: sealText(x.mill, whole, parts)}, signer)
	if err != nil {
		return fmt.Errorf("record: seal: %w", err)
	}
	line, err := sealLine(string(seal))
	if err != nil {
		return err
	}
	if _, err := x.out.Write(line); err != nil {
		return err
	}
	return x.out.Flush()
}

func sealLine(seal string) ([]byte, error) {
	value, err := exportValue(seal)
	if err != nil {
		return nil, err
	}
	return append(append([]byte(`"seal":`), value...), "}\n"...), nil
}

func (x *ExportWriter) toPhotos() {
	if x.list == "entries" {
		x.toList("also")
	}
	if x.list == "also" {
		x.toList("photos")
	}
}

func (x *ExportWriter) toList(list string) {
	x.endList(x.list)
	x.list, x.begun, x.last = list, false, -1
	x.raw(list, fmt.Appendf(nil, "\"%s\":[\n", list))
}

func (x *ExportWriter) endList(part string) {
	if x.begun {
		x.raw(part, []byte("\n"))
	}
	x.raw(part, []byte("],\n"))
}

func (x *ExportWriter) element(part string, value any) error {
	text, err := exportValue(value)
	if err != nil {
		return errors.Join(x.err, err)
	}
	if x.begun {
		x.raw(part, []byte(",\n"))
	}
	x.begun = true
	x.raw(part, text)
	return x.err
}

func (x *ExportWriter) put(part, before string, value any, after string) {
	text, err := memberLine(part, before, value, after)
	if err != nil {
		x.err = errors.Join(x.err, err)
		return
	}
	x.raw(part, text)
}

func memberLine(part, before string, value any, after string) ([]byte, error) {
	text, err := exportValue(value)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(nil, "%s\"%s\":%s%s\n", before, part, text, after), nil
}

func (x *ExportWriter) raw(part string, text []byte) {
	if x.err == nil {
		x.digest.add(part, text)
		_, x.err = x.out.Write(text)
	}
}

// exportDigests are the digests a seal is over.
type exportDigests struct {
	whole hash.Hash
	parts map[string]hash.Hash
}

func newExportDigests() exportDigests {
	d := exportDigests{whole: sha256.New(), parts: map[string]hash.Hash{}}
	for _, part := range exportParts() {
		d.parts[part] = sha256.New()
	}
	return d
}

func (d exportDigests) add(part string, text []byte) {
	d.whole.Write(text)
	if h, ok := d.parts[part]; ok {
		h.Write(text)
	}
}

func (d exportDigests) sums() (whole string, parts map[string]string) {
	parts = make(map[string]string, len(d.parts))
	for part, h := range d.parts {
		parts[part] = FileDigest([sha256.Size]byte(h.Sum(nil)))
	}
	return FileDigest([sha256.Size]byte(d.whole.Sum(nil))), parts
}
