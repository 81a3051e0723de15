package store

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"
	"gorm.io/gorm/callbacks"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/sample"
	"stillsaw/server/store/faultydisk"
)

// onFaulty opens the store of dir on a disk that can fail.
func onFaulty(t *testing.T, dir string, d *faultydisk.Disk) (*Store, error) {
	t.Helper()
	return OpenOn(t.Context(), dir, On{Driver: "sqlite", VFS: d.Name()})
}

// millOnDisk is a mill at rest on a disk, with its lists in force.
func millOnDisk(t *testing.T) (dir string, d *faultydisk.Disk) {
	t.Helper()
	dir = t.TempDir()
	d, err := faultydisk.New()
	require.NoError(t, err)
	s, err := onFaulty(t, dir, d)
	require.NoError(t, err)
	publishAll(t, setUp(t, s, fernhollow))
	require.NoError(t, s.Close())
	return dir, d
}

// deed is something done at the mill, that can be looked for.
type deed struct {
	name  string
	do    func(context.Context, *Mill) error
	found func(context.Context, *Mill) (int, error)
}

// deeds are what a shift sends in small: stops, and a check begun, answered and signed.
func deeds() []deed {
	walk := NewID()
	stopped := func(what string) deed {
		submission := NewID()
		return deed{"stop " + what, func(ctx context.Context, m *Mill) error {
			_, err := stop(ctx, m, submission, what)
			return err
		}, func(ctx context.Context, m *Mill) (int, error) {
			defects, err := m.Defects(ctx, true, 100)
			n := 0
			for _, d := range defects {
				if d.What == what {
					n++
				}
			}
			return n, err
		}}
	}
	begun, signature := NewID(), NewID()
	id := checklists.InspectionID(walk)
	return []deed{
		stopped("a tooth is gone"),
		{"begin", func(ctx context.Context, m *Mill) error {
			_, err := m.BeginWalkAs(ctx, begun, Beginning{List: "short", Walk: id}, ada, six)
			return err
		}, func(ctx context.Context, m *Mill) (int, error) {
			_, err := m.Walk(ctx, id)
			if errors.Is(err, ErrNotFound) {
				_, _, err = m.Inspection(ctx, id)
			}
			return present(err)
		}},
		{"answer", func(ctx context.Context, m *Mill) error {
			if _, _, err := m.Inspection(ctx, id); err == nil {
				return nil
			}
			return m.TakeAnswers(ctx, id, answers(six), ada, six)
		}, func(ctx context.Context, m *Mill) (int, error) {
			w, err := m.Walk(ctx, id)
			if err == nil && len(w.Answers) < len(answers(six)) {
				return 0, nil
			}
			if errors.Is(err, ErrNotFound) {
				_, _, err = m.Inspection(ctx, id)
			}
			return present(err)
		}},
		{"sign", func(ctx context.Context, m *Mill) error {
			_, err := m.SignInspection(ctx, signature, id, ada, six, six)
			return err
		}, func(ctx context.Context, m *Mill) (int, error) {
			entries, _, err := m.Entries(ctx, Filter{Kind: KindInspection, Subject: walk, Limit: 9})
			return len(entries), err
		}},
		stopped("the belt smokes"),
	}
}

func present(err error) (int, error) {
	if errors.Is(err, ErrNotFound) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	return 1, nil
}

// sound requires the record to verify, to make every table anew, and the file to
// be what SQLite calls sound.
func sound(t *testing.T, s *Store) {
	t.Helper()
	var said string
	require.NoError(t, s.reads.Raw("PRAGMA integrity_check").Scan(&said).Error)
	require.Equal(t, "ok", said)
	clean(t, s)
}

// The protection taken away: with synchronous OFF the same power cuts lose what
// was answered. That they lose nothing with it is the test of the server.
func TestWithoutSyncAPowerCutLosesWhatWasAnswered(t *testing.T) {
	lostWith := func(synchronous string) (lost int) {
		dir, start := millOnDisk(t)
		for seed := range uint64(6) {
			d, err := start.Copy()
			require.NoError(t, err)
			s, err := onFaulty(t, dir, d)
			require.NoError(t, err)
			require.NoError(t, s.writes.Exec("PRAGMA synchronous = "+synchronous).Error)
			done := deeds()
			for _, act := range done {
				require.NoError(t, act.do(t.Context(), s.Of(fernhollow)), act.name)
			}
			d.Cut()
			require.Error(t, s.Close())
			found, err := d.AfterCut(rand.New(rand.NewPCG(seed, 0)))
			require.NoError(t, err)
			require.NoError(t, d.Close())
			s, err = onFaulty(t, dir, found)
			require.NoError(t, err)
			for _, act := range done {
				n, err := act.found(t.Context(), s.Of(fernhollow))
				require.NoError(t, err)
				if n == 0 {
					lost++
				}
			}
			require.NoError(t, s.Close())
			require.NoError(t, found.Close())
		}
		require.NoError(t, start.Close())
		return lost
	}
	require.Zero(t, lostWith("FULL"))
	require.Positive(t, lostWith("OFF"))
}

// halfway is a command that fails when half of it is written.
func halfway(m *Mill) func(*Tx) error {
	return func(tx *Tx) error {
		d := checklists.Defect{ID: checklists.DefectID(NewID()), Equipment: "hoist", What: "half of an act", Severity: checklists.Stop, At: six, By: ada.ID}
		if _, err := tx.append(m.id, act{Actor: ada.ID, Subject: string(d.ID), At: six}, &defectBody{newDefectPart(d)}); err != nil {
			return err
		}
		return errors.New("the second half can't be done")
	}
}

// Several phones' commands share a commit: one of them that fails half-way leaves
// nothing of itself, and the others whole.
func TestCommandThatFailsHalfWayInASharedCommitLeavesNothing(t *testing.T) {
	together := func(s *Store) (found int, refused, kept error) {
		m := setUp(t, s, fernhollow)
		release := busy(t, s.writer)
		outcomes := make(chan error, 1)
		go func() { outcomes <- s.writer.do(context.Background(), halfway(m)) }()
		queued(t, s.writer, 1)
		other := make(chan error, 1)
		go func() {
			_, err := stop(context.Background(), m, NewID(), "a tooth is gone")
			other <- err
		}()
		queued(t, s.writer, 2)
		release()
		refused, kept = <-outcomes, <-other
		defects, err := m.Defects(t.Context(), true, 10)
		require.NoError(t, err)
		return len(defects), refused, kept
	}
	s := open(t)
	found, refused, kept := together(s)
	require.ErrorContains(t, refused, "second half")
	require.NoError(t, kept)
	require.Equal(t, 1, found, "the other phone's alone")
	clean(t, s)

	// The protection taken away: without the savepoint half of the act stays.
	bare := open(t)
	require.NoError(t, bare.writes.Callback().Raw().Replace("gorm:raw", func(db *gorm.DB) {
		if !strings.Contains(db.Statement.SQL.String(), "SAVEPOINT") {
			callbacks.RawExec(db)
		}
	}))
	found, refused, _ = together(bare)
	require.ErrorContains(t, refused, "second half")
	require.Equal(t, 2, found, "half of what was refused is there")
}

// every asks only of each so-manyth call in the ordinary suite.
func every(nth int) int {
	switch {
	case os.Getenv("STILLSAW_LONG") != "":
		return 1
	case sample.Whole():
		return nth
	}
	return 3 * nth
}

// One call to the disk fails, whichever it is: what was answered stays, what was
// not can be sent again and is there once, and nobody has to start the server anew
// unless it did not start.
func TestOneCallToTheDiskFails(t *testing.T) {
	dir, start := millOnDisk(t)
	for _, tc := range []struct {
		name  string
		fault func(n int) func(faultydisk.Call) faultydisk.Fault
	}{
		{"one call fails", func(n int) func(faultydisk.Call) faultydisk.Fault {
			return func(c faultydisk.Call) faultydisk.Fault {
				if c.N == n {
					return faultydisk.Broken
				}
				return faultydisk.None
			}
		}},
		{"all calls fail from one on", func(n int) func(faultydisk.Call) faultydisk.Fault {
			return func(c faultydisk.Call) faultydisk.Fault {
				if c.N >= n {
					return faultydisk.Broken
				}
				return faultydisk.None
			}
		}},
		{"the disk is full", func(n int) func(faultydisk.Call) faultydisk.Fault {
			return func(c faultydisk.Call) faultydisk.Fault {
				if c.N >= n && c.Op == faultydisk.Write {
					return faultydisk.Full
				}
				return faultydisk.None
			}
		}},
		{"the disk is read-only", func(n int) func(faultydisk.Call) faultydisk.Fault {
			return func(c faultydisk.Call) faultydisk.Fault {
				if c.N >= n && (c.Op == faultydisk.Write || c.Op == faultydisk.Truncate || c.Op == faultydisk.Delete) {
					return faultydisk.ReadOnly
				}
				return faultydisk.None
			}
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			troubles := map[Trouble]int{}
			n := 1
			for ; ; n += every(67) {
				d, err := start.Copy()
				require.NoError(t, err)
				d.ForgetOnFailedSync()
				if reached := oneFault(t, dir, d, n, tc.fault(n), troubles); !reached {
					break
				}
			}
			t.Logf("%d calls; said %v", n, troubles)
			require.NotEmpty(t, troubles)
			require.Zero(t, troubles[NoTrouble], "an error without a name")
		})
	}
	require.NoError(t, start.Close())
}

// oneFault has a small shift go through a fault, tells whether it came to that, and
// counts what was said.
func oneFault(t *testing.T, dir string, d *faultydisk.Disk, n int, fault func(faultydisk.Call) faultydisk.Fault, troubles map[Trouble]int) (reached bool) {
	t.Helper()
	about := fmt.Sprintf("call %d", n)
	d.Steer(fault)
	say := func(err error) {
		troubles[TroubleOf(err)]++
		if TroubleOf(err) == NoTrouble {
			t.Logf("%s: %v", about, err)
		}
	}
	s, err := onFaulty(t, dir, d)
	if err != nil {
		say(err)
		d.Steer(nil)
		s, err = onFaulty(t, dir, d) // started again
		require.NoError(t, err, about)
	}
	done := deeds()
	answered := map[string]bool{}
	for _, act := range done {
		err := act.do(t.Context(), s.Of(fernhollow))
		answered[act.name] = err == nil
		if err != nil {
			var problems plain.Problems
			if !errors.Is(err, ErrNotFound) && !errors.As(err, &problems) { // of what failed before
				say(err)
			}
		}
	}
	reached = d.Calls() >= n
	d.Steer(nil)
	count := func(s *Store, least func(string) int) {
		t.Helper()
		for _, act := range done {
			found, err := act.found(t.Context(), s.Of(fernhollow))
			require.NoError(t, err, about)
			require.GreaterOrEqual(t, found, least(act.name), "%s: %s", about, act.name)
			require.LessOrEqual(t, found, 1, "%s: %s", about, act.name)
		}
	}
	known := func(name string) int {
		if answered[name] {
			return 1
		}
		return 0
	}
	count(s, known)
	// The power may go now, too.
	cut, err := d.AfterCut(rand.New(rand.NewPCG(uint64(n), 0)))
	require.NoError(t, err)
	after, err := onFaulty(t, dir, cut)
	require.NoError(t, err, about)
	count(after, known)
	require.NoError(t, after.Close())
	require.NoError(t, cut.Close())
	// All is sent again, to the same server.
	for _, act := range done {
		require.NoError(t, act.do(t.Context(), s.Of(fernhollow)), "%s: %s", about, act.name)
	}
	count(s, func(string) int { return 1 })
	sound(t, s)
	require.NoError(t, s.Close(), about)
	require.NoError(t, d.Close())
	return reached
}

// Another program has the database to itself: nothing is entered, all can be read,
// and with the other gone the same server takes what is sent again.
func TestDatabaseLockedByAnotherProgram(t *testing.T) {
	dir, d := millOnDisk(t)
	s, err := onFaulty(t, dir, d)
	require.NoError(t, err)
	require.NoError(t, s.writes.Exec("PRAGMA busy_timeout = 1").Error) // in place of five seconds
	m, done := s.Of(fernhollow), deeds()
	require.NoError(t, done[0].do(t.Context(), m))
	d.Steer(func(c faultydisk.Call) faultydisk.Fault {
		if c.Op == faultydisk.LockShared && c.Writes {
			return faultydisk.Locked
		}
		return faultydisk.None
	})
	err = done[1].do(t.Context(), m)
	require.ErrorContains(t, err, "nothing was saved")
	require.Equal(t, InUse, TroubleOf(err))
	found, err := done[0].found(t.Context(), m)
	require.NoError(t, err)
	require.Equal(t, 1, found)
	d.Steer(nil)
	for _, act := range done {
		require.NoError(t, act.do(t.Context(), m), act.name)
	}
	sound(t, s)
	require.NoError(t, s.Close())
	require.NoError(t, d.Close())
}

// The first start, with a new database, meets the fault: the next one starts.
func TestFirstStartMeetsAFault(t *testing.T) {
	for _, once := range []bool{true, false} {
		for n := 1; ; n += every(281) {
			dir := t.TempDir()
			d, err := faultydisk.New()
			require.NoError(t, err)
			d.Steer(func(c faultydisk.Call) faultydisk.Fault {
				if c.N == n || !once && c.N > n {
					return faultydisk.Broken
				}
				return faultydisk.None
			})
			s, failed := onFaulty(t, dir, d)
			calls := d.Calls()
			d.Steer(nil)
			if failed != nil {
				require.Contains(t, failed.Error(), filepath.Join(dir, FileName))
				s, err = onFaulty(t, dir, d)
				require.NoError(t, err, "call %d, after %v", n, failed)
			}
			setUp(t, s, fernhollow)
			sound(t, s)
			require.NoError(t, s.Close())
			require.NoError(t, d.Close())
			if calls < n {
				t.Logf("%d calls", calls)
				break
			}
		}
	}
}
