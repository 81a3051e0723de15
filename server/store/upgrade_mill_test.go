package store

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// stepsWritten are the steps a database must have had for each entry of the mill: of
// the last of the tables that entry writes.
func stepsWritten(t *testing.T, m *Mill) (steps []int) {
	t.Helper()
	all, err := migrations()
	require.NoError(t, err)
	of := map[string]int{}
	for _, brought := range all {
		for _, table := range brought.makes().tables {
			if !strings.Contains(brought.sql, "INSERT INTO "+table+" ") { // what it fills itself was written without it
				of[table] = brought.number
			}
		}
	}
	c, err := newScratch(t.Context(), t.TempDir())
	require.NoError(t, err)
	require.NoError(t, c.run("CREATE TABLE replay_at (seq BIGINT NOT NULL)", "INSERT INTO replay_at VALUES (-1)", "CREATE TABLE wrote (seq BIGINT NOT NULL, tab TEXT NOT NULL, PRIMARY KEY (seq, tab))"))
	for _, table := range projections() {
		for _, change := range []string{"INSERT", "UPDATE", "DELETE"} {
			require.NoError(t, c.run(fmt.Sprintf("CREATE TRIGGER note_%s_%s AFTER %[2]s ON %[1]s BEGIN INSERT OR IGNORE INTO wrote SELECT seq, '%[1]s' FROM replay_at; END", table, change)))
		}
	}
	c.apart = true
	c.before = func(seq int64) error { return c.db.Exec("UPDATE replay_at SET seq = ?", seq).Error }
	done, err := c.replay(t.Context(), m, m.id, -1, nil)
	require.NoError(t, err)
	require.Zero(t, done.FailedCount)
	var wrote []struct {
		Seq int
		Tab string
	}
	require.NoError(t, c.gorm().Raw("SELECT seq, tab FROM wrote").Scan(&wrote).Error)
	require.NoError(t, c.Close())
	steps = make([]int, done.Entries)
	for _, w := range wrote {
		steps[w.Seq] = max(steps[w.Seq], of[w.Tab])
	}
	return steps
}

// millLeftAt is a folder with the database of a mill as it was after a step: the
// entries of the filled mill that write no table made later, entered one after the
// other, and what else the tables of then had.
func millLeftAt(t *testing.T, filled *Mill, from string, steps []int, step int) (dir string, entries int64) {
	t.Helper()
	var rows []entryRow
	require.NoError(t, filled.gorm().Order("seq").Find(&rows).Error)
	openings, err := openingsOf(filled, fernhollow, rows)
	require.NoError(t, err)
	dir = t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	require.NoError(t, s.writer.do(t.Context(), func(tx *Tx) error {
		for _, row := range rows {
			if steps[row.Seq] > step {
				continue
			}
			said, err := record.Read(row.Leaf, openings[row.Seq])
			if err != nil {
				return err
			}
			b, err := decode(row.Kind, row.Version, said)
			if err != nil {
				return err
			}
			tx.mill = nil
			if _, err := tx.append(fernhollow, act{Actor: procedures.PersonID(row.Actor), Subject: row.Subject, At: timeOf(row.At), Happened: timeOf(row.Happened)}, b); err != nil {
				return fmt.Errorf("%s %d: %w", row.Kind, row.Seq, err)
			}
			entries++
		}
		return nil
	}))
	require.NoError(t, s.Close())
	path := filepath.Join(dir, FileName)
	unpackBlanks(t, path)
	at, err := schemaOf(step)
	require.NoError(t, err)
	statements := []string{"PRAGMA foreign_keys = OFF", "DELETE FROM openings WHERE (mill, seq, path) IN (SELECT mill, seq, path FROM dropped_values)", "ATTACH '" + from + "' AS other"}
	for _, table := range at.has {
		// What stands for the record, and what speaks of places in it, is that of the entries above.
		if slices.Contains(append(projections(), "entries", "entry_equipment", "openings", "tree_hashes", "log_heads", "migrations", "checkpoints", "cosignatures"), table) || strings.HasPrefix(table, "witness") || strings.HasPrefix(table, "search_") {
			continue
		}
		statements = append(statements, fmt.Sprintf("INSERT OR IGNORE INTO main.%s SELECT * FROM other.%[1]s", table))
	}
	alterFile(t, path, append(statements, "DETACH other")...)
	leftAt(t, path, step)
	return dir, entries
}

// A mill that worked with an earlier Stillsaw works with this one: its record is
// verified, every table is what the entries give, and pages find what they ask for.
func TestMillOfAnEarlierStepWorksAfterTheUpgrade(t *testing.T) {
	from, _ := filledFile(t)
	s, err := Open(t.Context(), filepath.Dir(from))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	filled := s.Of(fernhollow)
	written := stepsWritten(t, filled)
	stride := everyNth(t, 9)
	for _, step := range everyStep(t) {
		if (step-1)%stride != 0 {
			continue
		}
		dir, entries := millLeftAt(t, filled, from, written, step)
		path := filepath.Join(dir, FileName)
		before := heldIn(t, path)
		reports, schema, err := VerifyIn(t.Context(), dir)
		require.NoError(t, err)
		require.True(t, reports[fernhollow].OK(), "step %d, before: %v", step, reports[fernhollow].Faults)
		require.Equal(t, step, schema.Has)

		s, err := Open(t.Context(), dir)
		require.NoError(t, err, "step %d", step)
		require.Equal(t, step, s.Upgraded().From)
		require.Equal(t, entries, clean(t, s))
		sameAgain(t, s)
		after := heldIn(t, path)
		for table, rows := range before {
			require.Equal(t, rows, after[table], "step %d, %s", step, table)
		}
		m := s.Of(fernhollow)
		pagesRead(t, m, step)
		require.NoError(t, s.Close())

		copied := filepath.Join(t.TempDir(), FileName)
		require.NoError(t, folder{}.Keep(s.Upgraded().Copy, copied))
		reports, schema, err = VerifyIn(t.Context(), filepath.Dir(copied))
		require.NoError(t, err)
		require.True(t, reports[fernhollow].OK(), "step %d, the copy: %v", step, reports[fernhollow].Faults)
		require.Equal(t, Schema{Has: step, Newest: schema.Newest}, schema)
		require.Equal(t, entries, reports[fernhollow].Entries)
		t.Logf("step %d: %d of %d entries, %d tables", step, entries, len(written), len(before))
	}
}

// pagesRead reads what pages show, and adds to the record.
func pagesRead(t *testing.T, m *Mill, step int) {
	t.Helper()
	ctx := t.Context()
	many := map[string]int{}
	count := func(what string, n int, err error) {
		require.NoError(t, err, "step %d: %s", step, what)
		many[what] = n
	}
	people, err := m.People(ctx)
	count("people", len(people), err)
	plant, err := m.Plant(ctx)
	count("equipment", len(plant), err)
	lists, err := m.InForce(ctx, Lists)
	count("lists", len(lists), err)
	entries, _, err := m.Entries(ctx, Filter{Limit: 50})
	count("entries", len(entries), err)
	defects, err := m.Defects(ctx, true, 100)
	count("defects", len(defects), err)
	walks, err := m.Walks(ctx)
	count("walks", len(walks), err)
	inspections, err := m.InspectionsSince(ctx, six.AddDate(0, 0, -1))
	count("inspections", len(inspections), err)
	lockouts, err := m.OpenLockouts(ctx)
	count("lockouts", len(lockouts), err)
	lifts, err := m.Lifts(ctx, 10)
	count("lifts", len(lifts), err)
	_, err = m.TrainingState(ctx)
	count("training", 0, err)
	blades, err := m.Blades(ctx)
	count("blades", len(blades), err)
	_, err = m.KeepPolicies(ctx)
	count("policies", 0, err)
	_, err = m.Backups(ctx)
	count("backups", 0, err)
	if step >= 4 { // the tables of checks and what went before
		for _, what := range []string{"people", "equipment", "lists", "entries", "defects", "walks", "inspections"} {
			require.Positive(t, many[what], "step %d: %s", step, what)
		}
	}
	for left := int64(1); left > 0; {
		left, err = m.FillSearch(ctx)
		require.NoError(t, err)
	}
	if step < 3 { // no equipment
		return
	}
	_, err = m.StopIt(ctx, NewID(), checklists.Defect{Equipment: "head-saw", What: "a tooth is gone after the upgrade"}, ben, six.AddDate(0, 1, 0))
	require.NoError(t, err, "step %d", step)
	whole(t, m)
}

// heldIn is how many rows each table of a database has.
func heldIn(t *testing.T, path string) map[string]int {
	t.Helper()
	db, err := connectToRead(t.Context(), path)
	require.NoError(t, err)
	held := map[string]int{}
	for _, table := range tables(t, db) {
		if table != "migrations" {
			var rows int
			require.NoError(t, db.Raw("SELECT count(*) FROM "+table).Scan(&rows).Error)
			held[table] = rows
		}
	}
	require.NoError(t, shut(db))
	maps.DeleteFunc(held, func(table string, _ int) bool { return strings.HasPrefix(table, "search_") }) // filled in afterwards
	return held
}
