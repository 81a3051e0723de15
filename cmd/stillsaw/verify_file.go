package main

import (
	"archive/zip"
	"bufio"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"stillsaw/server/record"
	"stillsaw/views"
)

// fileFlags are the flags of verify that are about files, not the database.
type fileFlags struct {
	key, page   string
	checkpoints []string
}

func (f *fileFlags) register(flags *flag.FlagSet) {
	flags.StringVar(&f.key, "key", "", "with FILE: the mill's key as you know it, its four groups or whole")
	flags.Func("checkpoint", "a `FILE` with checkpoints kept elsewhere, to hold the database or the export against; may be given again", func(path string) error {
		f.checkpoints = append(f.checkpoints, path)
		return nil
	})
	flags.StringVar(&f.page, "page", "", "write the page that checks an export in a browser to this file")
}

func (f fileFlags) check(args []string) error {
	if len(args) == 0 && f.key != "" {
		return errors.New("-key goes with the FILE of an export")
	}
	return nil
}

// errCant ends verify where a file could not be checked at all.
type errCant struct{ error }

// verifyAway is verify without a database.
func verifyAway(c call) error {
	if c.files.page != "" {
		if err := writePage(c); err != nil || len(c.args) == 0 {
			return err
		}
	}
	return verifyFiles(c)
}

// writePage writes the page that checks exports to path.
func writePage(c call) error {
	page, err := views.VerifyPage()
	if err == nil {
		err = os.WriteFile(c.files.page, page, 0o644)
	}
	if err != nil {
		return errCant{err}
	}
	fmt.Fprintf(c.out, "The page that checks an export is in %s. It works without a network.\n", c.files.page)
	return nil
}

// verifyFiles checks exports without the database they are from.
func verifyFiles(c call) error {
	v := fileVerifier{call: c}
	if err := v.prepare(); err != nil {
		return errCant{err}
	}
	if len(v.exports)+len(v.kept)+len(v.proofs) == 0 {
		return errCant{errors.New("none of these is an export or the proof of an entry: name an export's record.json or the ZIP")}
	}
	for _, proof := range v.proofs {
		if err := v.proof(proof); err != nil {
			return errCant{fmt.Errorf("%s: %w", proof, err)}
		}
	}
	for _, export := range v.exports {
		if err := v.export(export); err != nil {
			return errCant{fmt.Errorf("%s: %w", export.path, err)}
		}
	}
	if len(v.exports)+len(v.proofs) == 0 {
		v.alone()
	}
	switch {
	case v.wrong:
		return errNotClean
	case v.unsure:
		return errCant{errors.New("not all that was given could be used to check with, as said above; that says nothing against the record")}
	}
	return nil
}

// fileVerifier is one call of verify with files.
type fileVerifier struct {
	call
	exports []exportFile
	proofs  []string // files with the proof of one entry
	beside  []record.ExportFile
	kept    []record.Found // checkpoints given
	leads   []record.Lead  // consistency proofs given
	seen    record.ExportsRead
	any     bool // an export was read
	wrong   bool
	unsure  bool // something given says nothing
}

type exportFile struct {
	path string
	zip  bool
}

// prepare sorts the files by what they are.
func (v *fileVerifier) prepare() error {
	paths := v.args
	for _, path := range v.files.checkpoints {
		if err := v.readKept(path); err != nil {
			return err
		}
	}
	for _, path := range paths {
		file, err := os.Open(path)
		if err != nil {
			return err
		}
		start, _ := bufio.NewReaderSize(file, 16).Peek(9)
		_, err = file.Seek(0, io.SeekStart)
		switch {
		case err != nil:
		case strings.HasPrefix(string(start), "PK"):
			v.exports = append(v.exports, exportFile{path, true})
		case strings.HasPrefix(string(start), "{") || strings.EqualFold(filepath.Ext(path), ".json"):
			v.exports = append(v.exports, exportFile{path, false})
		case string(start) == "c2sp.org/":
			v.proofs = append(v.proofs, path)
		case string(start) == "stillsaw/":
			if err = v.readKept(path); err == nil {
				head := v.kept[len(v.kept)-1]
				fmt.Fprintf(v.out, "%s: a checkpoint of mill %s over %d entries, root %s\n", path, head.Mill, head.Size, head.Root)
			}
		case v.readLead(path):
		default:
			var given record.ExportFile
			given, err = record.GivenFile(filepath.Base(path), file)
			v.beside = append(v.beside, given)
		}
		if err := errors.Join(err, file.Close()); err != nil {
			return fmt.Errorf("%s can't be read: %w", path, err)
		}
	}
	return nil
}

// export checks one export and says what came of it.
func (v *fileVerifier) export(f exportFile) error {
	var hold record.ExportHold
	if len(v.exports) > 1 {
		hold = v.seen.Hold(nil)
	}
	hold.Kept = v.kept
	report, missing, err := v.read(f, hold)
	if err != nil {
		return err
	}
	if len(v.exports) > 1 {
		both := v.seen.Take(f.path, report)
		if v.any {
			fmt.Fprintf(v.out, "%s and what was read before it have %d entries in common.\n", f.path, both)
		}
		v.any = true
	}
	key := report.HoldKey(v.files.key)
	v.lead(report)
	v.say(f, report, key, missing)
	v.wrong = v.wrong || !report.OK() || key.Is == record.KeyForeign
	v.unsure = v.unsure || key.Is == record.KeyFormer || len(report.Unused) > 0
	return nil
}

func (v *fileVerifier) read(f exportFile, hold record.ExportHold) (report *record.ExportReport, missing []string, err error) {
	if f.zip {
		report, err = readZip(f.path, hold)
		return report, nil, err
	}
	file, err := os.Open(f.path)
	if err != nil {
		return nil, nil, err
	}
	report = record.ReadExport(file, hold)
	return report, report.HoldFiles(v.beside, false), file.Close()
}

func readZip(path string, hold record.ExportHold) (*record.ExportReport, error) {
	archive, err := zip.OpenReader(path)
	if err != nil {
		return nil, err
	}
	report, err := record.ReadExportZip(&archive.Reader, hold)
	return report, errors.Join(err, archive.Close())
}
