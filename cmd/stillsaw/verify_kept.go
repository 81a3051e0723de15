package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"stillsaw/server/record"
	"stillsaw/server/store"
)

// holdAgainst holds the database against every checkpoint in the files, which
// were kept elsewhere, or against that of an export, and tells what they mean
// together for the record.
func (c call) holdAgainst(ctx context.Context, files []string) (store.Outcome, error) {
	var all []store.Comparison
	for _, file := range files {
		text, err := keptIn(file)
		if err != nil {
			return store.Useless, errCant{err}
		}
		compared, err := store.CompareIn(ctx, c.data, text)
		if err != nil {
			return store.Useless, err
		}
		if len(compared) == 0 {
			return store.Useless, errCant{fmt.Errorf("there is no checkpoint in %s that can be read: it has a line that begins with stillsaw/, one with a number, one with the root, and the signature", file)}
		}
		for _, one := range compared {
			who := ""
			if one.Signature == store.Signed {
				who = " (key " + record.Fingerprint(one.Key.Verifier) + ")"
			}
			fmt.Fprintf(c.out, "Checkpoint of %d entries in %s%s: %s\n", one.Size, file, who, one.Said())
		}
		all = append(all, compared...)
	}
	return store.OutcomeOf(all), nil
}

// keptIn is the text of a file with checkpoints; of an export its own.
func keptIn(path string) (text string, err error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	in := bufio.NewReader(file)
	start, _ := in.Peek(2)
	var export *record.ExportReport
	switch {
	case strings.HasPrefix(string(start), "{"):
		export = record.ReadExport(in, record.ExportHold{})
	case string(start) == "PK":
		if export, err = readZip(path, record.ExportHold{}); err != nil {
			return "", fmt.Errorf("%s: %w", path, err)
		}
	default:
		all, err := io.ReadAll(in)
		return string(all), err
	}
	if !export.OK() {
		return "", fmt.Errorf("%s is not an export as it was sealed: stillsaw verify %s says what was altered", path, path)
	}
	return export.Header.Checkpoint, nil
}
