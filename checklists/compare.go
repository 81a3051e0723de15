package checklists

import (
	"reflect"
	"slices"

	"stillsaw/procedures/plain"
)

// ChangeKind is what became of an item between two versions.
type ChangeKind string

const (
	Added   ChangeKind = "added"
	Removed ChangeKind = "removed"
	Moved   ChangeKind = "moved"   // it stands elsewhere among the others
	Changed ChangeKind = "changed" // and may have moved too
)

// Change is what differs in one item, or in the list as a whole where Item is "".
type Change struct {
	Item   ItemID
	Kind   ChangeKind
	Prompt string // as it is now; of a removed item as it was
	Moved  bool
	Fields []FieldChange
	// Loosens: it asks less than before.
	Loosens bool
	// Rule is where what it asks less of comes from, if it is a rule and a stop
	// at that, its own or one asked only if its answer is so: such a change is published only with a reason ([List.Published]).
	Rule string
}

// FieldChange is one thing said otherwise than before.
type FieldChange struct {
	Field   string // as in [List.Validate], "limits.high"
	Name    plain.Sentence
	Before  plain.Sentence
	After   plain.Sentence
	Loosens bool
}

// Compare tells what differs from before to after: the list as a whole, then
// item by item in the order of after, what was removed where it stood.
// What is published anew is said to be so only by its version, not here.
func Compare(before, after List) []Change {
	var all []Change
	if whole := compareWhole(before, after); len(whole.Fields) > 0 {
		all = append(all, whole)
	}
	moved := movedItems(before, after)
	gone := func(from int) (removed []Change) {
		for _, item := range before.Items[from:] {
			if after.place(item.ID) >= 0 {
				break
			}
			removed = append(removed, compareItem(&item, nil))
		}
		return removed
	}
	all = append(all, gone(0)...)
	for _, item := range after.Items {
		at := before.place(item.ID)
		if at < 0 {
			all = append(all, compareItem(nil, &item))
			continue
		}
		change := compareItem(&before.Items[at], &item)
		change.hangs(before, after, before.Items[at], item)
		if change.Moved = slices.Contains(moved, item.ID); change.Moved && len(change.Fields) == 0 {
			change.Kind = Moved
		}
		if change.Moved {
			change.Fields = append(change.Fields, FieldChange{Field: "place", Name: plain.Say("place"),
				Before: plain.Say("%[1]d of %[2]d", at+1, len(before.Items)),
				After:  plain.Say("%[1]d of %[2]d", after.place(item.ID)+1, len(after.Items))})
		}
		if len(change.Fields) > 0 {
			all = append(all, change)
		}
		all = append(all, gone(at+1)...)
	}
	return all
}

// compareItem is the change from one item to the other; nil is none there.
func compareItem(before, after *Item) Change {
	switch {
	case before == nil:
		return Change{Item: after.ID, Kind: Added, Prompt: after.Prompt, Fields: differing(Item{}.facets(), after.facets())}
	case after == nil:
		return Change{Item: before.ID, Kind: Removed, Prompt: before.Prompt, Fields: differing(before.facets(), Item{}.facets()),
			Loosens: !before.NotFitted, Rule: before.stopsBy()}
	}
	was, is := *before, *after
	was.Repeat, is.Repeat = alike(was.Repeat, is.Repeat)
	change := Change{Item: after.ID, Kind: Changed, Prompt: after.Prompt, Fields: differing(was.facets(), is.facets())}
	change.mark(before.loosenedTo(*after))
	if change.Loosens {
		change.Rule = before.stopsBy()
	}
	return change
}

// hangs puts the rule of a stop that is asked by the answer to the item to a
// change of the item that asks less of it.
func (c *Change) hangs(before, after List, was, is Item) {
	rule, ok := hangsOn(c.Item, before, after)
	if rule == "" || was.NotFitted {
		return
	}
	if ok && was.Kind == Number && is.Kind == Number {
		c.mark(is.Limits.loosenedTo(was.Limits))
	}
	if c.Loosens && c.Rule == "" {
		c.Rule = rule
	}
}

func compareWhole(before, after List) Change {
	change := Change{Kind: Changed, Prompt: after.Title, Fields: differing(before.facets(), after.facets())}
	change.mark(before.Schedule.loosenedTo(after.Schedule))
	if !change.Loosens {
		return change
	}
	for _, item := range before.Items {
		if change.Rule = item.stopsBy(); change.Rule != "" {
			break
		}
	}
	return change
}

// mark notes which of the fields ask less.
func (c *Change) mark(loosened []string) {
	for i := range c.Fields {
		if slices.Contains(loosened, c.Fields[i].Field) {
			c.Fields[i].Loosens, c.Loosens = true, true
		}
	}
}

func differing(before, after []facet) []FieldChange {
	var fields []FieldChange
	for n, was := range before {
		if now := after[n]; !reflect.DeepEqual(was.kept, now.kept) {
			fields = append(fields, FieldChange{Field: was.field, Name: was.name, Before: was.said, After: now.said})
		}
	}
	return fields
}

// movedItems are the fewest items that have to be moved for those both lists
// have to stand in the order of after: the others are in a longest run that
// stands in the same order in both.
func movedItems(before, after List) []ItemID {
	var both []ItemID
	var places []int
	for _, item := range after.Items {
		if at := before.place(item.ID); at >= 0 {
			both, places = append(both, item.ID), append(places, at)
		}
	}
	longest, from := make([]int, len(both)), make([]int, len(both))
	last := -1
	for i := range both {
		longest[i], from[i] = 1, -1
		for j := range i {
			if places[j] < places[i] && longest[j]+1 > longest[i] {
				longest[i], from[i] = longest[j]+1, j
			}
		}
		if last < 0 || longest[i] > longest[last] {
			last = i
		}
	}
	stays := make([]bool, len(both))
	for ; last >= 0; last = from[last] {
		stays[last] = true
	}
	var moved []ItemID
	for i, id := range both {
		if !stays[i] {
			moved = append(moved, id)
		}
	}
	return moved
}
