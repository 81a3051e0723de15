package store

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// worked enters about n acts of a mill that goes on working: pieces lifted, the
// hoist locked out and back, lists signed, defects reported and mended. They are
// put into the record past the rules, many in a commit.
func worked(t testing.TB, m *Mill, n int) {
	t.Helper()
	p, err := m.Procedure(t.Context(), "hoist", 0)
	require.NoError(t, err)
	asked := json.RawMessage(`{"length":2.5,"rig":"` + strings.Repeat("r", 600) + `","small":0.31}`)
	verdict := json.RawMessage(`{"go":true,"why":["` + strings.Repeat("w", 900) + `"]}`)
	at := six.Add(100 * time.Hour)
	var l procedures.Lockout
	next := func(tx *Tx, i int) error {
		at = at.Add(time.Minute)
		keep := func(b body) error {
			_, err := tx.append(m.id, act{Actor: ada.ID, At: at, Subject: "worked"}, b)
			return err
		}
		switch i % 8 {
		case 0, 1, 2:
			return keep(newLiftBody(Lift{ID: NewID(), Rig: "main-hoist", RigVersion: 1, Hoist: "hoist", LandsOn: "carriage", Asked: asked, Verdict: verdict, Holds: "none", Go: true, By: ada.ID, At: at}))
		case 3, 4, 5:
			if !l.Open() || l.ID == "" {
				begun, event, err := procedures.Begin(procedures.LockoutID(NewID()), p, "new latch", ada, at.Add(4*time.Hour), at)
				if err != nil {
					return err
				}
				l = begun
				return keep(newLockoutBody(l, event))
			}
			at = at.Add(l.WaitLeft(at))
			event := nextOf(l)
			event.Person, event.At = ada.ID, at
			if err := l.Apply(event, ada); err != nil {
				return err
			}
			return keep(newLockoutBody(l, event))
		case 6:
			id := checklists.InspectionID(NewID())
			return keep(newInspectionBody(checklists.Inspection{ID: id, List: "short", Version: 1, Signer: ada.ID, At: at, Answers: answers(at)}, nil, []procedures.EquipmentID{"carriage", "hoist"}))
		}
		d := checklists.Defect{ID: checklists.DefectID(NewID()), Equipment: "carriage", What: "a bolt is loose", By: ada.ID, At: at}
		if err := keep(&defectBody{newDefectPart(d)}); err != nil {
			return err
		}
		return keep(&mendedBody{newDefectPart(d)})
	}
	const together = 500
	for done := 0; done < n; done += together {
		require.NoError(t, m.s.writer.do(t.Context(), func(tx *Tx) error {
			for i := done; i < min(done+together, n); i++ {
				if err := next(tx, i); err != nil {
					return err
				}
			}
			return nil
		}))
	}
}

// A rebuild against the bare loop of prepared statements that would put the very
// rows into empty tables: the ratio says what reading entries and their rules cost.
func BenchmarkRebuildAgainstBareInserts(b *testing.B) {
	m := newMill(b)
	fill(b, m)
	worked(b, m, 20_000)
	for b.Loop() {
		began := time.Now()
		c, err := newScratch(b.Context(), b.TempDir())
		require.NoError(b, err)
		done, err := c.replay(b.Context(), m, m.id, -1, nil)
		require.NoError(b, err)
		require.Zero(b, done.FailedCount)
		replayed := time.Since(began)
		bare := bareInserts(b, c)
		require.NoError(b, c.Close())
		b.ReportMetric(float64(done.Entries)/replayed.Seconds(), "entries/s")
		b.ReportMetric(bare.Seconds()/replayed.Seconds(), "of-bare")
	}
}

// bareInserts is how long it takes to insert the rows of every projection of c
// into another scratch database, with the values at hand.
func bareInserts(b *testing.B, c *scratch) time.Duration {
	other, err := newScratch(b.Context(), b.TempDir())
	require.NoError(b, err)
	defer func() { require.NoError(b, other.Close()) }()
	pool, err := other.db.DB()
	require.NoError(b, err)
	var took time.Duration
	for _, table := range projections() {
		shape, err := shapeOf(c, table)
		require.NoError(b, err)
		var rows [][]any
		_, err = compareTable(b.Context(), c, other, shape, func(d rowDifference) error {
			rows = append(rows, d.made)
			return nil
		})
		require.NoError(b, err)
		began := time.Now()
		insertAll(b, pool, shape, rows)
		took += time.Since(began)
	}
	return took
}

func insertAll(b *testing.B, pool *sql.DB, shape tableShape, rows [][]any) {
	tx, err := pool.Begin()
	require.NoError(b, err)
	columns := slices.Concat(shape.key, shape.columns)
	insert, err := tx.Prepare(fmt.Sprintf(`INSERT INTO "%s" ("%s") VALUES (?%s)`, shape.name, strings.Join(columns, `", "`), strings.Repeat(", ?", len(columns)-1)))
	require.NoError(b, err)
	for _, row := range rows {
		_, err := insert.Exec(row...)
		require.NoError(b, err)
	}
	require.NoError(b, insert.Close())
	require.NoError(b, tx.Commit())
}

// A folder of some 100,000 entries to measure time and memory on from outside,
// where STILLSAW_WORKED names one.
func TestWorkedMillIsLeftToMeasure(t *testing.T) {
	into := os.Getenv("STILLSAW_WORKED")
	if into == "" {
		t.Skip("STILLSAW_WORKED names no folder")
	}
	m := newMill(t)
	fill(t, m)
	worked(t, m, 100_000)
	require.NoError(t, m.s.Backup(t.Context(), filepath.Join(into, FileName)))
}
