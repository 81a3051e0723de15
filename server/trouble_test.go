package server

import (
	"html"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
	"stillsaw/server/store/faultydisk"
)

// A wrong PIN that could not be counted is counted before anything else is compared: a
// disk that is full gives nobody free tries.
func TestFullDiskGivesNoFreeTries(t *testing.T) {
	y := newYard(t)
	y.disk.Steer(func(c faultydisk.Call) faultydisk.Fault {
		if c.Op == faultydisk.Write {
			return faultydisk.Full
		}
		return faultydisk.None
	})
	p := y.phone()
	for range 3 * freeTriesPerson {
		require.Equal(t, http.StatusServiceUnavailable, p.signIn(y.people["ada"].ID, "0000").Status)
	}
	require.Equal(t, http.StatusServiceUnavailable, p.signIn(y.people["ada"].ID, testSecrets["ada"]).Status)
	require.Len(t, y.server.turns.of(string(y.desk().ID()), string(y.people["ada"].ID)).owed, 1, "one was compared")

	y.disk.Steer(nil)
	for range freeTriesPerson - 1 {
		p.signIn(y.people["ada"].ID, "0000").says(t, "that is not it")
	}
	p.signIn(y.people["ada"].ID, testSecrets["ada"]).says(t, "too many wrong tries")
	y.leave(t)
}

// Whatever is wrong with the disk, the one who sent something reads what, and who
// sees to it; with the cause gone the same form goes through, and once.
func TestWhatIsWrongWithTheDiskStandsOnTheScreen(t *testing.T) {
	y := newYard(t)
	ada := y.as("ada")
	for _, tc := range []struct {
		fault faultydisk.Fault
		ops   []faultydisk.Op
		says  store.Trouble
	}{
		{faultydisk.Full, []faultydisk.Op{faultydisk.Write}, store.DiskFull},
		{faultydisk.ReadOnly, []faultydisk.Op{faultydisk.Write}, store.DiskReadOnly},
		{faultydisk.Broken, []faultydisk.Op{faultydisk.Sync}, store.DiskFailing},
		{faultydisk.Broken, []faultydisk.Op{faultydisk.Write}, store.DiskFailing},
	} {
		y.disk.Steer(func(c faultydisk.Call) faultydisk.Fault {
			for _, op := range tc.ops {
				if c.Op == op {
					return tc.fault
				}
			}
			return faultydisk.None
		})
		before := y.size()
		form := url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}, "what": {"hook latch gone"}}
		reply := ada.post("/stop-it", form)
		title, do, ok := troubleWords(tc.says)
		require.True(t, ok)
		require.Equal(t, http.StatusServiceUnavailable, reply.Status, reply.Body)
		require.Equal(t, html.EscapeString(title.String()), reply.title())
		reply.says(t, html.EscapeString(do.String()))
		reply.says(t, html.EscapeString(troubleMeanwhile(true).String()))
		require.Equal(t, http.StatusOK, ada.get("/").Status, "what is kept can be looked at meanwhile")
		require.Equal(t, before, y.size())

		y.disk.Steer(nil)
		for range 2 {
			require.Equal(t, http.StatusOK, ada.post("/stop-it", form).Status)
			require.Equal(t, before+1, y.size())
		}
	}
	for trouble := store.DiskFull; trouble <= store.Damaged; trouble++ {
		_, _, ok := troubleWords(trouble)
		require.True(t, ok, trouble)
	}
	y.leave(t)
}
