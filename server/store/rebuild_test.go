package store

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
	"stillsaw/server/store/scratchdb"
)

// rebuiltOf rebuilds the database of s as it stands.
func rebuiltOf(t testing.TB, s *Store, show bool) Rebuilt {
	t.Helper()
	_, built, err := s.Rebuild(t.Context(), Rebuilding{Scratch: t.TempDir(), Show: show})
	require.NoError(t, err)
	return built
}

// sameAgain requires that a replay of the entries makes the same tables.
func sameAgain(t testing.TB, s *Store) Rebuilt {
	t.Helper()
	built := rebuiltOf(t, s, true)
	require.Empty(t, built.Failed)
	require.Empty(t, built.Differences)
	require.True(t, built.OK())
	return built
}

func TestReplayOfTheEntriesMakesTheSameTables(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	built := sameAgain(t, m.s)
	require.Equal(t, clean(t, m.s), built.Entries)
	var compared []string
	for _, table := range built.Tables {
		compared = append(compared, table.Table)
		require.Positive(t, table.Rows, "%s: a table without a row proves nothing", table.Table)
		require.GreaterOrEqual(t, table.Fields, 2*table.Rows, table.Table)
	}
	require.Equal(t, projections(), compared)
}

// alteredField changes a field of a row, another for each kind of value, and
// tells which.
func alteredField(t *testing.T, db *gorm.DB, shape tableShape, row []any) (field string) {
	t.Helper()
	columns := slices.Concat(shape.key, shape.columns)
	for i := len(columns) - 1; i >= 0; i-- {
		var altered any
		field = columns[i]
		switch v := row[i].(type) {
		case int64:
			altered = v + 1
		case string:
			altered = v + "x"
			if tree, ok := treeOf(v); ok {
				below, changed := alteredTree(tree)
				text, err := json.Marshal(changed)
				require.NoError(t, err)
				field, altered = field+below, string(text)
			}
		default:
			continue
		}
		d := rowDifference{shape: shape, kept: row}
		d.made = slices.Clone(row)
		d.made[i] = altered
		if i < len(shape.key) { // a key that is another is a row missing and one extra
			require.NoError(t, rowDifference{shape: shape, kept: row}.mend(&Tx{db: db}))
			d.kept, field = nil, ""
		}
		require.NoError(t, d.mend(&Tx{db: db}))
		return field
	}
	require.Fail(t, "nothing to alter", shape.name)
	return ""
}

// alteredTree changes the last member of a document that is no document itself.
func alteredTree(tree any) (path string, changed any) {
	switch v := tree.(type) {
	case map[string]any:
		var names []string
		for name := range v {
			names = append(names, name)
		}
		slices.Sort(names)
		name := names[len(names)-1]
		below, inner := alteredTree(v[name])
		v[name] = inner
		return "/" + name + below, v
	case []any:
		if len(v) > 0 {
			below, inner := alteredTree(v[0])
			v[0] = inner
			return "/0" + below, v
		}
	case bool:
		return "", !v
	}
	return "", "altered by hand"
}

// firstRow is the first row of a table by its key.
func firstRow(t *testing.T, r reader, shape tableShape) []any {
	t.Helper()
	c, err := openCursor(t.Context(), r, shape)
	require.NoError(t, err)
	defer c.close()
	require.NoError(t, c.next())
	require.NotNil(t, c.row, shape.name)
	return slices.Clone(c.row)
}

// writers are the kinds of entries that write a table.
func writers(table string) []string {
	return map[string][]string{
		"mills": {KindMill}, "people": {KindPerson}, "equipment": {KindEquipment}, "publications": {KindPublished}, "releases": {KindPublished}, "renewals": {KindPublished},
		"inspections": {KindInspection}, "signed_days": {KindInspection, KindClockConfirmed}, "unsigned_walks": {KindUnsigned, KindSetAside}, "amendments": {KindAmendment}, "run_checks": {KindRunCheck}, "meter_readings": {KindInspection}, "events": {KindEvent}, "excuses": {KindExcuse},
		"clocks": {KindClockConfirmed}, "misdated": {KindClockConfirmed}, "defects": {KindInspection, KindDefect, KindDescribed, KindMended, KindReturned, KindDefectAssigned, KindDefectRedated},
		"defect_notes": {KindDefectNoted}, "departures": {KindDeparture, KindDepartureClosed}, "incidents": {KindIncident, KindIncidentHarm, KindIncidentClosed}, "incident_actions": {KindIncidentAction, KindIncidentActionDone},
		"lockouts": {KindLockout}, "lock_items": {KindLock, KindLockout}, "trainings": {KindTraining}, "procedure_inspections": {KindProcedureInspected}, "findings_seen_to": {KindFindingSeenTo},
		"contractors": {KindContractor}, "programs": {KindProgram}, "coasts": {KindCoast}, "declarations": {KindDeclaration}, "tasks": {KindTask}, "lifts": {KindLift}, "lift_runs": {KindLiftOfRun},
		"weighings": {KindWeighed}, "lighter": {KindLighter}, "gear_inspections": {KindGearInspected}, "gear_measurements": {KindGearMeasured}, "blades": {KindBlade}, "blade_acts": {KindBladeAct},
		"safety_items": {KindSafetyItem}, "safety_checks": {KindSafetyCheck}, "emergency_cards": {KindEmergencyCard}, "tokens": {KindTokenMade, KindTokenRevoked}, "log_keys": {KindLogKey}, "keep_policies": {KindKeepFor}, "keep_holds": {KindHold, KindHoldLifted}, "dropped_values": {KindDropped},
	}[table]
}

// copyOfFilled is the database file of a mill with rows in every table.
func copyOfFilled(t *testing.T) string {
	t.Helper()
	m := newMill(t)
	fill(t, m)
	path := filepath.Join(t.TempDir(), FileName)
	require.NoError(t, m.s.Backup(t.Context(), path))
	return path
}

// Whatever somebody with the file in hand changes, takes out or puts into any
// table that follows from the record is named: table, row, field and entry.
func TestEveryTableAlteredByHandIsNamed(t *testing.T) {
	path := copyOfFilled(t)
	type altering struct{ field, key string }
	changed, added, removed := map[string]altering{}, map[string]string{}, map[string]string{}
	one := altered(t, path, func(db *gorm.DB) error {
		for _, table := range projections() {
			shape, err := shapeOf(&Tx{db: db}, table)
			require.NoError(t, err)
			row := firstRow(t, &Tx{db: db}, shape)
			more := slices.Clone(row)
			last := len(shape.key) - 1
			if text, ok := more[last].(string); ok {
				more[last] = text + "-more"
			} else {
				more[last] = int64(7000)
			}
			require.NoError(t, rowDifference{shape: shape, made: more}.mend(&Tx{db: db}))
			added[table] = keyText(more[:last+1])
			changed[table] = altering{alteredField(t, db, shape, row), keyText(row[:last+1])}
		}
		return nil
	})
	two := altered(t, path, func(db *gorm.DB) error {
		for _, table := range projections() {
			shape, err := shapeOf(&Tx{db: db}, table)
			require.NoError(t, err)
			row := firstRow(t, &Tx{db: db}, shape)
			removed[table] = keyText(row[:len(shape.key)])
			require.NoError(t, rowDifference{shape: shape, kept: row}.mend(&Tx{db: db}))
		}
		return nil
	})

	built, without := rebuiltOf(t, one, true), rebuiltOf(t, two, true)
	for _, table := range projections() {
		t.Run(table, func(t *testing.T) {
			kinds := writers(table)
			require.NotEmpty(t, kinds, "say which entries write this table")
			in := func(of Rebuilt, change RowChange, key string) Difference {
				for _, d := range of.Differences {
					if d.Table == table && d.Change == change && strings.Join(d.Key, " ") == key {
						return d
					}
				}
				require.Fail(t, "not named", "%d of row %s in %v", change, key, of.Differences)
				return Difference{}
			}
			missing := in(without, RowMissing, removed[table])
			require.Contains(t, kinds, missing.Wrote.Kind)
			require.Equal(t, int64(-1), in(built, RowExtra, added[table]).Wrote.Seq)
			if changed[table].field == "" { // a table of keys only
				require.Equal(t, missing.Wrote, in(built, RowMissing, changed[table].key).Wrote)
				return
			}
			other := in(built, FieldDiffers, changed[table].key)
			require.Equal(t, changed[table].field, other.Field)
			require.NotEqual(t, other.Gives, other.Stands)
			if table != "mills" { // without it nothing else of the mill follows by its key
				require.Equal(t, missing.Wrote, other.Wrote)
			}
			require.Contains(t, kinds, other.Wrote.Kind)
			e, err := one.Of(fernhollow).entry(t, other.Wrote.Seq)
			require.NoError(t, err)
			require.Equal(t, e.ID, other.Wrote.ID)
		})
	}
	for _, table := range built.Tables {
		require.GreaterOrEqual(t, table.Differ, int64(2), table.Table)
	}
	require.False(t, built.OK())
}

func (m *Mill) entry(t *testing.T, seq int64) (Entry, error) {
	e, _, err := m.Leaf(t.Context(), seq)
	return e, err
}

func keyText(key []any) string {
	var texts []string
	for _, v := range key {
		texts = append(texts, fmt.Sprint(v))
	}
	return strings.Join(texts, " ")
}

// The entry named is the last of several that wrote a row.
func TestRebuildNamesTheLastEntryThatWroteARow(t *testing.T) {
	m := newMill(t)
	h := fill(t, m)
	forged := "2" // no truth value, where the database takes it
	if scratchdb.Asked() {
		forged = "1"
		require.NoError(t, m.s.writes.Exec("UPDATE defects SET open = TRUE WHERE id = ?", h.Defect).Error)
	} else {
		require.NoError(t, m.s.writes.Exec("UPDATE defects SET open = 2 WHERE id = ?", h.Defect).Error)
	}
	alterDoc(t, m.s.writes, "lockouts", string(h.Lockout), func(doc map[string]any) { doc["working"], doc["forged"] = true, 1 })
	alterDoc(t, m.s.writes, "incidents", string(h.Incident), func(doc map[string]any) { delete(doc, "harm") })
	require.NoError(t, m.s.writes.Exec(`UPDATE coasts SET doc = replace(doc, '{"id"', '{"seconds":1,"id"')`).Error)
	built := rebuiltOf(t, m.s, true)
	got := map[string]Difference{}
	for _, d := range built.Differences {
		got[d.Table+" "+d.Field] = d
	}
	require.Len(t, built.Differences, len(got))

	open := got["defects open"]
	require.Equal(t, []string{string(fernhollow), string(h.Defect)}, open.Key)
	require.Equal(t, []string{"0", forged}, []string{open.Gives, open.Stands})
	require.Equal(t, KindReturned, open.Wrote.Kind)
	require.Equal(t, "open: the record gives 0, "+forged+" stands there.", open.What().String())

	working := got["lockouts doc/working"]
	require.Equal(t, []string{"false", "true"}, []string{working.Gives, working.Stands})
	var last int64
	require.NoError(t, m.s.reads.Raw("SELECT max(seq) FROM entries WHERE kind = ? AND subject = ?", KindLockout, h.Lockout).Scan(&last).Error)
	require.Equal(t, last, working.Wrote.Seq)
	require.Equal(t, FieldExtra, got["lockouts doc/forged"].Change)
	require.Equal(t, FieldMissing, got["incidents doc/harm"].Change)
	require.Contains(t, []string{KindIncidentHarm, KindIncidentClosed}, got["incidents doc/harm"].Wrote.Kind)
}

// What somebody wrote is told to nobody who didn't ask for it.
func TestRebuildShowsNoPersonalValueUnlessAsked(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	var said []string
	require.NoError(t, m.s.reads.Raw("SELECT DISTINCT value FROM openings WHERE length(value) > 3").Scan(&said).Error)
	require.Greater(t, len(said), 40)
	for _, table := range projections() {
		shape, err := shapeOf(m, table)
		require.NoError(t, err)
		if slices.Contains(shape.columns, "doc") {
			keysOff(t, m.s)
			require.NoError(t, m.s.writes.Exec("UPDATE "+table+" SET doc = '{\"emptied\": \"of all\"}'").Error)
		}
		for _, column := range []string{"name", "firm", "place", "serial", "title"} {
			if slices.Contains(shape.columns, column) {
				require.NoError(t, m.s.writes.Exec("UPDATE "+table+" SET "+column+" = ''").Error)
			}
		}
	}
	quiet, shown := fmt.Sprint(rebuiltOf(t, m.s, false).Differences), fmt.Sprint(rebuiltOf(t, m.s, true).Differences)
	found := 0
	for _, value := range said {
		if at := strings.Index(quiet, value); at >= 0 {
			t.Errorf("%q is shown: …%s", value, quiet[max(0, at-60):at+len(value)])
		}
		if strings.Contains(shown, value) {
			found++
		}
	}
	require.Greater(t, found, 40)
}

// An opening that was altered or taken away leaves nothing of the value, and
// what was made from it is named; the replay goes on.
func TestRebuildGoesOnWhereAnEntryCannotBeRead(t *testing.T) {
	path, h := filledFile(t)
	s := altered(t, path, func(db *gorm.DB) error {
		require.NoError(t, db.Exec("UPDATE openings SET value = 'Ada Crow' WHERE value = 'Ada Rook'").Error)
		require.NoError(t, db.Exec("UPDATE entries SET leaf = x'00' WHERE kind = ? AND subject = ?", KindLift, h.Lift).Error)
		return db.Exec("DELETE FROM entries WHERE kind = ?", KindIncident).Error
	})
	built := rebuiltOf(t, s, true)
	var why []string
	for _, failed := range built.Failed {
		why = append(why, failed.Kind+": "+failed.Why.String())
	}
	all := strings.Join(why, "\n")
	require.Contains(t, all, "lift: Entry ")
	require.Contains(t, all, "incident-harm: What follows from entry ")
	require.Contains(t, all, "incident: there is nothing under that id")
	named := fmt.Sprint(built.Differences)
	require.Contains(t, named, `"Ada Rook"`)
	require.NotContains(t, named, "Ada Crow")
	require.Contains(t, named, h.Lift)
	require.False(t, built.OK())
}

// Nothing but what a person wrote is lost from the tables with an opening: each
// entry still has its projection, so that a value can be dropped for good.
func TestEveryEntryIsProjectedWithoutItsOpenings(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	c, err := newScratch(t.Context(), t.TempDir())
	require.NoError(t, err)
	defer func() { require.NoError(t, c.Close()) }()
	done, err := c.replay(t.Context(), m, m.id, -1, func(int64, record.Opening) bool { return false })
	require.NoError(t, err)
	require.Empty(t, done.Failed)
	for _, table := range projections() {
		shape, err := shapeOf(c, table)
		require.NoError(t, err)
		_, err = compareTable(t.Context(), c, m, shape, func(d rowDifference) error {
			require.NotNil(t, d.made, "%s %v", table, d.kept)
			require.NotNil(t, d.kept, "%s %v", table, d.made)
			return d.mend(&Tx{db: m.s.writes})
		})
		require.NoError(t, err)
		same, err := compareTable(t.Context(), c, m, shape, func(d rowDifference) error { return fmt.Errorf("%v", d.fields()) })
		require.NoError(t, err)
		require.Positive(t, same.rows)
	}
}

// A server may write meanwhile: the replay and the tables are of one moment.
func TestRebuildIsOfOneMomentWhileTheMillGoesOn(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	written, stop := make(chan int, 1), make(chan struct{})
	go func() {
		count := 0
		defer func() { written <- count }()
		for at := six.Add(24 * time.Hour); ; at = at.Add(time.Minute) {
			select {
			case <-stop:
				return
			default:
			}
			if _, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "hoist", What: "while it was compared"}, ben, at); err != nil {
				return
			}
			count++
		}
	}()
	first := rebuiltOf(t, m.s, true)
	require.Eventually(t, func() bool { return size(t, m) > first.Entries }, time.Minute, time.Millisecond, "somebody writes meanwhile")
	for range 3 {
		next := rebuiltOf(t, m.s, true)
		require.True(t, next.OK(), "%v", next.Differences)
		require.Greater(t, next.Entries, first.Entries)
	}
	close(stop)
	require.Positive(t, <-written)
	require.True(t, first.OK())
}

// Events that follow each other are folded in one go on replay: the register of
// locks is what it became by each of them.
func TestLockThatCameOffUnknownStandsInTheRegisterOnReplayToo(t *testing.T) {
	m := newMill(t)
	id, at := toWork(t, m, six)
	late := six.Add(6 * time.Hour)
	for _, e := range []procedures.Event{ // past the gate, which enters a lock first seen
		{Kind: procedures.Joined, Lock: "B-9", KeysInBox: true, Person: ben.ID, At: at},
		{Kind: procedures.LockTaken, Lock: "B-9", Program: true, NotHere: "car gone", Person: sam.ID, At: late, Tries: []procedures.Try{{At: late, Way: "telephone", Result: "no answer"}}},
		{Kind: procedures.ToldOfLock, Lock: "B-9", Person: ben.ID, At: late.Add(time.Minute)},
	} {
		require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error {
			row, err := one[lockoutRow](tx, "lockout", "mill = ? AND id = ?", m.id, id)
			if err != nil {
				return err
			}
			_, err = tx.append(m.id, act{Actor: e.Person, At: e.At, Subject: string(id)}, newLockoutBody(row.Doc, e))
			return err
		}))
	}
	register, err := m.Locks(t.Context())
	require.NoError(t, err)
	item, known := procedures.FindLock(register, "B-9")
	require.True(t, known)
	require.Empty(t, item.Untold)
	sameAgain(t, m.s)
}

// What finds the rows is in nothing a verification or a rebuild reads.
func TestDamagedIndexIsToldWhenEverythingIsHeldAgainstTheRecord(t *testing.T) {
	const page, leafOfIndex = 4096, 10 // sqlite.org/fileformat2.html, 1.6
	m := newMill(t)
	signed(t, m, NewID(), ada, six)
	file := filepath.Join(t.TempDir(), FileName)
	require.NoError(t, m.s.Backup(t.Context(), file))
	_, built, _, err := RebuildIn(t.Context(), filepath.Dir(file), Rebuilding{Scratch: t.TempDir()})
	require.NoError(t, err)
	require.True(t, built.OK(), built.Damage)
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	at := page
	for whole[at] != leafOfIndex || binary.BigEndian.Uint16(whole[at+3:]) == 0 {
		at += page
	}
	whole[at+page-1] ^= 1 // of the first key that was put there
	require.NoError(t, os.WriteFile(file, whole, 0o600))
	_, built, _, err = RebuildIn(t.Context(), filepath.Dir(file), Rebuilding{Scratch: t.TempDir()})
	require.NoError(t, err)
	require.NotEmpty(t, built.Damage)
	require.False(t, built.OK())
}
