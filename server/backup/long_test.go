package backup

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// slowSource says how long each step of a backup takes.
type slowSource struct {
	Source
	t *testing.T
}

func (s slowSource) Backup(ctx context.Context, file string) error {
	defer s.took("copied and checked", time.Now())
	return s.Source.Backup(ctx, file)
}

func (s slowSource) Increment(ctx context.Context, since store.Cut, at time.Time, file string) (store.Cut, error) {
	defer s.took("increment copied", time.Now())
	return s.Source.Increment(ctx, since, at, file)
}

func (s slowSource) CheckIncrement(ctx context.Context, file string, from, to map[checklists.MillID]record.Head) error {
	defer s.took("increment checked", time.Now())
	return s.Source.CheckIncrement(ctx, file, from, to)
}

func (s slowSource) took(what string, since time.Time) { s.t.Log(what, time.Since(since)) }

// What a backup of a long record costs: by hand, STILLSAW_DATA names the folder of
// the database. It is opened for writing, and gets ten acts.
func TestBackupsOfALongRecord(t *testing.T) {
	dir := os.Getenv("STILLSAW_DATA")
	if os.Getenv("STILLSAW_LONG") == "" || dir == "" {
		t.Skip("by hand: STILLSAW_LONG=1 STILLSAW_DATA=DIR")
	}
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	own, err := st.TheMill(t.Context())
	require.NoError(t, err)
	people, err := st.Of(own.ID).People(t.Context())
	require.NoError(t, err)
	by := people[0]
	for _, p := range people {
		if p.Supervises() {
			by = p
		}
	}
	m := &mill{t: t, dir: dir, st: st, desk: st.Of(own.ID), now: time.Now(), place: checklists.NewBackupPlace(), at: Folder{Root: t.TempDir(), Sub: "backups"}}
	for n := range 3 {
		for range n * 10 {
			_, err := m.desk.SetUpWitness(t.Context(), store.NewID(), checklists.Witness{Kind: checklists.WitnessMail, Place: "w@example.com"}, by, m.now)
			require.NoError(t, err)
		}
		m.now = m.now.Add(5 * time.Minute)
		begun := time.Now()
		made, err := m.maker.Make(t.Context(), slowSource{st, t}, Asked{Place: m.place, At: m.at, Now: m.now, Zone: time.UTC})
		require.NoError(t, err)
		t.Logf("%s of %d entries: %d bytes, packed %d, in %s", made.Note.Kind, made.Note.Entries(), made.Note.PlainBytes, made.Note.Bytes, time.Since(begun))
	}
	begun := time.Now()
	all, err := List(t.Context(), m.at)
	require.NoError(t, err)
	chain, err := Chain(all.Notes, time.Time{})
	require.NoError(t, err)
	require.NoError(t, Restore(t.Context(), m.at, chain, nil, filepath.Join(t.TempDir(), "restored")))
	t.Log("restored and verified with every table made again in", time.Since(begun))
}
