package store

import (
	"crypto/rand"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/record"
	"stillsaw/server/store/scratchdb"
)

// forked is a mill whose record was cut back behind the server's back and went
// on otherwise, with the checkpoints it had given out before.
func forked(t *testing.T) (m *Mill, early, late Checkpoint) {
	t.Helper()
	m = smallMill(t)
	grow(t, m, 3, "before")
	early = kept(t, m, six)
	grow(t, m, 4, "true")
	late = kept(t, m, six.Add(time.Minute))
	cutBack(t, m, early.Size+1)
	grow(t, m, 9, "false")
	return m, early, late
}

func faultsOf(t *testing.T, m *Mill) map[record.Change]record.Fault {
	t.Helper()
	reports, err := m.s.Verify(t.Context())
	require.NoError(t, err)
	found := map[record.Change]record.Fault{}
	for _, fault := range reports[m.id].Faults {
		found[fault.Change] = fault
	}
	delete(found, record.WordsDiffer) // the index of the search is not made anew here
	return found
}

func TestRecordMadeAnewWithItsOwnKeyIsFoundByACheckpointKeptBefore(t *testing.T) {
	m, early, _ := forked(t)
	found := faultsOf(t, m)
	require.Len(t, found, 1, "all else agrees with itself: %v", found)
	require.Contains(t, found[record.CheckpointDiffers].What.String(), fmt.Sprintf("The last that agrees saw %d entries", early.Size))
	require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error { return tx.db.Delete(&checkpointRow{}, "mill = ?", m.id).Error }))
	require.Empty(t, faultsOf(t, m), "without a checkpoint kept elsewhere nothing is left to find")
}

func TestVerifyHoldsEachCheckpointPutByAgainstRecordAndKeys(t *testing.T) {
	other := func(change func(text string) string) func(*gorm.DB) error {
		return func(db *gorm.DB) error {
			var text string
			if err := db.Raw("SELECT text FROM checkpoints").Scan(&text).Error; err != nil {
				return err
			}
			return db.Exec("UPDATE checkpoints SET text = ?", change(text)).Error
		}
	}
	for name, c := range map[string]struct {
		change func(*gorm.DB) error
		want   record.Change
	}{
		"root": {other(func(text string) string {
			lines := strings.Split(text, "\n")
			lines[2] = "AAAA" + lines[2][4:]
			return strings.Join(lines, "\n")
		}), record.CheckpointForged},
		"no checkpoint":   {running("UPDATE checkpoints SET text = 'x'"), record.CheckpointForged},
		"size of the row": {running("UPDATE checkpoints SET size = 3"), record.CheckpointForged},
		"signature cut off": {other(func(text string) string {
			before, _, _ := strings.Cut(text, "—")
			return before
		}), record.CheckpointForged},
	} {
		t.Run(name, func(t *testing.T) {
			m := smallMill(t)
			kept(t, m, six)
			require.Empty(t, faultsOf(t, m))
			require.NoError(t, c.change(m.s.writes))
			found := faultsOf(t, m)
			require.Len(t, found, 1)
			require.Contains(t, found, c.want)
		})
	}
	m := smallMill(t)
	grow(t, m, 3, "mill")
	kept(t, m, six)
	cutBack(t, m, 9)
	require.Contains(t, faultsOf(t, m), record.CheckpointBeyond)

	m = smallMill(t)
	private, _, err := record.NewKey(string(m.id), rand.Reader)
	require.NoError(t, err)
	stranger, err := note.NewSigner(private)
	require.NoError(t, err)
	head, err := m.Head(t.Context())
	require.NoError(t, err)
	text, err := head.Sign(stranger)
	require.NoError(t, err)
	require.NoError(t, m.KeepCheckpoint(t.Context(), Checkpoint{Head: head, Text: text}, KeptAtStop, six))
	require.Contains(t, faultsOf(t, m), record.CheckpointForged)
}

func TestCheckpointKeptElsewhereTellsWhatBecameOfTheRecord(t *testing.T) {
	m, early, late := forked(t)
	now, err := m.Checkpoint(t.Context())
	require.NoError(t, err)
	other := smallMill(t) // of the same name, with another key
	grow(t, other, 30, "elsewhere")
	strange, err := other.Checkpoint(t.Context())
	require.NoError(t, err)
	neighbours := settle(t, openFor(t, neighbour), neighbour)
	_, err = neighbours.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	foreign, err := neighbours.Checkpoint(t.Context())
	require.NoError(t, err)
	quoted := "> " + strings.ReplaceAll(strings.TrimSpace(early.Text), "\n", "\r\n> ")
	slipped := early.Head
	slipped.Root[0] ^= 1
	mistyped := strings.Replace(early.Text, early.Root.String(), slipped.Root.String(), 1)
	for name, c := range map[string]struct {
		text      string
		agreement Agreement
		signature Signature
		says      string
		outcome   Outcome
	}{
		"of today":         {now.Text, Agrees, Signed, "It agrees", InAccord},
		"of before":        {early.Text, Agrees, Signed, "It agrees", InAccord},
		"quoted in a mail": {quoted, Agrees, Signed, "It agrees", InAccord},
		"bare lines":       {early.Head.Text(), Agrees, Unsigned, "bear no signature", InAccord},
		"of what was":      {late.Text, Changed, Signed, "The record was changed", InDispute},
		"root mistyped":    {mistyped, Changed, Altered, "mistyped, cut short or changed", Useless},
		"cut short":        {early.Text[:len(early.Text)-30], Agrees, Altered, "mistyped, cut short or changed", Useless},
		"bare, mistyped":   {strings.Replace(early.Head.Text(), "\n10\n", "\n9\n", 1), Changed, Unsigned, "letter by letter", InDispute},
		"altered":          {strings.Replace(early.Text, "\n10\n", "\n9\n", 1), Changed, Altered, "mistyped, cut short or changed", Useless},
		"another key":      {strange.Text, CutBack, UnknownKey, "made anew with another key", InDispute},
		"another mill":     {foreign.Text, CantTell, UnknownKey, "another mill", Useless},
	} {
		all, err := m.Compare(t.Context(), "Kept on paper:\n\n"+c.text)
		require.NoError(t, err, name)
		require.Len(t, all, 1, name)
		require.Equal(t, c.agreement, all[0].Agreement, name)
		require.Equal(t, c.signature, all[0].Signature, name)
		require.Contains(t, all[0].Said().String(), c.says, name)
		require.Equal(t, c.outcome, all[0].Outcome(), name)
	}
	cutBack(t, m, early.Size)
	all, err := m.Compare(t.Context(), late.Text+"\n"+early.Text)
	require.NoError(t, err)
	require.Len(t, all, 2, "several in one file")
	require.Equal(t, []Agreement{CutBack, Agrees}, []Agreement{all[0].Agreement, all[1].Agreement})
	require.Contains(t, all[0].Said().String(), "cut back")
	all, err = m.Compare(t.Context(), "nothing of the sort")
	require.NoError(t, err)
	require.Empty(t, all)
	if scratchdb.Asked() {
		return // no database in a folder
	}
	read, err := CompareIn(t.Context(), filepath.Dir(m.s.Path()), late.Text)
	require.NoError(t, err)
	require.Equal(t, CutBack, read[0].Agreement)
	require.Equal(t, checklists.MillID(read[0].Mill), m.id)
}
