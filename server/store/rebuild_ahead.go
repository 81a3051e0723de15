package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"reflect"
	"slices"
	"strings"
	"sync"

	"gorm.io/gorm"
	"gorm.io/gorm/schema"
)

// ahead keeps the rows that the entries of a page write until somebody asks the
// database for anything or the page ends, so that they go into it many in a
// statement that is kept prepared. Rows of one table stay in their order; what
// one entry wrote, any later one reads.
type ahead struct {
	pool     gorm.ConnPool // of the database, with nothing held back
	prepared map[string]*sql.Stmt
	shapes   map[reflect.Type]*rowShape
	tables   map[string]*aheadTable
	waiting  []*aheadTable // those with something to write
	size     int           // of their texts and bytes

	folds folds
}

// aheadMost bounds what waits, in bytes.
const aheadMost = 4 << 20

// aheadTogether is how many rows go into one statement.
const aheadTogether = 16

// aheadTable is what waits for one table.
type aheadTable struct {
	waits   bool
	ordered []aheadRows
	values  []any
}

// aheadRows are so many rows that follow each other and are written alike, each by
// a statement or several together by one longer.
type aheadRows struct {
	statement  string // up to the values; the whole of it where it inserts nothing
	row        string // the marks of one row, "" likewise
	after      string // what is done where the key is there already
	count, per int    // rows, values of each
}

// rowShape is how rows of a type are inserted.
type rowShape struct {
	table  string
	insert string // up to the values
	marks  string
	fields []*schema.Field
}

func newAhead(pool gorm.ConnPool) *ahead {
	a := &ahead{pool: pool, prepared: map[string]*sql.Stmt{}, shapes: map[reflect.Type]*rowShape{}, tables: map[string]*aheadTable{}}
	a.forget()
	return a
}

// forget lets go of what waits, which was taken back, and of all that was known.
func (a *ahead) forget() {
	for _, t := range a.waiting {
		t.empty()
	}
	a.waiting, a.size = a.waiting[:0], 0
	a.folds = newFolds()
}

func (t *aheadTable) empty() {
	clear(t.values)
	t.waits, t.ordered, t.values = false, t.ordered[:0], t.values[:0]
}

// shapeFor is how gorm would insert row, asked once of each type.
func (a *ahead) shapeFor(row any) (*rowShape, error) {
	of := reflect.TypeOf(row)
	if known := a.shapes[of]; known != nil {
		return known, nil
	}
	parsed, err := schema.Parse(row, &aheadSchemas, schema.NamingStrategy{})
	if err != nil {
		return nil, err
	}
	shape := &rowShape{table: parsed.Table}
	for _, column := range parsed.DBNames {
		shape.fields = append(shape.fields, parsed.FieldsByDBName[column])
	}
	shape.insert = `INSERT INTO "` + parsed.Table + `" ("` + strings.Join(parsed.DBNames, `", "`) + `") VALUES `
	shape.marks = marks(1, len(parsed.DBNames))
	a.shapes[of] = shape
	return shape, nil
}

// aheadSchemas has the schemas of rows, which the program has so many of.
var aheadSchemas sync.Map

// row has a row inserted; after says what is done where its key is there.
func (a *ahead) row(row any, after string) error {
	shape, err := a.shapeFor(row)
	if err != nil {
		return err
	}
	t := a.table(shape.table)
	of := reflect.ValueOf(row).Elem()
	for _, field := range shape.fields {
		value, _ := field.ValueOf(context.Background(), of)
		if asked, ok := value.(driver.Valuer); ok {
			if value, err = asked.Value(); err != nil {
				return err
			}
		}
		a.take(t, value)
	}
	a.more(t, aheadRows{statement: shape.insert, row: shape.marks, after: after, per: len(shape.fields)})
	return a.bounded()
}

// rows has rows inserted into the columns of a table, with the values of one after
// those of the other.
func (a *ahead) rows(into string, values []any, columns int) error {
	name, _, _ := strings.Cut(into, " ")
	like := aheadRows{statement: "INSERT INTO " + into + " VALUES ", row: marks(1, columns), per: columns}
	for row := range slices.Chunk(values, columns) {
		t := a.table(name)
		for _, value := range row {
			a.take(t, value)
		}
		a.more(t, like)
		if err := a.bounded(); err != nil {
			return err
		}
	}
	return nil
}

// change has a statement carried out that changes rows of one table and reads no other.
func (a *ahead) change(table, statement string, values ...any) error {
	t := a.table(table)
	for _, value := range values {
		a.take(t, value)
	}
	t.ordered = append(t.ordered, aheadRows{statement: statement, count: 1, per: len(values)})
	return a.bounded()
}

func (a *ahead) table(name string) *aheadTable {
	t := a.tables[name]
	if t == nil {
		t = &aheadTable{}
		a.tables[name] = t
	}
	if !t.waits {
		t.waits = true
		a.waiting = append(a.waiting, t)
	}
	return t
}

func (a *ahead) take(t *aheadTable, value any) {
	switch v := value.(type) {
	case string:
		a.size += len(v)
	case []byte:
		a.size += len(v)
	}
	t.values = append(t.values, value)
	a.size += 16
}

func (a *ahead) more(t *aheadTable, like aheadRows) {
	if last := len(t.ordered) - 1; last >= 0 {
		if one := &t.ordered[last]; one.row != "" && one.statement == like.statement && one.after == like.after {
			one.count++
			return
		}
	}
	like.count = 1
	t.ordered = append(t.ordered, like)
}

func (a *ahead) bounded() error {
	if a.size < aheadMost {
		return nil
	}
	return a.write()
}

// flush writes everything that waits.
func (a *ahead) flush() error {
	if err := a.folded(); err != nil {
		return err
	}
	return a.write()
}

func (a *ahead) write() error {
	for _, t := range a.waiting {
		if err := a.writeTable(t); err != nil {
			return err
		}
	}
	a.waiting, a.size = a.waiting[:0], 0
	return nil
}

func (a *ahead) writeTable(t *aheadTable) error {
	values := t.values
	for _, rows := range t.ordered {
		for rows.count > 0 {
			together := 1
			if rows.row != "" && rows.count >= aheadTogether {
				together = aheadTogether
			}
			if err := a.exec(rows, together, values[:together*rows.per]); err != nil {
				return err
			}
			values = values[together*rows.per:]
			rows.count -= together
		}
	}
	t.empty()
	return nil
}

func (a *ahead) exec(rows aheadRows, together int, values []any) error {
	statement := rows.statement
	if rows.row != "" {
		statement += strings.Repeat(rows.row+",", together-1) + rows.row + rows.after
	}
	prepared := a.prepared[statement]
	if prepared == nil {
		var err error
		if prepared, err = a.pool.PrepareContext(context.Background(), statement); err != nil {
			return err
		}
		a.prepared[statement] = prepared
	}
	_, err := prepared.Exec(values...)
	return err
}

func (a *ahead) close() (err error) {
	for _, prepared := range a.prepared {
		err = errors.Join(err, prepared.Close())
	}
	return err
}

// setting sets columns of the row that has the key already.
func setting(key, columns []string) string {
	var b strings.Builder
	b.WriteString(` ON CONFLICT ("` + strings.Join(key, `", "`) + `") DO UPDATE SET `)
	for i, column := range columns {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(`"` + column + `" = excluded."` + column + `"`)
	}
	return b.String()
}

// first is db where everything waiting goes ahead of whatever it is asked.
func (a *ahead) first(db *gorm.DB) *gorm.DB {
	late := db.Session(&gorm.Session{NewDB: true})
	late.Statement = &gorm.Statement{DB: late, Context: db.Statement.Context, ConnPool: flushing{db.Statement.ConnPool, a}}
	return late
}

// flushing is the way to a database on which everything waiting goes first.
type flushing struct {
	gorm.ConnPool
	ahead *ahead
}

func (f flushing) PrepareContext(ctx context.Context, query string) (*sql.Stmt, error) {
	if err := f.ahead.flush(); err != nil {
		return nil, err
	}
	return f.ConnPool.PrepareContext(ctx, query)
}

func (f flushing) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	if err := f.ahead.flush(); err != nil {
		return nil, err
	}
	return f.ConnPool.ExecContext(ctx, query, args...)
}

func (f flushing) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	if err := f.ahead.flush(); err != nil {
		return nil, err
	}
	return f.ConnPool.QueryContext(ctx, query, args...)
}

func (f flushing) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	if err := f.ahead.flush(); err != nil {
		ctx, stop := context.WithCancelCause(ctx)
		stop(err)
		return f.ConnPool.QueryRowContext(ctx, query, args...)
	}
	return f.ConnPool.QueryRowContext(ctx, query, args...)
}
