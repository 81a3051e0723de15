package store

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/record"
)

// bodyRead is what a stored entry says, from its leaf and openings alone.
func bodyRead(t *testing.T, s *Store, row entryRow) (body, entry) {
	t.Helper()
	openings, err := openingsOf(s.Of(fernhollow), fernhollow, []entryRow{row})
	require.NoError(t, err)
	opened, err := record.Read(row.Leaf, openings[row.Seq])
	require.NoError(t, err)
	b, err := decode(row.Kind, row.Version, opened)
	require.NoError(t, err)
	require.NotNil(t, b, "%s %d is not known", row.Kind, row.Version)
	return b, entry{Mill: row.Mill, Seq: row.Seq, Actor: procedures.PersonID(row.Actor), At: timeOf(row.At), Day: row.Day}
}

func TestEveryTableIsAProjectionOrSaidNotToBe(t *testing.T) {
	known := projections()
	for _, other := range notProjected() {
		known = append(known, other.Table)
	}
	require.ElementsMatch(t, known, tables(t, open(t).reads))
}

func TestEntryTellsTheSameEquipmentWhenItIsReadBack(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	var rows []entryRow
	require.NoError(t, m.s.reads.Order("seq").Find(&rows).Error)
	kinds := map[string]bool{}
	for _, row := range rows {
		b, _ := bodyRead(t, m.s, row)
		kinds[row.Kind] = true
		var stored []string
		require.NoError(t, m.s.reads.Raw("SELECT equipment FROM entry_equipment WHERE mill = ? AND seq = ?", m.id, row.Seq).Scan(&stored).Error)
		var about []string
		for _, id := range b.about() {
			about = append(about, string(id))
		}
		require.Subset(t, about, stored, "entry %d %s", row.Seq, row.Kind)
		require.Subset(t, stored, about, "entry %d %s", row.Seq, row.Kind)
	}
	for _, kind := range Kinds() {
		require.True(t, kinds[kind], "the filled mill has no entry of kind %s", kind)
	}
}
