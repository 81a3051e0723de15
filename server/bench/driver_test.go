package bench

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"strings"
	"sync"
	"sync/atomic"

	"stillsaw/server/store"
)

// engine is the name this build's SQLite driver is registered under.
func engine() string {
	if store.Engine == "SQLite through cgo" {
		return "sqlite3"
	}
	return "sqlite"
}

// watched is this build's SQLite with somebody looking on: it counts statements,
// keeps what is written, and can leave writes out.
type watched struct {
	driver.Driver
	statements atomic.Int64
	skips      atomic.Pointer[func(sql string) bool] // statements answered as done and not carried out

	mu      sync.Mutex
	keeping bool
	kept    []written
}

// written is one statement that changed something, with its values.
type written struct {
	sql  string
	args []any
}

// watch registers a watched driver under name.
func watch(name string) *watched {
	db, err := sql.Open(engine(), "")
	if err != nil {
		panic(err)
	}
	w := &watched{Driver: db.Driver()}
	sql.Register(name, w)
	return w
}

// leaveOut has statements that skip names answered without being carried out, nil
// none.
func (w *watched) leaveOut(skip func(sql string) bool) {
	if skip == nil {
		w.skips.Store(nil)
		return
	}
	w.skips.Store(&skip)
}

// keep notes every write that act makes.
func (w *watched) keep(act func()) []written {
	w.mu.Lock()
	w.keeping, w.kept = true, nil
	w.mu.Unlock()
	act()
	w.mu.Lock()
	defer w.mu.Unlock()
	w.keeping = false
	return w.kept
}

// writes tells whether a statement changes rows.
func writes(sql string) bool {
	return strings.HasPrefix(sql, "INSERT") || strings.HasPrefix(sql, "UPDATE") || strings.HasPrefix(sql, "DELETE")
}

func (w *watched) Open(dsn string) (driver.Conn, error) {
	conn, err := w.Driver.Open(dsn)
	if err != nil {
		return nil, err
	}
	return &watchedConn{conn.(wholeConn), w}, nil
}

// wholeConn is what both drivers' connections can do.
type wholeConn interface {
	driver.Conn
	driver.ConnBeginTx
	driver.ConnPrepareContext
	driver.ExecerContext
	driver.QueryerContext
}

type watchedConn struct {
	wholeConn
	w *watched
}

func (c *watchedConn) ExecContext(ctx context.Context, sql string, args []driver.NamedValue) (driver.Result, error) {
	c.w.statements.Add(1)
	if writes(sql) {
		c.w.mu.Lock()
		if c.w.keeping {
			values := make([]any, len(args))
			for i, a := range args {
				values[i] = a.Value
				if b, ok := a.Value.([]byte); ok {
					values[i] = append([]byte(nil), b...)
				}
			}
			c.w.kept = append(c.w.kept, written{sql, values})
		}
		c.w.mu.Unlock()
		if skip := c.w.skips.Load(); skip != nil && (*skip)(sql) {
			return done{}, nil
		}
	}
	return c.wholeConn.ExecContext(ctx, sql, args)
}

func (c *watchedConn) QueryContext(ctx context.Context, sql string, args []driver.NamedValue) (driver.Rows, error) {
	c.w.statements.Add(1)
	return c.wholeConn.QueryContext(ctx, sql, args)
}

// done is a write that was left out: one row, as far as anybody asks.
type done struct{}

func (done) LastInsertId() (int64, error) { return 1, nil }
func (done) RowsAffected() (int64, error) { return 1, nil }
