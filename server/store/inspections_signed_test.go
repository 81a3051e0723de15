package store

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What an upgrade puts beside the inspections there are is what stands in them,
// however finely and in whatever zone a time was written.
func TestUpgradePutsBesideInspectionsWhatStandsInThem(t *testing.T) {
	path, _ := filledFile(t)
	s, err := Open(t.Context(), filepath.Dir(path))
	require.NoError(t, err)
	var one inspectionRow
	require.NoError(t, s.Of(fernhollow).gorm().First(&one).Error)
	for i, began := range []string{"2026-03-02T05:06:07Z", "2026-03-02T05:06:07.9996+01:00", "2026-03-02T05:06:07.12-04:30", "0001-01-01T00:00:00Z"} {
		next := one
		next.ID = fmt.Sprint("more-", i)
		next.Doc.Began = time.Time{}
		require.NoError(t, next.Doc.Began.UnmarshalText([]byte(began)))
		next.Doc.Late, next.Doc.Version = i%2 == 0, i+3
		next.Began, next.Late, next.Version = millis(next.Doc.Began), next.Doc.Late, next.Doc.Version
		require.NoError(t, s.writer.do(t.Context(), func(tx *Tx) error { return tx.db.Create(&next).Error }))
	}
	type besideRow struct {
		ID, List, Signer string
		Version          int
		Began, At        int64
		Late             bool
	}
	beside := func(s *Store) (rows []besideRow) {
		require.NoError(t, s.Of(fernhollow).gorm().Raw("SELECT id, list, signer, version, began, at, late FROM inspections ORDER BY id").Scan(&rows).Error)
		return rows
	}
	kept := beside(s)
	require.GreaterOrEqual(t, len(kept), 5)
	s = upgradedFrom(t, s, 29)
	require.Equal(t, kept, beside(s))
}
