package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// A drop is believed only where the program could have made it: by a supervisor or
// the policy in force, of what may be dropped, kept long enough and not held.
func TestDropNobodyMayHaveMadeIsAFault(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	i := hurt(t, m, checklists.HoldByStop, h.After)
	require.NoError(t, m.CloseIncident(t.Context(), NewID(), i.ID, "done", sam, h.After))
	keepFor := func(sort checklists.KeepSort, years int) int64 {
		require.NoError(t, m.SetKeepFor(t.Context(), NewID(), checklists.KeepPolicy{Sort: sort, Values: years, Reason: "as advised"}, sam, h.After))
		return ofKind(t, m, KindKeepFor)[len(ofKind(t, m, KindKeepFor))-1].Seq
	}
	first, gear := keepFor(checklists.KeepDefects, 1), keepFor(checklists.KeepGear, 1)
	second := keepFor(checklists.KeepDefects, 3)
	described := ofKind(t, m, KindDescribed)[0].Seq
	incident, hold := newest(t, m, KindIncident, string(i.ID)).Seq, ofKind(t, m, KindHold)[0].Seq
	place := func(seq int64, path string) []DroppedValues {
		return []DroppedValues{{Seq: seq, Paths: []string{path}}}
	}
	soon, late := h.After.Add(time.Hour), yearsAfter(h, 8)
	// The head saw's first days are held.
	var held entryRow
	require.NoError(t, m.s.reads.Limit(1).Find(&held, "mill = ? AND kind = ?", m.id, KindInspection).Error)
	var note openingRow
	require.NoError(t, m.s.reads.Limit(1).Find(&note, "mill = ? AND seq = ? AND value <> ''", m.id, held.Seq).Error)
	require.NotEmpty(t, note.Path)

	for name, tc := range map[string]struct {
		by   act
		drop Dropped
		fine bool
	}{
		"by a supervisor":                        {act{Actor: sam.ID, At: soon}, Dropped{Values: place(described, "/what")}, true},
		"by the policy in force":                 {act{At: late}, Dropped{Sort: checklists.KeepDefects, Policy: second, Values: place(described, "/what")}, true},
		"an injury, years later":                 {act{Actor: sam.ID, At: late}, Dropped{Values: place(incident, "/what")}, true},
		"by nobody":                              {act{At: late}, Dropped{Values: place(described, "/what")}, false},
		"by an operator":                         {act{Actor: ben.ID, At: soon}, Dropped{Values: place(described, "/what")}, false},
		"by somebody the record doesn't know":    {act{Actor: "01990000-0000-7000-8000-00000000beef", At: soon}, Dropped{Values: place(described, "/what")}, false},
		"by a policy nobody set":                 {act{At: late}, Dropped{Sort: checklists.KeepDefects, Policy: described, Values: place(described, "/what")}, false},
		"by a policy that was replaced":          {act{At: late}, Dropped{Sort: checklists.KeepDefects, Policy: first, Values: place(described, "/what")}, false},
		"by the policy of another sort":          {act{At: late}, Dropped{Sort: checklists.KeepGear, Policy: gear, Values: place(described, "/what")}, false},
		"by a policy, too young":                 {act{At: yearsAfter(h, 3)}, Dropped{Sort: checklists.KeepDefects, Policy: second, Values: place(described, "/what")}, false},
		"an injury, too young":                   {act{Actor: sam.ID, At: yearsAfter(h, 5)}, Dropped{Values: place(incident, "/what")}, false},
		"a hold itself":                          {act{Actor: sam.ID, At: late}, Dropped{Values: place(hold, "/reason")}, false},
		"what was held":                          {act{Actor: sam.ID, At: late}, Dropped{Values: place(held.Seq, note.Path)}, false},
		"an entry that is not there, or is next": {act{Actor: sam.ID, At: late}, Dropped{Values: place(second+100, "/what")}, false},
	} {
		err := m.s.writes.Transaction(func(db *gorm.DB) error {
			tx := &Tx{db: db, logs: logs{}}
			e, err := tx.append(m.id, tc.by, newDroppedBody(tc.drop))
			require.NoError(t, err, name)
			require.NoError(t, tx.say(tx.unsaid))
			value := tc.drop.Values[0]
			require.NoError(t, db.Delete(&openingRow{}, "mill = ? AND seq = ?  AND path = ?", m.id, value.Seq, value.Paths[0]).Error)
			report, err := verifyMill(&Tx{db: db}, m.id)
			require.NoError(t, err, name)
			var found []record.Fault
			for _, fault := range report.Faults {
				if fault.Change == record.DropForbidden || fault.Change == record.OpeningMissing {
					found = append(found, fault)
				}
			}
			if tc.fine {
				require.Empty(t, found, name)
				return gorm.ErrInvalidTransaction
			}
			require.NotEmpty(t, found, name)
			last := found[len(found)-1]
			require.Equal(t, record.DropForbidden, last.Change, name)
			require.Equal(t, e.Seq, last.Seq, name)
			return gorm.ErrInvalidTransaction // taken back
		})
		require.ErrorIs(t, err, gorm.ErrInvalidTransaction, name)
	}
}
