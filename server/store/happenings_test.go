package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// toldOf is a jam reported, and the reason for a check that is open.
func toldOf(t testing.TB, m *Mill, at time.Time) {
	t.Helper()
	require.NoError(t, m.ReportEvent(t.Context(), NewID(), checklists.Event{Kind: checklists.Jam, Equipment: "head-saw", Happened: at.Add(-time.Minute), Note: "a slab, says Jo"}, ben, at))
	scheduled(t, m, "month", checklists.Schedule{Every: checklists.EachMonth}, at)
	facts, err := m.Facts(t.Context(), at)
	require.NoError(t, err)
	for _, l := range facts.Lists {
		if l.ID == "month" {
			require.NoError(t, m.ExcuseMiss(t.Context(), NewID(), l.ID, facts.Due(l, at).Starts, "snowed in, says Jo", sam, at))
		}
	}
}

// scheduled puts a list in force that falls due as the schedule says.
func scheduled(t testing.TB, m *Mill, id string, schedule checklists.Schedule, at time.Time) {
	t.Helper()
	l := shortList()
	l.ID, l.Title, l.Schedule = checklists.ListID(id), id, schedule
	d, err := DraftOf(Lists, id, l.Title, l)
	require.NoError(t, err)
	require.NoError(t, m.ReleaseList(t.Context(), NewID(), Release{Draft: d}, sam, at))
}

func statusAt(t *testing.T, m *Mill, id checklists.ListID, at time.Time) checklists.DueStatus {
	t.Helper()
	facts, err := m.Facts(t.Context(), at)
	require.NoError(t, err)
	for _, l := range facts.Lists {
		if l.ID == id {
			return facts.Due(l, at).Status
		}
	}
	require.Fail(t, "no such list")
	return ""
}

func TestFactsBringWhatTheSchedulesFollow(t *testing.T) {
	m := newMill(t)
	ctx := t.Context()
	scheduled(t, m, "jam", checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Jam}}, six)
	scheduled(t, m, "repair", checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Repair}}, six)
	scheduled(t, m, "idle", checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Idle}, Days: 10}, six)
	at := six.Add(time.Hour)
	for _, id := range []checklists.ListID{"jam", "repair", "idle"} {
		require.Equal(t, checklists.NotCalled, statusAt(t, m, id, at), "%s", id)
	}

	require.NoError(t, m.ReportEvent(ctx, NewID(), checklists.Event{Kind: checklists.Jam, Equipment: "head-saw"}, ben, at))
	require.Equal(t, checklists.IsDue, statusAt(t, m, "jam", at))
	d, err := m.StopIt(ctx, NewID(), checklists.Defect{Equipment: "head-saw", What: "belt"}, ben, at)
	require.NoError(t, err)
	require.NoError(t, m.MendDefect(ctx, NewID(), d, "new belt", "", ben, at))
	require.Equal(t, checklists.NotCalled, statusAt(t, m, "repair", at))
	require.NoError(t, m.ReturnDefect(ctx, NewID(), d, checklists.Recheck{Note: "runs"}, ada, at))
	require.Equal(t, checklists.IsDue, statusAt(t, m, "repair", at), "a return to service follows a repair")

	require.Equal(t, checklists.NotCalled, statusAt(t, m, "idle", six.AddDate(0, 0, 9)))
	later := six.AddDate(0, 0, 12)
	require.Equal(t, checklists.IsLate, statusAt(t, m, "idle", later), "nothing was signed for ten days")
	signed(t, m, NewID(), ada, later)
	require.Equal(t, checklists.IsLate, statusAt(t, m, "idle", later.Add(time.Hour)), "another check does not stand in for it")
	require.Equal(t, checklists.NotCalled, statusAt(t, m, "idle", six.AddDate(0, 0, 9)), "what is signed later is not known then")

	scheduled(t, m, "late", checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.PowerLoss}}, later)
	before := checklists.Event{Kind: checklists.PowerLoss, Equipment: "site", Happened: six.Add(-29 * 24 * time.Hour / 2)}
	require.NoError(t, m.ReportEvent(ctx, NewID(), before, ben, later.Add(time.Hour)))
	require.Equal(t, checklists.IsLate, statusAt(t, m, "late", later.Add(2*time.Hour)), "happened before any list took force, and reported since")

	_, err = m.Events(ctx, 5)
	require.NoError(t, err)
	require.Error(t, m.ReportEvent(ctx, NewID(), checklists.Event{Kind: checklists.Jam, Equipment: "head-saw"}, procedures.Person{ID: "r", Role: procedures.Reader}, at))
	require.Error(t, m.ExcuseMiss(ctx, NewID(), "jam", at, "asleep", ben, at), "only a supervisor")
}

func TestEntriesAfterAChangeOfZoneStandOnItsDays(t *testing.T) {
	m := newMill(t)
	changed := millOf(m.id)
	from := six.Add(24 * time.Hour)
	changed.Zones = []checklists.ZoneFrom{{Zone: "Pacific/Auckland", From: from}}
	require.NoError(t, m.ChangeMill(t.Context(), NewID(), changed, sam, six))
	for _, at := range []time.Time{from.Add(-time.Minute), from} {
		require.NoError(t, m.ReportEvent(t.Context(), NewID(), checklists.Event{Kind: checklists.PowerLoss, Equipment: "site"}, ben, at))
	}
	loc, err := time.LoadLocation("Pacific/Auckland")
	require.NoError(t, err)
	day := from.In(loc).Format(time.DateOnly)
	require.NotEqual(t, day, from.UTC().Add(-5*time.Hour).Format(time.DateOnly))
	entries, _, err := m.Entries(t.Context(), Filter{Day: day, Kind: KindEvent, Limit: 9})
	require.NoError(t, err)
	require.Len(t, entries, 1)
}
