package server

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A supervisor's day in a browser, with scripts: a limit is changed on a draft,
// looked at as the phone will show it, compared and published. The inspection
// under way keeps its version, the next takes the new one.
func TestASupervisorsDay(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	t.Parallel()
	m := newMill(t)
	under := m.walk("ada")
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "sam")

	b.open("/lists")
	b.sees("Pre-shift check", "Version 1 in force")
	b.shot("lists")
	b.open("/lists/pre-shift/edit")
	b.shot("list-edit")
	b.open(itemPage("S3"))
	b.write("limits.high", "2")
	b.shot("list-item")
	b.press(`button[value="save"]`)
	b.sees("Saved by Sam Ordway", "draft of version 2")
	b.open("/lists/pre-shift/preview?state=locked-out")
	b.sees("under 2 in", "Nothing you tick here is kept")
	b.shot("list-preview")
	b.open("/lists/pre-shift/compare")
	b.sees("S3", "one difference")
	b.shot("list-compare")
	b.open(preShiftPublish)
	b.sees("Inspections under way: 1")
	b.write("pin", testSecrets["sam"])
	b.shot("list-publish")
	b.press(`form[action="` + preShiftPublish + `"] .sign button`)
	b.sees("in force, version 2")

	require.Equal(t, 1, mustWalk(t, m, under).Version, "the one under way keeps its version")
	next := m.walk("bo")
	require.Equal(t, 2, mustWalk(t, m, next).Version)
	item, _ := next.list.Item("S3")
	require.Equal(t, 2.0, *item.Limits.High)
}
