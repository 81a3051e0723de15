package store

import (
	"context"
	"database/sql"
	"maps"
	"slices"
	"strings"

	"gorm.io/gorm/clause"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

type searchWordRow struct {
	Mill   string `gorm:"primaryKey"`
	Word   string `gorm:"primaryKey"`
	Blocks []byte
}

func (searchWordRow) TableName() string { return "search_words" }

type searchPlaceRow struct {
	Mill   string `gorm:"primaryKey"`
	Block  int64  `gorm:"primaryKey;autoIncrement:false"`
	Word   string `gorm:"primaryKey"`
	Places []byte
}

func (searchPlaceRow) TableName() string { return "search_places" }

type searchGapRow struct {
	Mill  string `gorm:"primaryKey"`
	Below int64
}

func (searchGapRow) TableName() string { return "search_gaps" }

// wordSets are words with the entries of one block that have them.
type wordSets map[string]*placeSet

func (f wordSets) add(seq int64, words []string) {
	for _, word := range words {
		f.of(word).set(int(seq % searchBlock))
	}
}

// of are the entries that have a word.
func (f wordSets) of(word string) *placeSet {
	set := f[word]
	if set == nil {
		set = &placeSet{}
		f[word] = set
	}
	return set
}

// unsaid is what the commands of a batch have for the words: it is written once,
// at the end of their shared transaction.
type unsaid struct {
	words map[searchBlockOf]wordSets
	anew  map[searchBlockOf][]int64 // entries of whose words some may be gone
}

// searchBlockOf names a block of a mill.
type searchBlockOf struct {
	mill  checklists.MillID
	block int64
}

// add notes the words of an entry.
func (u *unsaid) add(mill checklists.MillID, seq int64, words []string) {
	at := searchBlockOf{mill, seq / searchBlock}
	if u.words == nil {
		u.words = map[searchBlockOf]wordSets{}
	}
	if u.words[at] == nil {
		u.words[at] = wordSets{}
	}
	u.words[at].add(seq, words)
}

// again notes entries whose words are to be read anew.
func (u *unsaid) again(mill checklists.MillID, seqs []int64) {
	if u.anew == nil {
		u.anew = map[searchBlockOf][]int64{}
	}
	for _, seq := range seqs {
		at := searchBlockOf{mill, seq / searchBlock}
		u.anew[at] = append(u.anew[at], seq)
	}
}

// take adds what a command that went well has to say.
func (u *unsaid) take(from unsaid) {
	for at, sets := range from.words {
		if u.words == nil {
			u.words = map[searchBlockOf]wordSets{}
		}
		if u.words[at] == nil {
			u.words[at] = sets
			continue
		}
		for word, places := range sets {
			if kept := u.words[at][word]; kept != nil {
				kept.or(places)
			} else {
				u.words[at][word] = places
			}
		}
	}
	for at, seqs := range from.anew {
		u.again(at.mill, seqs)
	}
}

// say writes all of it.
func (tx *Tx) say(u unsaid) error {
	for at, words := range u.words {
		if err := tx.addWords(at.mill, at.block, words); err != nil {
			return err
		}
	}
	for at, seqs := range u.anew {
		if err := tx.readAnew(at.mill, at.block, seqs); err != nil {
			return err
		}
	}
	return nil
}

// searchAtOnce bounds the values of one statement.
const searchAtOnce = 400

// addWords adds to what is kept of one block; more has all of it after.
func (tx *Tx) addWords(mill checklists.MillID, block int64, more wordSets) error {
	for words := range slices.Chunk(slices.Sorted(maps.Keys(more)), searchAtOnce) {
		known, err := tx.addKept(mill, block, words, more)
		if err != nil {
			return err
		}
		var fresh []string
		rows := make([]searchPlaceRow, len(words))
		for i, word := range words {
			if !known[i] {
				fresh = append(fresh, word)
			}
			rows[i] = searchPlaceRow{Mill: string(mill), Block: block, Word: word, Places: more[word].pack()}
		}
		if err := tx.putPlaces(rows); err != nil {
			return err
		}
		if err := tx.blocksOfWords(mill, fresh, func(blocks []int64) []int64 { return with(blocks, block) }); err != nil {
			return err
		}
	}
	return nil
}

// with is blocks with one more, in order.
func with(blocks []int64, block int64) []int64 {
	at, there := slices.BinarySearch(blocks, block)
	if there {
		return blocks
	}
	return slices.Insert(blocks, at, block)
}

func (tx *Tx) putPlaces(rows []searchPlaceRow) error {
	if len(rows) == 0 {
		return nil
	}
	args := make([]any, 0, 4*len(rows))
	for i := range rows {
		args = append(args, rows[i].Mill, rows[i].Block, rows[i].Word, rows[i].Places)
	}
	// Written for each act, so past the layer that would look at each field.
	return tx.straight("INSERT INTO search_places (mill, block, word, places) VALUES "+marks(len(rows), 4)+
		" ON CONFLICT (mill, block, word) DO UPDATE SET places = excluded.places", args...)
}

// addKept adds to more what is kept of words in one block, and tells of which of
// them something is; words are in order.
func (tx *Tx) addKept(mill checklists.MillID, block int64, words []string, more wordSets) (known []bool, err error) {
	args := make([]any, 0, len(words)+2)
	args = append(args, string(mill), block)
	for _, word := range words {
		args = append(args, word)
	}
	rows, err := tx.db.Statement.ConnPool.QueryContext(tx.db.Statement.Context,
		placed(tx.db, "SELECT word, places FROM search_places WHERE mill = ? AND block = ? AND word IN (?"+strings.Repeat(",?", len(words)-1)+")"), args...)
	if err != nil {
		return nil, err
	}
	known = make([]bool, len(words))
	var word, packed sql.RawBytes
	err = eachRow(rows, func() error {
		if err := rows.Scan(&word, &packed); err != nil {
			return err
		}
		kept, err := unpackPlaces(packed)
		if err != nil {
			return err
		}
		if i, asked := slices.BinarySearch(words, string(word)); asked {
			known[i] = true
			more[words[i]].or(&kept)
		}
		return nil
	})
	return known, err
}

// blocksOfWords changes in which blocks each of words is said to occur; a word
// that occurs in none is forgotten.
func (tx *Tx) blocksOfWords(mill checklists.MillID, words []string, change func([]int64) []int64) error {
	if len(words) == 0 {
		return nil
	}
	var kept []searchWordRow
	if err := tx.gorm().Find(&kept, "mill = ? AND word IN ?", mill, words).Error; err != nil {
		return err
	}
	was := make(map[string][]byte, len(kept))
	for _, row := range kept {
		was[row.Word] = row.Blocks
	}
	var rows []searchWordRow
	var gone []string
	for _, word := range words {
		blocks, err := unpackBlocks(was[word])
		if err != nil {
			return err
		}
		if blocks = change(blocks); len(blocks) == 0 {
			gone = append(gone, word)
			continue
		}
		rows = append(rows, searchWordRow{Mill: string(mill), Word: word, Blocks: packBlocks(blocks)})
	}
	if len(gone) > 0 {
		if err := tx.gorm().Delete(&searchWordRow{}, "mill = ? AND word IN ?", mill, gone).Error; err != nil {
			return err
		}
	}
	if len(rows) == 0 {
		return nil
	}
	return tx.gorm().Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "mill"}, {Name: "word"}},
		DoUpdates: clause.AssignmentColumns([]string{"blocks"})}).Create(&rows).Error
}

// reindex brings the words of some entries in line with what is kept of them: a
// personal value that was dropped is found no more. It is done with the commit of
// the command that calls it.
func (tx *Tx) reindex(mill checklists.MillID, seqs []int64) { tx.unsaid.again(mill, seqs) }

func (tx *Tx) readAnew(mill checklists.MillID, block int64, seqs []int64) error {
	below, err := searchGap(tx, mill)
	if err != nil {
		return err
	}
	// The others have no words yet, and get those of then.
	seqs = slices.DeleteFunc(seqs, func(seq int64) bool { return seq < below })
	if len(seqs) == 0 {
		return nil
	}
	now, err := tx.wordsOfEntries(mill, seqs)
	if err != nil {
		return err
	}
	if err := tx.takeWords(mill, block, seqs); err != nil {
		return err
	}
	return tx.addWords(mill, block, now)
}

// takeWords takes some entries of one block out of every word's places.
func (tx *Tx) takeWords(mill checklists.MillID, block int64, seqs []int64) error {
	var all, changed []searchPlaceRow
	if err := tx.gorm().Find(&all, "mill = ? AND block = ?", mill, block).Error; err != nil {
		return err
	}
	var gone []string
	for _, row := range all {
		places, err := unpackPlaces(row.Places)
		if err != nil {
			return err
		}
		before := places
		for _, seq := range seqs {
			places.clear(int(seq % searchBlock))
		}
		switch {
		case places.empty():
			gone = append(gone, row.Word)
		case places != before:
			row.Places = places.pack()
			changed = append(changed, row)
		}
	}
	for rows := range slices.Chunk(changed, searchAtOnce) {
		if err := tx.putPlaces(rows); err != nil {
			return err
		}
	}
	for words := range slices.Chunk(gone, searchAtOnce) {
		if err := tx.gorm().Delete(&searchPlaceRow{}, "mill = ? AND block = ? AND word IN ?", mill, block, words).Error; err != nil {
			return err
		}
		without := func(blocks []int64) []int64 {
			return slices.DeleteFunc(blocks, func(one int64) bool { return one == block })
		}
		if err := tx.blocksOfWords(mill, words, without); err != nil {
			return err
		}
	}
	return nil
}

// wordsOfEntries are the words of entries of one block, read from their leaves. An
// entry this Stillsaw can't read has none.
func (tx *Tx) wordsOfEntries(mill checklists.MillID, seqs []int64) (wordSets, error) {
	var rows []entryRow
	if err := tx.gorm().Find(&rows, "mill = ? AND seq IN ?", mill, seqs).Error; err != nil {
		return nil, err
	}
	openings, err := openingsOf(tx, mill, rows)
	if err != nil {
		return nil, err
	}
	words := wordSets{}
	for _, row := range rows {
		if b := bodyIn(row, openings[row.Seq]); b != nil {
			words.add(row.Seq, wordsOf(row.Kind, row.Actor, row.Day, b))
		}
	}
	return words, nil
}

// bodyIn is what an entry says, nil where this Stillsaw can't read it.
func bodyIn(row entryRow, openings []record.Opening) body {
	opened, err := record.Read(row.Leaf, openings)
	if err != nil {
		return nil
	}
	b, err := decode(row.Kind, row.Version, opened)
	if err != nil {
		return nil
	}
	return b
}

// searchGap is the place before which entries have no words yet.
func searchGap(r reader, mill checklists.MillID) (int64, error) {
	var row searchGapRow
	err := r.gorm().Limit(1).Find(&row, "mill = ?", mill).Error
	return row.Below, err
}

// fillAtOnce is how many entries get their words in one step, so that nobody who
// signs meanwhile waits long.
const fillAtOnce = 128

// FillSearch gives words to some entries that an earlier Stillsaw wrote, newest
// first, and tells how many are left.
func (m *Mill) FillSearch(ctx context.Context) (left int64, err error) {
	err = m.s.writer.do(ctx, func(tx *Tx) error {
		below, err := searchGap(tx, m.id)
		if err != nil || below == 0 {
			return err
		}
		first := max(below-fillAtOnce, (below-1)/searchBlock*searchBlock)
		seqs := make([]int64, 0, fillAtOnce)
		for seq := first; seq < below; seq++ {
			seqs = append(seqs, seq)
		}
		words, err := tx.wordsOfEntries(m.id, seqs)
		if err != nil {
			return err
		}
		if err := tx.addWords(m.id, first/searchBlock, words); err != nil {
			return err
		}
		left = first
		if left == 0 {
			return tx.gorm().Delete(&searchGapRow{}, "mill = ?", m.id).Error
		}
		return tx.gorm().Model(&searchGapRow{}).Where("mill = ?", m.id).Update("below", left).Error
	})
	return left, err
}

// Unsearched is how many of the oldest entries can't be found by words yet.
func (m *Mill) Unsearched(ctx context.Context) (int64, error) {
	return searchGap(ctxReader{m, ctx}, m.id)
}
