// Package backup makes, keeps and puts back copies of the database. A backup
// counts once it lies at its place, was read back from there, and its record was
// verified; only then does it get the note beside it by which it is found.
//
// There are two kinds: a base is the whole database, an increment what was written
// since the backup before it. [Maker] makes them, [Restore] puts them back. Both
// are compressed (zstd) and, where that is asked, encrypted (age).
package backup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// Place is where files of backups lie, by name. A name has no separators.
type Place interface {
	// Put makes a file of size bytes, whole or not at all, and lasting over a power
	// cut. One of that name is replaced.
	Put(ctx context.Context, name string, from io.Reader, size int64) error
	Open(ctx context.Context, name string) (io.ReadCloser, error)
	// List lists the names there are, sorted; none where nothing was put yet.
	List(ctx context.Context) ([]string, error)
	Remove(ctx context.Context, name string) error
	// Reach tells what keeps the place from being one, nil for nothing.
	Reach(ctx context.Context) error
}

// PlaceOf is the place of a mill's backups that a supervisor set up. It is not
// tried. secret goes with the access key of S3.
func PlaceOf(p checklists.BackupPlace, mill checklists.MillID, secret string) (Place, error) {
	sub := subPrefix + string(mill)
	switch p.Kind {
	case checklists.BackupFolder:
		return Folder{Root: p.Place, Sub: sub}, nil
	case checklists.BackupS3:
		return newS3(p.Place, p.Region, p.User, secret, sub)
	}
	return nil, fmt.Errorf("a place of the kind %q", p.Kind)
}

// Folder is a place on a disk: the folder Sub in Root, which must be there. A disk
// that is not plugged in is so not taken for an empty one.
type Folder struct{ Root, Sub string }

func (f Folder) dir() string { return filepath.Join(f.Root, f.Sub) }

// Reach implements [Place].
func (f Folder) Reach(context.Context) error {
	info, err := os.Stat(f.Root)
	if err != nil {
		return fmt.Errorf("the folder %s: %w", f.Root, store.Cause(err))
	}
	if !info.IsDir() {
		return fmt.Errorf("%s is not a folder", f.Root)
	}
	return nil
}

// partSuffix is of files not yet whole.
const partSuffix = ".part"

// Put implements [Place].
func (f Folder) Put(ctx context.Context, name string, from io.Reader, size int64) (err error) {
	if err := f.Reach(ctx); err != nil {
		return err
	}
	if err := os.Mkdir(f.dir(), 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("the folder %s can't be made: %w", f.dir(), store.Cause(err))
	}
	path := filepath.Join(f.dir(), name)
	part, err := os.OpenFile(path+partSuffix, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return fmt.Errorf("nothing can be written to %s: %w", f.dir(), store.Cause(err))
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("%s could not be written to %s: %w", name, f.dir(), store.Cause(err)), os.Remove(path+partSuffix))
		}
	}()
	written, err := io.Copy(part, under(ctx, from))
	if err == nil && written != size {
		err = io.ErrUnexpectedEOF
	}
	if err := errors.Join(err, part.Sync(), part.Close()); err != nil {
		return err
	}
	if err := os.Rename(path+partSuffix, path); err != nil {
		return err
	}
	return SyncFolder(f.dir())
}

// Open implements [Place].
func (f Folder) Open(_ context.Context, name string) (io.ReadCloser, error) {
	file, err := os.Open(filepath.Join(f.dir(), name))
	if err != nil {
		return nil, fmt.Errorf("%s in %s: %w", name, f.dir(), store.Cause(err))
	}
	return file, nil
}

// List implements [Place].
func (f Folder) List(ctx context.Context) ([]string, error) {
	if err := f.Reach(ctx); err != nil {
		return nil, err
	}
	files, err := os.ReadDir(f.dir()) // by name
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("the folder %s: %w", f.dir(), store.Cause(err))
	}
	var names []string
	for _, file := range files {
		if !file.IsDir() && !strings.HasSuffix(file.Name(), partSuffix) {
			names = append(names, file.Name())
		}
	}
	return names, nil
}

// Remove implements [Place].
func (f Folder) Remove(_ context.Context, name string) error {
	err := os.Remove(filepath.Join(f.dir(), name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// SyncFolder makes a new name in a folder last over a power cut, where the system can do that.
func SyncFolder(dir string) error {
	folder, err := os.Open(dir)
	if err != nil {
		return nil // on Windows a folder can't be opened so
	}
	err = folder.Sync()
	closing := folder.Close()
	var path *fs.PathError
	if errors.As(err, &path) {
		return closing // not every disk syncs a folder
	}
	return errors.Join(err, closing)
}

// under ends reading when ctx does.
func under(ctx context.Context, from io.Reader) io.Reader { return underCtx{ctx, from} }

type underCtx struct {
	ctx  context.Context
	from io.Reader
}

func (u underCtx) Read(into []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	return u.from.Read(into)
}
