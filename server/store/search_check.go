package store

import (
	"slices"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// searchCheck holds the words the entries are found by against the entries, block
// by block as they come by. The words themselves are not told: one too many may be
// a value that was dropped.
type searchCheck struct {
	tx    *Tx
	mill  checklists.MillID
	has   bool  // an older database has no such words
	below int64 // entries before it have none yet

	block int64
	words wordSets // of the entries of block come by so far
	seen  placeSet // which those are

	in     map[string][]int64 // the blocks in which each word is kept
	faults []record.Fault
}

// searchStep is the upgrade that made all words anew; what an earlier Stillsaw
// kept was found by less and is not checked.
const searchStep = 24

func newSearchCheck(tx *Tx, mill checklists.MillID) (*searchCheck, error) {
	c := &searchCheck{tx: tx, mill: mill, has: tx.gorm().Migrator().HasTable(&searchPlaceRow{}), words: wordSets{}, in: map[string][]int64{}}
	if !c.has {
		return c, nil
	}
	step, err := schemaVersion(tx.gorm().Statement.Context, tx.gorm())
	if c.has = step >= searchStep; err != nil || !c.has {
		return c, err
	}
	c.below, err = searchGap(tx, mill)
	return c, err
}

// entry takes the next entry.
func (c *searchCheck) entry(row record.Row, e record.Entry, said body) error {
	if !c.has {
		return nil
	}
	if block := row.Seq / searchBlock; block != c.block {
		if err := c.compare(); err != nil {
			return err
		}
		c.block, c.words, c.seen = block, wordSets{}, placeSet{}
	}
	if row.Seq >= c.below {
		c.seen.set(int(row.Seq % searchBlock))
		c.words.add(row.Seq, wordsOf(e.Kind, e.Actor, row.Columns.Day, said))
	}
	return nil
}

// compare holds the block that was gone through against what is kept of it.
func (c *searchCheck) compare() error {
	var rows []searchPlaceRow
	if err := c.tx.gorm().Find(&rows, "mill = ? AND block = ?", c.mill, c.block).Error; err != nil {
		return err
	}
	var missing, extra placeSet
	for _, row := range rows {
		kept, err := unpackPlaces(row.Places)
		if err != nil || kept.empty() {
			c.fault(c.block*searchBlock, plain.Say("Words by which entries from %d on are found are damaged.", c.block*searchBlock))
			continue
		}
		c.in[row.Word] = append(c.in[row.Word], c.block)
		made := c.words[row.Word]
		if made == nil {
			made = &placeSet{}
		}
		delete(c.words, row.Word)
		missing.orNot(made, &kept)
		extra.orNot(&kept, made)
	}
	for _, made := range c.words {
		missing.or(made)
	}
	extra.and(&c.seen) // what isn't there, or can't be read, is told of already
	for place := range searchBlock {
		seq := c.block*searchBlock + int64(place)
		if missing.has(place) {
			c.fault(seq, plain.Say("Entry %d is not found by every word in it.", seq))
		}
		if extra.has(place) {
			c.fault(seq, plain.Say("Entry %d is found by a word that is not in it.", seq))
		}
	}
	return nil
}

// orNot adds the places of a that are not of b.
func (p *placeSet) orNot(a, b *placeSet) {
	for i := range p {
		p[i] |= a[i] &^ b[i]
	}
}

func (c *searchCheck) fault(seq int64, what plain.Sentence) {
	c.faults = append(c.faults, record.Fault{Seq: seq, Change: record.WordsDiffer, Field: "words", What: what})
}

// finish adds to the report what is wrong with the words of entries that are as
// they were written.
func (c *searchCheck) finish(report *record.Report, size int64) error {
	if !c.has {
		return nil
	}
	if err := c.compare(); err != nil {
		return err
	}
	var beyond int64
	if err := c.tx.gorm().Model(&searchPlaceRow{}).Where("mill = ? AND block > ?", c.mill, max(size-1, 0)/searchBlock).Count(&beyond).Error; err != nil {
		return err
	}
	if beyond > 0 {
		c.fault(size, plain.Say("Words are kept of entries that are not there."))
	}
	if err := c.dictionary(); err != nil {
		return err
	}
	wrong := map[int64]bool{}
	for _, f := range report.Faults {
		wrong[f.Seq] = true
	}
	for _, f := range c.faults {
		if !wrong[f.Seq] {
			report.Add(f)
		}
	}
	return nil
}

// dictionary holds the blocks each word is said to occur in against those it does.
func (c *searchCheck) dictionary() error {
	rows, err := c.tx.gorm().Model(&searchWordRow{}).Where("mill = ?", c.mill).Rows()
	if err != nil {
		return err
	}
	defer rows.Close()
	differ := 0
	for rows.Next() {
		var row searchWordRow
		if err := c.tx.gorm().ScanRows(rows, &row); err != nil {
			return err
		}
		said, err := unpackBlocks(row.Blocks)
		if err != nil || !slices.Equal(said, c.in[row.Word]) {
			differ++
		}
		delete(c.in, row.Word)
	}
	if differ += len(c.in); differ > 0 {
		c.faults = append(c.faults, record.Fault{Seq: -1, Change: record.WordsDiffer, Field: "words", What: plain.Say(
			"%d words are said to occur elsewhere than they do: not every entry with them is found.", differ)})
	}
	return rows.Err()
}
