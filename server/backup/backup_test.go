package backup

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"filippo.io/age"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

var (
	begun = time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	sam   = procedures.Person{ID: "sam", Name: "Sam Ordway", Role: procedures.Supervisor}
)

// mill is a mill whose backups are made by hand.
type mill struct {
	t     *testing.T
	dir   string
	st    *store.Store
	desk  *store.Mill
	at    Place
	place checklists.BackupPlace
	maker Maker
	now   time.Time
}

func newMill(t *testing.T) *mill {
	t.Helper()
	m := &mill{t: t, dir: t.TempDir(), now: begun}
	var err error
	m.st, err = store.Open(t.Context(), m.dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, m.st.Close()) })
	own := checklists.Mill{ID: checklists.MillID(store.NewID()), Name: "Fernhollow", Zone: "UTC", Units: checklists.Metric}
	require.NoError(t, m.st.SetUp(t.Context(), store.SetUp{Mill: own, Plant: procedures.Plant{{ID: "site", Kind: procedures.Site, Name: "Mill"}}, Supervisor: sam, Digest: "x", At: begun}))
	m.desk = m.st.Of(own.ID)
	m.place = checklists.NewBackupPlace()
	m.at = Folder{Root: t.TempDir(), Sub: "backups"}
	return m
}

// write makes one act, a photo and a row that stands in no entry.
func (m *mill) write(n int) {
	m.t.Helper()
	require.NoError(m.t, m.writes(m.t.Context(), m.now, n))
}

func (m *mill) writes(ctx context.Context, from time.Time, n int) error {
	at := from.Add(time.Duration(n) * time.Second)
	if _, err := m.desk.KeepPhoto(ctx, store.Photo{Type: "image/jpeg", Width: 1, Height: 1, Bytes: fmt.Appendf(nil, "photo %d", n)}, at); err != nil {
		return err
	}
	_, err := m.desk.SetUpWitness(ctx, store.NewID(), checklists.Witness{Kind: checklists.WitnessMail, Place: fmt.Sprintf("w%d@example.com", n)}, sam, at)
	return err
}

func (m *mill) back() (Made, error) {
	m.t.Helper()
	m.now = m.now.Add(5 * time.Minute)
	return m.maker.Make(m.t.Context(), m.st, Asked{Place: m.place, At: m.at, Now: m.now, Zone: time.UTC})
}

func (m *mill) good() Made {
	m.t.Helper()
	made, err := m.back()
	require.NoError(m.t, err)
	return made
}

func (m *mill) head() record.Head {
	m.t.Helper()
	head, err := m.desk.Head(m.t.Context())
	require.NoError(m.t, err)
	return head
}

func (m *mill) listed() []Note {
	m.t.Helper()
	all, err := List(m.t.Context(), m.at)
	require.NoError(m.t, err)
	require.Empty(m.t, all.Wrong)
	return all.Notes
}

// restored restores the state at a time and returns the record's head there.
func (m *mill) restored(at time.Time, identities ...age.Identity) (string, record.Head, error) {
	m.t.Helper()
	all, err := List(m.t.Context(), m.at)
	require.NoError(m.t, err)
	chain, err := Chain(all.Notes, at)
	if err != nil {
		return "", record.Head{}, err
	}
	dir := filepath.Join(m.t.TempDir(), "restored")
	if err := Restore(m.t.Context(), m.at, chain, identities, dir); err != nil {
		require.NoDirExists(m.t, dir)
		return "", record.Head{}, err
	}
	heads, _, err := store.HeadsIn(m.t.Context(), dir)
	require.NoError(m.t, err)
	return dir, heads[m.desk.ID()], nil
}

// witnesses is how many rows that stand in no entry were restored.
func (m *mill) witnesses(dir string) int {
	m.t.Helper()
	st, err := store.Open(m.t.Context(), dir)
	require.NoError(m.t, err)
	defer func() { require.NoError(m.t, st.Close()) }()
	all, err := st.Of(m.desk.ID()).Witnesses(m.t.Context())
	require.NoError(m.t, err)
	return len(all)
}

// The state of each moment comes back as it was: a base and the increments up to it.
func TestEveryMomentComesBackExactly(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	heads, at := []record.Head{}, []time.Time{}
	for n := range 3 {
		m.write(2 * n)
		m.write(2*n + 1)
		made := m.good()
		require.False(t, made.Unchanged)
		require.Equal(t, []string{Base, Increment}[min(n, 1)], made.Note.Kind)
		heads, at = append(heads, m.head()), append(at, m.now)
	}
	require.NotEqual(t, heads[1], heads[2])
	for n, want := range heads {
		dir, head, err := m.restored(at[n].Add(4 * time.Minute))
		require.NoError(t, err)
		require.Equal(t, want, head)
		require.Equal(t, 2*n+2, m.witnesses(dir))
	}
	_, head, err := m.restored(time.Time{})
	require.NoError(t, err)
	require.Equal(t, m.head(), head, "the newest")
	_, _, err = m.restored(begun)
	require.ErrorIs(t, err, ErrNone)
}

func TestNothingIsWrittenWhereNothingChanged(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.write(1)
	m.good()
	m.good()
	require.True(t, m.good().Unchanged)
	files, err := m.at.List(t.Context())
	require.NoError(t, err)
	require.True(t, m.good().Unchanged)
	again, err := m.at.List(t.Context())
	require.NoError(t, err)
	require.Equal(t, files, again)
	m.write(2)
	require.False(t, m.good().Unchanged)
}

func TestBackupsMadeWhileWritingGoesOnAreOfOneMoment(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ctx, finish := context.WithCancel(t.Context())
	done, started, from := make(chan error, 1), make(chan struct{}), m.now // which each backup moves on
	go func() {
		var err error
		for n := 0; ctx.Err() == nil && err == nil; n++ {
			if err = m.writes(context.Background(), from, n); n == 0 {
				close(started)
			}
		}
		done <- err
	}()
	<-started
	for range 2 {
		m.good()
	}
	finish()
	require.NoError(t, <-done)
	for _, n := range m.listed() {
		dir, head, err := m.restored(n.Made)
		require.NoError(t, err)
		require.Equal(t, n.Heads[0], head)
		require.NotEmpty(t, dir)
	}
}

func TestChangedOrShortenedBackupIsRefused(t *testing.T) {
	t.Parallel()
	for _, kind := range []string{Base, Increment} {
		m := newMill(t)
		m.write(1)
		m.good()
		m.write(2)
		m.good()
		folder := m.at.(Folder)
		var file string
		for _, n := range m.listed() {
			if n.Kind == kind {
				file = filepath.Join(folder.dir(), n.Name)
			}
		}
		whole, err := os.ReadFile(file)
		require.NoError(t, err)
		turned := append([]byte(nil), whole...)
		turned[len(turned)/2] ^= 1
		for _, spoilt := range [][]byte{whole[:len(whole)-1], whole[:10], nil, turned, append(append([]byte(nil), whole...), 0)} {
			require.NoError(t, os.WriteFile(file, spoilt, 0o600))
			_, _, err := m.restored(time.Time{})
			require.ErrorIs(t, err, ErrChanged, kind)
		}
		require.NoError(t, os.WriteFile(file, whole, 0o600))
		_, _, err = m.restored(time.Time{})
		require.NoError(t, err)
		require.NoError(t, os.Remove(file))
		all, err := List(t.Context(), m.at)
		require.NoError(t, err)
		require.ErrorContains(t, all.Wrong[0], "only its note is there")
	}
}

// Full has no room for what comes.
type full struct{ Folder }

func (f full) Put(ctx context.Context, name string, from io.Reader, size int64) error {
	return f.Folder.Put(ctx, name, io.MultiReader(io.LimitReader(from, 100), failing{}), size)
}

type failing struct{}

func (failing) Read([]byte) (int, error) {
	return 0, &os.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC}
}

func TestFullDiskIsSaidAndNothingIsRotatedAway(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.write(1)
	m.good()
	m.write(2)
	m.now = m.now.AddDate(0, 0, 2)
	require.Equal(t, Base, m.good().Note.Kind)
	require.Len(t, m.listed(), 2)
	m.place.Keep = checklists.BackupKeep{Hours: 1, Days: 1, Months: 1}
	before, err := m.at.List(t.Context())
	require.NoError(t, err)
	there := m.at
	m.now = m.now.AddDate(1, 0, 0)
	m.at = full{there.(Folder)}
	_, err = m.back()
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NotContains(t, err.Error(), "\n")
	after, err := there.List(t.Context())
	require.NoError(t, err)
	require.Equal(t, before, after, "no half a file, and the old ones are there")
	require.NoDirExists(t, filepath.Join(m.dir, "backing-up"))
	m.at = there
	m.good()
	require.Len(t, m.listed(), 1, "with the cause gone it goes on, and the old ones go")
}

func TestDiskThatIsNotThereIsNotTakenForAnEmptyOne(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	root := filepath.Join(t.TempDir(), "stick")
	m.at = Folder{Root: root, Sub: "backups"}
	_, err := m.back()
	require.ErrorContains(t, err, root)
	require.NoDirExists(t, root)
}

func TestEncryptedBackupIsOpenedByItsIdentityAlone(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	own, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	other, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	m.place.Recipients = []string{own.Recipient().String()}
	m.write(1)
	m.good()
	m.write(2)
	made := m.good()
	require.True(t, strings.HasSuffix(made.Note.Name, ".age"))
	_, head, err := m.restored(time.Time{}, own)
	require.NoError(t, err)
	require.Equal(t, m.head(), head)
	_, _, err = m.restored(time.Time{}, other)
	require.ErrorIs(t, err, ErrWrongIdentity)
	require.ErrorContains(t, err, "encrypted to others")
	_, _, err = m.restored(time.Time{})
	require.ErrorIs(t, err, ErrNoIdentity)
	for _, n := range m.listed() {
		text, err := os.ReadFile(filepath.Join(m.at.(Folder).dir(), n.Name))
		require.NoError(t, err)
		require.NotContains(t, string(text), "example.com")
	}
	_, err = Recipients([]string{own.String()})
	require.Error(t, err, "a private key is no recipient")
}

// lying is a place that takes a file and keeps another.
type lying struct{ Folder }

func (l lying) Put(ctx context.Context, name string, from io.Reader, size int64) error {
	text, err := io.ReadAll(from)
	if err != nil {
		return err
	}
	text[len(text)/2] ^= 1
	return l.Folder.Put(ctx, name, strings.NewReader(string(text)), size)
}

func TestWhatIsNotReadBackAsSentDoesNotCount(t *testing.T) {
	t.Parallel()
	own, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	for _, recipients := range [][]string{nil, {own.Recipient().String()}} {
		m := newMill(t)
		m.place.Recipients = recipients
		m.at = lying{m.at.(Folder)}
		_, err := m.back()
		require.ErrorIs(t, err, ErrChanged)
		files, err := m.at.List(t.Context())
		require.NoError(t, err)
		require.Empty(t, files)
	}
}

// A page of an index is in none of what a verification reads.
func TestCopyWhoseIndexIsDamagedIsNotPutBack(t *testing.T) {
	const page = 4096 // what SQLite takes unless it is told otherwise
	m := newMill(t)
	for n := range 3 {
		m.write(n)
	}
	file := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, m.st.Backup(t.Context(), file))
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	require.NoError(t, RestoreFile(t.Context(), file, filepath.Join(t.TempDir(), "restored")))
	tried := 0
	for at := page; at < len(whole) && tried < 5; at += page {
		const leafOfIndex = 10 // sqlite.org/fileformat2.html, 1.6
		if whole[at] != leafOfIndex || binary.BigEndian.Uint16(whole[at+3:]) == 0 {
			continue
		}
		tried++
		spoilt := bytes.Clone(whole)
		spoilt[at+page-1] ^= 1 // of the first key that was put there
		require.NoError(t, os.WriteFile(file, spoilt, 0o600))
		dir := filepath.Join(t.TempDir(), "restored")
		require.Error(t, RestoreFile(t.Context(), file, dir), "page %d", at/page+1)
		require.NoDirExists(t, dir)
	}
	require.Positive(t, tried)
}
