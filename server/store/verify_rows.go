package store

import (
	"database/sql"
	"fmt"
	"iter"
	"math"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// verifyPage is how many entries are held in memory at once while verifying.
const verifyPage = 500

// verifyRows reads a mill's entries in order with their openings, and which of those
// gone says were dropped. It goes past the layer that would look at each field, and
// uses the same memory for page after page.
type verifyRows struct {
	tx   *Tx
	mill checklists.MillID
	gone *dropped

	page     []entryRow
	leaves   []byte
	ends     []int // of each leaf in leaves
	openings []record.Opening
	of       []int64 // the entry of each opening
	salts    []byte
	known    texts

	from   int64   // the place after the last row
	done   bool    // there is none after it
	strays []int64 // entries that are not there, of openings that are
}

// texts keeps one of each text that comes again and again.
type texts map[string]string

func (t texts) of(raw []byte) string {
	if len(raw) == 0 {
		return ""
	}
	text, known := t[string(raw)]
	if !known {
		if len(t) >= 1<<12 {
			clear(t)
		}
		text = string(raw)
		t[text] = text
	}
	return text
}

// scanned calls take for each row of a query, read into to.
func scanned(r reader, to []any, take func() error, query string, args ...any) error {
	rows, err := r.gorm().Raw(query, args...).Rows()
	if err != nil {
		return err
	}
	return eachRow(rows, func() error {
		if err := rows.Scan(to...); err != nil {
			return err
		}
		return take()
	})
}

// number is a value that a column of whole numbers should have: scanned as it
// comes, since each would else be written as text and read back.
type number struct{ value any }

func (n *number) whole() (int64, error) {
	value, ok := n.value.(int64)
	if !ok {
		return 0, fmt.Errorf("%v stands where a whole number should", n.value)
	}
	return value, nil
}

func wholes(from []number, to ...*int64) (err error) {
	for i := range from {
		if *to[i], err = from[i].whole(); err != nil {
			return err
		}
	}
	return nil
}

// all yields the rows. What they hold is only theirs until the next page is read.
func (v *verifyRows) all() iter.Seq2[record.Row, error] {
	return func(yield func(record.Row, error) bool) {
		v.from = math.MinInt64 // an altered seq may be any number
		for {
			paths, err := v.next(v.from)
			if err != nil {
				yield(record.Row{}, err)
				return
			}
			o := 0
			for i, row := range v.page {
				for ; o < len(v.of) && v.of[o] < row.Seq; o++ {
					v.stray(v.of[o])
				}
				first := o
				for ; o < len(v.of) && v.of[o] == row.Seq; o++ {
				}
				whole := recordRow(row, v.openings[first:o:o])
				whole.Dropped = paths[row.Seq]
				if !yield(whole, nil) {
					return
				}
				v.from = row.Seq + 1
				if i+1 < len(v.page) && v.page[i+1].Seq == row.Seq {
					o = first // a second entry at its place
				}
			}
			if len(v.page) < verifyPage || v.from == math.MinInt64 {
				v.done = true
				return
			}
		}
	}
}

// next reads the page from a place on, and the paths of what of it was dropped.
func (v *verifyRows) next(from int64) (map[int64][]string, error) {
	if err := v.entries(from); err != nil || len(v.page) == 0 {
		return nil, err
	}
	if err := v.shown(from, v.page[len(v.page)-1].Seq); err != nil {
		return nil, err
	}
	return v.gone.paths(v.page)
}

func (v *verifyRows) entries(from int64) error {
	v.page, v.leaves, v.ends = v.page[:0], v.leaves[:0], v.ends[:0]
	if v.known == nil {
		v.known = texts{}
	}
	var id, kind, subject, actor, day, leaf sql.RawBytes
	var n [6]number
	to := []any{&n[0].value, &id, &kind, &n[1].value, &subject, &actor, &n[2].value, &n[3].value, &n[4].value, &n[5].value, &day, &leaf}
	err := scanned(v.tx, to, func() error {
		row := entryRow{Mill: string(v.mill), ID: string(id), Kind: v.known.of(kind), Subject: v.known.of(subject), Actor: v.known.of(actor), Day: v.known.of(day)}
		var version, offset, happenedOffset int64
		if err := wholes(n[:], &row.Seq, &version, &row.At, &offset, &row.Happened, &happenedOffset); err != nil {
			return err
		}
		row.Version, row.AtOffset, row.HappenedOffset = int(version), int(offset), int(happenedOffset)
		v.leaves = append(v.leaves, leaf...)
		v.ends = append(v.ends, len(v.leaves))
		v.page = append(v.page, row)
		return nil
	}, "SELECT seq, id, kind, version, subject, actor, at, at_offset, happened, happened_offset, day, leaf FROM entries WHERE mill = ? AND seq >= ? ORDER BY seq LIMIT ?", v.mill, from, verifyPage)
	start := 0
	for i := range v.page {
		v.page[i].Leaf = v.leaves[start:v.ends[i]:v.ends[i]]
		start = v.ends[i]
	}
	return err
}

// shown reads the openings of the entries from one to another.
func (v *verifyRows) shown(from, until int64) error {
	v.openings, v.of, v.salts = v.openings[:0], v.of[:0], v.salts[:0]
	var path, salt, value sql.RawBytes
	var seq number
	v.ends = v.ends[:0]
	err := scanned(v.tx, []any{&seq.value, &path, &salt, &value}, func() error {
		of, err := seq.whole()
		v.of = append(v.of, of)
		v.salts = append(v.salts, salt...)
		v.ends = append(v.ends, len(v.salts))
		v.openings = append(v.openings, record.Opening{Path: v.known.of(path), Value: v.known.of(value)})
		return err
	}, "SELECT seq, path, salt, value FROM openings WHERE mill = ? AND seq BETWEEN ? AND ? ORDER BY seq, path", v.mill, from, until)
	start := 0
	for i := range v.openings {
		v.openings[i].Salt = v.salts[start:v.ends[i]:v.ends[i]]
		start = v.ends[i]
	}
	return err
}

// straysMost is how many entries that are not there are named of one table.
const straysMost = 1000

func (v *verifyRows) stray(seq int64) {
	if n := len(v.strays); n < straysMost && (n == 0 || v.strays[n-1] != seq) {
		v.strays = append(v.strays, seq)
	}
}

// straysOf are the entries that openings are kept for which are not there.
func (v *verifyRows) straysOf() ([]int64, error) {
	if !v.done {
		return v.tx.straysIn("openings", v.mill)
	}
	var after []int64
	err := v.tx.gorm().Raw("SELECT DISTINCT seq FROM openings WHERE mill = ? AND seq >= ? ORDER BY seq LIMIT ?", v.mill, v.from, straysMost).Scan(&after).Error
	for _, seq := range after {
		v.stray(seq)
	}
	return v.strays, err
}

// straysIn are the entries that a table has rows for which are not there.
func (tx *Tx) straysIn(table string, mill checklists.MillID) (seqs []int64, err error) {
	err = tx.gorm().Raw("SELECT DISTINCT seq FROM "+table+" AS kept WHERE mill = ? AND NOT EXISTS (SELECT 1 FROM entries WHERE entries.mill = kept.mill AND entries.seq = kept.seq) ORDER BY seq LIMIT ?", mill, straysMost).Scan(&seqs).Error
	return seqs, err
}
