package store

import (
	"bytes"
	"context"
	"database/sql"
	"math/big"
	"slices"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/record"
	"stillsaw/server/search"
)

// Looking is what somebody looks for in the record.
type Looking struct {
	Filter // combined with the query; a subject is not
	Query  search.Query
	Kinds  map[string]string // kinds of entries as the reader calls them

	Outcomes map[string]string // and what their lines say of how they came out
}

// Finding is a page of what was found, newest first.
type Finding struct {
	Entries []FoundEntry
	More    bool
	Further int64    // where looking stopped before the page was full, to go on from; 0: it did not
	Short   []string // beginnings of words too short to tell what they begin
	Without int64    // how many of the oldest entries can't be found by words yet
}

// FoundEntry is an entry with the texts it was found by.
type FoundEntry struct {
	Entry
	Texts []string
}

// How far one page looks. A query whose words are everywhere and never together
// would else go through the whole record; who wants that goes on page by page.
const (
	placesAPage = 4000 // words of blocks
	textsAPage  = 200  // held against a phrase
	readAtOnce  = 1500 // words of blocks
	blocksMost  = 512  // narrowed at once, growing from two: most pages end early
)

// Search lists the entries that meet every term of l's query and its filter.
func (m *Mill) Search(ctx context.Context, l Looking) (f Finding, err error) {
	// One transaction, so that words, places and entries are of one moment.
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		f, err = (&Tx{db: db}).search(m, l, placesAPage)
		return err
	})
	return f, err
}

func (tx *Tx) search(m *Mill, l Looking, most int) (f Finding, err error) {
	if f.Without, err = searchGap(tx, m.id); err != nil {
		return f, err
	}
	c := clues{r: tx, mill: string(m.id), kinds: l.Kinds, came: l.Outcomes, in: map[string][]int64{}}
	all, err := c.of(l.Query, l.Filter)
	if err != nil || len(all) == 0 {
		return f, err
	}
	f.Short = c.short
	s := seeker{tx: tx, m: m, clues: all, in: c.in, l: l, most: most}
	if err := s.seek(); err != nil {
		return f, err
	}
	f.Entries, f.Further = s.found, s.stopped
	if f.More = len(f.Entries) > l.Limit; f.More {
		f.Entries, f.Further = f.Entries[:l.Limit], 0
	}
	if l.Newer {
		slices.Reverse(f.Entries)
	}
	return f, nil
}

// seeker goes through the blocks in which all clues can be met.
type seeker struct {
	tx    *Tx
	m     *Mill
	clues []clue
	in    map[string][]int64
	l     Looking

	first   int64 // block
	read    int   // words of blocks
	most    int   // of them for one page
	found   []FoundEntry
	texts   int // held against phrases
	stopped int64
}

// meeting are the entries of one block that met the clues looked at so far.
type meeting struct {
	block int64
	met   placeSet
	sure  []placeSet // by clue, met without a look at the text
}

func (s *seeker) seek() error {
	set := new(big.Int).Set(s.clues[0].blocks)
	for _, one := range s.clues[1:] {
		set.And(set, one.blocks)
	}
	var all []meeting
	for block := range set.BitLen() {
		if set.Bit(block) == 1 && s.within(int64(block)) {
			all = append(all, meeting{block: int64(block)})
		}
	}
	if len(all) == 0 {
		return nil
	}
	if !s.l.Newer {
		slices.Reverse(all)
	}
	s.first = all[0].block
	// The clue with the fewest words to read first: where it is not met, the
	// others are not read at all.
	slices.SortStableFunc(s.clues, func(a, b clue) int { return a.reads - b.reads })
	for size := 2; len(all) > 0 && !s.done(); size = min(2*size, blocksMost) {
		some := all[:min(size, len(all))]
		all = all[len(some):]
		if err := s.narrow(0, some); err != nil {
			return err
		}
	}
	return nil
}

func (s *seeker) done() bool { return len(s.found) > s.l.Limit || s.stopped != 0 }

// narrow looks for what meets the clues from the n-th on in blocks that met those
// before, and adds what is found.
func (s *seeker) narrow(n int, blocks []meeting) error {
	if n == len(s.clues) {
		for _, one := range blocks {
			if err := s.block(one); err != nil || s.done() {
				return err
			}
		}
		return nil
	}
	for len(blocks) > 0 && !s.done() {
		// At least one block is looked through, so that each page goes further.
		if s.read >= s.most && blocks[0].block != s.first {
			s.stopped = s.goOn(blocks[0].block)
			break
		}
		some, wanted := s.reading(s.clues[n], blocks)
		blocks = blocks[len(some):]
		kept, err := s.places(wanted)
		if err != nil {
			return err
		}
		var still []meeting
		for _, one := range some {
			if s.meet(n, &one, kept[one.block]); !one.met.empty() {
				still = append(still, one)
			}
		}
		if err := s.narrow(n+1, still); err != nil {
			return err
		}
	}
	return nil
}

// meet takes out of what met the clues before what does not meet the n-th.
func (s *seeker) meet(n int, m *meeting, kept map[string]*placeSet) {
	either := func(words []string) (set placeSet) {
		for _, word := range words {
			if places := kept[word]; places != nil {
				set.or(places)
			}
		}
		return set
	}
	one := s.clues[n]
	now := either(one.any)
	m.sure = append(m.sure, now)
	if len(one.all) > 0 {
		both := either(one.all[0])
		for _, words := range one.all[1:] {
			more := either(words)
			both.and(&more)
		}
		now.or(&both)
	}
	if n == 0 {
		m.met = now
		return
	}
	m.met.and(&now)
}

// within tells whether a block has entries on this page's side.
func (s *seeker) within(block int64) bool {
	if s.l.Newer {
		return (block+1)*searchBlock > s.l.After+1
	}
	return s.l.Before == 0 || block*searchBlock < s.l.Before
}

// goOn is where the next page starts when block is the next to look at.
func (s *seeker) goOn(block int64) int64 {
	if s.l.Newer {
		return max(block*searchBlock-1, 1)
	}
	return (block + 1) * searchBlock
}

// wordIn is a word that occurs in a block.
type wordIn struct {
	block int64
	word  string
}

// reading are as many of blocks as are read at once for a clue, and what there is
// to read in them.
func (s *seeker) reading(one clue, blocks []meeting) (some []meeting, wanted []wordIn) {
	for i, at := range blocks {
		was := len(wanted)
		for _, word := range one.words {
			if _, has := slices.BinarySearch(s.in[word], at.block); has {
				wanted = append(wanted, wordIn{at.block, word})
			}
		}
		if i > 0 && len(wanted) > readAtOnce {
			return blocks[:i], wanted[:was]
		}
	}
	return blocks, wanted
}

// places reads which entries have what is wanted, by block and word.
func (s *seeker) places(wanted []wordIn) (map[int64]map[string]*placeSet, error) {
	s.read += len(wanted)
	kept := map[int64]map[string]*placeSet{}
	for some := range slices.Chunk(wanted, searchAtOnce) {
		if err := s.tx.placesIn(s.m.id, some, func(at wordIn, places *placeSet) {
			if kept[at.block] == nil {
				kept[at.block] = map[string]*placeSet{}
			}
			kept[at.block][at.word] = places
		}); err != nil {
			return nil, err
		}
	}
	return kept, nil
}

// placesIn reads some places. There are thousands for a query of common words, so
// they are read past the layer that would look at each field.
func (tx *Tx) placesIn(mill checklists.MillID, wanted []wordIn, each func(wordIn, *placeSet)) (err error) {
	args := make([]any, 0, 2*len(wanted)+1)
	args = append(args, string(mill))
	for _, at := range wanted {
		args = append(args, at.block, at.word)
	}
	more := ""
	if len(wanted) > 1 {
		more = "," + marks(len(wanted)-1, 2)
	}
	rows, err := tx.db.Statement.ConnPool.QueryContext(tx.db.Statement.Context,
		placed(tx.db, "SELECT block, word, places FROM search_places WHERE mill = ? AND (block, word) IN (VALUES (CAST(? AS BIGINT), ?)"+more+")"), args...)
	if err != nil {
		return err
	}
	return eachRow(rows, func() error {
		var at wordIn
		var packed sql.RawBytes
		if err := rows.Scan(&at.block, &at.word, &packed); err != nil {
			return err
		}
		places, err := unpackPlaces(packed)
		if err != nil {
			return err
		}
		each(at, &places)
		return nil
	})
}

// block adds what is found in one block.
func (s *seeker) block(m meeting) error {
	var seqs []int64
	for place := range searchBlock {
		seq := m.block*searchBlock + int64(place)
		if m.met.has(place) && (s.l.Newer && seq > s.l.After || !s.l.Newer && (s.l.Before == 0 || seq < s.l.Before)) {
			seqs = append(seqs, seq)
		}
	}
	if !s.l.Newer {
		slices.Reverse(seqs)
	}
	for len(seqs) > 0 && len(s.found) <= s.l.Limit && s.stopped == 0 {
		some := seqs[:min(len(seqs), s.l.Limit+1-len(s.found))]
		seqs = seqs[len(some):]
		if err := s.entries(some, m.sure); err != nil {
			return err
		}
	}
	return nil
}

// stands tells whether each phrase stands in the entry's texts.
func (s *seeker) stands(e FoundEntry, sure []placeSet) bool {
	for i, one := range s.clues {
		if one.phrase == nil || sure[i].has(int(e.Seq%searchBlock)) {
			continue
		}
		if !slices.ContainsFunc(e.Texts, func(text string) bool { return search.Stands(text, one.phrase) }) {
			return false
		}
	}
	return true
}

// entries adds those of seqs, in their order, in which each phrase stands.
func (s *seeker) entries(seqs []int64, sure []placeSet) error {
	var rows []entryRow
	if err := s.tx.gorm().Find(&rows, "mill = ? AND seq IN ?", s.m.id, seqs).Error; err != nil {
		return err
	}
	openings, err := openingsOf(s.tx, s.m.id, rows)
	if err != nil {
		return err
	}
	slices.SortFunc(rows, func(a, b entryRow) int { return slices.Index(seqs, a.Seq) - slices.Index(seqs, b.Seq) })
	for _, row := range rows {
		if s.texts >= textsAPage {
			s.stopped = row.Seq + 1
			if s.l.Newer {
				s.stopped = row.Seq - 1
			}
			return nil
		}
		if !s.may(row, openings[row.Seq], sure) {
			continue
		}
		e, err := entryOf(row, openings[row.Seq])
		if err != nil {
			return err
		}
		if one := (FoundEntry{Entry: e, Texts: textsOf(e.Body)}); s.stands(one, sure) {
			s.found = append(s.found, one)
		}
	}
	return nil
}

// may tells whether each phrase may stand in an entry, without taking it apart:
// most entries with the words of a phrase have them elsewhere.
func (s *seeker) may(row entryRow, openings []record.Opening, sure []placeSet) bool {
	for i, one := range s.clues {
		if one.phrase == nil || sure[i].has(int(row.Seq%searchBlock)) {
			continue
		}
		s.texts++
		in := func(o record.Opening) bool { return search.Stands(o.Value, one.phrase) }
		// A sign written with a stroke before it may part two words, or join them.
		if !slices.ContainsFunc(openings, in) && !bytes.ContainsRune(row.Leaf, '\\') && !search.Stands(string(row.Leaf), one.phrase) {
			return false
		}
	}
	return true
}
