package backup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"stillsaw/server/store"
)

// subPrefix begins the folder of each mill at a place.
const subPrefix = "stillsaw-backup-"

// PlacesIn are the places of backups in a folder: what was typed on the page
// Backups, or the folder of one mill in it.
func PlacesIn(folder string) ([]Place, error) {
	own, err := filepath.Abs(folder)
	if err != nil {
		return nil, err
	}
	files, err := os.ReadDir(own)
	if err != nil {
		return nil, fmt.Errorf("the folder %s: %w", folder, store.Cause(err))
	}
	all := []Place{Folder{Root: filepath.Dir(own), Sub: filepath.Base(own)}}
	for _, file := range files {
		if file.IsDir() && strings.HasPrefix(file.Name(), subPrefix) {
			all = append(all, Folder{Root: own, Sub: file.Name()})
		}
	}
	return all, nil
}

// PlacesInS3 are the places of backups at an address of S3 storage, likewise.
func PlacesInS3(ctx context.Context, address, region, user, secret string) ([]Place, error) {
	own, err := newS3(address, region, user, secret, "")
	if err != nil {
		return nil, err
	}
	all := []Place{own}
	subs, err := own.folders(ctx)
	for _, sub := range subs {
		if strings.HasPrefix(sub, subPrefix) {
			deeper := *own
			deeper.prefix += sub + "/"
			all = append(all, &deeper)
		}
	}
	return all, err
}

// RestoreFile puts a plain copy of a database, as `stillsaw backup FILE` writes it,
// into dir, a new folder, and verifies it there. Where that fails dir is removed.
func RestoreFile(ctx context.Context, file, dir string) (err error) {
	from, err := os.Open(file)
	if err != nil {
		return fmt.Errorf("the file %s: %w", file, store.Cause(err))
	}
	defer from.Close()
	if err := os.Mkdir(dir, 0o700); err != nil {
		return fmt.Errorf("the folder %s can't be made: %w", dir, store.Cause(err))
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir))
		}
	}()
	to, err := os.OpenFile(filepath.Join(dir, store.FileName), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(to, under(ctx, from))
	if err := errors.Join(err, to.Sync(), to.Close()); err != nil {
		return fmt.Errorf("the copy %s could not be put beside: %w", file, store.Cause(err))
	}
	if err := store.SignAllOutIn(ctx, dir); err != nil {
		return fmt.Errorf("%s can't be opened as a database: %w", file, err)
	}
	ends, _, err := store.HeadsIn(ctx, dir)
	if err != nil {
		return fmt.Errorf("%s can't be read as a database of Stillsaw: %w", file, err)
	}
	// No digest stands beside such a file, so what became of it where it lay, only
	// reading it shows.
	if err := store.IntactIn(dir); err != nil {
		return fmt.Errorf("%s is damaged; take another copy: %w", file, err)
	}
	return Verify(ctx, dir, Note{Name: file, Heads: headsIn(ends)})
}
