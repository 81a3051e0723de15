package store

import (
	"slices"
	"strings"

	"stillsaw/procedures"
	"stillsaw/server/record"
)

// likeness is what verifying has to know of entries that are alike but for ids,
// times and personal values.
type likeness struct {
	about  []uint64 // bits of [foundUnder]
	words  []string // they are found by, but those of the day and of personal values
	owned  []ownWord
	told   []int // ids that stand as texts
	photos []int // ids that are photos

	block int64       // whose sets those are
	sets  []*placeSet // of words
}

// ownWord is a word with ids of the entry in it, in turn with what is the same.
type ownWord struct {
	parts []string
	ids   []int // one between each two parts
}

// opaqueTo are the members of bodies in which nothing stands that entries are found
// by: they are kept as they came, as JSON of their own.
var opaqueTo = map[string][]string{KindLift: {"asked", "verdict"}}

// alikeKinds are the kinds whose entries are looked at by their likeness: those
// that come often, and are found by nothing that is made of a personal value but
// its words. A kind that is not among them is looked at one by one.
var alikeKinds = []string{KindLockout, KindLift, KindLiftOfRun, KindLighter, KindWeighed, KindRunCheck, KindInspection, KindAmendment, KindUnsigned, KindSetAside,
	KindGearInspected, KindGearMeasured, KindDefect, KindDescribed, KindMended, KindReturned, KindDefectAssigned, KindDefectRedated, KindDefectNoted,
	KindDeparture, KindDepartureClosed, KindTask, KindBladeAct, KindSafetyCheck, KindEvent, KindExcuse, KindTraining}

// learn is the Learn of [record.Checks].
func (b *besides) learn(e record.Entry, ids []string) any {
	if !slices.Contains(alikeKinds, e.Kind) {
		return nil
	}
	said, err := decode(e.Kind, e.Version, e)
	if err != nil || said == nil {
		return nil
	}
	l := &likeness{block: -1}
	for _, photo := range photosIn(said) {
		id := slices.Index(ids, photo)
		if id < 0 {
			return nil
		}
		l.photos = append(l.photos, id)
	}
	about := distinct(said.about())
	if slices.ContainsFunc(about, func(id procedures.EquipmentID) bool { return slices.Contains(ids, string(id)) }) {
		return nil
	}
	l.about = make([]uint64, b.found.words)
	for _, id := range about {
		i, known := slices.BinarySearch(b.found.names, id)
		if !known {
			return nil
		}
		l.about[i/64] |= 1 << (i % 64)
	}
	tells := tell(said)
	tells.Texts = slices.DeleteFunc(tells.Texts, func(text string) bool {
		id := slices.Index(ids, text)
		if id >= 0 {
			l.told = append(l.told, id)
		}
		return id >= 0
	})
	words := wordsTold(e.Kind, e.Actor, "", said, tells)
	if len(words) > wordsMost/2 {
		return nil
	}
	for _, word := range words {
		own := splitAt(word, ids)
		switch {
		case word == wordOfTime:
		case len(own.ids) > 0:
			l.owned = append(l.owned, own)
		default:
			l.words = append(l.words, word)
		}
	}
	return l
}

// splitAt takes a word apart where one of ids stands in it.
func splitAt(word string, ids []string) (own ownWord) {
	for {
		at, which := len(word), -1
		for i, id := range ids {
			if found := strings.Index(word, id); found >= 0 && found < at {
				at, which = found, i
			}
		}
		own.parts = append(own.parts, word[:at])
		if which < 0 {
			return own
		}
		own.ids = append(own.ids, which)
		word = word[at+len(ids[which]):]
	}
}

// alike is the Alike of [record.Checks].
func (b *besides) alike(row record.Row, learned any, ids [][]byte) bool {
	l, _ := learned.(*likeness)
	if l == nil || b.err != nil {
		return false
	}
	if !slices.Equal(b.bits, l.about) {
		return false
	}
	if len(l.photos) > 0 {
		var named []string
		for _, id := range l.photos {
			named = append(named, string(ids[id]))
		}
		var faults []record.Fault
		if faults, b.err = b.picturesNamed(row, named); b.err != nil || len(faults) > 0 {
			return false
		}
	}
	ok, err := b.words.alike(row, l, ids)
	b.err = err
	return ok
}
