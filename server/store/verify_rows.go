package store

import (
	"iter"
	"math"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// verifyPage is how many entries are held in memory at once while verifying.
const verifyPage = 500

// verifyRows reads a mill's entries in order with their openings, and which of those
// gone says were dropped. It uses the same memory for page after page.
type verifyRows struct {
	tx   *Tx
	mill checklists.MillID
	gone *dropped
	page entryPage

	from   int64   // the place after the last row
	done   bool    // there is none after it
	strays []int64 // entries that are not there, of openings that are
}

// all yields the rows. What they hold is only theirs until the next is asked for.
func (v *verifyRows) all() iter.Seq2[record.Row, error] {
	return func(yield func(record.Row, error) bool) {
		v.from = math.MinInt64 // an altered seq may be any number
		var shown []record.Opening
		for {
			paths, err := v.next(v.from)
			if err != nil {
				yield(record.Row{}, err)
				return
			}
			o, p := 0, &v.page
			for i, row := range p.rows {
				for ; o < len(p.of) && p.of[o] < row.Seq; o++ {
					v.stray(p.of[o])
				}
				first := o
				for ; o < len(p.of) && p.of[o] == row.Seq; o++ {
				}
				shown = p.blanksOf(row).with(shown[:0], p.openings[first:o])
				whole := recordRow(row, shown)
				whole.Dropped = paths[row.Seq]
				if !yield(whole, nil) {
					return
				}
				v.from = row.Seq + 1
				if i+1 < len(p.rows) && p.rows[i+1].Seq == row.Seq {
					o = first // a second entry at its place
				}
			}
			if len(p.rows) < verifyPage || v.from == math.MinInt64 {
				v.done = true
				return
			}
		}
	}
}

// next reads the page from a place on, and the paths of what of it was dropped.
func (v *verifyRows) next(from int64) (map[int64][]string, error) {
	if err := v.page.read(v.tx, v.mill, from, verifyPage); err != nil || len(v.page.rows) == 0 {
		return nil, err
	}
	return v.gone.paths(v.page.rows)
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
	err = tx.gorm().Raw("SELECT DISTINCT seq FROM "+table+" AS kept WHERE mill = ? AND NOT EXISTS (SELECT 1 FROM entries WHERE entries.mill = ? AND entries.seq = kept.seq) ORDER BY seq LIMIT ?", mill, mill, straysMost).Scan(&seqs).Error
	return seqs, err
}
