package store

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/record"
)

// projections are the tables that follow from the entries and nothing else,
// with what orders their rows.
func projections() map[string]string {
	return map[string]string{
		"mills": "id", "people": "mill, id", "equipment": "mill, id", "publications": "mill, sort, id, version", "inspections": "mill, id",
		"amendments": "mill, id", "defects": "mill, id", "departures": "mill, id", "defect_notes": "mill, id", "incidents": "mill, id", "incident_actions": "mill, id", "run_checks": "mill, id", "lockouts": "mill, id", "lifts": "mill, id", "lift_runs": "mill, id", "weighings": "mill, id", "lighter": "mill, kind, condition", "gear_inspections": "mill, id", "gear_measurements": "mill, id",
		"trainings": "mill, id", "procedure_inspections": "mill, id", "findings_seen_to": "mill, inspection, finding", "lock_items": "mill, id", "blades": "mill, id", "blade_acts": "mill, id", "safety_items": "mill, id", "safety_checks": "mill, id", "contractors": "mill, id", "programs": "mill", "emergency_cards": "mill", "coasts": "mill, id", "declarations": "mill, equipment", "tasks": "mill, id", "renewals": "mill, procedure, version", "releases": "mill, list, version", "meter_readings": "mill, source, item",
		"tokens": "mill, id", "events": "mill, id", "excuses": "mill, id", "clocks": "mill", "misdated": "mill, kind, id",
	}
}

// The other tables: the record itself, secrets, working rows and what keeps the
// house. A table is in exactly one of the two.
func notProjections() []string {
	return []string{"migrations", "log_heads", "entries", "entry_equipment", "openings", "tree_hashes", "submissions", "photos",
		"credentials", "sessions", "attempts", "drafts", "draft_saves", "walks", "walk_answers", "mail_settings", "mail_secrets", "mail_recipients", "mail_outbox", "mail_told", "calendars", "token_secrets"}
}

// replay projects every entry of from into to, as read from its leaf.
func replay(t *testing.T, from, to *Store) {
	t.Helper()
	var rows []entryRow
	require.NoError(t, from.reads.Order("mill, seq").Find(&rows).Error)
	for _, row := range rows {
		b, e := bodyRead(t, from, row)
		require.NoError(t, to.writer.do(t.Context(), func(tx *Tx) error { return b.project(tx, e) }), "entry %d %s", row.Seq, row.Kind)
	}
}

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
	return b, entry{Mill: row.Mill, Seq: row.Seq, Actor: procedures.PersonID(row.Actor), At: timeOf(row.At)}
}

func TestReplayOfTheEntriesMakesTheSameTables(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	again := open(t)
	replay(t, m.s, again)
	for table, order := range projections() {
		first := dump(t, m.s.reads, "SELECT * FROM "+table+" ORDER BY "+order)
		require.NotEmpty(t, first, "%s: a table without a row proves nothing", table)
		require.Equal(t, first, dump(t, again.reads, "SELECT * FROM "+table+" ORDER BY "+order), table)
	}
}

func TestEveryTableIsAProjectionOrSaidNotToBe(t *testing.T) {
	known := notProjections()
	for table := range projections() {
		known = append(known, table)
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
