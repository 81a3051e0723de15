package store

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store/scratchdb"
)

// shared is an empty database of a PostgreSQL server, gone with the test.
func shared(t testing.TB) *Postgres {
	t.Helper()
	if !scratchdb.Asked() {
		t.Skip("needs a PostgreSQL server, see " + scratchdb.Variable)
	}
	address := scratchdb.New(t, "")
	p := openPostgres(t, address)
	t.Cleanup(func() { require.NoError(t, p.Close()) })
	return p
}

// tenant opens a mill of the database that is held by p.
func tenant(t testing.TB, p *Postgres, mill checklists.MillID, host string) (*Store, *MillHold) {
	t.Helper()
	require.NoError(t, p.AddTenant(t.Context(), Tenant{Mill: mill, Host: host, Made: six}))
	hold, err := p.Hold(t.Context(), mill, "127.0.0.1:1")
	require.NoError(t, err)
	s, err := p.Open(t.Context(), t.TempDir(), mill, hold)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, errors.Join(s.Close(), p.LetGo(context.Background(), hold))) })
	return s, hold
}

// filled sets the mill of a store up and has something of everything happen there.
func filled(t testing.TB, s *Store) *Mill {
	t.Helper()
	m := setUp(t, s, s.Mill())
	publishAll(t, m)
	for i, who := range []procedures.Person{ada, ben, sam} {
		trained(t, m, who, six.Add(time.Duration(i-45)*time.Hour))
	}
	fill(t, m)
	return m
}

// twoMills are two mills of a database, each with something of everything.
func twoMills(t testing.TB, p *Postgres) (mine, other *Store) {
	t.Helper()
	mine, _ = tenant(t, p, fernhollow, "fernhollow.example")
	other, _ = tenant(t, p, neighbour, "neighbour.example")
	filled(t, mine)
	filled(t, other)
	return mine, other
}

// Two mills with the same people, lists and acts lie in the same tables. Over the
// connections of one no statement reads, changes, takes away or adds a row of the
// other, in any table, however it is asked; over one that says nothing there are none.
// Seen to fail with the policies taken off.
func TestAMillSeesNothingOfAnother(t *testing.T) {
	p := shared(t)
	mine, other := twoMills(t, p)
	all, err := tablesIn(mine.reads)
	require.NoError(t, err)
	refusals := "row-level security"
	if p.spread {
		refusals = "partition value" // no row goes to where another's are
	}
	full := 0
	for _, table := range all {
		column := millColumn(table)
		if column == "" {
			continue
		}
		count := func(db *gorm.DB, where string, args ...any) (n int64) {
			require.NoError(t, db.Raw("SELECT count(*) FROM "+table+" WHERE "+where, args...).Scan(&n).Error, table)
			return n
		}
		own := count(mine.reads, "TRUE")
		if own > 0 {
			full++
		}
		require.Equal(t, own, count(mine.reads, column+" = ?", fernhollow), table)
		require.Zero(t, count(mine.reads, column+" <> ?", fernhollow), table)
		theirs := count(other.reads, "TRUE")
		for _, statement := range []string{
			"UPDATE " + table + " SET " + column + " = " + column + " WHERE " + column + " = ?",
			"DELETE FROM " + table + " WHERE " + column + " = ?",
		} {
			done := mine.writes.Exec(statement, neighbour)
			require.NoError(t, done.Error, statement)
			require.Zero(t, done.RowsAffected, statement)
		}
		if own > 0 {
			err := mine.writes.Exec("UPDATE "+table+" SET "+column+" = ?", neighbour).Error
			require.Regexp(t, refusals, err, "%s: a row is made the other's", table)
			err = other.writes.Exec("UPDATE "+table+" SET "+column+" = ?", fernhollow).Error
			require.Regexp(t, refusals, err, table)
		}
		require.Equal(t, theirs, count(other.reads, "TRUE"), "%s: the other has its rows still", table)

		var n int64 // over a connection that says nothing
		require.NoError(t, p.writes.QueryRow(t.Context(), "SELECT count(*) FROM "+pgx.Identifier{table}.Sanitize()).Scan(&n))
		require.Zero(t, n, table)
	}
	require.Greater(t, full, 50, "tables with rows")
	for _, s := range []*Store{mine, other} {
		reports, err := s.Verify(t.Context())
		require.NoError(t, err)
		require.Len(t, reports, 1)
		require.True(t, reports[s.Mill()].OK(), reports[s.Mill()].Faults)
		whole(t, s.Of(s.Mill()))
	}
}

// A policy somebody took off is there again after the next start.
func TestAPolicyTakenOffComesBack(t *testing.T) {
	p := shared(t)
	s, _ := tenant(t, p, fernhollow, "fernhollow.example")
	setUp(t, s, fernhollow)
	seen := func() (n int64) {
		require.NoError(t, p.writes.QueryRow(t.Context(), "SELECT count(*) FROM people").Scan(&n))
		return n
	}
	for _, statement := range []string{"ALTER TABLE people DISABLE ROW LEVEL SECURITY", "ALTER TABLE people NO FORCE ROW LEVEL SECURITY", "DROP POLICY one_mill ON people"} {
		_, err := p.writes.Exec(t.Context(), statement)
		require.NoError(t, err)
		require.NoError(t, p.migrate(t.Context()))
		require.Zero(t, seen(), statement)
	}
	require.EqualValues(t, 4, count(t, s, "people"))
}

func count(t *testing.T, s *Store, table string) (n int64) {
	t.Helper()
	require.NoError(t, s.reads.Table(table).Count(&n).Error)
	return n
}

// One process at a time has a mill. Where the one that had it went quiet and another
// took over, the first writes nothing more, and what it had in memory bears on nothing.
func TestAMillTakenOverIsWrittenByOneProcess(t *testing.T) {
	p := shared(t)
	first, hold := tenant(t, p, fernhollow, "fernhollow.example")
	m := setUp(t, first, fernhollow)
	publishAll(t, m)

	address := p.writes.Config().ConnString()
	second := openPostgres(t, address)
	defer func() { require.NoError(t, second.Close()) }()
	var elsewhere *HeldElsewhere
	_, err := second.Hold(t.Context(), fernhollow, "127.0.0.1:2")
	require.ErrorAs(t, err, &elsewhere)
	require.Equal(t, HeldElsewhere{fernhollow, "127.0.0.1:1"}, *elsewhere)
	_, err = second.Hold(t.Context(), neighbour, "127.0.0.1:2")
	require.ErrorIs(t, err, ErrNotFound, "no such tenant")

	require.NoError(t, p.holder.conn.Close(t.Context())) // its process is cut off
	var later *MillHold
	require.Eventually(t, func() bool {
		later, err = second.Hold(t.Context(), fernhollow, "127.0.0.1:2")
		return err == nil
	}, 10*time.Second, 10*time.Millisecond)
	require.Greater(t, later.term, hold.term)
	_, err = stop(t.Context(), m, NewID(), "from the first")
	require.ErrorIs(t, err, ErrNotHeld)

	s, err := second.Open(t.Context(), t.TempDir(), fernhollow, later)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	_, err = stop(t.Context(), s.Of(fernhollow), NewID(), "from the second")
	require.NoError(t, err)
	clean(t, s)
}

// millInAFile is a mill with its documents in force, in a file whatever is asked for.
func millInAFile(t *testing.T) (dir string, s *Store, m *Mill) {
	t.Helper()
	dir = t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	m = setUp(t, s, fernhollow)
	publishAll(t, m)
	return dir, s, m
}

// noKeys is for a mill moved in whose record nobody goes on signing.
func noKeys(Moved) error { return nil }

// A mill goes from a file to a server and back with its record and every row.
func TestAMillIsMovedThereAndBack(t *testing.T) {
	p := shared(t)
	dir, at, m := millInAFile(t)
	trained(t, m, ada, six.Add(-45*time.Hour))
	trained(t, m, ben, six.Add(-45*time.Hour))
	trained(t, m, sam, six.Add(-45*time.Hour))
	fill(t, m)
	was := hashedRows(t, at.reads)
	head, err := m.Head(t.Context())
	require.NoError(t, err)
	_, err = p.MoveIn(t.Context(), dir, "fernhollow.example", noKeys)
	require.ErrorIs(t, err, ErrInUse)
	require.NoError(t, at.Close())

	moved, err := p.MoveIn(t.Context(), dir, "Fernhollow.Example:443", noKeys)
	require.NoError(t, err)
	require.Equal(t, Moved{fernhollow, head.Size, head.Root}, moved)
	_, err = p.MoveIn(t.Context(), dir, "another.example", noKeys)
	require.ErrorContains(t, err, "already")
	found, err := p.TenantAt(t.Context(), "fernhollow.example")
	require.NoError(t, err)
	require.Equal(t, fernhollow, found.Mill)

	hold, err := p.Hold(t.Context(), fernhollow, "")
	require.NoError(t, err)
	s, err := p.Open(t.Context(), t.TempDir(), fernhollow, hold)
	require.NoError(t, err)
	require.Equal(t, was, hashedRows(t, s.reads), "every row of every table")
	_, err = stop(t.Context(), s.Of(fernhollow), NewID(), "on the server")
	require.NoError(t, err)
	whole(t, s.Of(fernhollow))
	now := hashedRows(t, s.reads)
	back := filepath.Join(t.TempDir(), "back")
	out, err := s.MoveOut(t.Context(), back)
	require.NoError(t, err)
	require.Equal(t, head.Size+1, out.Entries)
	_, err = s.MoveOut(t.Context(), back)
	require.ErrorContains(t, err, "already")
	require.NoError(t, s.Close())

	again, err := Open(t.Context(), back)
	require.NoError(t, err)
	defer func() { require.NoError(t, again.Close()) }()
	require.Equal(t, now, hashedRows(t, again.reads))
	whole(t, again.Of(fernhollow))
	_, err = stop(t.Context(), again.Of(fernhollow), NewID(), "in a file again")
	require.NoError(t, err)
}

// Of a mill that comes in halfway nothing is there: no name is taken, nobody reaches it
// meanwhile, and it comes in whole the next time.
func TestAMillComesInWholeOrNotAtAll(t *testing.T) {
	p := shared(t)
	dir, at, m := millInAFile(t)
	head, err := m.Head(t.Context())
	require.NoError(t, err)
	require.NoError(t, at.Close())
	none := func(why string) {
		t.Helper()
		_, err := p.TenantAt(t.Context(), "fernhollow.example")
		require.ErrorIs(t, err, ErrNotFound, why)
		require.ErrorIs(t, p.Remove(t.Context(), fernhollow, head.Root), ErrNotFound, why)
	}
	_, err = p.MoveIn(t.Context(), dir, "fernhollow.example", func(moved Moved) error {
		require.Equal(t, head.Root, moved.Root)
		none("while it is under way")
		return errors.New("the disk for the keys is full")
	})
	require.ErrorContains(t, err, "the disk for the keys is full")
	none("afterwards")
	cancelled, stop := context.WithCancel(t.Context())
	_, err = p.MoveIn(cancelled, dir, "fernhollow.example", func(Moved) error { stop(); return cancelled.Err() })
	require.ErrorIs(t, err, context.Canceled)
	none("interrupted")
	moved, err := p.MoveIn(t.Context(), dir, "fernhollow.example", noKeys)
	require.NoError(t, err)
	require.Equal(t, head.Size, moved.Entries)
}

// A mill that was removed and comes in again is another's than who held it before: a
// term never comes twice.
func TestWhoHeldARemovedMillWritesNothingToTheOneThatComesInAgain(t *testing.T) {
	p := shared(t)
	dir, at, _ := millInAFile(t)
	require.NoError(t, at.Close())
	taken := func() (*Store, *MillHold) {
		moved, err := p.MoveIn(t.Context(), dir, "fernhollow.example", noKeys)
		require.NoError(t, err)
		hold, err := p.Hold(t.Context(), moved.Mill, "")
		require.NoError(t, err)
		s, err := p.Open(t.Context(), t.TempDir(), moved.Mill, hold)
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, s.Close()) })
		return s, hold
	}
	first, lost := taken()
	_, err := stop(t.Context(), first.Of(fernhollow), NewID(), "by who had it first")
	require.NoError(t, err)
	require.NoError(t, p.LoseWhatIsNot(t.Context(), []*MillHold{lost}))
	require.False(t, lost.Lost(), "it is its own still")
	head, err := first.Of(fernhollow).Head(t.Context())
	require.NoError(t, err)
	require.NoError(t, p.Remove(t.Context(), fernhollow, head.Root))
	second, held := taken()
	_, err = stop(t.Context(), first.Of(fernhollow), NewID(), "of before")
	require.ErrorIs(t, err, ErrNotHeld)
	_, err = stop(t.Context(), second.Of(fernhollow), NewID(), "of now")
	require.NoError(t, err)
	require.NoError(t, p.LoseWhatIsNot(t.Context(), []*MillHold{lost, held}))
	require.True(t, lost.Lost())
	require.False(t, held.Lost())
	whole(t, second.Of(fernhollow))
}

// Which mills are no more its own a process finds out without an act: those renamed or
// removed, and all of them where the tables were upgraded.
func TestAProcessLosesWhatIsNotItsOwn(t *testing.T) {
	p := shared(t)
	var holds []*MillHold
	for _, mill := range []checklists.MillID{"renamed", "removed", "kept"} {
		_, hold := tenant(t, p, mill, string(mill)+".example")
		holds = append(holds, hold)
	}
	lost := func() (all []bool) {
		t.Helper()
		require.NoError(t, p.LoseWhatIsNot(t.Context(), holds))
		for _, hold := range holds {
			all = append(all, hold.Lost())
		}
		return all
	}
	require.Equal(t, []bool{false, false, false}, lost())
	require.NoError(t, p.RenameTenant(t.Context(), "renamed", "other.example"))
	require.NoError(t, p.Remove(t.Context(), "removed", tlog.Hash{}))
	require.Equal(t, []bool{true, true, false}, lost())
	_, err := p.writes.Exec(t.Context(), "INSERT INTO migrations (number, name) SELECT max(number) + 1, 'of a newer one' FROM migrations")
	require.NoError(t, err)
	require.Equal(t, []bool{true, true, true}, lost())
}

// A mill in use is copied out as it is at one moment.
func TestAMillIsMovedOutWhileItIsInUse(t *testing.T) {
	p := shared(t)
	s, _ := tenant(t, p, fernhollow, "fernhollow.example")
	m := setUp(t, s, fernhollow)
	publishAll(t, m)
	begun, over, written := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() {
		for n := 0; ; n++ {
			if _, err := stop(t.Context(), m, NewID(), fmt.Sprintf("number %d", n)); err != nil {
				written <- err
				return
			}
			if n == 0 {
				close(begun)
			}
			select {
			case <-over:
				written <- nil
				return
			default:
			}
		}
	}()
	<-begun
	for range 3 {
		dir := filepath.Join(t.TempDir(), "out")
		moved, err := s.MoveOut(t.Context(), dir)
		require.NoError(t, err)
		reports, _, err := VerifyIn(t.Context(), dir)
		require.NoError(t, err)
		require.Equal(t, moved.Entries, reports[fernhollow].Entries)
	}
	close(over)
	require.NoError(t, <-written)
}

// What a browser can't ask for is no name of a mill.
func TestNamesOfMills(t *testing.T) {
	for text, want := range map[string]string{"Mill.Example.com:8443": "mill.example.com", "saw-2.example.": "saw-2.example", "10.0.0.7": "10.0.0.7", "localhost": "localhost", "xn--mhle-0ra.example": "xn--mhle-0ra.example"} {
		got, err := hostName(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got)
	}
	for _, text := range []string{"", ".", "https://mill.example.com", "mill.example.com/record", "a b", "a\tb", "*", "<b>", "a..b", "-x.example", "x-.example", "mühle.example", "me@mill.example", strings.Repeat("a", 64) + ".example", strings.Repeat("abcdefg.", 32) + "example"} {
		_, err := hostName(text)
		require.ErrorContains(t, err, "is no name of a computer", text)
	}
}

// A record somebody altered is not moved, and nothing of it stays.
func TestAnAlteredMillIsNotMoved(t *testing.T) {
	p := shared(t)
	dir, at, _ := millInAFile(t)
	require.NoError(t, at.writes.Exec("UPDATE openings SET value = value || 'x'").Error)
	require.NoError(t, at.Close())
	_, err := p.MoveIn(t.Context(), dir, "fernhollow.example", noKeys)
	require.ErrorContains(t, err, "not whole")
	tenants, err := p.Tenants(t.Context())
	require.NoError(t, err)
	require.Empty(t, tenants)
	_, err = os.Stat(filepath.Join(dir, FileName))
	require.NoError(t, err)
}

// hashedRows is a digest of the rows of each table, whatever database they lie in.
func hashedRows(t *testing.T, db *gorm.DB) map[string]string {
	t.Helper()
	all, err := tablesIn(db)
	require.NoError(t, err)
	hashed := map[string]string{}
	for _, table := range all {
		if table == "migrations" {
			continue
		}
		shape, err := shapeOf(&Tx{db: db}, table)
		require.NoError(t, err)
		c, err := openCursor(t.Context(), &Tx{db: db}, shape)
		require.NoError(t, err)
		var rows []string
		for require.NoError(t, c.next()); c.row != nil; require.NoError(t, c.next()) {
			row := ""
			for _, value := range c.row {
				if bytes, is := value.([]byte); is {
					value = string(bytes)
				}
				row += fmt.Sprintf("%v\x00", value)
			}
			rows = append(rows, row)
		}
		c.close()
		slices.Sort(rows)
		hashed[table] = fmt.Sprintf("%d rows %x", len(rows), sha256.Sum256(fmt.Append(nil, rows)))
	}
	return hashed
}

// The two schemas have the same tables, columns and keys.
func TestBothSchemasAreTheSame(t *testing.T) {
	p := shared(t)
	s, _ := tenant(t, p, fernhollow, "fernhollow.example")
	file, err := Open(t.Context(), t.TempDir())
	require.NoError(t, err)
	defer func() { require.NoError(t, file.Close()) }()
	names, err := tablesIn(file.reads)
	require.NoError(t, err)
	there, err := tablesIn(s.reads)
	require.NoError(t, err)
	require.Equal(t, names, there)
	for _, table := range names {
		want, err := shapeOf(&Tx{db: file.reads}, table)
		require.NoError(t, err)
		got, err := shapeOf(&Tx{db: s.reads}, table)
		require.NoError(t, err)
		slices.Sort(want.columns)
		slices.Sort(got.columns)
		require.Equal(t, want, got)
	}
	var steps, made []string
	require.NoError(t, file.reads.Raw("SELECT name FROM migrations ORDER BY number").Scan(&steps).Error)
	require.NoError(t, s.reads.Raw("SELECT name FROM migrations ORDER BY number").Scan(&made).Error)
	require.Equal(t, steps, made)
}

// A server that may lose what it acknowledged, or a user the policies don't hold for,
// is refused, and no error has the password.
func TestUnsafeServersAreRefused(t *testing.T) {
	if !scratchdb.Asked() {
		t.Skip("needs a PostgreSQL server, see " + scratchdb.Variable)
	}
	address := scratchdb.New(t, "")
	_, err := OpenPostgres(t.Context(), address+"?options=-c%20synchronous_commit%3Doff", PostgresOptions{})
	require.Regexp(t, "switch (it|them) on", err)
	require.NotContains(t, err.Error(), passwordIn(t, address))
	_, err = OpenPostgres(t.Context(), address+"_not_there", PostgresOptions{})
	require.Error(t, err)
	require.NotContains(t, err.Error(), passwordIn(t, address))
	_, err = OpenPostgres(t.Context(), "postgres://mill:very secret@[", PostgresOptions{})
	require.ErrorContains(t, err, "must be written as")
	require.NotContains(t, err.Error(), "very secret")
}

func passwordIn(t *testing.T, address string) string {
	t.Helper()
	config, err := pgx.ParseConfig(address)
	require.NoError(t, err)
	if config.Password == "" {
		return "no password at all"
	}
	return ":" + config.Password + "@"
}

// Once a newer Stillsaw has upgraded the tables, an older one on the same database
// writes nothing more and takes no mill: it would read half of what the newer one keeps.
func TestAnOlderProcessStopsWhereANewerOneUpgraded(t *testing.T) {
	p := shared(t)
	s, hold := tenant(t, p, fernhollow, "fernhollow.example")
	m := setUp(t, s, fernhollow)
	publishAll(t, m)
	_, err := stop(t.Context(), m, NewID(), "before")
	require.NoError(t, err)
	head, err := m.Head(t.Context())
	require.NoError(t, err)

	_, err = p.writes.Exec(t.Context(), "INSERT INTO migrations (number, name) VALUES ($1, 'later')", p.step+1)
	require.NoError(t, err)
	_, err = stop(t.Context(), m, NewID(), "after")
	require.ErrorIs(t, err, ErrUpgraded)
	require.True(t, hold.Lost())
	now, err := m.Head(t.Context())
	require.NoError(t, err)
	require.Equal(t, head, now)
	require.NoError(t, p.LetGo(t.Context(), hold))
	_, err = p.Hold(t.Context(), fernhollow, "127.0.0.1:1")
	require.ErrorIs(t, err, ErrUpgraded)
	_, err = OpenPostgres(t.Context(), p.writes.Config().ConnString(), PostgresOptions{MayLose: true})
	require.ErrorIs(t, err, ErrUpgraded)
}

// A database of a server that was left at the step of the whole schema, with mills in
// it, is upgraded with what they have.
func TestAServersDatabaseIsUpgraded(t *testing.T) {
	p := shared(t)
	address := p.writes.Config().ConnString()
	s, hold := tenant(t, p, fernhollow, "fernhollow.example")
	filled(t, s)
	unpackBlanksIn(t, s.writes)
	was := hashedRows(t, s.reads)
	delete(was, "entries") // they get two columns, of nothing
	require.NoError(t, p.LetGo(t.Context(), hold))
	for _, statement := range []string{"ALTER TABLE entries DROP COLUMN blank_paths", "ALTER TABLE entries DROP COLUMN blank_salts"} {
		_, err := p.writes.Exec(t.Context(), statement)
		require.NoError(t, err)
	}
	_, err := p.writes.Exec(t.Context(), "DELETE FROM migrations WHERE number > $1", postgresWhole)
	require.NoError(t, err)

	later := openPostgres(t, address)
	defer func() { require.NoError(t, later.Close()) }()
	again, err := later.Hold(t.Context(), fernhollow, "127.0.0.1:2")
	require.NoError(t, err)
	upgraded, err := later.Open(t.Context(), t.TempDir(), fernhollow, again)
	require.NoError(t, err)
	defer func() { require.NoError(t, upgraded.Close()) }()
	now := hashedRows(t, upgraded.reads)
	delete(now, "entries")
	require.Equal(t, was, now)
	whole(t, upgraded.Of(fernhollow))
	signed(t, upgraded.Of(fernhollow), NewID(), ada, six.Add(time.Hour))
	var packed int64
	require.NoError(t, upgraded.reads.Raw("SELECT count(*) FROM entries WHERE blank_paths <> ''").Scan(&packed).Error)
	require.Positive(t, packed, "as this version keeps them")
	whole(t, upgraded.Of(fernhollow))
}

// A mill is removed with every row, and only it, once its record is named as it stands;
// who held it writes nothing more.
func TestAMillIsRemoved(t *testing.T) {
	p := shared(t)
	mine, other := twoMills(t, p)
	was := hashedRows(t, other.reads)
	head, err := mine.Of(fernhollow).Head(t.Context())
	require.NoError(t, err)
	_, err = stop(t.Context(), mine.Of(fernhollow), NewID(), "after it was copied out")
	require.NoError(t, err)
	var goesOn *RecordGoesOn
	require.ErrorAs(t, p.Remove(t.Context(), fernhollow, head.Root), &goesOn)
	require.Equal(t, head.Size+1, goesOn.Entries)
	require.NotZero(t, count(t, mine, "entries"))

	head, err = mine.Of(fernhollow).Head(t.Context())
	require.NoError(t, err)
	// Without its head it has a record still.
	_, err = p.writes.Exec(t.Context(), "BEGIN; SELECT set_config('"+millSetting+"', '"+string(fernhollow)+"', true); DELETE FROM log_heads; COMMIT")
	require.NoError(t, err)
	require.ErrorAs(t, p.Remove(t.Context(), fernhollow, tlog.Hash{}), &goesOn)
	require.NoError(t, p.Remove(t.Context(), fernhollow, head.Root))
	for table, rows := range hashedRows(t, mine.reads) {
		if table != "migrations" {
			require.Regexp(t, "^0 rows", rows, table)
		}
	}
	require.Equal(t, was, hashedRows(t, other.reads))
	whole(t, other.Of(neighbour))
	_, err = stop(t.Context(), mine.Of(fernhollow), NewID(), "from who held it")
	require.ErrorIs(t, err, ErrNotHeld)
	_, err = p.TenantAt(t.Context(), "fernhollow.example")
	require.ErrorIs(t, err, ErrNotFound)
	require.ErrorIs(t, p.Remove(t.Context(), fernhollow, head.Root), ErrNotFound)

	// One that was never set up has no record.
	require.NoError(t, p.AddTenant(t.Context(), Tenant{Mill: "unused", Host: "unused.example", Made: six}))
	require.ErrorAs(t, p.Remove(t.Context(), "unused", head.Root), &goesOn)
	require.NoError(t, p.Remove(t.Context(), "unused", tlog.Hash{}))
}

// A mill is reached under another name: who has it under the earlier one writes nothing
// more and lets go.
func TestAMillIsRenamed(t *testing.T) {
	p := shared(t)
	s, hold := tenant(t, p, fernhollow, "fernhollow.example")
	m := setUp(t, s, fernhollow)
	publishAll(t, m)
	require.NoError(t, p.AddTenant(t.Context(), Tenant{Mill: neighbour, Host: "neighbour.example", Made: six}))
	require.ErrorContains(t, p.RenameTenant(t.Context(), fernhollow, "Neighbour.example"), "already")
	require.ErrorContains(t, p.RenameTenant(t.Context(), fernhollow, "no name"), "is no name")
	require.ErrorIs(t, p.RenameTenant(t.Context(), "nobody", "brook.example"), ErrNotFound)
	_, err := stop(t.Context(), m, NewID(), "as it is")
	require.NoError(t, err)

	require.NoError(t, p.RenameTenant(t.Context(), fernhollow, "Brook.example"))
	_, err = p.TenantAt(t.Context(), "fernhollow.example")
	require.ErrorIs(t, err, ErrNotFound)
	found, err := p.TenantAt(t.Context(), "brook.example")
	require.NoError(t, err)
	require.Equal(t, fernhollow, found.Mill)
	_, err = stop(t.Context(), m, NewID(), "under the earlier name")
	require.ErrorIs(t, err, ErrNotHeld)
	require.True(t, hold.Lost())
	again, err := p.Hold(t.Context(), fernhollow, "127.0.0.1:1")
	require.NoError(t, err)
	later, err := p.Open(t.Context(), t.TempDir(), fernhollow, again)
	require.NoError(t, err)
	_, err = stop(t.Context(), later.Of(fernhollow), NewID(), "under the new one")
	require.NoError(t, err)
	clean(t, later)
	require.NoError(t, later.Close())
}
