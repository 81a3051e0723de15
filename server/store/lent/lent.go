// Package lent opens the stores of tests: in a file of the folder given, or where the
// environment names a PostgreSQL server in a database there that is the folder's own.
package lent

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"

	_ "github.com/jackc/pgx/v5/stdlib" // registers "pgx"

	"stillsaw/checklists"
	"stillsaw/server/store"
	"stillsaw/server/store/scratchdb"
)

// noteName is the file in which a folder says which database is its own, of which mill,
// and where the folder was then: a copy of it gets a copy of the database.
const noteName = "lent"

// Open is [store.Open]. A database of a server is dropped once its store is closed and
// ctx is over, or with the process.
func Open(ctx context.Context, dir string) (*store.Store, error) {
	if !scratchdb.Asked() {
		return store.Open(ctx, dir)
	}
	address, mill, err := databaseOf(dir)
	if err != nil {
		return nil, err
	}
	use := &use{address: address, open: true}
	p, err := store.OpenPostgres(ctx, address, store.PostgresOptions{MayLose: true, Closed: use.closed})
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, use.over)
	return p.Open(ctx, dir, mill, nil)
}

func databaseOf(dir string) (address string, mill checklists.MillID, err error) {
	note := filepath.Join(dir, noteName)
	text, err := os.ReadFile(note)
	like := ""
	mill = checklists.MillID(store.NewID())
	switch {
	case err == nil:
		said := strings.Split(string(text), "\n")
		if len(said) != 3 {
			return "", "", errors.New("the note of the database that is lent is not three lines: " + note)
		}
		if mill = checklists.MillID(said[1]); said[2] == dir {
			return said[0], mill, nil
		}
		like = said[0]
	case !errors.Is(err, fs.ErrNotExist):
		return "", "", err
	}
	if address, err = scratchdb.Keep(like); err != nil {
		return "", "", err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", "", err
	}
	return address, mill, os.WriteFile(note, []byte(address+"\n"+string(mill)+"\n"+dir), 0o600)
}

// use is one store on a database.
type use struct {
	address string

	mu         sync.Mutex
	open, done bool
}

func (u *use) closed() {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.open = false
	u.drop()
}

func (u *use) over() {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.done = true
	u.drop()
}

func (u *use) drop() {
	if u.done && !u.open {
		_ = scratchdb.DropOne(u.address) // what stays goes with the process
	}
}

// Past opens what a store is kept in past the store, as somebody with the disk or the
// server could. driver is the one of SQLite that the store uses.
func Past(driver string, st *store.Store) (*sql.DB, error) {
	if !scratchdb.Asked() {
		return sql.Open(driver, st.Path())
	}
	address, _, err := databaseOf(filepath.Dir(st.Path()))
	if err != nil {
		return nil, err
	}
	return sql.Open("pgx", address+"?options="+url.QueryEscape("-c stillsaw.mill="+string(st.Mill())))
}

// Tables asks for the names of all tables, as name, with more conditions after it.
func Tables() string {
	if scratchdb.Asked() {
		return "SELECT name FROM (SELECT tablename AS name FROM pg_tables WHERE schemaname = current_schema()) AS tables WHERE TRUE"
	}
	return "SELECT name FROM sqlite_master WHERE type = 'table'"
}

// Bytes is how a statement past the store writes bytes.
func Bytes(bytes []byte) string {
	if scratchdb.Asked() {
		return fmt.Sprintf(`'\x%x'::bytea`, bytes)
	}
	return fmt.Sprintf("x'%x'", bytes)
}

// Place is how a statement past the store writes the place of its nth value.
func Place(n int) string {
	if scratchdb.Asked() {
		return "$" + strconv.Itoa(n)
	}
	return "?"
}
