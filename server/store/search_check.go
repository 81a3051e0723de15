package store

import (
	"database/sql"
	"slices"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/search"
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

	days map[string][]*placeSet // sets of words of block by the day
	said map[string][]string    // words of personal values
	word []byte

	in     map[string]*[]int64 // the blocks in which each word is kept
	faults []record.Fault
}

// searchStep is the upgrade that made all words anew; what an earlier Stillsaw
// kept was found by less and is not checked.
const searchStep = 24

func newSearchCheck(tx *Tx, mill checklists.MillID) (*searchCheck, error) {
	c := &searchCheck{tx: tx, mill: mill, has: tx.gorm().Migrator().HasTable(&searchPlaceRow{}), words: wordSets{}, in: map[string]*[]int64{},
		days: map[string][]*placeSet{}, said: map[string][]string{}}
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
	if err := c.come(row.Seq); err != nil {
		return err
	}
	if row.Seq >= c.below {
		c.seen.set(int(row.Seq % searchBlock))
		c.words.add(row.Seq, wordsOf(e.Kind, e.Actor, row.Columns.Day, said))
	}
	return nil
}

// come goes on to the block of an entry.
func (c *searchCheck) come(seq int64) error {
	block := seq / searchBlock
	if block == c.block {
		return nil
	}
	if err := c.compare(); err != nil {
		return err
	}
	c.block, c.seen = block, placeSet{}
	clear(c.words)
	clear(c.days)
	return nil
}

// alike is entry for one that is as others are. False has it looked at by itself.
func (c *searchCheck) alike(row record.Row, l *likeness, ids [][]byte) (bool, error) {
	if !c.has {
		return true, nil
	}
	if err := c.come(row.Seq); err != nil || row.Seq < c.below {
		return err == nil, err
	}
	more := 0
	for i := range row.Openings {
		if value := row.Openings[i].Value; value != "" {
			more += len(c.wordsIn(value))
		}
	}
	if more > wordsMost/4 {
		return false, nil // it may have more than one entry is found by
	}
	place := int(row.Seq % searchBlock)
	c.seen.set(place)
	if l.block != c.block {
		l.block, l.sets = c.block, l.sets[:0]
		for _, word := range l.words {
			l.sets = append(l.sets, c.words.of(word))
		}
	}
	for _, set := range l.sets {
		set.set(place)
	}
	for _, own := range l.owned {
		c.word = append(c.word[:0], own.parts[0]...)
		for i, id := range own.ids {
			c.word = append(append(c.word, ids[id]...), own.parts[i+1]...)
		}
		set := c.words[string(c.word)]
		if set == nil {
			set = c.words.of(string(c.word))
		}
		set.set(place)
	}
	for _, id := range l.told {
		for _, word := range c.wordsIn(string(ids[id])) {
			c.words.of(word).set(place)
		}
	}
	for _, set := range c.daysOf(row.Columns.Day) {
		set.set(place)
	}
	for i := range row.Openings {
		if value := row.Openings[i].Value; value != "" {
			for _, word := range c.wordsIn(value) {
				c.words.of(word).set(place)
			}
		}
	}
	return true, nil
}

// daysOf are the sets of the words a day is found by, as in [wordsOf].
func (c *searchCheck) daysOf(day string) []*placeSet {
	sets, known := c.days[day]
	if !known {
		for _, word := range wordsOfDay(day) {
			sets = append(sets, c.words.of(strings.ToValidUTF8(word, "")))
		}
		c.days[day] = sets
	}
	return sets
}

// wordsIn are the words of a personal value. Those of short values come again.
func (c *searchCheck) wordsIn(value string) []string {
	words, known := c.said[value]
	if known {
		return words
	}
	if !machineMade.MatchString(value) {
		words = search.Words(value)
		for i := range words {
			words[i] = strings.ToValidUTF8(words[i], "")
		}
	}
	if len(value) <= 200 {
		if len(c.said) >= 1<<12 {
			clear(c.said)
		}
		c.said[value] = words
	}
	return words
}

// compare holds the block that was gone through against what is kept of it.
func (c *searchCheck) compare() error {
	var missing, extra, none placeSet
	var word, places sql.RawBytes
	err := scanned(c.tx, []any{&word, &places}, func() error {
		kept, err := unpackPlaces(places)
		if err != nil || kept.empty() {
			c.fault(c.block*searchBlock, plain.Say("Words by which entries from %d on are found are damaged.", c.block*searchBlock))
			return nil
		}
		in := c.in[string(word)]
		if in == nil {
			in = new([]int64)
			c.in[string(word)] = in
		}
		*in = append(*in, c.block)
		made := c.words[string(word)]
		if made == nil {
			made = &none
		}
		missing.orNot(made, &kept)
		extra.orNot(&kept, made)
		delete(c.words, string(word))
		return nil
	}, "SELECT word, places FROM search_places WHERE mill = ? AND block = ?", c.mill, c.block)
	if err != nil {
		return err
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
	differ := 0
	var word, blocks sql.RawBytes
	err := scanned(c.tx, []any{&word, &blocks}, func() error {
		said, err := unpackBlocks(blocks)
		in := c.in[string(word)]
		if err != nil || in == nil || !slices.Equal(said, *in) {
			differ++
		}
		delete(c.in, string(word))
		return nil
	}, "SELECT word, blocks FROM search_words WHERE mill = ?", c.mill)
	if differ += len(c.in); differ > 0 {
		c.faults = append(c.faults, record.Fault{Seq: -1, Change: record.WordsDiffer, Field: "words", What: plain.Say(
			"%d words are said to occur elsewhere than they do: not every entry with them is found.", differ)})
	}
	return err
}
