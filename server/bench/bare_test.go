package bench

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// bare writes the rows of one sign-off of ours, as many bytes in as many rows of as
// many tables, in one transaction with prepared statements: SQLite and the disk
// and nothing else. What else our sign-off reads or writes (tries of the PIN) is
// not in it.
type bare struct {
	db     *sql.DB
	rows   []bareRow
	number int64
}

// bareRow is one statement with what makes its row another each time.
type bareRow struct {
	table     string
	statement *sql.Stmt
	args      []any
	anew      []fresh // by the place of the argument
}

type fresh int

const (
	same  fresh = iota
	id          // a new id that sorts by time
	count       // one more each time
)

var insertInto = regexp.MustCompile("^INSERT INTO [`\"]?(\\w+)[`\"]? \\(([^)]*)\\)")

// newBare makes a copy of the tables of dir without a row and takes what was
// written by one sign-off.
func newBare(t testing.TB, dir string, signedOff []written) *bare {
	t.Helper()
	source, err := sql.Open(engine(), "file:"+filepath.Join(dir, store.FileName)+"?mode=ro")
	require.NoError(t, err)
	defer source.Close()
	path := filepath.Join(t.TempDir(), "bare.db")
	db, err := sql.Open(engine(), "file:"+path+"?_journal_mode=WAL&_synchronous=FULL&_busy_timeout=5000&_txlock=immediate&_foreign_keys=0")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	db.SetMaxOpenConns(1)
	shapes, err := source.Query("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' ORDER BY type DESC")
	require.NoError(t, err)
	for shapes.Next() {
		var shape string
		require.NoError(t, shapes.Scan(&shape))
		_, err := db.Exec(shape)
		require.NoError(t, err)
	}
	require.NoError(t, shapes.Err())
	require.NoError(t, shapes.Close())
	b := &bare{db: db}
	for _, w := range signedOff {
		if strings.Contains(w.sql, "attempts") {
			continue
		}
		statement, err := db.Prepare(w.sql)
		require.NoError(t, err)
		row := bareRow{statement: statement, args: w.args, anew: make([]fresh, len(w.args))}
		if m := insertInto.FindStringSubmatch(w.sql); m != nil {
			row.table = m[1]
			columns := strings.Split(m[2], ",")
			for i := range row.anew {
				row.anew[i] = freshOf(m[1], strings.Trim(columns[i%len(columns)], "` \""))
			}
		}
		b.rows = append(b.rows, row)
	}
	require.NotEmpty(t, b.rows)
	return b
}

func freshOf(table, column string) fresh {
	switch {
	case column == "seq", column == "place", column == "size":
		return count
	case column == "id" && table != "mills", column == "subject":
		return id
	}
	return same
}

// signOff writes the rows of that many sign-offs, durable once it returns.
func (b *bare) signOff(ctx context.Context, many int, but ...string) (err error) {
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	args := make([]any, 0, 64)
	for range many {
		b.number++
		for _, row := range b.rows {
			if slices.Contains(but, row.table) {
				continue
			}
			args = args[:0]
			for i, a := range row.args {
				switch row.anew[i] {
				case id:
					a = store.NewID()
				case count:
					a = b.number*64 + int64(i)
				}
				args = append(args, a)
			}
			if _, err := tx.Stmt(row.statement).Exec(args...); err != nil {
				return errors.Join(fmt.Errorf("%s: %w", row.table, err), tx.Rollback())
			}
		}
	}
	return tx.Commit()
}

// bytes is how much the values of one sign-off are.
func (b *bare) bytes() (rows, size int) {
	for _, row := range b.rows {
		for _, a := range row.args {
			switch a := a.(type) {
			case string:
				size += len(a)
			case []byte:
				size += len(a)
			default:
				size += 8
			}
		}
	}
	return len(b.rows), size
}
