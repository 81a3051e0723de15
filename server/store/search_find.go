package store

import (
	"bytes"
	"context"
	"math/big"
	"slices"

	"gorm.io/gorm"

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
	blocksAPage = 1024 // about a million entries
	textsAPage  = 200  // held against a phrase
	lookedUp    = 1500 // words times blocks in one reading
)

// Search lists the entries that meet every term of l's query and its filter.
func (m *Mill) Search(ctx context.Context, l Looking) (f Finding, err error) {
	// One transaction, so that words, places and entries are of one moment.
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		f, err = (&Tx{db: db}).search(m, l)
		return err
	})
	return f, err
}

func (tx *Tx) search(m *Mill, l Looking) (f Finding, err error) {
	if f.Without, err = searchGap(tx, m.id); err != nil {
		return f, err
	}
	c := clues{r: tx, mill: string(m.id), kinds: l.Kinds, came: l.Outcomes, in: map[string][]int64{}}
	all, err := c.of(l.Query, l.Filter)
	if err != nil || len(all) == 0 {
		return f, err
	}
	f.Short = c.short
	s := seeker{tx: tx, m: m, clues: all, in: c.in, l: l}
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

	found   []FoundEntry
	texts   int // held against phrases
	stopped int64
}

func (s *seeker) seek() error {
	set := new(big.Int).Set(s.clues[0].blocks)
	for _, one := range s.clues[1:] {
		set.And(set, one.blocks)
	}
	var blocks []int64
	for block := range set.BitLen() {
		if set.Bit(block) == 1 && s.within(int64(block)) {
			blocks = append(blocks, int64(block))
		}
	}
	if !s.l.Newer {
		slices.Reverse(blocks)
	}
	for at, size := 0, 2; at < len(blocks) && len(s.found) <= s.l.Limit && s.stopped == 0; size = min(2*size, 64) {
		if at >= blocksAPage {
			s.stopped = s.goOn(blocks[at])
			break
		}
		some, words := s.reading(blocks[at:min(at+size, len(blocks))])
		at += len(some)
		kept, err := s.places(some, words)
		if err != nil {
			return err
		}
		for _, block := range some {
			if err := s.block(block, kept[block]); err != nil || len(s.found) > s.l.Limit || s.stopped != 0 {
				return err
			}
		}
	}
	return nil
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

// reading are as many of blocks as are read at once, and the words that occur in
// them.
func (s *seeker) reading(blocks []int64) (some []int64, words []string) {
	for some = blocks; ; some = some[:(len(some)+1)/2] {
		words = words[:0]
		for _, one := range s.clues {
			for _, word := range append(slices.Concat(one.all...), one.any...) {
				if slices.ContainsFunc(some, func(block int64) bool { _, has := slices.BinarySearch(s.in[word], block); return has }) {
					words = append(words, word)
				}
			}
		}
		slices.Sort(words)
		if words = slices.Compact(words); len(some) == 1 || len(some)*len(words) <= lookedUp {
			return some, words
		}
	}
}

func (s *seeker) places(blocks []int64, words []string) (map[int64]map[string]*placeSet, error) {
	kept := make(map[int64]map[string]*placeSet, len(blocks))
	for _, block := range blocks {
		kept[block] = map[string]*placeSet{}
	}
	for some := range slices.Chunk(words, searchAtOnce) {
		var rows []searchPlaceRow
		if err := s.tx.gorm().Find(&rows, "mill = ? AND block IN ? AND word IN ?", s.m.id, blocks, some).Error; err != nil {
			return nil, err
		}
		for _, row := range rows {
			places, err := unpackPlaces(row.Places)
			if err != nil {
				return nil, err
			}
			kept[row.Block][row.Word] = &places
		}
	}
	return kept, nil
}

// block adds what is found in one block.
func (s *seeker) block(block int64, kept map[string]*placeSet) error {
	either := func(words []string) (set placeSet) {
		for _, word := range words {
			if places := kept[word]; places != nil {
				set.or(places)
			}
		}
		return set
	}
	var met placeSet
	sure := make([]placeSet, len(s.clues)) // met without a look at the text
	for i, one := range s.clues {
		now := either(one.any)
		sure[i] = now
		if len(one.all) > 0 {
			both := either(one.all[0])
			for _, words := range one.all[1:] {
				more := either(words)
				both.and(&more)
			}
			now.or(&both)
		}
		if i == 0 {
			met = now
		}
		met.and(&now)
	}
	var seqs []int64
	for place := range searchBlock {
		seq := block*searchBlock + int64(place)
		if met.has(place) && (s.l.Newer && seq > s.l.After || !s.l.Newer && (s.l.Before == 0 || seq < s.l.Before)) {
			seqs = append(seqs, seq)
		}
	}
	if !s.l.Newer {
		slices.Reverse(seqs)
	}
	for len(seqs) > 0 && len(s.found) <= s.l.Limit && s.stopped == 0 {
		some := seqs[:min(len(seqs), s.l.Limit+1-len(s.found))]
		seqs = seqs[len(some):]
		if err := s.entries(some, sure); err != nil {
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
