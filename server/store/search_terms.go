package store

import (
	"math/big"
	"slices"
	"strings"

	"stillsaw/server/search"
)

// beginningsMost is how many words a beginning may stand for. One that is short
// for more is looked for as the word it is.
const beginningsMost = 256

// clue is one thing an entry must meet to be found: a word of each of all, or one
// of any. Where it has a phrase, what is met by all is held against the text.
type clue struct {
	all    [][]string
	any    []string
	phrase []string

	words  []string // all it can be met by, in order, each once
	blocks *big.Int // those in which it can be met at all, a bit for each
	reads  int      // how many words of blocks there are to read for it
}

// clues are what a query and a filter ask for.
type clues struct {
	r     reader
	mill  string
	kinds map[string]string
	came  map[string]string  // outcomes
	in    map[string][]int64 // the blocks of each word known so far
	short []string           // beginnings that stand for too many words
}

func (c *clues) of(q search.Query, f Filter) ([]clue, error) {
	var all []clue
	for _, term := range q.Terms {
		one, err := c.term(term)
		if err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	for _, by := range []struct{ word, value string }{{wordOfTime, f.Day}, {wordOfMachine, string(f.Equipment)}, {wordOfActor, string(f.Person)}, {wordOfKind, f.Kind}} {
		if by.value != "" {
			all = append(all, clue{any: []string{by.word + by.value}})
		}
	}
	for i := range all {
		if err := c.locate(&all[i]); err != nil {
			return nil, err
		}
	}
	return all, nil
}

func (c *clues) term(term search.Term) (clue, error) {
	one := clue{phrase: term.Phrase, any: timesOf(term)}
	var named map[string]int // word of a person or a machine: how many words of the term its names have
	for _, wanted := range term.Words {
		words, err := c.words("", wanted)
		if err != nil {
			return one, err
		}
		one.all = append(one.all, words)
		ids, err := c.named(wanted)
		if err != nil {
			return one, err
		}
		if named == nil {
			named = map[string]int{}
		}
		for _, id := range ids {
			named[id]++
		}
		if term.Phrase == nil {
			one.any = append(one.any, c.saidOf(func(said string) bool { return meets(said, wanted) })...)
		}
	}
	if term.Phrase != nil {
		one.any = append(one.any, c.saidOf(func(said string) bool { return search.Stands(said, term.Phrase) })...)
	}
	for word, met := range named {
		if met == len(term.Words) {
			one.any = append(one.any, word)
		}
	}
	return one, nil
}

func timesOf(term search.Term) []string {
	var words []string
	for _, stretch := range search.Stretches(term.From, term.Until) {
		if len(stretch) > len("2026") {
			words = append(words, wordOfTime+stretch)
			continue
		}
		for _, month := range []string{"01", "02", "03", "04", "05", "06", "07", "08", "09", "10", "11", "12"} {
			words = append(words, wordOfTime+stretch+"-"+month)
		}
	}
	return words
}

// words are those of the mill that meet what is wanted, after a sign of their sort.
func (c *clues) words(sort string, wanted search.Wanted) ([]string, error) {
	exact := sort + wanted.Word
	from, until := exact, exact
	switch {
	case wanted.Prefix:
		until += "\U0010FFFF"
	case sort != "":
		from, until = exact+"=", exact+">"
	default:
		return []string{exact}, nil
	}
	var rows []searchWordRow
	err := c.r.gorm().Order("word").Limit(beginningsMost+1).Find(&rows, "mill = ? AND word >= ? AND word < ?", c.mill, from, until).Error
	if err != nil {
		return nil, err
	}
	if len(rows) > beginningsMost {
		if sort == "" {
			c.short = append(c.short, wanted.Word)
			return []string{exact}, nil
		}
		rows = rows[:beginningsMost]
	}
	words := make([]string, len(rows))
	for i, row := range rows {
		words[i] = row.Word
		if c.in[row.Word], err = unpackBlocks(row.Blocks); err != nil {
			return nil, err
		}
	}
	return words, nil
}

// named are the words of people, equipment and what else entries are about that
// have, or had, a name with what is wanted in it.
func (c *clues) named(wanted search.Wanted) ([]string, error) {
	people, err := c.words(wordOfName, wanted)
	if err != nil {
		return nil, err
	}
	machines, err := c.words(wordOfCalled, wanted)
	if err != nil {
		return nil, err
	}
	var ids []string
	for _, word := range people {
		_, id, _ := strings.Cut(word[len(wordOfName):], "=")
		ids = append(ids, wordOfPerson+id, wordOfActor+id)
	}
	things, err := c.words(wordOfTitle, wanted)
	if err != nil {
		return nil, err
	}
	for _, word := range things {
		_, thing, _ := strings.Cut(word[len(wordOfTitle):], "=")
		ids = append(ids, wordOfAbout+thing)
	}
	for _, word := range machines {
		_, id, _ := strings.Cut(word[len(wordOfCalled):], "=")
		ids = append(ids, wordOfMachine+id)
	}
	slices.Sort(ids)
	return slices.Compact(ids), nil
}

// saidOf are the kinds and outcomes whose words as the reader has them are met.
func (c *clues) saidOf(met func(said string) bool) []string {
	var words []string
	for kind, said := range c.kinds {
		if met(said) {
			words = append(words, wordOfKind+kind)
		}
	}
	for outcome, said := range c.came {
		if met(said) {
			words = append(words, wordOfOutcome+outcome)
		}
	}
	return words
}

// meets tells whether one of the words said is the one wanted; NO-GO is one word.
func meets(said string, wanted search.Wanted) bool {
	return slices.ContainsFunc(search.Parse(said, nil).Terms, func(t search.Term) bool {
		return slices.ContainsFunc(t.Words, func(w search.Wanted) bool { return wanted.Met(w.Word) })
	})
}

// locate finds the blocks in which a clue can be met.
func (c *clues) locate(one *clue) error {
	one.words = slices.Concat(slices.Concat(one.all...), one.any)
	slices.Sort(one.words)
	one.words = slices.Compact(one.words)
	if err := c.learn(one.words); err != nil {
		return err
	}
	for _, word := range one.words {
		one.reads += len(c.in[word])
	}
	one.blocks = c.blocks(one.any)
	if len(one.all) > 0 {
		together := c.blocks(one.all[0])
		for _, words := range one.all[1:] {
			together.And(together, c.blocks(words))
		}
		one.blocks.Or(one.blocks, together)
	}
	return nil
}

func (c *clues) blocks(words []string) *big.Int {
	set := new(big.Int)
	for _, word := range words {
		for _, block := range c.in[word] {
			set.SetBit(set, int(block), 1)
		}
	}
	return set
}

// learn reads the blocks of words that are not known yet.
func (c *clues) learn(words []string) error {
	var asked []string
	for _, word := range words {
		if _, known := c.in[word]; !known {
			asked = append(asked, word)
			c.in[word] = nil
		}
	}
	for some := range slices.Chunk(asked, searchAtOnce) {
		var rows []searchWordRow
		if err := c.r.gorm().Find(&rows, "mill = ? AND word IN ?", c.mill, some).Error; err != nil {
			return err
		}
		for _, row := range rows {
			blocks, err := unpackBlocks(row.Blocks)
			if err != nil {
				return err
			}
			c.in[row.Word] = blocks
		}
	}
	return nil
}
