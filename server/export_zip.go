package server

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"slices"

	"stillsaw/server/record"
	"stillsaw/server/store"
	"stillsaw/views"
)

// Names of the files in an export's ZIP.
const (
	exportJSONName   = "record.json"
	exportCSVName    = "record.csv"
	exportPDFName    = "record.pdf"
	exportPageName   = "verify.html"
	exportReadMeName = "README.txt"
)

const exportReadMe = `This folder is an export of a sawmill's record, made by Stillsaw.

%srecord.csv   for a spreadsheet, one row an answer
record.json  the entries as they stand in the record, each with the proof that
             it stands there, and the mill's signature over all of it
verify.html  checks record.json and the files beside it. Open it in a browser;
             it needs no network and sends nothing anywhere
README.txt   this text

To check it: open verify.html and choose record.json (with the files beside
it, if they are to be checked too), or the ZIP whole. Or, with the
program: stillsaw verify FILE.

A check page that comes with what it checks can be forged along with it. Whoever
doubts the sender takes verify.html, or the program, from somewhere else.

Compare the key the check shows with the one the mill gave you another way: by
telephone, on paper, in an earlier export. What is not in an export, the check
can't tell; it says which entries stand here without a gap.
`

// Whether there is a sheet to print among the files.
const (
	exportPrinted    = "record.pdf   to be read and printed\n"
	exportNotPrinted = "(no record.pdf: this is too much to print. Ask for fewer days, one machine or\none person to get one.)\n\n"
)

// readMe says what is in the ZIP beside it.
func readMe(beside []besideExport) []byte {
	printed := exportNotPrinted
	if slices.ContainsFunc(beside, func(b besideExport) bool { return b.name == exportPDFName }) {
		printed = exportPrinted
	}
	return fmt.Appendf(nil, exportReadMe, printed)
}

// writeZip writes the export with the files beside it, the page that checks them
// and a README as a ZIP. Members are stored, not packed, so that the page can
// read them in any browser. Files beside it wait in temporary ones, since the
// JSON, which comes first, ends with their digests.
func (o exportOrder) writeZip(ctx context.Context, w io.Writer, beside ...besideExport) (made store.Checkpoint, err error) {
	page, err := views.VerifyPage()
	if err != nil {
		return made, err
	}
	fixed := func(name string, content []byte) besideExport {
		return besideExport{name: name, end: func(w io.Writer) error { _, err := w.Write(content); return err }}
	}
	beside = append(beside[:len(beside):len(beside)], fixed(exportPageName, page), fixed(exportReadMeName, readMe(beside)))
	out := zip.NewWriter(w)
	member := func(name string) (io.Writer, error) {
		return out.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store, Modified: o.now})
	}
	json, err := member(exportJSONName)
	if err != nil {
		return made, err
	}
	var waiting []*os.File
	defer func() {
		for _, file := range waiting {
			err = errors.Join(err, file.Close(), os.Remove(file.Name()))
		}
	}()
	made, err = o.write(ctx, json, beside, func() (files []record.ExportFile, err error) {
		for _, b := range beside {
			file, err := o.desk.TempFile()
			if err != nil {
				return nil, err
			}
			waiting = append(waiting, file)
			counted := &countedFile{file: file, sum: sha256.New()}
			if err := b.end(counted); err != nil {
				return nil, fmt.Errorf("export: %s: %w", b.name, err)
			}
			files = append(files, record.ExportFile{Name: b.name, Size: counted.size, Digest: record.FileDigest([sha256.Size]byte(counted.sum.Sum(nil)))})
		}
		return files, nil
	})
	if err != nil {
		return made, err
	}
	for i, b := range beside {
		into, err := member(b.name)
		if err != nil {
			return made, err
		}
		if _, err := waiting[i].Seek(0, io.SeekStart); err != nil {
			return made, err
		}
		if _, err := io.Copy(into, waiting[i]); err != nil {
			return made, err
		}
	}
	return made, out.Close()
}

// countedFile is a file with its size and digest as it is written.
type countedFile struct {
	file *os.File
	sum  hash.Hash
	size int64
}

func (c *countedFile) Write(p []byte) (int, error) {
	n, err := c.file.Write(p)
	c.sum.Write(p[:n])
	c.size += int64(n)
	return n, err
}
