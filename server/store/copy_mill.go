package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// copyRows copies every row that from sees into the same tables of to, which are empty
// but for the list of upgrades. Both are at the same step. Tables others refer to come
// first.
func copyRows(ctx context.Context, from, to *gorm.DB) error {
	order, err := inOrderOfReference(to)
	if err != nil {
		return err
	}
	there, err := tablesIn(from)
	if err != nil {
		return err
	}
	if missing := slices.DeleteFunc(slices.Clone(there), func(name string) bool { return slices.Contains(order, name) }); len(missing) > 0 {
		return fmt.Errorf("the table %s is unknown to this Stillsaw: it was added outside it", missing[0])
	}
	for _, table := range order {
		if table == "migrations" {
			continue
		}
		if err := copyTable(ctx, from, to, table); err != nil {
			return fmt.Errorf("table %s: %w", table, err)
		}
	}
	return nil
}

// inOrderOfReference are the tables there are, each after those it refers to: the
// order in which PostgreSQL's schema makes them.
func inOrderOfReference(db *gorm.DB) ([]string, error) {
	steps, err := postgresMigrations()
	if err != nil {
		return nil, err
	}
	there, err := tablesIn(db)
	if err != nil {
		return nil, err
	}
	var order []string
	for _, m := range steps {
		for _, table := range m.makes().tables {
			if slices.Contains(there, table) {
				order = append(order, table)
			}
		}
	}
	if len(order) != len(there) {
		return nil, errors.New("the database has tables that this Stillsaw doesn't know")
	}
	return order, nil
}

// truths are the columns of a table that PostgreSQL keeps truth values in; SQLite has
// numbers for some of them.
func truths(db *gorm.DB, table string) (names []string, err error) {
	if !onPostgres(db) {
		return nil, nil
	}
	err = db.Raw("SELECT column_name FROM information_schema.columns WHERE table_schema = current_schema() AND table_name = ? AND data_type = 'boolean'", table).Scan(&names).Error
	return names, err
}

// withTruths is a row of values of columns, with truth values in place of numbers in
// those that are bools.
func withTruths(row []any, columns, bools []string) []any {
	if len(bools) == 0 || row == nil {
		return row
	}
	row = slices.Clone(row)
	for i, column := range columns {
		if number, is := row[i].(int64); is && slices.Contains(bools, column) {
			row[i] = number != 0
		}
	}
	return row
}

func copyTable(ctx context.Context, from, to *gorm.DB, table string) (err error) {
	shape, err := shapeOf(&Tx{db: from}, table)
	if err != nil {
		return err
	}
	columns := slices.Concat(shape.key, shape.columns)
	bools, err := truths(to, table)
	if err != nil {
		return err
	}
	names := `"` + strings.Join(columns, `", "`) + `"`
	rows, err := from.WithContext(ctx).Raw(`SELECT ` + names + ` FROM "` + table + `"`).Rows()
	if err != nil {
		return err
	}
	into := `"` + table + `" (` + names + `)`
	tx, values := &Tx{db: to}, []any(nil)
	row, places := make([]any, len(columns)), make([]any, len(columns))
	for i := range row {
		places[i] = &row[i]
	}
	err = eachRow(rows, func() error {
		clear(row)
		if err := rows.Scan(places...); err != nil {
			return err
		}
		for i := range row {
			if bytes, is := row[i].([]byte); is {
				row[i] = append([]byte{}, bytes...) // one driver gives none as nil, which would be written as NULL
			}
		}
		values = append(values, withTruths(row, columns, bools)...)
		if len(values) < rowsAtOnce*len(columns) {
			return nil
		}
		err := tx.insert(into, values)
		values = values[:0]
		return err
	})
	if err != nil {
		return err
	}
	return tx.insert(into, values)
}

// copyInto writes what this store's mill has in a shared database to file, which is
// there and empty, as a database of SQLite. What look reads is of the same moment.
func (s *Store) copyInto(ctx context.Context, file string, look func(*Tx) error) (err error) {
	db, err := connect(file, "&_txlock=immediate"+erasing, 1)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	if _, err := migrate(ctx, On{}, db, file); err != nil {
		return err
	}
	err = s.reads.WithContext(ctx).Transaction(func(from *gorm.DB) error {
		if err := look(&Tx{db: from}); err != nil {
			return err
		}
		return db.WithContext(ctx).Transaction(func(to *gorm.DB) error { return copyRows(ctx, from, to) })
	})
	if err != nil {
		return err
	}
	return db.Exec("PRAGMA journal_mode = DELETE").Error // one file, as a copy is
}

// Moved is a mill that was copied from one database into another.
type Moved struct {
	Mill    checklists.MillID
	Entries int64 // of its record, which has the same root in both
	Root    tlog.Hash
}

// MoveIn copies the mill of the database of SQLite in the folder dir into this one,
// where its people will reach it under host. Nobody may have that database open. The
// record there is verified before and here after. Of what fails or is interrupted
// nothing is kept: the mill comes to be here at once, with all it has. The keys its
// record is signed with are files; before anybody reaches the mill, keys puts them into
// the folder it is opened with. The database in dir stays as it is.
func (p *Postgres) MoveIn(ctx context.Context, dir, host string, keys func(Moved) error) (moved Moved, err error) {
	if host, err = hostName(host); err != nil {
		return moved, err
	}
	path := filepath.Join(dir, FileName)
	if err := Unused(ctx, path); err != nil {
		return moved, fmt.Errorf("the database %s: %w; stop the Stillsaw there first", path, err)
	}
	_, err = readIn(ctx, dir, func(from *gorm.DB, at Schema) error {
		if at.Older() {
			return fmt.Errorf("the database %s was left by an earlier Stillsaw; start this one on it once, so that it is upgraded", path)
		}
		reports, err := verify(ctx, from, "")
		if err != nil {
			return err
		}
		if moved, err = theOne(reports, path); err != nil {
			return err
		}
		return p.moveIn(ctx, from, Tenant{Mill: moved.Mill, Host: host}, moved, keys)
	})
	return moved, err
}

func (p *Postgres) moveIn(ctx context.Context, from *gorm.DB, t Tenant, moved Moved, keys func(Moved) error) (err error) {
	to, err := p.of(moved.Mill, p.writes, 1)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shut(to)) }()
	return to.WithContext(ctx).Transaction(func(to *gorm.DB) error {
		if _, err := to.Statement.ConnPool.ExecContext(ctx, addTenant, t.row()...); err != nil {
			return t.taken(err)
		}
		if err := copyRows(ctx, from, to); err != nil {
			return err
		}
		reports, err := verifyAll(&Tx{db: to}, moved.Mill)
		if err != nil {
			return err
		}
		if err := sameRecord(reports, moved); err != nil {
			return err
		}
		return keys(moved)
	}, &sql.TxOptions{Isolation: sql.LevelRepeatableRead})
}

// MoveOut copies a mill from here into the folder dir, as a database of SQLite, which
// must not be there yet. The record is verified in both, here as it is when the copy
// begins: the mill may be in use. What lies here stays.
func (s *Store) MoveOut(ctx context.Context, dir string) (moved Moved, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return moved, fmt.Errorf("the folder %s can't be made: %w", dir, Cause(err))
	}
	path := filepath.Join(dir, FileName)
	err = backup(path, func(half string) error {
		return s.copyInto(ctx, half, func(tx *Tx) error {
			reports, err := verifyAll(tx, s.mill)
			if err == nil {
				moved, err = theOne(reports, s.postgres.address)
			}
			return err
		})
	})
	if err != nil {
		return moved, err
	}
	reports, _, err := VerifyIn(ctx, dir)
	if err == nil {
		err = sameRecord(reports, moved)
	}
	if err != nil {
		err = errors.Join(err, os.Remove(path))
	}
	return moved, err
}

// theOne is the one mill of a verified database, whose record must be whole.
func theOne(reports map[checklists.MillID]record.Report, where string) (Moved, error) {
	switch {
	case len(reports) == 0:
		return Moved{}, fmt.Errorf("no mill is set up in %s; there is nothing to move", where)
	case len(reports) > 1:
		return Moved{}, fmt.Errorf("%s has %d mills; one is moved at a time", where, len(reports))
	}
	for mill, report := range reports {
		if !report.OK() {
			return Moved{}, fmt.Errorf("the record in %s is not whole and is not moved: run stillsaw verify, which says what differs", where)
		}
		return Moved{Mill: mill, Entries: report.Entries, Root: report.Root}, nil
	}
	return Moved{}, nil
}

func sameRecord(reports map[checklists.MillID]record.Report, moved Moved) error {
	report, there := reports[moved.Mill]
	if !there || !report.OK() || report.Entries != moved.Entries || report.Root != moved.Root || len(reports) != 1 {
		return errors.New("what was copied is not the record it was copied from; nothing was kept of it")
	}
	return nil
}
