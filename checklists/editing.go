package checklists

import (
	"fmt"
	"slices"

	"stillsaw/procedures/plain"
)

// Draft returns nil or a [plain.Problems] with what a draft can't be kept with:
// texts too long to show and items that can't be told apart. A gap is no
// problem yet; [List.Validate] finds it before the list is published, under the
// same field names.
func (l List) Draft() error {
	var bad plain.Problems
	bad.Unless(tidy(l.Title, LongestPrompt), "title", "a title of at most %d letters", LongestPrompt)
	bad.Unless(len(l.Items) <= mostItems, "items", "at most %d items", mostItems)
	seen := make(map[ItemID]bool, len(l.Items))
	for i, item := range l.Items {
		field := fmt.Sprintf("items.%s.", item.ID)
		bad.Unless(item.ID.usable() && !seen[item.ID], fmt.Sprintf("items.#%d.id", i+1), "an id no other item of the list has, of letters and digits")
		seen[item.ID] = true
		bad.Unless(tidy(item.Station, LongestPrompt), field+"station", "at most %d letters", LongestPrompt)
		bad.Unless(tidy(item.Prompt, LongestPrompt), field+"prompt", "what to check, in at most %d letters", LongestPrompt)
		bad.Unless(tidy(item.How, LongestNote), field+"how", "at most %d letters", LongestNote)
		bad.Unless(tidy(item.Source, LongestPrompt), field+"source", "at most %d letters", LongestPrompt)
		bad.Unless(tidy(item.Limits.Unit, LongestText), field+"limits.unit", "at most %d letters", LongestText)
		bad.Unless(tidy(string(item.Meter), LongestText), field+"meter", "at most %d letters", LongestText)
		bad.Unless(len(item.Options) <= mostOptions, field+"options", "at most %d words to choose from", mostOptions)
		for _, option := range item.Options {
			bad.Unless(tidy(option, LongestText), field+"options", "at most %d letters", LongestText)
		}
	}
	return bad.Err()
}

// Moved returns the list with an item moved by so many places, down for a
// positive number, at most to either end. An unknown item moves nothing.
func (l List) Moved(id ItemID, by int) List {
	at := l.place(id)
	if at < 0 {
		return l
	}
	item := l.Items[at]
	rest := slices.Delete(slices.Clone(l.Items), at, at+1)
	l.Items = slices.Insert(rest, min(max(at+by, 0), len(rest)), item)
	return l
}

// MovedTo returns the list with an item at that place, counted from 0, at most
// at either end.
func (l List) MovedTo(id ItemID, place int) List {
	at := l.place(id)
	if at < 0 {
		return l
	}
	return l.Moved(id, place-at)
}

// MovedInto returns the list with an item in that section, after the last of
// its items that is done in the same state of the machine.
func (l List) MovedInto(id ItemID, section string) List {
	at := l.place(id)
	if at < 0 || l.Items[at].Station == section {
		return l
	}
	item := l.Items[at]
	item.Station = section
	rest := slices.Delete(slices.Clone(l.Items), at, at+1)
	to, inState := len(rest), false
	for n, other := range rest {
		same := other.State == item.State
		if other.Station == section && (same || !inState) {
			to, inState = n+1, inState || same
		}
	}
	l.Items = slices.Insert(rest, to, item)
	return l
}

// Without returns the list less an item. What another item's condition looked
// at is found missing by [List.Validate].
func (l List) Without(id ItemID) List {
	l.Items = slices.DeleteFunc(slices.Clone(l.Items), func(i Item) bool { return i.ID == id })
	return l
}

// WithNew returns the list with one more item at its end, to be filled in, and
// the item's id, which no item of the list or of the versions given has. It
// stands where the last one does; it is a stop item done stopped until its
// author says otherwise.
func (l List) WithNew(versions ...List) (List, ItemID) {
	item := Item{ID: l.unused(versions), State: Stopped, Kind: Choice, Severity: Stop}
	if len(l.Items) > 0 {
		last := l.Items[len(l.Items)-1]
		item.Station, item.Equipment, item.State = last.Station, last.Equipment, last.State
	}
	l.Items = append(slices.Clone(l.Items), item)
	return l, item.ID
}

// Copied returns the list with a copy of an item after it and the copy's id, as
// [List.WithNew] makes one; "" for an item the list does not have.
func (l List) Copied(id ItemID, versions ...List) (List, ItemID) {
	at := l.place(id)
	if at < 0 {
		return l, ""
	}
	return l.withAfter(at, l.Items[at], versions)
}

// Split returns the list with an item made two and the id of the second, which
// follows it: the first keeps its id and asks the first thing, the second is the
// same but asks the other.
func (l List) Split(id ItemID, first, second string, versions ...List) (List, ItemID) {
	at := l.place(id)
	if at < 0 {
		return l, ""
	}
	other := l.Items[at]
	other.Prompt = second
	split, made := l.withAfter(at, other, versions)
	split.Items[at].Prompt = first
	return split, made
}

// withAfter returns the list with that item, under a new id, after the place.
func (l List) withAfter(at int, item Item, versions []List) (List, ItemID) {
	item = item.apart()
	item.ID = l.unused(versions)
	l.Items = slices.Insert(slices.Clone(l.Items), at+1, item)
	return l, item.ID
}

// apart is the item sharing nothing with the one it is a copy of.
func (i Item) apart() Item {
	i.Options = slices.Clone(i.Options)
	for _, number := range []**float64{&i.Limits.Low, &i.Limits.High, &i.Limits.StopAt, &i.When.From, &i.When.To} {
		if *number != nil {
			own := **number
			*number = &own
		}
	}
	return i
}

func (l List) place(id ItemID) int {
	return slices.IndexFunc(l.Items, func(i Item) bool { return i.ID == id })
}

// unused is an id that no item of the list or of the versions has.
func (l List) unused(versions []List) ItemID {
	taken := make(map[ItemID]bool)
	for _, version := range append(slices.Clone(versions), l) {
		for _, item := range version.Items {
			taken[item.ID] = true
		}
		for _, loosened := range version.Loosened {
			taken[loosened.Item] = true // of an item taken out before
		}
	}
	for n := 1; ; n++ {
		if id := ItemID(fmt.Sprintf("N%d", n)); !taken[id] {
			return id
		}
	}
}
