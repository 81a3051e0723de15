package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// caredFor does everything that is done for a defect before it is mended, and
// takes an incident from its entry to its end.
func caredFor(t testing.TB, m *Mill, h *happened, at time.Time) {
	t.Helper()
	ctx := t.Context()
	open, err := m.Defects(ctx, true, 9)
	require.NoError(t, err)
	var mend checklists.DefectID
	for _, d := range open {
		if d.Severity == checklists.Mend {
			mend = d.ID
		}
	}
	require.NoError(t, m.AssignDefect(ctx, NewID(), mend, ben.ID, at.Add(24*time.Hour), sam, at))
	require.NoError(t, m.RedateDefect(ctx, NewID(), mend, at.Add(5*24*time.Hour), "wired up anew", "Jo has no plate in store", sam, at))
	require.NoError(t, m.NoteDefect(ctx, NewID(), mend, checklists.DefectNote{Kind: checklists.Ordered, Text: "one plate, from Jo", Photo: h.Photo}, ben, at))
	h.Incident, err = m.EnterIncident(ctx, NewID(), checklists.Incident{Kind: checklists.Hurt, Equipment: "carriage", Happened: at.Add(-time.Hour), Where: "at the headblocks",
		What: "hand caught by a knee", Present: "Walter Quist", Harmed: "Walter Quist, one finger", Harm: checklists.Treated, Photo: h.Photo}, checklists.HoldByDeparture, ben, at)
	require.NoError(t, err)
	require.NoError(t, m.ActAfterIncident(ctx, NewID(), h.Incident, checklists.IncidentAction{What: "a guard at the knee", Person: ada.ID, Due: at.Add(24 * time.Hour)}, sam, at))
	actions, err := m.IncidentActions(ctx, h.Incident)
	require.NoError(t, err)
	h.Action = actions[0].ID
	require.NoError(t, m.ReportIncidentAction(ctx, NewID(), h.Incident, h.Action, "guard put on", ada, at))
	require.NoError(t, m.CloseIncident(ctx, NewID(), h.Incident, "the guard keeps hands out", sam, at))
	require.NoError(t, m.LearnHarm(ctx, NewID(), h.Incident, checklists.Hospital, at.Add(-time.Minute), sam, at))
	i, err := m.Incident(ctx, h.Incident)
	require.NoError(t, err)
	require.False(t, i.Open())
	require.Equal(t, checklists.Hospital, i.Harm)
	by, _ := i.ReportBy(procedures.LawUSFederal)
	require.True(t, by.Equal(at.Add(24*time.Hour-time.Minute)), "counted from when the mill was told: %s", by)
	require.NoError(t, m.CloseDeparture(ctx, NewID(), i.Departure, "guard put on", sam, at))
}

// Names of those hurt stand in one entry, in the leaf as a commitment only.
func TestNamesOfThoseHurtStandInOneEntryAndInNoLeaf(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	var named int64
	require.NoError(t, m.s.reads.Raw("SELECT count(*) FROM openings WHERE value LIKE '%Walter Quist%' AND path IN ('/harmed', '/present')").Scan(&named).Error)
	require.EqualValues(t, 2, named)
	var leaves int64
	require.NoError(t, m.s.reads.Raw("SELECT count(*) FROM entries WHERE CAST(leaf AS TEXT) LIKE '%Quist%'").Scan(&leaves).Error)
	require.Zero(t, leaves)
}

// An incident and what holds its machine are kept together or not at all.
func TestIncidentThatIsNotKeptHoldsNothing(t *testing.T) {
	m := newMill(t)
	before := clean(t, m.s)
	_, err := m.EnterIncident(t.Context(), NewID(), checklists.Incident{Kind: checklists.Hurt, Equipment: "carriage", Happened: six, What: "hand caught"}, checklists.HoldByStop, ben, six)
	require.Error(t, err, "nobody is said to be hurt")
	require.Equal(t, before, clean(t, m.s))
	submission := NewID()
	for range 2 {
		_, err = m.EnterIncident(t.Context(), submission, checklists.Incident{Kind: checklists.NearMiss, Equipment: "carriage", Happened: six, What: "log rolled"}, checklists.HoldByStop, ben, six)
		require.NoError(t, err)
	}
	require.Equal(t, before+2, clean(t, m.s), "sent twice it is the incident and its stop once")
	facts, err := m.Facts(t.Context(), six)
	require.NoError(t, err)
	require.Len(t, facts.Defects, 1)
	require.Equal(t, procedures.EquipmentID("carriage"), facts.Defects[0].Equipment)
}

// What a check finds again soon after its return is linked by the store.
func TestCheckLinksWhatItFindsAgain(t *testing.T) {
	m := newMill(t)
	first := signed(t, m, NewID(), ada, six)
	found, err := m.DefectsOf(t.Context(), first, six.Add(-time.Hour), six.Add(time.Hour))
	require.NoError(t, err)
	require.Len(t, found, 1)
	require.NoError(t, m.MendDefect(t.Context(), NewID(), found[0].ID, "plate screwed", "", ben, six.Add(time.Hour)))
	require.NoError(t, m.ReturnDefect(t.Context(), NewID(), found[0].ID, checklists.Recheck{}, ada, six.Add(2*time.Hour)))
	later := six.Add(48 * time.Hour)
	again, err := m.DefectsOf(t.Context(), signed(t, m, NewID(), ada, later), later.Add(-time.Hour), later.Add(time.Hour))
	require.NoError(t, err)
	require.Equal(t, found[0].ID, again[0].Again)
	require.Equal(t, 2, again[0].Times)
}
