package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/stdlib"
	"github.com/stretchr/testify/require"
	"gorm.io/driver/postgres"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/store/scratchdb"
)

// overPlain is a mill's connections that say their mill in each transaction and at no
// other time, on a server that needs none of it.
func overPlain(t *testing.T, p *Postgres, mill checklists.MillID) *gorm.DB {
	t.Helper()
	pool, err := poolOf(t.Context(), p.writes.Config().ConnString(), 2, nil)
	require.NoError(t, err)
	db := sql.OpenDB(saysLate{millConnector{stdlib.GetPoolConnector(pool), mill, true}})
	db.SetMaxOpenConns(2)
	t.Cleanup(func() { require.NoError(t, db.Close()); pool.Close() })
	on, err := gorm.Open(postgres.New(postgres.Config{Conn: db, WithoutReturning: true}), quietly())
	require.NoError(t, err)
	return on
}

// saysLate is a connector whose connections are told of no mill when they are made.
type saysLate struct{ millConnector }

func (c saysLate) Connect(ctx context.Context) (conn driver.Conn, err error) {
	plain, err := c.Connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	return newSpreadConn(plain, c.mill)
}

// Where settings of a connection are not heard, each statement is in a transaction that
// says the mill, whether one was begun or not; nothing of it is left to the next.
func TestEachTransactionSaysItsMill(t *testing.T) {
	p := shared(t)
	s, _ := tenant(t, p, fernhollow, "fernhollow.example")
	setUp(t, s, fernhollow)
	db := overPlain(t, p, fernhollow)
	people := func(db *gorm.DB) (n int64) {
		require.NoError(t, db.Raw("SELECT count(*) FROM people").Scan(&n).Error)
		return n
	}
	said := func(db *gorm.DB) (mill string) {
		require.NoError(t, db.Raw("SELECT coalesce(current_setting('"+millSetting+"', true), '')").Scan(&mill).Error)
		return mill
	}
	require.EqualValues(t, 4, people(db))
	require.Equal(t, string(fernhollow), said(db))
	over, err := db.DB()
	require.NoError(t, err)
	under := func() (mill string) {
		conn, err := over.Conn(t.Context())
		require.NoError(t, err)
		defer conn.Close()
		require.NoError(t, conn.Raw(func(c any) error {
			return c.(*spreadConn).Conn.Conn().QueryRow(t.Context(), "SELECT coalesce(current_setting('"+millSetting+"', true), '')").Scan(&mill)
		}))
		return mill
	}
	require.Empty(t, under(), "once the rows were read")

	done := db.Exec("UPDATE people SET name = name")
	require.NoError(t, done.Error)
	require.EqualValues(t, 4, done.RowsAffected)
	require.Empty(t, under(), "once a statement was carried out")

	require.ErrorContains(t, db.Exec("UPDATE people SET nothing = 1").Error, "nothing")
	require.ErrorContains(t, db.Raw("SELECT nothing FROM people").Scan(new(string)).Error, "nothing")
	require.EqualValues(t, 4, people(db), "after refusals")

	undone := errors.New("taken back")
	require.ErrorIs(t, db.Transaction(func(tx *gorm.DB) error {
		require.Equal(t, string(fernhollow), said(tx))
		require.NoError(t, tx.Exec("DELETE FROM people WHERE id IN (SELECT id FROM people AS p WHERE NOT EXISTS (SELECT 1 FROM credentials AS c WHERE c.mill = p.mill AND c.person = p.id))").Error)
		require.NoError(t, tx.Exec("SAVEPOINT here").Error)
		return undone
	}), undone)
	require.EqualValues(t, 4, people(db))
	require.Empty(t, under(), "once a transaction ended")
	require.NoError(t, db.Transaction(func(tx *gorm.DB) error {
		require.EqualValues(t, 4, people(tx))
		return nil
	}))

	_, err = over.PrepareContext(t.Context(), "SELECT 1")
	require.ErrorContains(t, err, "only be prepared in a transaction")
	tx, err := over.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	prepared, err := tx.PrepareContext(t.Context(), "SELECT count(*) FROM people WHERE mill = $1")
	require.NoError(t, err)
	var n int64
	require.NoError(t, prepared.QueryRowContext(t.Context(), string(fernhollow)).Scan(&n))
	require.EqualValues(t, 4, n)
	require.NoError(t, tx.Rollback())

	ctx, stop := context.WithCancel(t.Context())
	rows, err := db.WithContext(ctx).Raw("SELECT generate_series(1, 100000)").Rows()
	require.NoError(t, err)
	require.True(t, rows.Next())
	stop() // the reader went away
	require.Eventually(t, func() bool { return !rows.Next() }, 10*time.Second, time.Millisecond)
	_ = rows.Close()
	require.EqualValues(t, 4, people(db), "over another connection, or the same")

	none := overPlain(t, p, "o'neil")
	require.Zero(t, people(none))
	require.Equal(t, "o'neil", said(none))
}

// Mills lie on several servers, each with all its rows on one. Their records hold, no
// mill sees another's rows whichever servers they are on, and a mill is moved there from
// a file and back. It leaves nothing in the database but what it made: name one that is
// for this.
func TestMillsAreSpreadOverServers(t *testing.T) {
	address := os.Getenv(scratchdb.SpreadVariable)
	if address == "" {
		t.Skip("needs a server that spreads, see " + scratchdb.SpreadVariable)
	}
	made, err := OpenPostgres(t.Context(), address, PostgresOptions{})
	require.NoError(t, err)
	require.True(t, made.spread, "the database has the extension")
	defer func() { require.NoError(t, made.Close()) }()
	// What a mill does asks the server its rows are on, and no other, so that those of
	// the others go on when one stops.
	p, err := OpenPostgres(t.Context(), address+"?options=-c%20citus.multi_task_query_log_level%3Derror", PostgresOptions{})
	require.NoError(t, err)
	defer func() { require.NoError(t, p.Close()) }()

	const mills = 12
	stores := make([]*Store, mills)
	at := map[string]int{}
	var tables []string
	for i := range stores {
		mill := checklists.MillID(NewID())
		s, _ := tenant(t, p, mill, fmt.Sprintf("%s.example", mill))
		filled(t, s)
		stores[i] = s
		tables, err = tablesIn(s.reads)
		require.NoError(t, err)
		at[serverOf(t, p, "entries", mill)]++
		for _, table := range tables {
			if table != "migrations" {
				require.Equal(t, serverOf(t, p, "entries", mill), serverOf(t, p, table, mill), table)
			}
		}
	}
	require.Greater(t, len(at), 1, "servers that have mills")
	t.Log("mills on each server:", at)

	for i, s := range stores {
		other := stores[(i+1)%mills].Mill()
		every, err := made.Open(t.Context(), t.TempDir(), s.Mill(), nil) // may ask all servers
		require.NoError(t, err)
		for _, table := range tables {
			column := millColumn(table)
			if column == "" {
				continue
			}
			var n int64
			require.NoError(t, every.reads.Raw("SELECT count(*) FROM "+table+" WHERE "+column+" <> ?", s.Mill()).Scan(&n).Error, table)
			require.Zero(t, n, table)
			require.NoError(t, every.reads.Raw("SELECT count(*) FROM "+table+" WHERE "+column+" = ?", other).Scan(&n).Error, table)
			require.Zero(t, n, table)
			done := every.writes.Exec("DELETE FROM "+table+" WHERE "+column+" <> ?", s.Mill())
			require.NoError(t, done.Error, table)
			require.Zero(t, done.RowsAffected, table)
		}
		reports, err := s.Verify(t.Context())
		require.NoError(t, err)
		require.Len(t, reports, 1)
		require.True(t, reports[s.Mill()].OK(), reports[s.Mill()].Faults)
		whole(t, every.Of(s.Mill()))
		require.NoError(t, every.Close())
	}

	s, err := made.Open(t.Context(), t.TempDir(), stores[0].Mill(), nil)
	require.NoError(t, err)
	back := filepath.Join(t.TempDir(), "back")
	out, err := s.MoveOut(t.Context(), back)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	again, err := Open(t.Context(), back)
	require.NoError(t, err)
	head, err := again.Of(out.Mill).Head(t.Context())
	require.NoError(t, err)
	require.Equal(t, out.Root, head.Root)
	whole(t, again.Of(out.Mill))
	require.NoError(t, again.Close())

	// One of a file.
	dir := t.TempDir()
	from, err := Open(t.Context(), dir)
	require.NoError(t, err)
	mill := checklists.MillID(NewID())
	publishAll(t, setUp(t, from, mill))
	was := hashedRows(t, from.reads)
	require.NoError(t, from.Close())
	_, err = made.MoveIn(t.Context(), dir, string(mill)+".example", noKeys)
	require.NoError(t, err)
	hold, err := made.Hold(t.Context(), mill, "")
	require.NoError(t, err)
	s, err = made.Open(t.Context(), t.TempDir(), mill, hold)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	require.Equal(t, was, hashedRows(t, s.reads), "every row of every table")
	whole(t, s.Of(mill))
}

func serverOf(t *testing.T, p *Postgres, table string, mill checklists.MillID) (server string) {
	t.Helper()
	require.NoError(t, p.reads.QueryRow(t.Context(), "SELECT nodename || ':' || nodeport FROM pg_dist_placement JOIN pg_dist_node USING (groupid) WHERE shardid = get_shard_id_for_distribution_column($1::regclass, $2::text)", table, string(mill)).Scan(&server))
	return server
}
