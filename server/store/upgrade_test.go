package store

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/server/store/faultydisk"
)

// deletedBefore was deleted by a Stillsaw that wrote no zeros over it.
const deletedBefore = "a word that was deleted before the upgrade"

// older is a database as an earlier Stillsaw left it after a step, on a disk: a row
// in each of its tables.
type older struct {
	step   int
	dir    string
	path   string
	disk   *faultydisk.Disk
	rows   string // a query that tells all of them
	was    string // what it told
	wanted int    // the step of this Stillsaw
}

func leftBy(t *testing.T, dir string, step int) older {
	t.Helper()
	all, err := migrations()
	require.NoError(t, err)
	o := older{step: step, dir: dir, path: filepath.Join(dir, FileName), wanted: all[len(all)-1].number}
	o.disk, err = faultydisk.New()
	require.NoError(t, err)
	db, err := connectOn(plainly(o.disk), o.path, "", 1)
	require.NoError(t, err)
	_, err = migrateTo(t.Context(), plainly(o.disk), db, o.path, all, step)
	require.NoError(t, err)
	oneRowEach(t, db)
	require.NoError(t, db.Exec("INSERT INTO submissions (mill, id, act, result, at) VALUES ('{}', 'gone', '', ?, 1)", strings.Repeat(deletedBefore, 50)).Error)
	require.NoError(t, db.Exec("DELETE FROM submissions WHERE id = 'gone'").Error)
	var told []string
	for _, table := range tables(t, db) {
		var columns []string
		require.NoError(t, db.Raw("SELECT name FROM pragma_table_info(?)", table).Scan(&columns).Error)
		if table != "migrations" {
			told = append(told, fmt.Sprintf(`SELECT '%s' || coalesce(group_concat(quote("%s")), '')  FROM "%[1]s"`, table, strings.Join(columns, `") || ',' || quote("`)))
		}
	}
	o.rows = strings.Join(told, " UNION ALL ")
	o.was = o.told(t, db)
	require.NoError(t, shut(db))
	return o
}

// plainly is a disk reached by SQLite itself.
func plainly(d *faultydisk.Disk) On {
	return On{Driver: "sqlite", VFS: d.Name(), Beside: faultydisk.Folder{Disk: d}}
}

func (o older) told(t *testing.T, db *gorm.DB) string {
	t.Helper()
	var rows []string
	require.NoError(t, db.Raw(o.rows).Scan(&rows).Error)
	return strings.Join(rows, "\n")
}

// stateOf is the step a database file is at; it must be sound and hold what it held.
func (o older) stateOf(t *testing.T, d *faultydisk.Disk, file, when string) (step int) {
	t.Helper()
	step, err := checkCopy(plainly(d), file)
	require.NoError(t, err, when)
	db, err := connectOn(plainly(d), file, "", 1)
	require.NoError(t, err, when)
	require.Equal(t, o.was, o.told(t, db), when)
	require.NoError(t, shut(db))
	return step
}

func (o older) copyFile() string { return fmt.Sprint(o.path, ".before-upgrade-from-", o.step) }

// afterwards requires that what an interrupted upgrade left on d is the old database
// whole or the new one whole, and that opening it again makes the new one of it.
func (o older) afterwards(t *testing.T, d *faultydisk.Disk, when string) {
	t.Helper()
	step := o.stateOf(t, d, o.path, when)
	require.Contains(t, []int{o.step, o.wanted}, step, "%s: it is half upgraded", when)
	copied := slices.Contains(d.Files(), o.copyFile())
	if copied {
		require.Equal(t, o.step, o.stateOf(t, d, o.copyFile(), when+": the copy"), when)
	}
	require.True(t, copied || step == o.step, "%s: it was upgraded without a copy", when)
	s, err := OpenOn(t.Context(), o.dir, plainly(d))
	require.NoError(t, err, when)
	require.Equal(t, step != o.wanted, s.Upgraded().From == o.step, when)
	require.NoError(t, s.Close(), when)
	require.Equal(t, o.wanted, o.stateOf(t, d, o.path, when), when)
	require.Equal(t, o.step, o.stateOf(t, d, o.copyFile(), when+": the copy"), when)
	require.Equal(t, []string{o.path, o.copyFile()}, d.Files(), when)
	require.True(t, o.cleared(d), "%s: what was deleted before stands there still", when)
}

// cleared tells whether the database has nothing of what was deleted before zeros
// were written over it. A later Stillsaw wrote them at once.
func (o older) cleared(d *faultydisk.Disk) bool {
	return o.step >= erasingSince || !bytes.Contains(d.Read(o.path), []byte(deletedBefore))
}

// everyStep is each earlier step of a database.
func everyStep(t *testing.T) (steps []int) {
	t.Helper()
	all, err := migrations()
	require.NoError(t, err)
	for _, m := range all[:len(all)-1] {
		steps = append(steps, m.number)
	}
	return steps
}

func TestDatabaseOfEveryEarlierStepIsUpgradedInOneGo(t *testing.T) {
	dir := t.TempDir()
	for _, step := range everyStep(t) {
		o := leftBy(t, dir, step)
		require.Equal(t, step >= erasingSince, o.cleared(o.disk))
		s, err := OpenOn(t.Context(), dir, plainly(o.disk))
		require.NoError(t, err)
		require.Equal(t, Upgrade{From: step, To: o.wanted, Copy: o.copyFile()}, s.Upgraded())
		require.NoError(t, s.Close())
		require.Equal(t, o.wanted, o.stateOf(t, o.disk, o.path, "upgraded"))
		require.Equal(t, step, o.stateOf(t, o.disk, o.copyFile(), "the copy"))
		require.Equal(t, []string{o.path, o.copyFile()}, o.disk.Files())
		require.True(t, o.cleared(o.disk))
		require.NoError(t, o.disk.Close())
	}
}

// everyNth is which points are tried: each where all are asked for.
func everyNth(t *testing.T, stride int) int {
	t.Helper()
	if os.Getenv("STILLSAW_LONG") != "" {
		stride = 1
	}
	if given := os.Getenv("STILLSAW_EVERY"); given != "" {
		var err error
		stride, err = strconv.Atoi(given)
		require.NoError(t, err)
	}
	return stride
}

// Every statement of opening a database of every earlier step fails once, and once
// has the power cut before it; in the ordinary suite every so many.
func TestUpgradeInterruptedAtAnyStatementIsFinishedOrWasNotBegun(t *testing.T) {
	dir, c := t.TempDir(), newCounter(t)
	chance := rand.New(rand.NewPCG(1, 9))
	points, all, old := 0, 0, 0
	stride := everyNth(t, 487)
	for _, step := range everyStep(t) {
		o := leftBy(t, dir, step)
		d, err := o.disk.Copy()
		require.NoError(t, err)
		c.count(0, nil)
		s, err := OpenOn(t.Context(), dir, c.on(d))
		require.NoError(t, err)
		statements := c.n
		require.NoError(t, s.Close())
		require.NoError(t, d.Close())
		for n := 1; n <= statements; n++ {
			for _, cut := range []bool{false, true} {
				if all++; all%stride != 0 {
					continue
				}
				points++
				d, err := o.disk.Copy()
				require.NoError(t, err)
				power := d
				if !cut {
					power = nil
				}
				c.count(n, power)
				s, err := OpenOn(t.Context(), dir, c.on(d))
				when := fmt.Sprintf("from step %d, statement %d of %d, power cut %v: %s", step, n, statements, cut, c.met)
				require.NotEmpty(t, c.met, when)
				if err == nil { // nothing was asked of the disk any more
					require.True(t, cut, "%s: %s went unnoticed", when, errAsked)
					_ = s.Close()
				} else {
					require.NotContains(t, err.Error(), "\n\n", when)
				}
				c.count(0, nil)
				if cut {
					found, err := d.AfterCut(chance)
					require.NoError(t, err)
					require.NoError(t, d.Close(), when)
					d = found
				}
				if at, err := checkCopy(plainly(d), o.path); err == nil && at == step {
					old++
				}
				o.afterwards(t, d, when)
				require.NoError(t, d.Close())
			}
		}
		require.NoError(t, o.disk.Close())
	}
	t.Logf("%d of %d points: %d left the old database, %d the new one", points, all, old, points-old)
	require.Positive(t, old)
}

// Every call of opening it fails, finds the disk full, or has the power cut in its
// middle: that is finer than statements, which reach the disk together.
func TestUpgradeInterruptedAtAnyCallToTheDiskIsFinishedOrWasNotBegun(t *testing.T) {
	dir := t.TempDir()
	chance := rand.New(rand.NewPCG(1, 10))
	points, all, failed := 0, 0, 0
	steps, stride := everyStep(t), everyNth(t, 3989)
	for _, step := range steps {
		o := leftBy(t, dir, step)
		d, err := o.disk.Copy()
		require.NoError(t, err)
		s, err := OpenOn(t.Context(), dir, plainly(d))
		require.NoError(t, err)
		calls := d.Calls()
		require.NoError(t, s.Close())
		require.NoError(t, d.Close())
		for n := 1; n <= calls; n++ {
			for _, fault := range []faultydisk.Fault{faultydisk.Broken, faultydisk.Full, faultydisk.Cut} {
				if all++; all%stride != 0 {
					continue
				}
				points++
				d, err := o.disk.Copy()
				require.NoError(t, err)
				when := ""
				d.Steer(func(call faultydisk.Call) faultydisk.Fault {
					if call.N != n || fault == faultydisk.Full && call.Op != faultydisk.Write && call.Op != faultydisk.Open {
						return faultydisk.None
					}
					when = fmt.Sprintf("from step %d, call %d of %d, fault %d: %s %s", step, n, calls, fault, call.Op, filepath.Base(call.File))
					return fault
				})
				s, err := OpenOn(t.Context(), dir, plainly(d))
				if err == nil {
					_ = s.Close()
				} else {
					failed++
				}
				d.Steer(nil)
				if fault == faultydisk.Cut {
					found, err := d.AfterCut(chance)
					require.NoError(t, err)
					require.NoError(t, d.Close(), when)
					d = found
				}
				o.afterwards(t, d, when)
				require.NoError(t, d.Close())
			}
		}
		require.NoError(t, o.disk.Close())
	}
	t.Logf("%d of %d points; the opening failed at %d", points, all, failed)
	require.Positive(t, failed)
}

func TestUpgradeForWhichThereIsNoRoomIsNotBegunAndSaysHowMuchItTakes(t *testing.T) {
	for _, step := range []int{21, 27} {
		o := leftBy(t, t.TempDir(), step)
		size := len(o.disk.Read(o.path))
		before := o.disk.Read(o.path)
		o.disk.Steer(func(call faultydisk.Call) faultydisk.Fault {
			if call.Op == faultydisk.Write && strings.HasSuffix(call.File, ".part") && call.Size > int64(size/2) {
				return faultydisk.Full
			}
			return faultydisk.None
		})
		_, err := OpenOn(t.Context(), o.dir, plainly(o.disk))
		require.ErrorContains(t, err, "no copy could be made before the upgrade, so it was not begun")
		require.ErrorContains(t, err, fmt.Sprintf("about %d MB of free room", size>>20+1))
		require.NotContains(t, err.Error(), "\n")
		o.disk.Steer(nil)
		require.Equal(t, []string{o.path}, o.disk.Files(), "the half copy is gone, there is no room for it")
		if step >= erasingSince {
			require.Equal(t, before, o.disk.Read(o.path), "not a byte was changed")
		}
		require.Equal(t, step, o.stateOf(t, o.disk, o.path, "refused"))
		o.afterwards(t, o.disk, "when there is room")
		require.NoError(t, o.disk.Close())
	}
}

func TestCopiesThatWereCutOffAreClearedAndTheLastTwoWholeOnesKept(t *testing.T) {
	o := leftBy(t, t.TempDir(), 25)
	of := func(rest string) string { return o.path + ".before-upgrade-from-" + rest }
	for _, rest := range []string{"25.part", "25.part-journal", "19.part", "9", "22", "22.1764000000000", "24", "25", "24.keep", "x"} {
		o.disk.Write(of(rest), []byte("half"))
	}
	s, err := OpenOn(t.Context(), o.dir, plainly(o.disk))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.ElementsMatch(t, []string{o.path, of("25"), of("24"), of("24.keep"), of("x")}, o.disk.Files(), "what no Stillsaw made is left alone")
	require.Equal(t, 25, o.stateOf(t, o.disk, of("25"), "the half one of that name was replaced"))
}

func TestOfTwoThatOpenAnOlderDatabaseAtOnceOneUpgradesIt(t *testing.T) {
	dir := t.TempDir()
	for _, step := range []int{1, 21, 26} {
		for range 3 {
			o := leftBy(t, dir, step)
			type opened struct {
				s   *Store
				err error
			}
			both := make(chan opened, 2)
			for range 2 {
				go func() {
					s, err := OpenOn(t.Context(), dir, plainly(o.disk))
					both <- opened{s, err}
				}()
			}
			var stores []*Store
			upgrades := 0
			for range 2 {
				one := <-both
				if one.err != nil {
					require.ErrorIs(t, one.err, ErrInUse)
					continue
				}
				stores = append(stores, one.s)
				if one.s.Upgraded() != (Upgrade{}) {
					upgrades++
				}
			}
			require.Equal(t, 1, upgrades)
			for _, s := range stores {
				require.NoError(t, s.Close())
			}
			o.afterwards(t, o.disk, "opened by two")
			require.NoError(t, o.disk.Close())
		}
	}
}

func TestOlderDatabaseInUseIsNotUpgradedAndSaysWhy(t *testing.T) {
	c := newCounter(t)
	c.impatient = true
	for _, step := range []int{21, 27} {
		o := leftBy(t, t.TempDir(), step)
		other, err := connectOn(plainly(o.disk), o.path, "", 1)
		require.NoError(t, err)
		require.NoError(t, other.Exec("BEGIN IMMEDIATE").Error)
		_, err = OpenOn(t.Context(), o.dir, c.on(o.disk))
		require.ErrorIs(t, err, ErrInUse)
		require.NotContains(t, err.Error(), "\n")
		require.NoError(t, shut(other))
		require.Equal(t, []string{o.path}, o.disk.Files())
		o.afterwards(t, o.disk, "when it is free")
		require.NoError(t, o.disk.Close())
	}
}

func TestCopyBeforeAnUpgradeIsForThisUserAlone(t *testing.T) {
	path, _ := filledFile(t)
	leftAt(t, path, 26)
	s, err := Open(t.Context(), filepath.Dir(path))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	info, err := os.Stat(s.Upgraded().Copy)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm(), "it has the digests of PINs")
	_, err = os.Stat(s.Upgraded().Copy + ".part")
	require.True(t, errors.Is(err, os.ErrNotExist))
}
