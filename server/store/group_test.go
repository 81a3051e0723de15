package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// A process that lost a mill says nothing more of it, and what the one that has it
// said stays.
func TestAProcessThatLostAMillTellsNoStanding(t *testing.T) {
	p := shared(t)
	s, hold := tenant(t, p, fernhollow, "fernhollow.example")
	setUp(t, s, fernhollow)
	require.NoError(t, p.KeepStanding(t.Context(), hold, checklists.MillStanding{Mill: "Fernhollow", MayRun: 2}, six))

	second := openPostgres(t, p.writes.Config().ConnString())
	defer func() { require.NoError(t, second.Close()) }()
	require.NoError(t, p.holder.conn.Close(t.Context())) // its process is cut off
	var later *MillHold
	require.Eventually(t, func() (taken bool) {
		var err error
		later, err = second.Hold(t.Context(), fernhollow, "127.0.0.1:2")
		return err == nil
	}, 10*time.Second, 10*time.Millisecond)
	told := checklists.MillStanding{Mill: "Fernhollow", Held: 2, Last: six}
	require.NoError(t, second.KeepStanding(t.Context(), later, told, six.Add(time.Minute)))
	require.ErrorIs(t, p.KeepStanding(t.Context(), hold, checklists.MillStanding{Mill: "Fernhollow", MayRun: 2}, six.Add(2*time.Minute)), ErrNotHeld)
	require.True(t, hold.Lost())
	all, err := p.GroupMills(t.Context())
	require.NoError(t, err)
	require.Len(t, all, 1)
	require.Equal(t, told, all[0].Standing)
	require.Equal(t, six.Add(time.Minute), all[0].At)

	_, err = second.writes.Exec(t.Context(), "UPDATE group_standings SET standing = 'of another version'")
	require.NoError(t, err)
	all, err = p.GroupMills(t.Context())
	require.NoError(t, err)
	require.Zero(t, all[0].At, "what can't be read is not known")
	head, err := s.Of(fernhollow).Head(t.Context())
	require.NoError(t, err)
	require.NoError(t, p.Remove(t.Context(), fernhollow, head.Root))
	all, err = p.GroupMills(t.Context())
	require.NoError(t, err)
	require.Empty(t, all)
}
