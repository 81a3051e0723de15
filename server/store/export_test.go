package store

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/procedures"
	"stillsaw/server/record"
)

// exportOf are the entries exported, each proven under the checkpoint by package
// tlog, an implementation of RFC 6962 that is not ours.
func exportOf(t *testing.T, m *Mill, s Selection, w Withhold) []Exported {
	t.Helper()
	var all []Exported
	c, err := m.Export(t.Context(), s, w, func(e Exported) error {
		if !e.Also {
			all = append(all, e)
		}
		return nil
	})
	require.NoError(t, err)
	require.NotEmpty(t, c.Text)
	for i, e := range all {
		require.NoError(t, tlog.CheckRecord(e.Proof, c.Size, c.Root, e.Row.Seq, tlog.RecordHash(e.Row.Leaf)), "entry %d", e.Row.Seq)
		require.True(t, i == 0 || all[i-1].Row.Seq < e.Row.Seq)
	}
	return all
}

func TestExportProvesWhatIsSelectedAndNothingElse(t *testing.T) {
	m := newMill(t)
	_, err := m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	fill(t, m)
	head, err := m.Head(t.Context())
	require.NoError(t, err)
	whole := exportOf(t, m, Selection{}, Withhold{})
	require.Len(t, whole, int(head.Size))

	chosen := func(s Selection, belongs func(Exported) bool) {
		t.Helper()
		var want, got []int64
		for _, e := range whole {
			if belongs(e) {
				want = append(want, e.Row.Seq)
			}
		}
		for _, e := range exportOf(t, m, s, Withhold{}) {
			got = append(got, e.Row.Seq)
		}
		require.NotEmpty(t, want)
		require.Less(t, len(want), len(whole))
		require.Equal(t, want, got)
	}
	day := whole[len(whole)/2].Row.Columns.Day
	chosen(Selection{From: day, Until: day}, func(e Exported) bool { return e.Row.Columns.Day == day })
	chosen(Selection{From: day}, func(e Exported) bool { return e.Row.Columns.Day >= day })
	chosen(Selection{Person: ben.ID}, func(e Exported) bool { return e.Entry.Actor == ben.ID || e.Entry.Subject == string(ben.ID) })
	var about []int64
	require.NoError(t, m.s.reads.Raw("SELECT seq FROM entry_equipment WHERE mill = ? AND equipment = 'hoist' ORDER BY seq", m.id).Scan(&about).Error)
	for i, e := range exportOf(t, m, Selection{Equipment: "hoist"}, Withhold{}) {
		require.Equal(t, about[i], e.Row.Seq)
	}
	var defect defectRow
	require.NoError(t, m.s.reads.Where("doc LIKE ?", `%"inspection":"0%`).Take(&defect).Error)
	in := string(defect.Doc.Inspection)
	chosen(Selection{Subject: defect.ID}, func(e Exported) bool { return e.Entry.Subject == defect.ID || e.Entry.Subject == in })
}

func TestWhatIsWithheldLeavesTheExportAndItsProof(t *testing.T) {
	m := newMill(t)
	_, err := m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	fill(t, m)
	shown := map[string]int{}
	names, err := m.Names(t.Context())
	require.NoError(t, err)
	for name, w := range map[string]Withhold{"all": {}, "no names": {Names: true}, "no notes": {Notes: true}, "neither": {Names: true, Notes: true}} {
		for _, e := range exportOf(t, m, Selection{}, w) {
			shown[name] += len(e.Row.Openings)
			for _, o := range e.Row.Openings {
				require.False(t, w.Names && (record.NamesSomebody(o.Path) || names.In(o.Value)), o.Path)
				require.False(t, w.Notes && !strings.HasSuffix(o.Path, "/name") && !strings.HasSuffix(o.Path, "/minor_until"), o.Path)
			}
			if p, ok := e.Entry.Body.(procedures.Person); ok && w.Names {
				require.Empty(t, p.Name)
				require.Contains(t, e.Withheld, "/name")
			}
		}
	}
	require.Zero(t, shown["neither"])
	require.Less(t, shown["no names"], shown["all"])
	require.NotZero(t, shown["no names"])
	require.NotZero(t, shown["no notes"])
}

func TestExportSaysItsCheckpointBeforeTheFirstEntry(t *testing.T) {
	m := newMill(t)
	nothing := func(Exported) error { return nil }
	require.ErrorIs(t, m.ExportUnder(t.Context(), Selection{}, Withhold{}, nil, nothing), ErrNoKey)
	_, err := m.EnsureKey(t.Context(), six)
	require.NoError(t, err)
	said, stop := 0, errors.New("stop")
	err = m.ExportUnder(t.Context(), Selection{}, Withhold{}, func(c Checkpoint, signer note.Signer) error {
		said++
		verifier, err := note.NewVerifier(c.Keys[len(c.Keys)-1].Verifier)
		require.NoError(t, err)
		require.Equal(t, verifier.KeyHash(), signer.KeyHash())
		head, _, err := record.OpenCheckpoint(c.Text, verifier)
		require.NoError(t, err)
		require.Equal(t, c.Head, head)
		return nil
	}, func(Exported) error { require.Equal(t, 1, said); return stop })
	require.ErrorIs(t, err, stop)
}
