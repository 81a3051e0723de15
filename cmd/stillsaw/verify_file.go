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
	key, checkpoint, page string
	checkpoints           []string // all that were given, checkpoint the last
}

func (f *fileFlags) register(flags *flag.FlagSet) {
	flags.StringVar(&f.key, "key", "", "with FILE: the mill's key as you know it, its four groups or whole")
	flags.Func("checkpoint", "a `FILE` with checkpoints kept elsewhere, to hold the database or the export against; may be given again", func(path string) error {
		f.checkpoint, f.checkpoints = path, append(f.checkpoints, path)
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
	if len(v.exports)+len(v.heads)+len(v.proofs) == 0 {
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
		fmt.Fprintln(c.out, "A checkpoint alone says what its log was; it shows something when it is held against an export or another checkpoint.")
	}
	if v.wrong {
		return errNotClean
	}
	return nil
}

// fileVerifier is one call of verify with files.
type fileVerifier struct {
	call
	exports []exportFile
	proofs  []string // files with the proof of one entry
	beside  []record.ExportFile
	heads   []record.Head // of checkpoints given
	seen    record.ExportsRead
	any     bool // an export was read
	wrong   bool
}

type exportFile struct {
	path string
	zip  bool
}

// prepare sorts the files by what they are.
func (v *fileVerifier) prepare() error {
	paths := v.args
	if v.files.checkpoint != "" {
		head, err := v.readHead(v.files.checkpoint)
		if err != nil {
			return err
		}
		v.heads = append(v.heads, head)
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
			var head record.Head
			if head, err = v.readHead(path); err == nil {
				v.heads = append(v.heads, head)
				fmt.Fprintf(v.out, "%s: a checkpoint of mill %s over %d entries, root %s\n", path, head.Mill, head.Size, head.Root)
			}
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

// readHead reads a checkpoint, or its three lines without a signature.
func (v *fileVerifier) readHead(path string) (record.Head, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return record.Head{}, err
	}
	head, err := record.GivenHead(string(text), v.files.key)
	if err != nil {
		return head, fmt.Errorf("%s: %w", path, err)
	}
	return head, nil
}

// export checks one export and says what came of it.
func (v *fileVerifier) export(f exportFile) error {
	hold := record.ExportHold{Heads: v.heads}
	if len(v.exports) > 1 {
		hold = v.seen.Hold(v.heads)
	}
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
	report.HoldKey(v.files.key)
	v.say(f, report, missing)
	v.wrong = v.wrong || !report.OK()
	return nil
}

func (v *fileVerifier) read(f exportFile, hold record.ExportHold) (report *record.ExportReport, missing []string, err error) {
	if f.zip {
		archive, err := zip.OpenReader(f.path)
		if err != nil {
			return nil, nil, err
		}
		report, err = record.ReadExportZip(&archive.Reader, hold)
		return report, nil, errors.Join(err, archive.Close())
	}
	file, err := os.Open(f.path)
	if err != nil {
		return nil, nil, err
	}
	report = record.ReadExport(file, hold)
	return report, report.HoldFiles(v.beside, false), file.Close()
}
