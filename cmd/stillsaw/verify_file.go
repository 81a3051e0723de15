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
	"slices"
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
	v := fileVerifier{call: c, seen: map[string]map[int64][32]byte{}}
	if err := v.prepare(); err != nil {
		return errCant{err}
	}
	if len(v.exports)+len(v.heads) == 0 {
		return errCant{errors.New("none of these is an export: name its record.json or the ZIP")}
	}
	for _, export := range v.exports {
		if err := v.export(export); err != nil {
			return errCant{fmt.Errorf("%s: %w", export.path, err)}
		}
	}
	if len(v.exports) == 0 {
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
	beside  []record.ExportFile
	heads   []record.Head                 // of checkpoints given
	seen    map[string]map[int64][32]byte // hashes of leaves, by mill and seq
	from    map[string]string             // which file a mill's entries were seen in first
	wrong   bool
}

type exportFile struct {
	path string
	zip  bool
}

// prepare sorts the files by what they are.
func (v *fileVerifier) prepare() error {
	v.from = map[string]string{}
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
	seen := map[int64][32]byte{}
	hold := record.ExportHold{Heads: v.heads}
	if len(v.exports) > 1 {
		hold.Each = func(e record.ExportedEntry) { seen[e.Seq] = e.Hash }
	}
	report, missing, err := v.read(f, hold)
	if err != nil {
		return err
	}
	v.compare(f, report, seen)
	v.holdKey(report)
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

// compare holds the entries of an export against those of the ones before it.
func (v *fileVerifier) compare(f exportFile, report *record.ExportReport, seen map[int64][32]byte) {
	mill := report.Header.Mill.ID
	before := v.seen[mill]
	if before == nil {
		v.seen[mill], v.from[mill] = seen, f.path
		return
	}
	both := 0
	for _, seq := range sortedKeys(seen) {
		hash, known := before[seq]
		if known && hash != seen[seq] {
			report.AddFault(record.ExportDiffers(seq, v.from[mill]))
		}
		if known {
			both++
		}
		before[seq] = seen[seq]
	}
	fmt.Fprintf(v.out, "%s and what was read before it have %d entries in common.\n", f.path, both)
}

func sortedKeys(of map[int64][32]byte) []int64 {
	keys := make([]int64, 0, len(of))
	for seq := range of {
		keys = append(keys, seq)
	}
	slices.Sort(keys)
	return keys
}

// holdKey notes a key other than the one named.
func (v *fileVerifier) holdKey(report *record.ExportReport) {
	named := strings.TrimSpace(v.files.key)
	if named == "" || report.Key == "" || named == report.Key {
		return
	}
	bare := func(text string) string { return strings.ToUpper(strings.Join(strings.Fields(text), "")) }
	if bare(named) != bare(record.Fingerprint(report.Key)) {
		report.AddFault(record.ExportOtherKey(record.Fingerprint(report.Key)))
	}
}
