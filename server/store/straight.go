package store

import (
	"slices"
	"strings"
)

// What each act reads and writes goes past the layer that would look at each field.

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
