package store

import (
	"context"
	"errors"
	"slices"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// Rebuilding says how a rebuild is done.
type Rebuilding struct {
	Scratch string // folder to make the scratch database in, "" for the system's own
	Show    bool   // personal values in full in what differs
}

// Rebuilt is what came of holding the tables against a replay of the record.
// The zero Rebuilt is not OK.
type Rebuilt struct {
	Entries int64      // replayed
	Tables  []Compared // every projection, in the order of projections

	Differences     []Difference // the first hundred of each table
	DifferenceCount int64        // rows that differ, all of them

	Failed      []NotReplayed // the first hundred of each mill
	FailedCount int64

	NotCompared []NotCompared

	// Damage is what SQLite says of pages and indexes that are not right, "" for
	// nothing; told by [RebuildIn] alone, which may take the time.
	Damage string

	finished bool
}

// OK tells whether everything was compared and nothing differs.
func (r Rebuilt) OK() bool {
	return r.finished && r.DifferenceCount == 0 && r.FailedCount == 0 && r.Damage == ""
}

// Compared is how much of one table follows from the record.
type Compared struct {
	Table  string
	Rows   int64 // that are what the record gives
	Fields int64 // in those rows: columns, and the members of documents
	Differ int64 // rows missing, extra or other
}

// RowChange is how a row differs from what the record gives.
type RowChange int

// The ways in which a row can differ. Zero is none of them.
const (
	_             RowChange = iota
	RowMissing              // the record gives a row that is not there
	RowExtra                // a row is there that the record doesn't give
	FieldDiffers            // a field is another
	FieldMissing            // a document lacks a member
	FieldExtra              // a document has a member it should not have
	TableMissing            // the whole table is not there
	ColumnMissing           // the table lacks a column
)

// Difference is one place where a table is not what the record gives.
type Difference struct {
	Change RowChange
	Table  string
	Key    []string // the values of its primary key
	Field  string   // column, and JSON pointer in a document: "doc/open"
	Gives  string   // what the record gives
	Stands string   // what stands in the table

	// Wrote is the entry that wrote the row last, for an extra row the one that
	// took it away. Seq is -1 where no entry ever touched it.
	Wrote struct {
		Seq      int64
		Kind, ID string
	}
}

// What says what differs, without the entry.
func (d Difference) What() plain.Sentence {
	switch d.Change {
	case RowMissing:
		return plain.Say("The record gives this row, and it is not there.")
	case RowExtra:
		return plain.Say("This row is there, and the record doesn't give it.")
	case FieldMissing:
		return plain.Say("%s: the record gives %s, and it is not there.", d.Field, d.Gives)
	case FieldExtra:
		return plain.Say("%s: %s stands there, and the record doesn't give it.", d.Field, d.Stands)
	case TableMissing:
		return plain.Say("The table is not there.")
	case ColumnMissing:
		return plain.Say("The column %s is not there.", d.Field)
	}
	return plain.Say("%s: the record gives %s, %s stands there.", d.Field, d.Gives, d.Stands)
}

// Rebuild verifies the record, replays it into a scratch database and holds
// every table that follows from it against the one kept, all at one moment: the
// server may go on writing meanwhile. Until it is done the write-ahead log grows
// by what is written, since nothing younger than that moment can be folded in.
func (s *Store) Rebuild(ctx context.Context, how Rebuilding) (map[checklists.MillID]record.Report, Rebuilt, error) {
	return rebuildFrom(ctx, s.reads, s.mill, how)
}

// RebuildIn is [VerifyIn] with [Store.Rebuild], and has SQLite look at every page and
// index: the database in dir is only read.
// Tables and columns that come with an upgrade an older one has not had are
// named as not compared.
func RebuildIn(ctx context.Context, dir string, how Rebuilding) (reports map[checklists.MillID]record.Report, built Rebuilt, at Schema, err error) {
	at, err = readIn(ctx, dir, func(db *gorm.DB, _ Schema) (err error) {
		if reports, built, err = rebuildFrom(ctx, db, "", how); err != nil {
			return err
		}
		// What finds the rows is read by neither: an index may be damaged beside them.
		if damage := intact(db.WithContext(ctx)); damage != nil {
			built.Damage = damage.Error()
		}
		return ctx.Err()
	})
	return reports, built, at, err
}

func rebuildFrom(ctx context.Context, db *gorm.DB, only checklists.MillID, how Rebuilding) (reports map[checklists.MillID]record.Report, built Rebuilt, err error) {
	err = db.WithContext(ctx).Transaction(func(db *gorm.DB) (err error) {
		tx := &Tx{db: db}
		if reports, err = verifyAll(tx, only); err != nil {
			return err
		}
		built, err = rebuild(ctx, tx, SortedMills(reports), how)
		return err
	})
	return reports, built, err
}

// ListedDifferences is how many rows that differ are listed of one table.
const ListedDifferences = 100

// rebuild replays mills from what tx reads and compares every projection.
func rebuild(ctx context.Context, tx *Tx, mills []checklists.MillID, how Rebuilding) (built Rebuilt, err error) {
	at, err := schemaIn(tx)
	if err != nil {
		return built, err
	}
	made, err := newScratch(ctx, how.Scratch)
	if err != nil {
		return built, err
	}
	defer func() { err = errors.Join(err, made.Close()) }()
	for _, mill := range mills {
		done, err := made.replay(ctx, tx, mill, -1, nil)
		if err != nil {
			return built, err
		}
		built.Entries += done.Entries
		built.Failed = append(built.Failed, done.Failed...)
		built.FailedCount += done.FailedCount
	}
	var differ []rowDifference
	for _, table := range projections() {
		more, err := built.compare(ctx, made, tx, table, at.later)
		if err != nil {
			return built, err
		}
		differ = append(differ, more...)
	}
	built.NotCompared = append(built.NotCompared, notProjected()...)
	if len(differ) > 0 {
		if err := built.name(ctx, tx, mills, differ, how); err != nil {
			return built, err
		}
	}
	built.finished = true
	return built, nil
}

// compare holds one table against the one made and returns the first rows that
// differ. What comes with later upgrades than the database had is not compared.
func (b *Rebuilt) compare(ctx context.Context, made, kept reader, table string, later brought) (differ []rowDifference, err error) {
	shape, err := shapeOf(made, table)
	if err != nil {
		return nil, err
	}
	has, err := shapeOf(kept, table)
	switch {
	case err != nil:
		return nil, err
	case slices.Contains(later.tables, table):
		b.NotCompared = append(b.NotCompared, NotCompared{table, plain.Say("comes with an upgrade this database has not had")})
		return nil, nil
	case !slices.Equal(has.key, shape.key):
		b.lacks(Difference{Change: TableMissing, Table: table})
		return nil, nil
	}
	for _, column := range slices.Clone(shape.columns) {
		if slices.Contains(has.columns, column) {
			continue
		}
		shape.columns = slices.DeleteFunc(shape.columns, func(one string) bool { return one == column })
		if !slices.Contains(later.columns[table], column) {
			b.lacks(Difference{Change: ColumnMissing, Table: table, Field: column})
		}
	}
	found := Compared{Table: table}
	same, err := compareTable(ctx, made, kept, shape, func(d rowDifference) error {
		if found.Differ++; found.Differ <= ListedDifferences {
			differ = append(differ, d)
		}
		return nil
	})
	found.Rows, found.Fields = same.rows, same.fields
	b.Tables, b.DifferenceCount = append(b.Tables, found), b.DifferenceCount+found.Differ
	return differ, err
}

// lacks tells of a table or a column that is not there.
func (b *Rebuilt) lacks(d Difference) {
	d.Wrote.Seq = -1
	b.Differences = append(b.Differences, d)
	b.DifferenceCount++
	if d.Change == TableMissing {
		b.Tables = append(b.Tables, Compared{Table: d.Table, Differ: 1})
	}
}
