package store

import (
	"bytes"
	"context"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store/faultydisk"
)

// cutOff is a mill whose power was cut: a part of its record was folded into the
// file, a part stands in the log beside it. A phone saw the record whole.
type cutOff struct {
	dir          string
	disk         *faultydisk.Disk
	folded, size int64  // entries in the file alone, and with the log
	seen         string // a checkpoint over all of them
}

func newCutOff(t *testing.T) cutOff {
	t.Helper()
	dir, d := millOnDisk(t)
	s, err := onFaulty(t, dir, d)
	require.NoError(t, err)
	m := s.Of(fernhollow)
	_, err = m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	all := deeds()
	require.NoError(t, all[0].do(t.Context(), m))
	require.NoError(t, s.writes.Exec("PRAGMA wal_checkpoint(TRUNCATE)").Error)
	before, err := m.Head(t.Context())
	require.NoError(t, err)
	for _, act := range all[1:] {
		require.NoError(t, act.do(t.Context(), m))
	}
	seen, err := m.Checkpoint(t.Context())
	require.NoError(t, err)
	d.Cut()
	require.Error(t, s.Close())
	found, err := d.AfterCut(rand.New(rand.NewPCG(1, 0)))
	require.NoError(t, err)
	require.NoError(t, d.Close())
	require.Less(t, before.Size, seen.Size)
	return cutOff{dir: dir, disk: found, folded: before.Size, size: seen.Size, seen: seen.Text}
}

// log is the log's name.
func (c cutOff) log() string { return filepath.Join(c.dir, FileName) + "-wal" }

// opened opens what spoil left of a copy and gives the number of entries found,
// after it required that the record is whole as far as it goes, takes new entries,
// and that the checkpoint a phone kept tells of what is gone.
func (c cutOff) opened(t *testing.T, spoil func(*faultydisk.Disk)) int64 {
	t.Helper()
	d, err := c.disk.Copy()
	require.NoError(t, err)
	spoil(d)
	s, err := onFaulty(t, c.dir, d)
	require.NoError(t, err)
	m := s.Of(fernhollow)
	head, err := m.Head(t.Context())
	require.NoError(t, err)
	sound(t, s)
	compared, err := m.Compare(t.Context(), c.seen)
	require.NoError(t, err)
	require.Len(t, compared, 1)
	want := Agrees
	if head.Size < c.size {
		want = CutBack
	}
	require.Equal(t, want, compared[0].Agreement, "%d of %d entries", head.Size, c.size)
	_, err = stop(t.Context(), m, NewID(), "after the fault")
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.NoError(t, d.Close())
	return head.Size
}

// What was answered stands in the log until it is folded into the file. Whoever
// takes the log away or spoils it takes away the newest entries, from the place on
// that is spoilt and never others. The record that is left is whole, so nothing in
// it can tell; a checkpoint kept elsewhere does.
func TestLogTakenAwayOrSpoilt(t *testing.T) {
	c := newCutOff(t)
	require.Equal(t, c.size, c.opened(t, func(*faultydisk.Disk) {}), "left as it was, nothing is lost")
	require.Equal(t, c.folded, c.opened(t, func(d *faultydisk.Disk) { d.Remove(c.log()) }), "taken away")
	require.Equal(t, c.folded, c.opened(t, func(d *faultydisk.Disk) { d.Write(c.log(), nil) }), "emptied")
	log := c.disk.Read(c.log())
	require.Equal(t, c.folded, c.opened(t, func(d *faultydisk.Disk) { d.Write(c.log(), bytes.Repeat([]byte("no log "), len(log)/7)) }), "another file")

	chance := rand.New(rand.NewPCG(2, 0))
	found := map[int64]bool{}
	last := c.folded
	for at := 0; at < len(log); at += len(log)/12 + 1 {
		size := c.opened(t, func(d *faultydisk.Disk) { d.Write(c.log(), log[:at]) })
		require.GreaterOrEqual(t, size, last, "cut off later, more is there")
		last = size
		found[size] = true
		found[c.opened(t, func(d *faultydisk.Disk) {
			spoilt := bytes.Clone(log)
			spoilt[at] ^= 1 << chance.IntN(8)
			d.Write(c.log(), spoilt)
		})] = true
	}
	require.True(t, found[c.folded])
	require.NoError(t, c.disk.Close())
}

// A file that is no database any more is not made into a new one.
func TestFileOfTheRecordDamaged(t *testing.T) {
	c := newCutOff(t)
	file := filepath.Join(c.dir, FileName)
	for name, spoil := range map[string]func([]byte) []byte{
		"its beginning": func(b []byte) []byte { return append(bytes.Repeat([]byte("x"), 4096), b[4096:]...) },
		"its middle": func(b []byte) []byte {
			for at := 4096; at < len(b); at++ {
				b[at] ^= 0x55
			}
			return b
		},
	} {
		d, err := c.disk.Copy()
		require.NoError(t, err)
		d.Remove(c.log())
		spoilt := spoil(d.Read(file))
		d.Write(file, spoilt)
		_, err = onFaulty(t, c.dir, d)
		require.Error(t, err, name)
		require.Equal(t, Damaged, TroubleOf(err), "%s: %v", name, err)
		require.Contains(t, err.Error(), file)
		require.Equal(t, spoilt, d.Read(file), "left as it was for whoever looks into it")
		require.NoError(t, d.Close())
	}
	require.NoError(t, c.disk.Close())
}

// The disk takes long: who sends something waits, and may go away; all can be read
// meanwhile; what was sent is there once when the disk has caught up.
func TestSlowDisk(t *testing.T) {
	dir, d := millOnDisk(t)
	s, err := onFaulty(t, dir, d)
	require.NoError(t, err)
	m := s.Of(fernhollow)
	release := d.Hold()
	submissions := []string{NewID(), NewID(), NewID()}
	gone, leave := context.WithCancel(t.Context())
	outcomes := make(chan error, len(submissions))
	for i, submission := range submissions {
		ctx := t.Context()
		if i == 0 {
			ctx = gone
		}
		go func() {
			_, err := stop(ctx, m, submission, submission)
			outcomes <- err
		}()
	}
	leave()
	require.ErrorIs(t, <-outcomes, context.Canceled, "the one who went away is not told that it was kept")
	defects, err := m.Defects(t.Context(), true, 10)
	require.NoError(t, err, "what is kept can be read")
	require.Empty(t, defects, "what is not on the disk is not shown")
	require.Empty(t, outcomes, "nobody is told before it is on the disk")
	release()
	for range submissions[1:] {
		require.NoError(t, <-outcomes)
	}
	for _, submission := range submissions {
		_, err := stop(t.Context(), m, submission, submission)
		require.NoError(t, err)
	}
	defects, err = m.Defects(t.Context(), true, 10)
	require.NoError(t, err)
	require.Len(t, defects, len(submissions), "each once")
	sound(t, s)
	require.NoError(t, s.Close())
	require.NoError(t, d.Close())
}
