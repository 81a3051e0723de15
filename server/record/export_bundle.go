package record

import (
	"archive/zip"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"

	"stillsaw/procedures/plain"
)

// unpackedMost bounds what is read of one ZIP, packed ever so small.
const unpackedMost = 4 << 30

// ErrNoExport is a ZIP without an export, or with several.
var ErrNoExport = errors.New("the ZIP must hold one export, a file ending in .json")

// GivenFile digests a file that is given beside an export.
func GivenFile(name string, from io.Reader) (ExportFile, error) {
	sum := sha256.New()
	size, err := io.Copy(sum, from)
	return ExportFile{Name: name, Size: size, Digest: FileDigest([sha256.Size]byte(sum.Sum(nil)))}, err
}

// HoldFiles holds the files given beside the export against those it names. With
// all, none may be missing; else the names of those not given are returned.
func (r *ExportReport) HoldFiles(given []ExportFile, all bool) (missing []string) {
	found := map[string]bool{}
	wrong := func(name string, what plain.Sentence) { r.AddFault(ExportFault{"file " + name, what}) }
	for _, file := range given {
		same := slices.IndexFunc(r.Files, func(f ExportFile) bool {
			return f.Digest == file.Digest && f.Size == file.Size && (!all || f.Name == file.Name)
		})
		switch {
		case same >= 0:
			found[r.Files[same].Name] = true
		case slices.ContainsFunc(r.Files, func(f ExportFile) bool { return f.Name == file.Name }):
			found[file.Name] = true
			wrong(file.Name, plain.Say("%s is not the file that was made with this export.", file.Name))
		default:
			wrong(file.Name, plain.Say("%s is none of the files this export names.", file.Name))
		}
	}
	for _, f := range r.Files {
		switch {
		case found[f.Name]:
		case all:
			wrong(f.Name, plain.Say("%s, which belongs to this export, is missing.", f.Name))
		default:
			missing = append(missing, f.Name)
		}
	}
	return missing
}

// ReadExportZip is [ReadExport] of the export in a ZIP, with every file beside it
// held against it. The error says why the ZIP can't be read at all. It is read
// as a stream; of a ZIP that unpacks to more than 4 GB no more is read.
func ReadExportZip(archive *zip.Reader, hold ExportHold) (*ExportReport, error) {
	var export *zip.File
	for _, file := range archive.File {
		if strings.EqualFold(path.Ext(file.Name), ".json") {
			if export != nil {
				return nil, ErrNoExport
			}
			export = file
		}
	}
	if export == nil {
		return nil, ErrNoExport
	}
	left := int64(unpackedMost)
	var report *ExportReport
	err := unpacked(export, &left, func(content io.Reader) error {
		report = ReadExport(content, hold)
		return nil
	})
	if err != nil && report == nil {
		return nil, err
	}
	var given []ExportFile
	for _, file := range archive.File {
		if file == export {
			continue
		}
		var one ExportFile
		err := unpacked(file, &left, func(content io.Reader) (err error) {
			one, err = GivenFile(file.Name, content)
			return err
		})
		if err != nil {
			one = ExportFile{Name: file.Name} // which fits nothing
		}
		given = append(given, one)
	}
	report.HoldFiles(given, true)
	return report, nil
}

// unpacked reads a member as long as there is left of what may be read.
func unpacked(file *zip.File, left *int64, read func(io.Reader) error) (err error) {
	content, err := file.Open()
	if err != nil {
		return fmt.Errorf("%s in the ZIP can't be read: %w", file.Name, err)
	}
	defer func() { err = errors.Join(err, content.Close()) }()
	bounded := &io.LimitedReader{R: content, N: *left}
	err = read(bounded)
	*left = bounded.N
	if bounded.N <= 0 {
		return errors.Join(err, fmt.Errorf("%s in the ZIP is larger than this program reads", file.Name))
	}
	return err
}
