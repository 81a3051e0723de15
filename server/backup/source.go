package backup

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"time"

	"stillsaw/checklists"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// Source is what backups are made of: the store of a running server, or [Of] a
// folder.
type Source interface {
	CutNow(ctx context.Context, at time.Time) (store.Cut, error)
	Backup(ctx context.Context, file string) error
	Verify(ctx context.Context) (map[checklists.MillID]record.Report, error)
	Increment(ctx context.Context, since store.Cut, at time.Time, file string) (store.Cut, error)
	CheckIncrement(ctx context.Context, file string, from, to map[checklists.MillID]record.Head) error
	BackupScratch() (string, error)
}

var _ Source = (*store.Store)(nil)

// Stopped is the database in a folder that another program may have open. Only
// whole backups are made of it.
type Stopped struct{ dir, scratch string }

// Of is the database in dir.
func Of(dir string) (*Stopped, error) {
	scratch, err := os.MkdirTemp(dir, "backing-up-by-hand-*")
	if err != nil {
		return nil, err
	}
	return &Stopped{dir: dir, scratch: scratch}, nil
}

// Close removes what was under way.
func (s *Stopped) Close() error { return os.RemoveAll(s.scratch) }

// CutNow implements [Source].
func (s *Stopped) CutNow(context.Context, time.Time) (store.Cut, error) { return store.Cut{}, nil }

// Backup implements [Source].
func (s *Stopped) Backup(ctx context.Context, file string) error {
	return store.BackupOf(ctx, s.dir, file)
}

// Verify implements [Source].
func (s *Stopped) Verify(ctx context.Context) (map[checklists.MillID]record.Report, error) {
	reports, _, err := store.VerifyIn(ctx, s.dir)
	return reports, err
}

// Increment implements [Source].
func (s *Stopped) Increment(context.Context, store.Cut, time.Time, string) (store.Cut, error) {
	return store.Cut{}, store.ErrNeedsBase
}

// CheckIncrement implements [Source].
func (s *Stopped) CheckIncrement(context.Context, string, map[checklists.MillID]record.Head, map[checklists.MillID]record.Head) error {
	return errors.New("no increment is made of a folder")
}

// BackupScratch implements [Source].
func (s *Stopped) BackupScratch() (string, error) {
	dir := filepath.Join(s.scratch, "work")
	return dir, os.MkdirAll(dir, 0o700)
}
