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
	}
	return bad.Err()
}

// Moved returns the list with an item moved by so many places, down for a
// positive number, at most to either end. An unknown item moves nothing.
func (l List) Moved(id ItemID, by int) List {
	at := slices.IndexFunc(l.Items, func(i Item) bool { return i.ID == id })
	if at < 0 {
		return l
	}
	item := l.Items[at]
	rest := slices.Delete(slices.Clone(l.Items), at, at+1)
	l.Items = slices.Insert(rest, min(max(at+by, 0), len(rest)), item)
	return l
}

// Without returns the list less an item.
func (l List) Without(id ItemID) List {
	l.Items = slices.DeleteFunc(slices.Clone(l.Items), func(i Item) bool { return i.ID == id })
	return l
}

// WithNew returns the list with one more item at its end, to be filled in, and
// the item's id, which no item of the list has. It stands where the last one
// does; it is a stop item done stopped until its author says otherwise.
func (l List) WithNew() (List, ItemID) {
	var id ItemID
	for n := 1; ; n++ {
		id = ItemID(fmt.Sprintf("N%d", n))
		if _, taken := l.Item(id); !taken {
			break
		}
	}
	item := Item{ID: id, State: Stopped, Kind: Choice, Severity: Stop}
	if len(l.Items) > 0 {
		last := l.Items[len(l.Items)-1]
		item.Station, item.Equipment, item.State = last.Station, last.Equipment, last.State
	}
	l.Items = append(slices.Clone(l.Items), item)
	return l, id
}
