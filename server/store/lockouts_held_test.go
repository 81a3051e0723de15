package store

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// What an upgrade makes of the lockouts there are is what their events make of them,
// however finely and in whatever zone a time was written.
func TestUpgradeFindsWhatLockoutsHeldAndWhenTheyEnded(t *testing.T) {
	path, _ := filledFile(t)
	s, err := Open(t.Context(), filepath.Dir(path))
	require.NoError(t, err)
	var one lockoutRow
	require.NoError(t, s.Of(fernhollow).gorm().First(&one, "ended <> 0").Error)
	require.NotEmpty(t, one.Holds)
	for i, ended := range []string{"2026-03-02T05:06:07Z", "2026-03-02T05:06:07.9996Z", "2026-03-02T05:06:07.1+01:00", "2026-03-02T05:06:07.123456789-04:30", "2026-12-31T23:59:59.999999999Z", ""} {
		next := one
		next.ID = string(rune('a' + i))
		if next.Open = ended == ""; next.Open {
			next.Doc.Ended, next.Ended = time.Time{}, 0
		} else {
			require.NoError(t, next.Doc.Ended.UnmarshalText([]byte(ended)))
			next.Ended = millis(next.Doc.Ended)
		}
		next.Doc.Procedure.Holds = []procedures.EquipmentID{"hoist", "a<b"}[:i%3]
		next.Holds = append(append([]procedures.EquipmentID{}, next.Doc.Procedure.Equipment...), next.Doc.Procedure.Holds...)
		if i == 4 {
			next.Doc.Procedure.Equipment, next.Holds = nil, next.Doc.Procedure.Holds
		}
		require.NoError(t, s.writer.do(t.Context(), func(tx *Tx) error { return tx.db.Create(&next).Error }))
	}
	of := func(s *Store) (held []heldColumns) {
		require.NoError(t, s.Of(fernhollow).gorm().Order("mill, id").Find(&held).Error)
		return held
	}
	kept := of(s)
	require.GreaterOrEqual(t, len(kept), 7)
	s = upgradedFrom(t, s, 28)
	require.Equal(t, kept, of(s))
}

type heldColumns struct {
	ID    string
	Ended int64
	Holds []procedures.EquipmentID `gorm:"serializer:json"`
}

func (heldColumns) TableName() string { return "lockouts" }
