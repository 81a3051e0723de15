package store

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// hurt enters an incident held by a stop defect or a departure.
func hurt(t *testing.T, m *Mill, how checklists.Holding, at time.Time) checklists.Incident {
	t.Helper()
	id, err := m.EnterIncident(t.Context(), NewID(), checklists.Incident{Kind: checklists.Hurt, Equipment: "dust-collection", What: "Zacharias cut his thumb on the duct",
		Harm: checklists.FirstAid, Happened: at.Add(-time.Second), Harmed: "Zacharias"}, how, ben, at)
	require.NoError(t, err)
	i, err := m.Incident(t.Context(), id)
	require.NoError(t, err)
	return i
}

// newest is the newest entry of a kind about a thing.
func newest(t *testing.T, m *Mill, kind, subject string) entryRow {
	t.Helper()
	rows := ofKind(t, m, kind)
	last := rows[len(rows)-1]
	require.Equal(t, subject, last.Subject)
	return last
}

// 29 CFR 1904.33(a): five years following the end of the calendar year.
func TestIncidentAndWhatItRaisedAreKeptHeldAndDroppedTogether(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	i := hurt(t, m, checklists.HoldByStop, h.After)
	require.NoError(t, m.MendDefect(t.Context(), NewID(), i.Defect, "Zacharias patched it", "", ben, h.After))
	require.NoError(t, m.ReturnDefect(t.Context(), NewID(), i.Defect, checklists.Recheck{Note: "tight"}, ada, h.After))
	mended := Going{Seq: newest(t, m, KindMended, string(i.Defect)).Seq, Path: "/mend_note"}
	var refusal *plain.Refusal
	_, err := m.ShowDrop(t.Context(), mended, sam, yearsAfter(h, 7))
	require.ErrorAs(t, err, &refusal, "the incident is open")
	require.Contains(t, refusal.Error(), "open or still in use")
	require.NoError(t, m.CloseIncident(t.Context(), NewID(), i.ID, "done", sam, h.After))
	_, err = m.ShowDrop(t.Context(), mended, sam, yearsAfter(h, 2))
	require.ErrorAs(t, err, &refusal)
	require.Equal(t, "29 CFR 1904.33(a)", refusal.Clause, "the defect of an injury is kept as long as the injury")
	for _, held := range []string{string(i.ID), string(i.Defect)} {
		hold, err := m.SetHold(t.Context(), NewID(), checklists.KeepHold{Subject: held, Reason: "a claim"}, sam, h.After)
		require.NoError(t, err)
		for _, g := range []Going{mended, {Seq: newest(t, m, KindIncident, string(i.ID)).Seq, Path: "/what"}} {
			_, err = m.ShowDrop(t.Context(), g, sam, yearsAfter(h, 7))
			require.ErrorContains(t, err, "a claim")
		}
		require.NoError(t, m.LiftHold(t.Context(), NewID(), hold, "settled", sam, h.After))
	}
	for sort, years := range map[checklists.KeepSort]int{checklists.KeepDefects: 1, checklists.KeepIncidents: 9} {
		require.NoError(t, m.SetKeepFor(t.Context(), NewID(), checklists.KeepPolicy{Sort: sort, Values: years, Reason: "as advised"}, sam, h.After))
	}
	_, err = m.DropDue(t.Context(), yearsAfter(h, 8))
	require.NoError(t, err)
	require.Contains(t, openingsLeft(t, m), key(mended.Seq, mended.Path), "the policy of incidents keeps it")
	whole(t, m)

	shown := byHand(t, m, Going{Seq: newest(t, m, KindIncident, string(i.ID)).Seq, Path: "/what"}, yearsAfter(h, 8))
	require.Greater(t, len(shown.Values), 2, "the incident, its defect, each act of that")
	require.False(t, onDisk(t, m, "cut his thumb"))
	whole(t, m)
}

// key is how openingsLeft names an opening.
func key(seq int64, path string) string { return fmt.Sprint(seq, path) }

func TestDepartureOfAnIncidentSaysItsWordsNoLongerOnceTheyAreDropped(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	i := hurt(t, m, checklists.HoldByDeparture, h.After)
	require.NoError(t, m.CloseDeparture(t.Context(), NewID(), i.Departure, "talked over", sam, h.After))
	require.NoError(t, m.CloseIncident(t.Context(), NewID(), i.ID, "done", sam, h.After))
	byHand(t, m, Going{Seq: newest(t, m, KindDeparture, string(i.Departure)).Seq, Path: "/what"}, yearsAfter(h, 7))
	require.False(t, onDisk(t, m, "cut his thumb"))
	whole(t, m)
}

func TestWordsQuotedByALiftGoWithThemAndWhereTheyStayIsTold(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	quoted, err := json.Marshal([]plain.Sentence{plain.Say("The dust collection is held: %s", `belt "squeals" & smokes`)})
	require.NoError(t, err)
	_, err = m.KeepLift(t.Context(), NewID(), Lift{Rig: "main-hoist", RigVersion: 1, Hoist: "hoist", LandsOn: "carriage"}, ada, h.After,
		func(LiftFacts) (Judged, error) {
			return Judged{Asked: json.RawMessage(`{}`), Verdict: json.RawMessage(`{}`), Holds: string(quoted)}, nil
		})
	require.NoError(t, err)
	id, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "dust-collection", What: `belt "squeals" & smokes`}, ben, h.After)
	require.NoError(t, err)
	require.NoError(t, m.MendDefect(t.Context(), NewID(), id, `it was: belt "squeals" & smokes, no more`, "", ben, h.After))
	require.NoError(t, m.ReturnDefect(t.Context(), NewID(), id, checklists.Recheck{Note: "tight"}, ada, h.After))
	shown := byHand(t, m, Going{Seq: newest(t, m, KindMended, string(id)).Seq, Path: "/what"}, h.After)
	lift := ofKind(t, m, KindLift)
	require.NotContains(t, openingsLeft(t, m), key(lift[len(lift)-1].Seq, "/holds"))
	require.Contains(t, shown.Left, newest(t, m, KindMended, string(id)).Seq, "the larger text stays and is told")
	whole(t, m)
}

func TestEarlierEmergencyCardsGiveUpTheSameWordsAndTheNewestIsTold(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	card := ofKind(t, m, KindEmergencyCard)
	first := card[len(card)-1]
	var one openingRow
	require.NoError(t, m.s.reads.Order("length(value) DESC, path").Limit(1).Find(&one, "mill = ? AND seq = ?", m.id, first.Seq).Error)
	for i := range 2 {
		now, err := m.EmergencyCard(t.Context())
		require.NoError(t, err)
		require.NoError(t, m.SignEmergencyCard(t.Context(), NewID(), Mark(now), millsCard(), sam, h.After.Add(time.Duration(i+1)*time.Minute)))
	}
	card = ofKind(t, m, KindEmergencyCard)
	shown := byHand(t, m, Going{Seq: first.Seq, Path: one.Path}, yearsAfter(h, 7))
	var seqs []int64
	for _, v := range shown.Values {
		seqs = append(seqs, v.Seq)
	}
	require.Equal(t, []int64{first.Seq, card[len(card)-2].Seq}, seqs)
	require.Contains(t, shown.Left, card[len(card)-1].Seq, "the card in force keeps them")
	whole(t, m)
}

func TestMailAddressGoesWithTheName(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	require.NoError(t, m.KeepMailRecipient(t.Context(), ada.ID, "ada.rook@example.org", ada, h.After))
	left := ada
	left.Left = true
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), left, "", sam, h.After))
	byHand(t, m, Going{Person: ada.ID}, yearsAfter(h, 7))
	require.False(t, onDisk(t, m, "ada.rook@example.org"))
	whole(t, m)
}

func TestWhatADropOrAnExportLeftBehindIsRemovedOnOpening(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	left := filepath.Join(dir, "dropping", "stillsaw-rebuild-1")
	require.NoError(t, os.MkdirAll(left, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(left, FileName), []byte("everything in clear"), 0o600))
	export, err := s.Of("any").TempFile()
	require.NoError(t, err)
	require.NoError(t, export.Close())
	require.NoError(t, s.Close())
	again, err := Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, again.Close()) }()
	require.NoDirExists(t, filepath.Dir(left))
	require.NoFileExists(t, export.Name())
}

func TestWhereElseANameStandsIsToldBeforeItIsDropped(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	left := ada
	left.Left = true
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), left, "", sam, h.After))
	_, err := m.KeepGearMeasurement(t.Context(), NewID(), GearMeasurement{Rig: "main-hoist", Link: "legs", What: "thickness", Value: 0.0092, New: 0.0099, Note: "with " + ada.Name}, ben, h.After)
	require.NoError(t, err)
	shown, err := m.ShowDrop(t.Context(), Going{Person: ada.ID}, sam, yearsAfter(h, 7))
	require.NoError(t, err)
	measured := ofKind(t, m, KindGearMeasured)
	require.Contains(t, shown.Left, measured[len(measured)-1].Seq)
}
