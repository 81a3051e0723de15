package store

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// settled sets a policy and two holds, one lifted, and drops a value nobody wrote.
func settled(t testing.TB, m *Mill, at time.Time) (on checklists.KeepHoldID, from int64) {
	t.Helper()
	ctx := t.Context()
	require.NoError(t, m.SetKeepFor(ctx, NewID(), checklists.KeepPolicy{Sort: checklists.KeepLifts, Values: 3, Photos: 2, Reason: "as Jo of the county advised"}, sam, at))
	on, err := m.SetHold(ctx, NewID(), checklists.KeepHold{Equipment: "head-saw", From: "2026-03-01", Until: "2026-03-05", Reason: "Ben's claim"}, sam, at)
	require.NoError(t, err)
	id, err := m.SetHold(ctx, NewID(), checklists.KeepHold{Person: ada.ID, Reason: "asked by the insurer"}, sam, at)
	require.NoError(t, err)
	require.NoError(t, m.LiftHold(ctx, NewID(), id, "the insurer has closed it", sam, at))
	_, err = m.KeepGearMeasurement(ctx, NewID(), GearMeasurement{Rig: "main-hoist", Link: "legs", What: "thickness", Value: 0.0093, New: 0.0099}, ada, at)
	require.NoError(t, err)
	require.NoError(t, m.s.writer.do(ctx, func(tx *Tx) error {
		head, err := headOf(tx, m.id)
		if err != nil {
			return err
		}
		from = head.Size - 1
		g := going{m: m, drops: []Dropped{{Rule: "nothing asks for it", Reason: "nobody wrote anything", Values: []DroppedValues{{Seq: from, Paths: []string{"/note"}}}}}}
		return g.carryOut(tx, act{Actor: sam.ID, At: at})
	}))
	return on, from
}

// byHand drops what g names, as shown.
func byHand(t testing.TB, m *Mill, g Going, at time.Time) Shown {
	t.Helper()
	shown, err := m.ShowDrop(t.Context(), g, sam, at)
	require.NoError(t, err)
	require.NoError(t, m.DropByHand(t.Context(), NewID(), Mark(shown), g, checklists.DropByHand{Reason: "Ada asked for it", Rule: "own request, nothing asks for it"}, sam, at))
	return shown
}

// whole requires that the record is clean and the tables are those it gives.
func whole(t testing.TB, m *Mill) {
	t.Helper()
	clean(t, m.s)
	sameAgain(t, m.s)
}

// yearsAfter is years after the filled mill, with nothing written since.
func yearsAfter(h happened, years int) time.Time { return h.After.AddDate(years, 0, 0) }

// ofKind lists the entries of a kind, oldest first.
func ofKind(t testing.TB, m *Mill, kind string) []entryRow {
	t.Helper()
	var rows []entryRow
	require.NoError(t, m.s.reads.Order("seq").Find(&rows, "mill = ? AND kind = ?", m.id, kind).Error)
	return rows
}

// onDisk tells whether text stands anywhere in the files of the database.
func onDisk(t testing.TB, m *Mill, text string) bool {
	t.Helper()
	files, err := filepath.Glob(m.s.path + "*")
	require.NoError(t, err)
	for _, file := range files {
		content, err := os.ReadFile(file)
		require.NoError(t, err)
		if bytes.Contains(content, []byte(text)) {
			return true
		}
	}
	return false
}

// openingsLeft are all openings of the mill by entry and path.
func openingsLeft(t testing.TB, m *Mill) map[string]string {
	t.Helper()
	var rows []openingRow
	require.NoError(t, m.s.reads.Find(&rows, "mill = ?", m.id).Error)
	left := map[string]string{}
	for _, row := range rows {
		left[fmt.Sprint(row.Seq, row.Path)] = row.Value
	}
	return left
}

func TestNoteOfADefectGoesFromEveryEntryThatRepeatsIt(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	before, head := openingsLeft(t, m), clean(t, m.s)
	described := ofKind(t, m, KindDescribed)[0]
	shown := byHand(t, m, Going{Seq: described.Seq, Path: "/what"}, h.After)
	require.Equal(t, []string{"belt squeals"}, shown.Texts)
	require.Greater(t, len(shown.Values), 2, "described, mended and returned carry it")
	require.Equal(t, head+1, clean(t, m.s), "the record grew by the entry that says so, and by nothing else")
	sameAgain(t, m.s)
	d, err := m.Defect(t.Context(), h.Defect)
	require.NoError(t, err)
	require.Empty(t, d.What)
	require.Equal(t, "belt drawn tight", d.MendNote, "the other words stand")
	require.False(t, onDisk(t, m, "belt squeals"))
	after := openingsLeft(t, m)
	for _, one := range shown.Values {
		for _, path := range one.Paths {
			key := fmt.Sprint(one.Seq, path)
			require.Equal(t, "belt squeals", before[key])
			require.NotContains(t, after, key)
			after[key] = before[key]
		}
	}
	for key, value := range before {
		require.Equal(t, value, after[key])
	}
}

func TestPersonWhoLeftLongAgoIsNamedNoMore(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	_, err := m.ShowDrop(t.Context(), Going{Person: ada.ID}, sam, yearsAfter(h, 7))
	require.Error(t, err, "she works here")
	left := ada
	left.Left = true
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), left, "", sam, h.After))
	var refusal *plain.Refusal
	_, err = m.ShowDrop(t.Context(), Going{Person: ada.ID}, sam, h.After)
	require.ErrorAs(t, err, &refusal)
	require.Equal(t, "29 CFR 1904.33(a)", refusal.Clause)
	hold, err := m.SetHold(t.Context(), NewID(), checklists.KeepHold{Person: ada.ID, Reason: "her claim"}, sam, h.After)
	require.NoError(t, err)
	_, err = m.ShowDrop(t.Context(), Going{Person: ada.ID}, sam, yearsAfter(h, 7))
	require.ErrorContains(t, err, "her claim")
	require.NoError(t, m.LiftHold(t.Context(), NewID(), hold, "settled", sam, yearsAfter(h, 7)))
	byHand(t, m, Going{Person: ada.ID}, yearsAfter(h, 7))
	whole(t, m)
	p, err := m.Person(t.Context(), ada.ID)
	require.NoError(t, err)
	require.Empty(t, p.Name)
	require.True(t, p.Left)
}

func TestPhotoThatIsDroppedLeavesItsDigest(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	photo := Photo{Type: "image/jpeg", Width: 2, Height: 1, Bytes: bytes.Repeat([]byte("a yard at dusk "), 2000)}
	digest, err := m.KeepPhoto(t.Context(), photo, h.After)
	require.NoError(t, err)
	require.Error(t, func() error { _, err := m.ShowDrop(t.Context(), Going{Photo: digest}, sam, h.After); return err }(), "no entry names it")
	id, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "dust-collection", What: "duct split", Photo: digest}, ben, h.After)
	require.NoError(t, err)
	_, err = m.ShowDrop(t.Context(), Going{Photo: digest}, sam, h.After)
	require.Error(t, err, "the defect is open")
	require.NoError(t, m.MendDefect(t.Context(), NewID(), id, "patched", "", ben, h.After))
	require.NoError(t, m.ReturnDefect(t.Context(), NewID(), id, checklists.Recheck{Note: "tight"}, ada, h.After))
	shown := byHand(t, m, Going{Photo: digest}, h.After)
	require.Len(t, shown.Uses, 3)
	whole(t, m)
	_, err = m.Photo(t.Context(), digest)
	require.ErrorIs(t, err, ErrDropped)
	require.False(t, onDisk(t, m, "a yard at dusk"))
	var row photoRow
	require.NoError(t, m.s.reads.Find(&row, "digest = ?", digest).Error)
	require.EqualValues(t, len(photo.Bytes), row.Size)
	// Taken in again it is kept again, as of then.
	_, err = m.KeepPhoto(t.Context(), photo, h.After.Add(time.Hour))
	require.NoError(t, err)
	_, err = m.Photo(t.Context(), digest)
	require.NoError(t, err)
	clean(t, m.s)
}

func TestPolicyDropsWhatIsDueAndNothingElse(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	for _, rule := range checklists.KeepRules() {
		require.NoError(t, m.SetKeepFor(t.Context(), NewID(), checklists.KeepPolicy{Sort: rule.Sort, Values: rule.Floor, Photos: rule.Floor, Reason: "as short as may be"}, sam, h.After))
	}
	gone, err := m.DropDue(t.Context(), h.After)
	require.NoError(t, err)
	require.Empty(t, gone, "nothing is old enough")
	whole(t, m)

	before, head := openingsLeft(t, m), clean(t, m.s)
	at := yearsAfter(h, 8)
	due, err := m.Due(t.Context(), at)
	require.NoError(t, err)
	gone, err = m.DropDue(t.Context(), at)
	require.NoError(t, err)
	require.NotEmpty(t, gone)
	counted := 0
	for _, d := range gone {
		counted += d.Count()
	}
	for _, one := range due {
		counted -= one.Values
	}
	require.Zero(t, counted, "what the page counts is what goes")
	require.Equal(t, head+int64(len(gone)), clean(t, m.s))
	sameAgain(t, m.s)
	again, err := m.DropDue(t.Context(), at)
	require.NoError(t, err)
	require.Empty(t, again)

	// What is open, in use or held stands as it was.
	after := openingsLeft(t, m)
	open, err := m.Defect(t.Context(), h.Open)
	require.NoError(t, err)
	require.Equal(t, "a tooth is gone", open.What)
	for _, who := range []procedures.Person{ada, ben, sam} {
		p, err := m.Person(t.Context(), who.ID)
		require.NoError(t, err)
		require.Equal(t, who.Name, p.Name)
	}
	trainings := ofKind(t, m, KindTraining)
	require.Contains(t, after, fmt.Sprint(trainings[0].Seq, "/trainer"), "training of somebody who works here")
	for _, row := range ofKind(t, m, KindInspection) {
		for key := range before {
			if strings.HasPrefix(key, fmt.Sprint(row.Seq, "/")) {
				require.Contains(t, after, key, "a hold is on the head saw's days")
			}
		}
	}
	departures := ofKind(t, m, KindDeparture)
	require.NotContains(t, after, fmt.Sprint(departures[0].Seq, "/what"))
	for key, value := range after {
		if old, ok := before[key]; ok {
			require.Equal(t, old, value)
		}
	}
	require.Positive(t, m.storeReport(t).FieldsDropped)
}

// storeReport is the verification of m.
func (m *Mill) storeReport(t testing.TB) record.Report {
	t.Helper()
	reports, err := m.s.Verify(t.Context())
	require.NoError(t, err)
	return reports[m.id]
}

// After whatever was dropped, in whatever order, the record is whole, the tables
// are those it gives, every value left is the one that was there, and what went
// stands in no file.
func TestWhateverIsDroppedTheRestStands(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	chance := rand.New(rand.NewPCG(7, 22))
	dropped, kept := 0, 0
	for dropped < 8 || kept < 4 {
		before := openingsLeft(t, m)
		var rows []openingRow
		require.NoError(t, m.s.reads.Order("seq, path").Find(&rows, "mill = ? AND value <> ''", m.id).Error)
		one := rows[chance.IntN(len(rows))]
		size := m.storeReport(t).Entries
		g := Going{Seq: one.Seq, Path: one.Path}
		if _, err := m.ShowDrop(t.Context(), g, sam, yearsAfter(h, 9)); err != nil {
			var refusal *plain.Refusal
			require.ErrorAs(t, err, &refusal)
			kept++
			continue
		}
		dropped++
		byHand(t, m, g, yearsAfter(h, 9))
		whole(t, m)
		require.Equal(t, size+1, m.storeReport(t).Entries)
		after := openingsLeft(t, m)
		for key, value := range before {
			if left, ok := after[key]; ok {
				require.Equal(t, value, left)
			} else {
				require.Equal(t, one.Value, value, "%s went, too", key)
			}
		}
		if still := fmt.Sprint(after); len(one.Value) > 6 && !strings.Contains(still, one.Value) {
			require.False(t, onDisk(t, m, one.Value), one.Value)
		}
	}
}

func TestVerificationTakesADropOnlyOnItsEntrysWord(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	byHand(t, m, Going{Seq: ofKind(t, m, KindDescribed)[0].Seq, Path: "/what"}, h.After)
	require.True(t, m.storeReport(t).OK())
	for name, tc := range map[string]struct {
		touch  string
		change record.Change
	}{
		"a value taken away":                {"DELETE FROM openings WHERE (mill, seq, path) IN (SELECT mill, seq, path FROM openings WHERE value = 'S-1204' ORDER BY seq LIMIT 1)", record.OpeningMissing},
		"and the table says dropped":        {"DELETE FROM openings WHERE value = 'S-1204'; INSERT INTO dropped_values SELECT mill, 20, '/answers/2/text', max(seq) FROM entries WHERE kind = 'dropped' GROUP BY mill", record.OpeningMissing},
		"a dropped value put back":          {"INSERT INTO openings SELECT mill, seq, path, " + bytesOf("00") + ", 'belt squeals' FROM dropped_values ORDER BY seq LIMIT 1", record.DroppedKept},
		"the table of drops emptied":        {"DELETE FROM dropped_values", record.OpeningMissing},
		"a photo taken away":                {"UPDATE photos SET bytes = " + bytesOf("") + ", dropped = (SELECT max(seq) FROM entries WHERE kind = 'dropped')", record.PhotoMissing},
		"a photo taken away without a word": {"UPDATE photos SET bytes = " + bytesOf(""), record.PhotoMissing},
	} {
		var changes []record.Change
		err := m.s.writes.Transaction(func(db *gorm.DB) error {
			require.NoError(t, db.Exec(tc.touch).Error, name)
			report, err := verifyMill(&Tx{db: db}, m.id)
			require.NoError(t, err, name)
			for _, fault := range report.Faults {
				changes = append(changes, fault.Change)
			}
			return gorm.ErrInvalidTransaction // taken back
		})
		require.ErrorIs(t, err, gorm.ErrInvalidTransaction)
		require.Contains(t, changes, tc.change, name)
	}
	whole(t, m)
}

func TestDropByHandIsDoneOnceAndOnlyAsShown(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	g := Going{Seq: ofKind(t, m, KindDescribed)[0].Seq, Path: "/what"}
	word := checklists.DropByHand{Reason: "asked to", Rule: "own request"}
	require.ErrorIs(t, m.DropByHand(t.Context(), NewID(), "another", g, word, sam, h.After), ErrChanged)
	var problems plain.Problems
	require.ErrorAs(t, m.DropByHand(t.Context(), NewID(), "", g, checklists.DropByHand{}, sam, h.After), &problems)
	shown, err := m.ShowDrop(t.Context(), g, sam, h.After)
	require.NoError(t, err)
	id := NewID()
	size := clean(t, m.s)
	require.NoError(t, m.DropByHand(t.Context(), id, Mark(shown), g, word, sam, h.After))
	require.NoError(t, m.DropByHand(t.Context(), id, Mark(shown), g, word, sam, h.After), "sent twice")
	require.Equal(t, size+1, clean(t, m.s))
	_, err = m.ShowDrop(t.Context(), g, sam, h.After)
	require.ErrorIs(t, err, ErrNotFound)
}

func TestDroppedWordsAreTakenOutOfMails(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	require.NoError(t, m.PostMail(t.Context(), Mail{Person: sam.ID, Occasion: "later", State: MailQueued, Made: h.After, Subject: "Defects", Body: "Dust collection: belt squeals, since Tuesday"}, nil))
	byHand(t, m, Going{Seq: ofKind(t, m, KindDescribed)[0].Seq, Path: "/what"}, h.After)
	mails, err := m.Outbox(t.Context(), 10)
	require.NoError(t, err)
	require.Contains(t, fmt.Sprint(mails), "Dust collection: …, since Tuesday")
	require.False(t, onDisk(t, m, "belt squeals"))
}

// What is written while the tables are made again stands after the drop; about the
// same thing, the drop is begun again.
func TestWritingGoesOnWhileSomethingIsDropped(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	g := Going{Seq: ofKind(t, m, KindDescribed)[0].Seq, Path: "/what"}
	shown, err := m.ShowDrop(t.Context(), g, sam, h.After)
	require.NoError(t, err)
	planned := 0
	err = m.drop(t.Context(), "", act{Actor: sam.ID, At: h.After}, func(tx *Tx) ([]Dropped, error) {
		planned++
		switch planned {
		case 1:
			_, err := headOf(tx, m.id) // from here on this transaction sees what is there now
			require.NoError(t, err)
			_, err = m.KeepGearMeasurement(t.Context(), NewID(), GearMeasurement{Rig: "main-hoist", Link: "legs", What: "thickness", Value: 0.0092, New: 0.0099, Note: "meanwhile"}, ada, h.After)
			require.NoError(t, err)
			require.NoError(t, m.s.writer.do(t.Context(), func(other *Tx) error {
				_, err := other.append(m.id, act{Actor: ben.ID, At: h.After, Subject: string(h.Defect)},
					newNotedBody(checklists.DefectNote{ID: "n", Defect: h.Defect, Equipment: "dust-collection", Text: "squealed again", By: ben.ID, At: h.After}))
				return err
			}))
		}
		return []Dropped{shown.Dropped}, nil
	})
	require.NoError(t, err)
	require.Equal(t, 2, planned, "somebody wrote about the same defect")
	whole(t, m)
	require.Contains(t, fmt.Sprint(openingsLeft(t, m)), "meanwhile")
}
