package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"stillsaw/server/backup"
	"stillsaw/server/store"
)

// backUp writes a checked copy to the file named, or without one a whole backup to
// every place set up on the page Backups. The server may run meanwhile.
func backUp(ctx context.Context, c call) error {
	if len(c.args) == 0 {
		return c.backUpToPlaces(ctx)
	}
	file := c.args[0]
	if err := store.BackupOf(ctx, c.data, file); err != nil {
		return err
	}
	info, err := os.Stat(file)
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "A checked copy of the database is in %s (%d KB). Keep it on another disk.\n", file, (info.Size()+1023)/1024)
	return nil
}

func (c call) backUpToPlaces(ctx context.Context) (err error) {
	mill, places, secrets, err := store.BackupsIn(ctx, c.data)
	if errors.Is(err, store.ErrNotFound) {
		return errors.New("no mill is set up in this database yet")
	}
	if err != nil {
		return err
	}
	if len(places) == 0 {
		return errors.New("no place of backups is set up; set one up on the page Backups, or name a FILE")
	}
	source, err := backup.Of(c.data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, source.Close()) }()
	var failed error
	for i, due := range places {
		at, err := backup.PlaceOf(due.Place, mill, secrets[i])
		if err == nil {
			var made backup.Made
			made, err = new(backup.Maker).Make(ctx, source, backup.Asked{Place: due.Place, At: at, Now: c.now().UTC(), Zone: time.UTC, Whole: true})
			if err == nil {
				fmt.Fprintf(c.out, "%s: %s, %d entries, %d KB, read back and checked. %d there.\n", due.Place.Place, made.Note.Name, made.Note.Entries(), (made.Note.Bytes+1023)/1024, made.Copies)
			}
		}
		if err != nil {
			failed = errors.Join(failed, fmt.Errorf("%s: no backup was made: %w", due.Place.Place, err))
		}
	}
	return failed
}
