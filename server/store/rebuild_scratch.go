package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"gorm.io/gorm"
)

// scratch is a database with the tables of this Stillsaw that is thrown away
// after use: the entries of a record are replayed into it (see replay) and its
// tables held against those kept (see compareTable). It has no writer, keeps no
// foreign keys and cares for no power cut.
type scratch struct {
	dir string
	db  *gorm.DB

	before func(seq int64) error // called before each entry is replayed, if set
	apart  bool                  // each entry is written by itself, as a command writes it

	ahead *ahead
	late  *gorm.DB // the way for projections whose rows wait in ahead
}

// scratchPragmas make writing quick. What is lost in a crash is made again, and
// the cache is bounded: a rebuild takes the same memory for any record.
var scratchPragmas = []string{
	"PRAGMA page_size = 8192", "PRAGMA journal_mode = MEMORY", "PRAGMA synchronous = OFF", "PRAGMA foreign_keys = OFF",
	"PRAGMA locking_mode = EXCLUSIVE", "PRAGMA cache_size = -32768", "PRAGMA temp_store = FILE",
}

// indexesForReplay are those that projections look up rows by; the others only
// cost time in a scratch database and are dropped. Keys stay.
var indexesForReplay = []string{"inspections_by_time", "run_checks_by_until"}

// scratchStatements bounds the prepared statements kept: there are about two a
// table and one for each number of rows inserted together.
const scratchStatements = 400

// newScratch makes an empty scratch database in a new folder under under, the
// system's own for "". Close removes it.
func newScratch(ctx context.Context, under string) (c *scratch, err error) {
	dir, err := os.MkdirTemp(under, "stillsaw-rebuild-*")
	if err != nil {
		return nil, fmt.Errorf("no folder for the rebuild can be made in %s: %w", under, Cause(err))
	}
	c = &scratch{dir: dir}
	defer func() {
		if err != nil {
			err = errors.Join(err, c.Close())
		}
	}()
	path := filepath.Join(dir, FileName)
	config := quietly()
	config.PrepareStmtMaxSize = scratchStatements
	c.db, err = gorm.Open(dialector("file:"+escape(path)), config)
	if err != nil {
		return c, err
	}
	pool, err := c.db.DB()
	if err != nil {
		return c, err
	}
	pool.SetMaxOpenConns(1) // pragmas and transactions are of a connection
	pool.SetMaxIdleConns(1)
	if err := c.run(scratchPragmas...); err != nil {
		return c, err
	}
	if _, err := migrate(ctx, On{}, c.db, path); err != nil {
		return c, err
	}
	if err := c.run("PRAGMA foreign_keys = OFF"); err != nil { // migrate leaves them on
		return c, err
	}
	var indexes []string
	if err := c.gorm().Raw("SELECT name FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL AND name NOT IN ?", indexesForReplay).Scan(&indexes).Error; err != nil {
		return c, err
	}
	for _, index := range indexes {
		if err := c.run("DROP INDEX " + index); err != nil {
			return c, err
		}
	}
	c.db = c.db.Session(&gorm.Session{PrepareStmt: true}) // only now: a migration is many statements in one
	c.ahead = newAhead(pool)
	c.late = c.ahead.first(c.db)
	return c, nil
}

// Close throws the database away.
func (c *scratch) Close() error {
	var err error
	if c.ahead != nil {
		err = c.ahead.close()
	}
	if c.db != nil {
		err = errors.Join(err, shut(c.db))
	}
	return errors.Join(err, os.RemoveAll(c.dir))
}

func (c *scratch) gorm() *gorm.DB { return c.db.Session(&gorm.Session{NewDB: true}) }

// run executes statements that are used once and so not worth keeping prepared.
func (c *scratch) run(statements ...string) error {
	pool, err := c.db.DB()
	if err != nil {
		return err
	}
	for _, statement := range statements {
		if _, err := pool.Exec(statement); err != nil {
			return fmt.Errorf("%s: %w", statement, err)
		}
	}
	return nil
}

var _ reader = (*scratch)(nil)

func (c *scratch) lasting() *lasting { return nil }
