package store

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"
)

// tableShape is a table's columns, the primary key apart, in its order.
type tableShape struct {
	name    string
	key     []string
	columns []string // the others
}

// shapeOf reads the shape of a table; one that is not there has no key.
func shapeOf(r reader, table string) (tableShape, error) {
	shape := tableShape{name: table}
	columns, err := columnsIn(r.gorm(), table)
	if err != nil {
		return shape, err
	}
	for _, c := range columns {
		if c.PK > 0 {
			shape.key = append(shape.key, c.Name)
		} else {
			shape.columns = append(shape.columns, c.Name)
		}
	}
	return shape, nil
}

// selected asks for the rows. The plus signs keep a driver of SQLite from reading a
// value by its column's declared type: a truth value of 2 is not 1.
func (s tableShape) selected(db *gorm.DB) string {
	plus := "+"
	if onPostgres(db) { // its columns hold what they are declared to hold
		plus = ""
	}
	var list []string
	for _, column := range slices.Concat(s.key, s.columns) {
		list = append(list, plus+`"`+column+`"`)
	}
	return "SELECT " + strings.Join(list, ", ") + ` FROM "` + s.name + `"`
}

// rowDifference is a row that is not in both databases alike. made is the row
// that follows from the record, kept the one that stands in the table, each in
// the order of the shape's key and columns; nil where there is none.
type rowDifference struct {
	shape      tableShape
	made, kept []any
}

// key are the values of the row's primary key.
func (d rowDifference) key() []any {
	if d.made != nil {
		return d.made[:len(d.shape.key)]
	}
	return d.kept[:len(d.shape.key)]
}

// tableCount is how much of a table was compared.
type tableCount struct{ rows, fields int64 }

// query asks for every row in the order of the key.
func (s tableShape) query(db *gorm.DB) string {
	return s.selected(db) + ` ORDER BY "` + strings.Join(s.key, `", "`) + `"`
}

// compareTable walks the rows of a table in two databases side by side, in the
// order of their key, and calls each for every row that is not the same in both:
// rows alike in value, JSON documents alike in their members whatever their
// order. shape names the columns compared, which both must have. It returns the
// rows that are alike and the fields in them. Memory doesn't grow with the table.
//
// To bring a kept table in line with the record, collect the differences and
// carry out [rowDifference.mend] for each in a command of the writer.
func compareTable(ctx context.Context, made, kept reader, shape tableShape, each func(rowDifference) error) (same tableCount, err error) {
	left, err := openCursor(ctx, made, shape)
	if err != nil {
		return same, err
	}
	defer left.close()
	right, err := openCursor(ctx, kept, shape)
	if err != nil {
		return same, err
	}
	defer right.close()
	if err := cmp.Or(left.next(), right.next()); err != nil {
		return same, err
	}
	for left.row != nil || right.row != nil {
		order := compareKeys(left.row, right.row, len(shape.key))
		d := rowDifference{shape: shape}
		if order <= 0 {
			d.made = left.row
		}
		if order >= 0 {
			d.kept = right.row
		}
		if fields, alike := d.alike(); alike {
			same.rows, same.fields = same.rows+1, same.fields+fields
		} else if err := each(d.clone()); err != nil {
			return same, err
		}
		if order <= 0 {
			if err := left.next(); err != nil {
				return same, err
			}
		}
		if order >= 0 {
			if err := right.next(); err != nil {
				return same, err
			}
		}
	}
	return same, nil
}

// alike tells whether made and kept say the same, and how many fields they have.
func (d rowDifference) alike() (fields int64, alike bool) {
	if d.made == nil || d.kept == nil {
		return 0, false
	}
	for i, made := range d.made {
		if !sameValue(made, d.kept[i]) {
			return 0, false
		}
		fields += fieldsIn(made)
	}
	return fields, true
}

func (d rowDifference) clone() rowDifference {
	d.made, d.kept = slices.Clone(d.made), slices.Clone(d.kept)
	return d
}

// mend makes the row of tx what the record gives. Rows that others refer to are
// changed in place.
func (d rowDifference) mend(tx *Tx) error {
	var where, set []string
	for _, column := range d.shape.key {
		where = append(where, `"`+column+`" = ?`)
	}
	for _, column := range d.shape.columns {
		set = append(set, `"`+column+`" = ?`)
	}
	condition := strings.Join(where, " AND ")
	keys := len(d.shape.key)
	bools, err := truths(tx.gorm(), d.shape.name)
	if err != nil {
		return err
	}
	d.made = withTruths(d.made, slices.Concat(d.shape.key, d.shape.columns), bools)
	var done *gorm.DB
	switch {
	case d.made == nil:
		done = tx.gorm().Exec(`DELETE FROM "`+d.shape.name+`" WHERE `+condition, d.kept[:keys]...)
	case d.kept == nil:
		names := strings.Join(slices.Concat(d.shape.key, d.shape.columns), `", "`)
		marks := strings.Repeat(", ?", len(d.made))[2:]
		done = tx.gorm().Exec(`INSERT INTO "`+d.shape.name+`" ("`+names+`") VALUES (`+marks+`)`, d.made...)
	default:
		done = tx.gorm().Exec(`UPDATE "`+d.shape.name+`" SET `+strings.Join(set, ", ")+` WHERE `+condition, slices.Concat(d.made[keys:], d.made[:keys])...)
	}
	if done.Error == nil && done.RowsAffected != 1 {
		return fmt.Errorf("%s: %d rows were changed where one was meant", d.shape.name, done.RowsAffected)
	}
	return done.Error
}

// cursor is one pass over the rows of a table.
type cursor struct {
	rows *sql.Rows
	row  []any // nil after the last
	into []any
	kept []any
}

func openCursor(ctx context.Context, r reader, shape tableShape) (*cursor, error) {
	rows, err := r.gorm().WithContext(ctx).Raw(shape.query(r.gorm())).Rows()
	if err != nil {
		return nil, err
	}
	return newCursor(rows, shape), nil
}

func newCursor(rows *sql.Rows, shape tableShape) *cursor {
	c := &cursor{rows: rows, kept: make([]any, len(shape.key)+len(shape.columns))}
	for i := range c.kept {
		c.into = append(c.into, &c.kept[i])
	}
	return c
}

func (c *cursor) next() error {
	if !c.rows.Next() {
		c.row = nil
		return c.rows.Err()
	}
	c.row = c.kept
	if err := c.rows.Scan(c.into...); err != nil {
		return err
	}
	for i, value := range c.kept { // SQLite has numbers for truth values
		switch value {
		case true:
			c.kept[i] = int64(1)
		case false:
			c.kept[i] = int64(0)
		}
	}
	return nil
}

func (c *cursor) close() { c.rows.Close() }

// compareKeys orders two rows by the first keys values, no row after any.
func compareKeys(a, b []any, keys int) int {
	switch {
	case a == nil:
		return 1
	case b == nil:
		return -1
	}
	for i := range keys {
		if order := compareValues(a[i], b[i]); order != 0 {
			return order
		}
	}
	return 0
}

// compareValues orders as SQLite does: nothing, numbers, texts, bytes.
func compareValues(a, b any) int {
	if order := cmp.Compare(rank(a), rank(b)); order != 0 {
		return order
	}
	switch a := a.(type) {
	case int64:
		if b, whole := b.(int64); whole {
			return cmp.Compare(a, b)
		}
		return cmp.Compare(float64(a), b.(float64))
	case float64:
		if b, whole := b.(int64); whole {
			return cmp.Compare(a, float64(b))
		}
		return cmp.Compare(a, b.(float64))
	case string:
		return strings.Compare(a, b.(string))
	case []byte:
		return bytes.Compare(a, b.([]byte))
	}
	return 0
}

func rank(v any) int {
	switch v.(type) {
	case nil:
		return 0
	case int64, float64:
		return 1
	case string:
		return 2
	}
	return 3
}
