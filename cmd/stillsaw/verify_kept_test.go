package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
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
	require.Contains(t, bad.out, "cut back: this checkpoint saw 9 entries, and there are only 4")
	callIt(t, "verify", "-data", dir, "-checkpoint", kept("nothing")).failed(t, exitUsage, "no checkpoint")
	callIt(t, "verify", "-data", dir, "-checkpoint", filepath.Join(dir, "gone")).failed(t, exitUsage, "gone")
	callIt(t, "verify", "-data", dir, "-key", "x").failed(t, exitUsage, "-key")
}
