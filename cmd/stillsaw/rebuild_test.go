package main

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestRebuildNamesWhatWasAlteredBesideTheRecord(t *testing.T) {
	dir, scratch := preparedMill(t), t.TempDir()
	c := callIt(t, "verify", "-rebuild", "-data", dir, "-scratch", scratch)
	require.Equal(t, exitOK, c.status, c.out+c.err)
	require.Contains(t, c.out, "are what the record gives")
	require.Contains(t, c.out, "credentials: a secret, which stands in no entry")
	require.Contains(t, c.out, "Clean")

	alter(t, dir, "UPDATE people SET doc = json_set(doc, '$.authorized', json('false'), '$.name', 'Ada Crow') WHERE id = 'ada'")
	require.Equal(t, exitOK, callIt(t, "verify", "-data", dir).status, "no entry was touched")
	c = callIt(t, "verify", "-rebuild", "-data", dir, "-scratch", scratch)
	require.Equal(t, exitWrong, c.status)
	require.Contains(t, c.out, "doc/authorized: the record gives true, false stands there. Entry ")
	require.Contains(t, c.out, " (person ")
	require.Contains(t, c.out, "doc/name: the record gives a personal value")
	require.NotContains(t, c.out, "Ada Rook")
	require.Contains(t, c.out, "NOT CLEAN")
	require.NotContains(t, c.out, "Clean:")
	require.Contains(t, callIt(t, "verify", "-rebuild", "-show", "-data", dir, "-scratch", scratch).out, `the record gives "Ada Rook", "Ada Crow" stands there`)
	left, err := os.ReadDir(scratch)
	require.NoError(t, err)
	require.Empty(t, left, "what was made to compare with is gone again")

	callIt(t, "verify", "-rebuild", "-data", dir, "-scratch", dir+"/none").failed(t, exitWrong, dir+"/none")
}
