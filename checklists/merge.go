package checklists

import "slices"

// Merged is theirs with what is taken of mine: for "" the title and the
// schedule, for an item's id the item as mine has it, in its place there if it
// was moved or is new, or not at all if mine has it no more. What is not taken
// stays as theirs has it.
func Merged(theirs, mine List, take map[ItemID]bool) List {
	merged := theirs
	merged.Items = slices.Clone(theirs.Items)
	for _, change := range Compare(theirs, mine) {
		switch {
		case !take[change.Item]:
		case change.Item == "":
			merged.Title, merged.Schedule = mine.Title, mine.Schedule
		case change.Kind == Removed:
			merged = merged.Without(change.Item)
		default:
			item := mine.Items[mine.place(change.Item)].apart()
			at := merged.place(change.Item)
			if change.Kind != Added && !change.Moved {
				merged.Items[at] = item
				continue
			}
			merged = merged.Without(change.Item)
			merged.Items = slices.Insert(merged.Items, merged.behind(mine, change.Item), item)
		}
	}
	return merged
}

// behind is where an item of other stands in l: after the nearest one before it
// there that l has too.
func (l List) behind(other List, id ItemID) int {
	for at := other.place(id) - 1; at >= 0; at-- {
		if place := l.place(other.Items[at].ID); place >= 0 {
			return place + 1
		}
	}
	return 0
}
