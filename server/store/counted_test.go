package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"regexp"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store/faultydisk"
)

// counter stands between the store and SQLite and counts statements, those of a
// script each by itself. One of them can fail, or have the power cut before it.
type counter struct {
	driver string // its name for database/sql
	of     driver.Driver

	impatient bool // waits a millisecond for locks in place of five seconds

	mu    sync.Mutex
	n     int
	at    int // the statement something becomes of, 0 for none
	power *faultydisk.Disk
	met   string // what that statement was
	said  []string
}

var errAsked = errors.New("the statement failed, as asked")

func newCounter(t *testing.T) *counter {
	t.Helper()
	db, err := sql.Open("sqlite", "")
	require.NoError(t, err)
	c := &counter{driver: "counted-" + NewID(), of: db.Driver()}
	require.NoError(t, db.Close())
	sql.Register(c.driver, c)
	return c
}

// on is a disk reached through the counter.
func (c *counter) on(d *faultydisk.Disk) On {
	return On{Driver: c.driver, VFS: d.Name(), Beside: faultydisk.Folder{Disk: d}}
}

// count begins anew: the statement at fails, or where power is a disk, that one's
// power is cut before it.
func (c *counter) count(at int, power *faultydisk.Disk) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.n, c.at, c.power, c.met, c.said = 0, at, power, "", nil
}

func (c *counter) next(statement string) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.n++
	c.said = append(c.said, statement)
	if c.n != c.at {
		return nil
	}
	c.met = statement
	if c.power != nil {
		c.power.Cut()
		return nil
	}
	return errAsked
}

func (c *counter) Open(name string) (driver.Conn, error) {
	conn, err := c.of.Open(name)
	if err != nil {
		return nil, err
	}
	return &countedConn{Conn: conn, c: c}, nil
}

type countedConn struct {
	driver.Conn
	c *counter
}

var endOfStatement = regexp.MustCompile(`;[ \t]*(\n|$)`)

func (conn *countedConn) ExecContext(ctx context.Context, script string, args []driver.NamedValue) (done driver.Result, err error) {
	parts := []string{script}
	if len(args) == 0 {
		parts = endOfStatement.Split(script, -1)
	}
	for _, statement := range parts {
		if statement == "" {
			continue
		}
		if err := errors.Join(conn.c.next(statement), conn.hurry(ctx)); err != nil {
			return nil, err
		}
		if done, err = conn.Conn.(driver.ExecerContext).ExecContext(ctx, statement, args); err != nil {
			return nil, err
		}
	}
	return done, nil
}

func (conn *countedConn) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	if err := conn.c.next(query); err != nil {
		return nil, err
	}
	return conn.Conn.(driver.QueryerContext).QueryContext(ctx, query, args)
}

func (conn *countedConn) hurry(ctx context.Context) (err error) {
	if conn.c.impatient {
		_, err = conn.Conn.(driver.ExecerContext).ExecContext(ctx, "PRAGMA busy_timeout = 1", nil)
	}
	return err
}

func (conn *countedConn) BeginTx(ctx context.Context, how driver.TxOptions) (driver.Tx, error) {
	if err := errors.Join(conn.c.next("BEGIN"), conn.hurry(ctx)); err != nil {
		return nil, err
	}
	tx, err := conn.Conn.(driver.ConnBeginTx).BeginTx(ctx, how)
	if err != nil {
		return nil, err
	}
	return &countedTx{tx, conn.c}, nil
}

type countedTx struct {
	driver.Tx
	c *counter
}

// Commit that fails takes all back, as one does whose disk fails.
func (tx *countedTx) Commit() error {
	if err := tx.c.next("COMMIT"); err != nil {
		return errors.Join(err, tx.Tx.Rollback())
	}
	return tx.Tx.Commit()
}

func (tx *countedTx) Rollback() error {
	if err := tx.c.next("ROLLBACK"); err != nil {
		return errors.Join(err, tx.Tx.Rollback())
	}
	return tx.Tx.Rollback()
}
