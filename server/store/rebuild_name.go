package store

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// name finds the entries that last wrote the rows that differ and lists what
// does. The record is replayed a second time for it, with triggers on the tables
// in question, so that a rebuild in which nothing differs pays nothing. That
// replay sees no opening: a place that comes out another in it is personal.
func (b *Rebuilt) name(ctx context.Context, tx *Tx, mills []checklists.MillID, differ []rowDifference, how Rebuilding) (err error) {
	again, err := newScratch(ctx, how.Scratch)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, again.Close()) }()
	wrote, err := again.writersOf(ctx, tx, mills, differ)
	if err != nil {
		return err
	}
	for i, d := range differ {
		row := Difference{Table: d.shape.name}
		for _, key := range d.key() {
			row.Key = append(row.Key, shownKey(key))
		}
		row.Wrote.Seq = wrote[i].seq
		if row.Wrote.Seq >= 0 {
			row.Wrote.Kind, row.Wrote.ID = wroteBy(tx, wrote[i])
		}
		switch {
		case d.kept == nil:
			row.Change = RowMissing
			b.Differences = append(b.Differences, row)
		case d.made == nil:
			row.Change = RowExtra
			b.Differences = append(b.Differences, row)
		}
		bare, err := rowOf(again, d)
		if err != nil {
			return err
		}
		hidden := veiledIn(d.made, bare, d.shape)
		for _, field := range d.fields() {
			row.Change = map[presence]RowChange{onBoth: FieldDiffers, onlyMade: FieldMissing, onlyKept: FieldExtra}[field.in]
			row.Field = field.path
			personal := !how.Show && hidden.covers(field)
			row.Gives, row.Stands = shown(field.made, personal), shown(field.kept, personal)
			if field.in == onlyMade {
				row.Stands = ""
			}
			if field.in == onlyKept {
				row.Gives = ""
			}
			b.Differences = append(b.Differences, row)
		}
	}
	return nil
}

// lastWriter is the place of an entry in a mill's record, -1 for none.
type lastWriter struct {
	mill checklists.MillID
	seq  int64
}

// writersOf replays mills and notes which entry last wrote or removed each of rows.
func (c *scratch) writersOf(ctx context.Context, from reader, mills []checklists.MillID, rows []rowDifference) ([]lastWriter, error) {
	if err := c.run("CREATE TABLE replay_at (mill TEXT NOT NULL, seq BIGINT NOT NULL)", "INSERT INTO replay_at VALUES ('', -1)"); err != nil {
		return nil, err
	}
	for start := 0; start < len(rows); {
		shape := rows[start].shape
		end := start + 1
		for end < len(rows) && rows[end].shape.name == shape.name {
			end++
		}
		if err := c.watch(shape, rows[start:end]); err != nil {
			return nil, err
		}
		start = end
	}
	c.apart = true
	c.before = func(seq int64) error { return c.db.Exec("UPDATE replay_at SET seq = ?", seq).Error }
	for _, mill := range mills {
		if err := c.db.Exec("UPDATE replay_at SET mill = ?", mill).Error; err != nil {
			return nil, err
		}
		if _, err := c.replay(ctx, from, mill, -1, func(int64, record.Opening) bool { return false }); err != nil {
			return nil, err
		}
	}
	found := make([]lastWriter, len(rows))
	for i, row := range rows {
		var at struct {
			Mill checklists.MillID
			Seq  int64
		}
		query := `SELECT by_mill AS mill, by_seq AS seq FROM "watched_` + row.shape.name + `" WHERE ` + matching(row.shape, "?")
		if err := c.gorm().Raw(query, row.key()...).Scan(&at).Error; err != nil {
			return nil, err
		}
		found[i] = lastWriter{at.Mill, at.Seq}
	}
	return found, nil
}

// rowOf is the row of r with the key of d, nil for none.
func rowOf(r reader, d rowDifference) ([]any, error) {
	rows, err := r.gorm().Raw(d.shape.selected(r.gorm())+" WHERE "+matching(d.shape, "?"), d.key()...).Rows()
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	c := newCursor(rows, d.shape)
	err = c.next()
	return c.row, err
}

// watch makes a table of the rows asked for, which triggers keep up.
func (c *scratch) watch(shape tableShape, rows []rowDifference) error {
	keys := `"` + strings.Join(shape.key, `", "`) + `"`
	watched := `"watched_` + shape.name + `"`
	statements := []string{fmt.Sprintf("CREATE TABLE %s (%s, by_mill TEXT NOT NULL, by_seq BIGINT NOT NULL, PRIMARY KEY (%s))", watched, keys, keys)}
	for act, row := range map[string]string{"INSERT": "NEW", "UPDATE": "NEW", "DELETE": "OLD"} {
		statements = append(statements, fmt.Sprintf(
			`CREATE TRIGGER "note_%s_%s" AFTER %s ON "%s" BEGIN UPDATE %s SET by_mill = (SELECT mill FROM replay_at), by_seq = (SELECT seq FROM replay_at) WHERE %s; END`,
			shape.name, act, act, shape.name, watched, matching(shape, row+`."%s"`)))
	}
	if err := c.run(statements...); err != nil {
		return err
	}
	insert := "INSERT OR IGNORE INTO " + watched + " VALUES (" + strings.Repeat("?, ", len(shape.key)) + "'', -1)"
	for _, row := range rows {
		if err := c.db.Exec(insert, row.key()...).Error; err != nil {
			return err
		}
	}
	return nil
}

// matching is the condition that a row has the key that to gives for a column.
func matching(shape tableShape, to string) string {
	parts := make([]string, len(shape.key))
	for i, column := range shape.key {
		parts[i] = `"` + column + `" IS ` + strings.ReplaceAll(to, "%s", column)
	}
	return strings.Join(parts, " AND ")
}

// wroteBy is the kind and id of an entry as its leaf has them, or as its columns
// do where the leaf can't be read.
func wroteBy(r reader, w lastWriter) (kind, id string) {
	row, err := one[entryRow](r, "entry", "mill = ? AND seq = ?", w.mill, w.seq)
	if err != nil {
		return "", ""
	}
	if said, err := record.Read(row.Leaf, nil); err == nil {
		return said.Kind, said.ID
	}
	return row.Kind, row.ID
}

// shownMost bounds a value in a report.
const shownMost = 120

// shown is a value as a report gives it; of a personal one only how much it is.
func shown(v any, personal bool) string {
	text := written(v)
	if size := len([]rune(text)); personal && v != nil {
		return fmt.Sprintf("a personal value (%d characters)", size)
	} else if size > shownMost {
		return string([]rune(text)[:shownMost]) + "…"
	}
	return text
}

func shownKey(v any) string {
	if text, ok := v.(string); ok {
		return text
	}
	return written(v)
}
