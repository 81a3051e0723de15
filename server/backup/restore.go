package backup

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"filippo.io/age"

	"stillsaw/server/store"
)

// ErrNone is a place without a backup of the moment asked for.
var ErrNone = errors.New("there is no backup of that time or before")

// Chain are the backups that make up the newest state at a place not later than
// at, the base first; at zero is the newest there is. Increments that don't follow
// each other without a gap are passed by for the state before.
func Chain(all []Note, at time.Time) ([]Note, error) {
	by := map[string]Note{}
	for _, n := range all {
		by[n.Name] = n
	}
	for i := len(all) - 1; i >= 0; i-- {
		if !at.IsZero() && all[i].Made.After(at) {
			continue
		}
		var chain []Note
		for n := all[i]; ; n = by[n.Follows] {
			if n.Name == "" || len(chain) > len(all) {
				chain = nil
				break
			}
			if chain = append(chain, n); n.Kind == Base {
				break
			}
		}
		if len(chain) > 0 {
			slices.Reverse(chain)
			return chain, nil
		}
	}
	return nil, ErrNone
}

// Restore puts the backups of a chain back into dir, a new folder, and verifies the
// record there and every table made from it. Where that fails dir is removed.
func Restore(ctx context.Context, from Place, chain []Note, identities []age.Identity, dir string) (err error) {
	if err := os.Mkdir(dir, 0o700); err != nil {
		return fmt.Errorf("the folder %s can't be made: %w", dir, store.Cause(err))
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir))
		}
	}()
	for i, n := range chain {
		file := filepath.Join(dir, store.FileName)
		if i > 0 {
			file = filepath.Join(dir, "increment")
		}
		if err := fetch(ctx, from, n, identities, file); err != nil {
			return err
		}
		if i > 0 {
			if _, schema, err := store.HeadsIn(ctx, dir); err != nil || schema.Older() {
				return errors.Join(err, fmt.Errorf("the small backups after %s were made by an earlier Stillsaw (step %d): restore them with that version, or the whole copy alone with -at %s", chain[0].Name, n.Schema, chain[0].Made.Format(time.RFC3339Nano)))
			}
			if n.Schema != chain[0].Schema {
				return fmt.Errorf("the backup %s is of another version of the database than the one it follows", n.Name)
			}
			if err := store.ApplyIncrement(ctx, dir, file, n.Ends()); err != nil {
				return fmt.Errorf("the backup %s: %w", n.Name, err)
			}
			if err := os.Remove(file); err != nil {
				return err
			}
		}
	}
	last := chain[len(chain)-1]
	if err := store.SignAllOutIn(ctx, dir); err != nil {
		return err
	}
	return Verify(ctx, dir, last)
}

// Verify holds the database in dir against what the note of a backup says of it:
// the record verified as by `stillsaw verify -rebuild`, which makes every table
// again from the entries, and its heads.
func Verify(ctx context.Context, dir string, n Note) error {
	scratch := filepath.Join(dir, "verifying")
	if err := os.Mkdir(scratch, 0o700); err != nil {
		return err
	}
	reports, built, _, err := store.RebuildIn(ctx, dir, store.Rebuilding{Scratch: scratch})
	if err = errors.Join(err, os.RemoveAll(scratch)); err != nil {
		return err
	}
	faults, first := faultsIn(reports)
	ends, _, err := store.HeadsIn(ctx, dir)
	if err != nil {
		return err
	}
	switch {
	case !slices.Equal(headsIn(ends), n.Heads):
		return fmt.Errorf("what was restored has another record than the note of %s says", n.Name)
	case faults > n.Faults:
		return fmt.Errorf("what was restored is not clean: %s", first)
	case n.Faults == 0 && !built.OK():
		return errors.New("what was restored has tables that do not follow from its entries")
	}
	return nil
}
