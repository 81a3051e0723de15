package main

import (
	"context"
	"fmt"
	"os"

	"stillsaw/server/record"
	"stillsaw/server/store"
)

// holdAgainst holds the database against every checkpoint in the files, which
// were kept elsewhere, and tells whether all agree.
func (c call) holdAgainst(ctx context.Context, files []string) (agree bool, err error) {
	agree = true
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return false, errCant{err}
		}
		compared, err := store.CompareIn(ctx, c.data, string(text))
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
