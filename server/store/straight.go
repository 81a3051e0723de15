package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"
)

// What each act and each request reads and writes goes past the layer that would look at each field.

// straight carries out a statement of the command's transaction as it stands.
func (tx *Tx) straight(statement string, args ...any) error {
	_, err := tx.db.Statement.ConnPool.ExecContext(tx.db.Statement.Context, placed(tx.db, statement), args...)
	return err
}

// insert adds rows to the columns of a table, of which there may be none, with the
// values of one after those of the other.
func (tx *Tx) insert(into string, values []any) error {
	columns := 1 + strings.Count(into, ",")
	if tx.ahead != nil {
		return tx.ahead.rows(into, values, columns)
	}
	for part := range slices.Chunk(values, rowsAtOnce*columns) {
		if err := tx.straight("INSERT INTO "+into+" VALUES "+marks(len(part)/columns, columns), part...); err != nil {
			return err
		}
	}
	return nil
}

// marks are the places of values in that many rows of that many columns.
func marks(rows, columns int) string {
	row := ",(?" + strings.Repeat(",?", columns-1) + ")"
	return strings.Repeat(row, rows)[1:]
}

// straightRow reads the one row that a statement names into to. ErrNotFound, with what
// was looked for: there is none.
func straightRow(r reader, what, statement string, args []any, to ...any) error {
	ctx, db := under(r)
	err := db.Statement.ConnPool.QueryRowContext(ctx, placed(db, statement), args...).Scan(to...)
	if errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("%s: %w", what, ErrNotFound)
	}
	return err
}

// straightDoc is [straightRow] of a statement that selects a document, which is
// decoded as [readOnce] does it.
func straightDoc[T any](r reader, what, statement string, args ...any) (T, error) {
	var doc string
	if err := straightRow(r, what, statement, args, &doc); err != nil {
		var none T
		return none, err
	}
	return readOnce[T](r, doc)
}

// under is the connection a reader reads over, and as long as what; nothing is made
// anew for it, as [reader].gorm does.
func under(r reader) (context.Context, *gorm.DB) {
	switch r := r.(type) {
	case ctxReader:
		return r.ctx, r.m.s.reads
	case *Tx:
		return r.db.Statement.Context, r.db
	}
	db := r.gorm()
	return db.Statement.Context, db
}
