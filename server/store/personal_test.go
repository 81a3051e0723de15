package store

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/server/record"
)

// closedFor is a mill with a closure for a reason.
func closedFor(id checklists.MillID, reason string) checklists.Mill {
	m := millOf(id)
	m.Closed = []checklists.Closure{{From: six.AddDate(0, 1, 0), Until: six.AddDate(0, 1, 3), Reason: "holiday"}, {From: six.AddDate(0, 2, 0), Until: six.AddDate(0, 2, 1), Reason: reason}}
	return m
}

// signedRig is the starter's rig with words of somebody wherever there is room.
func signedRig(says string) lift.Rig {
	rig := lift.StarterRig()
	rig.Setting = "second hole, says " + says
	rig.EndHookBand = lift.Band{Low: 45, High: 80, Source: "pulled and measured by " + says}
	rig.Links[2].Tag = "read by " + says
	return rig
}

// putRig puts the starter's rig in force anew with such words.
func putRig(t *testing.T, m *Mill, says string, at time.Time) lift.Rig {
	t.Helper()
	rig := signedRig(says)
	draft, err := DraftOf(Rigs, rig.ID, rig.Name, rig)
	require.NoError(t, err)
	require.NoError(t, m.PublishDraft(t.Context(), NewID(), draft, sam, at, NumberRig))
	return rig
}

// keepLiftBy keeps a lift with the second version of rig.
func keepLiftBy(t *testing.T, m *Mill, rig lift.Rig, at time.Time) (id string, texts []string) {
	t.Helper()
	bare, texts := rig.WithoutTexts()
	asked, err := json.Marshal(map[string]any{"rig": bare})
	require.NoError(t, err)
	id, err = m.KeepLift(t.Context(), NewID(), Lift{Rig: rig.ID, RigVersion: 2, Hoist: "hoist", LandsOn: "carriage"}, ada, at,
		func(LiftFacts) (Judged, error) {
			return Judged{Asked: asked, RigTexts: texts, Verdict: json.RawMessage(`{}`)}, nil
		})
	require.NoError(t, err)
	return id, texts
}

// No word that may name somebody stands in a leaf, from where it could never be
// dropped; and none is lost.
func TestWordsOfPeopleStandInNoLeafAndComeBack(t *testing.T) {
	const says = "Walter Quist"
	m := newMill(t)
	mill := closedFor(m.id, "funeral of "+says)
	require.NoError(t, m.ChangeMill(t.Context(), NewID(), mill, sam, six))
	rig := putRig(t, m, says, six.Add(time.Minute))
	id, texts := keepLiftBy(t, m, rig, six.Add(2*time.Minute))

	var rows []entryRow
	require.NoError(t, m.s.reads.Order("seq").Find(&rows).Error)
	for _, row := range rows {
		require.NotContains(t, string(row.Leaf), "Quist", "entry %d %s", row.Seq, row.Kind)
	}
	entries, _, err := m.Entries(t.Context(), Filter{Limit: 3})
	require.NoError(t, err)
	require.Equal(t, texts, entries[0].Body.(Lift).RigTexts)
	shown, err := ReadRig(entries[1].Body.(Publication).Doc)
	require.NoError(t, err)
	require.Equal(t, rig, shown)
	require.Equal(t, mill, entries[2].Body)

	kept, err := m.Lift(t.Context(), id)
	require.NoError(t, err)
	require.Equal(t, texts, kept.RigTexts)
	inForce, _, err := m.Rig(t.Context(), rig.ID, 0)
	require.NoError(t, err)
	require.Equal(t, rig, inForce)
	now, err := m.s.TheMill(t.Context())
	require.NoError(t, err)
	require.Equal(t, mill, now)

	sameAgain(t, m.s)
	clean(t, m.s)
}

// Once nobody is said to stand for the band of the hooks, they don't hold.
func TestRigReadWithoutItsWordsIsNoGo(t *testing.T) {
	m := newMill(t)
	putRig(t, m, "Walter Quist", six)
	row, err := one[entryRow](m, "entry", "mill = ? ORDER BY seq DESC", m.id)
	require.NoError(t, err)
	opened, err := record.Read(row.Leaf, nil)
	require.NoError(t, err)
	require.Equal(t, []string{"/texts/0", "/texts/1", "/texts/2", "/texts/3", "/texts/4", "/texts/5", "/texts/6", "/texts/7", "/texts/8"}, opened.Withheld)
	b, err := decode(row.Kind, row.Version, opened)
	require.NoError(t, err)
	rig, err := ReadRig(domainOf(b).(Publication).Doc)
	require.NoError(t, err)
	require.Equal(t, lift.Band{Low: 45, High: 80}, rig.EndHookBand)
	verdict := lift.Check(lift.Lift{Rig: rig, Now: six})
	require.False(t, verdict.Go)
}
