// Package lent opens the stores of tests: in a file of the folder given, or where the
// environment names a PostgreSQL server in a database there that is the folder's own.
package lent

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"stillsaw/checklists"
	"stillsaw/server/store"
	"stillsaw/server/store/scratchdb"
)

// Mill is the id of the one mill of a database that is lent.
const Mill = checklists.MillID("01990000-0000-7000-8000-0000000000dd")

// NewMillID is the id a mill is set up with in a database that is lent.
func NewMillID() checklists.MillID {
	if scratchdb.Asked() {
		return Mill
	}
	return checklists.MillID(store.NewID())
}

// noteName is the file in which a folder says which database is its own, and where the
// folder was then: a copy of it gets a copy of the database.
const noteName = "lent"

// Open is [store.Open]. A database of a server is dropped once its store is closed and
// ctx is over, or with the process.
func Open(ctx context.Context, dir string) (*store.Store, error) {
	if !scratchdb.Asked() {
		return store.Open(ctx, dir)
	}
	address, err := databaseOf(dir)
	if err != nil {
		return nil, err
	}
	use := &use{address: address, open: true}
	p, err := store.OpenPostgres(ctx, address, store.PostgresOptions{MayLose: true, Closed: use.closed})
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, use.over)
	return p.Open(ctx, dir, Mill, nil)
}

func databaseOf(dir string) (address string, err error) {
	note := filepath.Join(dir, noteName)
	text, err := os.ReadFile(note)
	like := ""
	switch {
	case err == nil:
		var at string
		if address, at, _ = strings.Cut(string(text), "\n"); at == dir {
			return address, nil
		}
		like = address
	case !errors.Is(err, fs.ErrNotExist):
		return "", err
	}
	if address, err = scratchdb.Keep(like); err != nil {
		return "", err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", err
	}
	return address, os.WriteFile(note, []byte(address+"\n"+dir), 0o600)
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
