package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"
)

// counts are what the writer has done since it was started.
type counts struct{ commits, commands, failed atomic.Uint64 }

// Figures are how much the store holds and what its writer has done since the
// start. Sizes are in bytes.
type Figures struct {
	Entries     int64 // of the records of all mills
	Photos      int64 // kept
	Database    int64 // the file
	Log         int64 // SQLite's write-ahead log
	Commits     uint64
	Commands    uint64               // carried out or refused in those commits
	Failed      uint64               // commits that failed whole
	Waiting     int                  // commands in the queue
	LastBackups map[string]time.Time // the last good one by the id of its place; zero: none yet
}

// Figures reads how much there is.
func (s *Store) Figures(ctx context.Context) (Figures, error) {
	f := Figures{
		Commits: s.writer.counts.commits.Load(), Commands: s.writer.counts.commands.Load(), Failed: s.writer.counts.failed.Load(),
		Waiting: len(s.writer.queue), LastBackups: map[string]time.Time{},
	}
	db := s.reads.WithContext(ctx)
	if err := db.Raw("SELECT coalesce(sum(size), 0) FROM log_heads").Scan(&f.Entries).Error; err != nil {
		return f, err
	}
	if err := db.Raw("SELECT count(*) FROM photos WHERE dropped = 0").Scan(&f.Photos).Error; err != nil {
		return f, err
	}
	var places []backupPlaceRow
	if err := db.Find(&places).Error; err != nil {
		return f, err
	}
	var states []backupStateRow
	if err := db.Find(&states).Error; err != nil {
		return f, err
	}
	for _, place := range places {
		f.LastBackups[place.ID] = time.Time{}
	}
	for _, state := range states {
		f.LastBackups[state.ID] = state.Doc.Good
	}
	var err error
	f.Database, f.Log, err = fileSizes(s.path)
	return f, err
}

// fileSizes are the bytes of the database at path and of its write-ahead log, which
// is not there while nobody writes.
func fileSizes(path string) (database, log int64, err error) {
	for file, size := range map[string]*int64{path: &database, path + "-wal": &log} {
		info, err := os.Stat(file)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return 0, 0, err
		}
		*size = info.Size()
	}
	return database, log, nil
}

// probeSize is what [Store.Ready] tries to write: more than a page of the database.
const probeSize = 64 << 10

// Ready tells whether acts can be written down now: the database can be read, the
// writer gets its turn, and the disk takes what a commit needs. The error says
// which of them is not so.
func (s *Store) Ready(ctx context.Context) error {
	var one int
	asks, of := "SELECT 1 FROM migrations LIMIT 1", []any(nil)
	if s.mill != "" { // what others have may lie on other servers
		asks, of = "SELECT count(*) FROM mills WHERE id = ?", []any{s.mill}
	}
	if err := s.reads.WithContext(ctx).Raw(asks, of...).Scan(&one).Error; err != nil {
		return fmt.Errorf("the database can't be read: %w", err)
	}
	if err := s.writer.do(ctx, func(*Tx) error { return nil }); err != nil {
		return fmt.Errorf("nothing can be written to the database: %w", err)
	}
	probe, err := os.CreateTemp(filepath.Dir(s.path), ".stillsaw-*")
	if err != nil {
		return fmt.Errorf("the data folder can't be written to: %w", Cause(err))
	}
	_, err = probe.Write(make([]byte, probeSize))
	if err == nil {
		err = probe.Sync()
	}
	if err = errors.Join(err, probe.Close(), os.Remove(probe.Name())); err != nil {
		return fmt.Errorf("the disk of the data folder takes nothing more: %w", Cause(err))
	}
	return nil
}
