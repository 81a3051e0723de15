package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

func TestVerifyHoldsTheDatabaseAgainstCheckpointsKeptElsewhere(t *testing.T) {
	dir := t.TempDir()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	at := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	mill := checklists.Mill{ID: checklists.MillID(store.NewID()), Name: "Fernhollow", Zone: "UTC", Units: checklists.Metric}
	sam := procedures.Person{ID: "sam", Name: "Sam Ordway", Role: procedures.Supervisor}
	require.NoError(t, st.SetUp(t.Context(), store.SetUp{Mill: mill, Plant: procedures.Plant{{ID: "site", Kind: procedures.Site, Name: "Mill"}}, Supervisor: sam, Digest: "x", At: at}))
	require.NoError(t, st.EnsureKeys(t.Context(), at))
	c, err := st.Of(mill.ID).Checkpoint(t.Context())
	require.NoError(t, err)
	var export bytes.Buffer
	var w *record.ExportWriter
	var key note.Signer
	require.NoError(t, st.Of(mill.ID).ExportUnder(t.Context(), store.Selection{From: "2100-01-01"}, store.Withhold{}, func(c store.Checkpoint, signer note.Signer) (err error) {
		key = signer
		w, err = record.NewExportWriter(&export, record.ExportHeader{Mill: record.ExportMill{ID: string(mill.ID)}, Selection: record.ExportSelection{From: "2100-01-01"},
			Checkpoint: c.Text, Keys: []record.ExportKey{{Verifier: c.Keys[0].Verifier, From: c.Keys[0].From}}})
		return err
	}, func(e store.Exported) error { return w.Also(e.Row, e.Proof) }))
	require.NoError(t, w.Close(nil, key))
	require.NoError(t, st.Close())

	kept := func(text string) string {
		file := filepath.Join(t.TempDir(), "kept.txt")
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		return file
	}
	good := callIt(t, "verify", "-data", dir, "-checkpoint", kept("Of today:\n"+c.Text+"\n"+c.Head.Text()))
	require.Equal(t, exitOK, good.status, good.out+good.err)
	require.Equal(t, 2, strings.Count(good.out, "It agrees"))
	bad := callIt(t, "verify", "-data", dir, "-checkpoint", kept(c.Text), "-checkpoint", kept(strings.Replace(c.Head.Text(), "\n4\n", "\n9\n", 1)))
	require.Equal(t, exitWrong, bad.status)
	require.Contains(t, bad.out, "letter by letter")
	mistyped := callIt(t, "verify", "-data", dir, "-checkpoint", kept(strings.Replace(c.Text, "\n4\n", "\n3\n", 1)))
	require.Equal(t, exitUsage, mistyped.status, "nothing against the record")
	require.Contains(t, mistyped.out, "Clean: ")
	require.Contains(t, mistyped.out, "mistyped, cut short or changed")
	require.NotContains(t, mistyped.out, "NOT CLEAN")
	exported := callIt(t, "verify", "-data", dir, "-checkpoint", kept(export.String()))
	require.Equal(t, exitOK, exported.status, exported.out+exported.err)
	require.Contains(t, exported.out, "It agrees")
	callIt(t, "verify", "-data", dir, "-checkpoint", kept(strings.Replace(export.String(), "2100", "2101", 1))).failed(t, exitUsage, "not an export as it was sealed")
	callIt(t, "verify", "-data", dir, "-checkpoint", kept("nothing")).failed(t, exitUsage, "no checkpoint")
	callIt(t, "verify", "-data", dir, "-checkpoint", filepath.Join(dir, "gone")).failed(t, exitUsage, "gone")
	callIt(t, "verify", "-data", dir, "-key", "x").failed(t, exitUsage, "-key")
}
