package checklists

import (
	"slices"
	"strconv"
	"strings"

	"stillsaw/procedures/plain"
)

// mostTimes bounds how often one item is repeated: two dogs at each of the most
// headblocks.
const mostTimes = 2 * mostRepeats

// endHooks is how many hooks hold a cant: a pair, one in each end.
const endHooks = 2

// nthMark stands between the id of a repeated item and which one it is, "K1#2".
const nthMark = "#"

// Known tells whether p is one of the things items are repeated for.
func (p RepeatPer) Known() bool {
	return p == PerDog || p == PerHook || p == PerEntryPoint || p == PerHeadblock
}

// Counted is how many of these there were at set-up, at least one: what was not
// counted is asked about once.
func (p RepeatPer) Counted(a SetUp) int {
	switch p {
	case PerDog:
		return 2 * repeats(a.Headblocks)
	case PerHook:
		return endHooks
	case PerEntryPoint:
		return repeats(a.EntryPoints)
	case PerHeadblock:
		return repeats(a.Headblocks)
	}
	return 1
}

// Counted is the list with how often each repeated item is asked filled in: as
// often as its author said, else as set-up counts. A version keeps the count it
// was published with.
func (l List) Counted(a SetUp) List {
	l.Items = slices.Clone(l.Items)
	for i := range l.Items {
		r := &l.Items[i].Repeat
		switch {
		case r.Per == "":
			*r = Repeat{}
		case r.Count > 0:
			r.Times = r.Count
		default:
			r.Times = r.Per.Counted(a)
		}
	}
	return l
}

// Asks is every question of the list, in its order: the items that are fitted,
// a repeated one once for each of what it is repeated for, under ids such as
// "K1#2" that answers and defects name. Whether one with a condition is asked
// is told by [List.Askings].
func (l List) Asks() []Item {
	asks := make([]Item, 0, len(l.Items))
	for _, item := range l.Items {
		switch {
		case item.NotFitted:
		case item.Repeat.Per == "":
			asks = append(asks, item)
		default:
			asks = append(asks, item.each()...)
		}
	}
	return asks
}

// asks finds the question of that id among those of [List.Asks].
func (l List) asks(id ItemID) (Item, bool) {
	item, known := l.Item(id)
	return item, known && !item.NotFitted && (item.Repeat.Per == "" || item.Nth > 0)
}

// Item returns the item of that id, if the list has it: as its author wrote it,
// or for an id such as "K1#2" the one asked.
func (l List) Item(id ItemID) (Item, bool) {
	written, nth, repeated := strings.Cut(string(id), nthMark)
	for _, item := range l.Items {
		if item.ID == id {
			return item, true
		}
		if !repeated || string(item.ID) != written || item.Repeat.Per == "" {
			continue
		}
		n, err := strconv.Atoi(nth)
		if err != nil || n < 1 || n > item.Repeat.times() || item.nth(n).ID != id {
			return Item{}, false
		}
		return item.nth(n), true
	}
	return Item{}, false
}

// written is the id its author gave the item asked under this one.
func (id ItemID) written() ItemID {
	written, _, _ := strings.Cut(string(id), nthMark)
	return ItemID(written)
}

// alike are two repeats to hold against each other: how often one is asked
// counts once both are published.
func alike(before, after Repeat) (Repeat, Repeat) {
	if before.Times == 0 || after.Times == 0 {
		before.Times, after.Times = 0, 0
	}
	return before, after
}

func (r Repeat) times() int {
	if r.Times > 0 {
		return min(r.Times, mostTimes)
	}
	return min(max(r.Count, 1), mostTimes)
}

func (i Item) each() []Item {
	if i.Repeat.Per == "" {
		return []Item{i}
	}
	all := make([]Item, i.Repeat.times())
	for n := range all {
		all[n] = i.nth(n + 1)
	}
	return all
}

func (i Item) nth(n int) Item {
	i.ID = ItemID(string(i.ID) + nthMark + strconv.Itoa(n))
	i.Nth = n
	return i
}

// Which says which of several a repeated item is asked about, "headblock 2";
// empty for an item asked once.
func (i Item) Which() plain.Sentence {
	switch block := (i.Nth + 1) / 2; {
	case i.Nth == 0:
	case i.Repeat.Per == PerDog && i.Repeat.Count > 0:
		return plain.Say("dog %d", i.Nth)
	case i.Repeat.Per == PerDog && i.Nth%2 == 1:
		return plain.Say("upper dog of headblock %d", block)
	case i.Repeat.Per == PerDog:
		return plain.Say("lower dog of headblock %d", block)
	case i.Repeat.Per == PerHook:
		return plain.Say("hook %d", i.Nth)
	case i.Repeat.Per == PerEntryPoint:
		return plain.Say("entry point %d", i.Nth)
	case i.Repeat.Per == PerHeadblock:
		return plain.Say("headblock %d", i.Nth)
	}
	return plain.Sentence{}
}

// Said is the prompt with which of several it is asked about.
func (i Item) Said() plain.Sentence {
	if which := i.Which(); !which.Empty() {
		return plain.Say("%[1]s (%[2]s)", i.Prompt, which)
	}
	return plain.Say("%s", i.Prompt)
}

// outgrown tells whether set-up counts more of something by now than the
// version asks about.
func (i Item) outgrown(a SetUp) bool {
	return !i.NotFitted && i.Repeat.Per != "" && i.Repeat.Count == 0 && i.Repeat.Per.Counted(a) > i.Repeat.times()
}
