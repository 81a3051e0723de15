package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"stillsaw/server/record"
	"stillsaw/server/store"
)

// holdAgainst holds the database against every checkpoint in the files, which
// were kept elsewhere, or against that of an export, and tells whether all agree.
func (c call) holdAgainst(ctx context.Context, files []string) (agree bool, err error) {
	agree = true
	for _, file := range files {
		text, err := keptIn(file)
		if err != nil {
			return false, errCant{err}
		}
		compared, err := store.CompareIn(ctx, c.data, text)
		if err != nil {
			return false, err
		}
		if len(compared) == 0 {
			return false, errCant{fmt.Errorf("there is no checkpoint in %s: it has a line that begins with stillsaw/, one with a number, one with the root, and the signature below an empty line", file)}
		}
		for _, one := range compared {
			who := ""
			if one.Signature == store.Signed {
				who = " (key " + record.Fingerprint(one.Key.Verifier) + ")"
			}
			fmt.Fprintf(c.out, "Checkpoint of %d entries in %s%s: %s\n", one.Size, file, who, one.Said())
			agree = agree && (one.OK() || one.Signature == store.Unsigned && one.Agreement == store.Agrees)
		}
	}
	return agree, nil
}

// keptIn is the text of a file with checkpoints; of an export its own.
func keptIn(path string) (text string, err error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	in := bufio.NewReader(file)
	if start, _ := in.Peek(1); string(start) != "{" {
		all, err := io.ReadAll(in)
		return string(all), err
	}
	export := record.ReadExport(in, record.ExportHold{})
	if !export.OK() {
		return "", fmt.Errorf("%s is not an export as it was sealed: stillsaw verify %s says what was altered", path, path)
	}
	return export.Header.Checkpoint, nil
}
