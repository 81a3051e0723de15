package checklists

import (
	"slices"

	"stillsaw/procedures/plain"
)

// Asking is whether an item is asked, as far as the answers so far tell. The
// zero value is that it is.
type Asking int

const (
	IsAsked  Asking = iota
	Waits           // for the answer its condition looks at; it is needed as much as one asked
	NotAsked        // not fitted, or its condition is not met
)

// Askings tells of each question of [List.Asks] whether it is asked, with these
// answers. An answer not given, not checked or without the number or word the
// condition looks at leaves it waiting, never dropped. Of a condition on an
// item that is repeated: where both are repeated for the same thing the second
// hook looks at the second hook; else one answer that meets it is enough.
func (l List) Askings(given map[ItemID]Answer) map[ItemID]Asking {
	all := make(map[ItemID]Asking, len(l.Items))
	for _, item := range l.Asks() {
		l.asking(item, given, all)
	}
	return all
}

// asking settles one question and what it looks at in known.
func (l List) asking(item Item, given map[ItemID]Answer, known map[ItemID]Asking) Asking {
	if told, before := known[item.ID]; before {
		return told
	}
	if item.When.Item == "" {
		known[item.ID] = IsAsked
		return known[item.ID]
	}
	known[item.ID] = Waits // what looks at itself by a roundabout way decides nothing
	earlier, found := l.Item(item.When.Item)
	if !found || earlier.NotFitted {
		return known[item.ID]
	}
	told := NotAsked
	for _, one := range item.looksAt(earlier) {
		answer, answered := given[one.ID]
		if l.asking(one, given, known) == NotAsked && !answered {
			continue // what isn't asked there meets nothing here
		}
		switch item.When.metBy(answer) {
		case IsAsked:
			known[item.ID] = IsAsked
			return known[item.ID]
		case Waits:
			told = Waits
		}
	}
	known[item.ID] = told
	return told
}

// looksAt is which questions of an earlier item the condition of i looks at.
func (i Item) looksAt(earlier Item) []Item {
	each := earlier.each()
	if i.Nth > 0 && earlier.Repeat.Per == i.Repeat.Per && len(each) >= i.Nth {
		return each[i.Nth-1 : i.Nth]
	}
	return each
}

// LooksAt are the questions of [List.Asks] whose answers decide whether the item is
// asked: one that meets its condition is enough. None where it has no condition, or
// one that nobody's answer can meet.
func (l List) LooksAt(item Item) []ItemID {
	earlier, found := l.Item(item.When.Item)
	if item.When.Item == "" || !found || earlier.NotFitted {
		return nil
	}
	var ids []ItemID
	for _, one := range item.looksAt(earlier) {
		ids = append(ids, one.ID)
	}
	return ids
}

// metBy is IsAsked for an answer that meets the condition, Waits for one that
// does not tell.
func (c Condition) metBy(a Answer) Asking {
	told := func(yes bool) Asking {
		if yes {
			return IsAsked
		}
		return NotAsked
	}
	switch {
	case a.Result == "":
		return Waits
	case c.Result != "":
		if a.Result == NotChecked && c.Result != NotChecked {
			return Waits
		}
		return told(a.Result == c.Result)
	case c.Choice != "" && a.Text != "":
		return told(a.Text == c.Choice)
	case (c.From != nil || c.To != nil) && a.Number != nil:
		return told((c.From == nil || *a.Number >= *c.From) && (c.To == nil || *a.Number <= *c.To))
	}
	return Waits
}

// Walked is the items in the order one walks: by machine state, in each by
// station, a station where its first item of that state stands.
func Walked(items []Item) []Item {
	type place struct {
		state   MachineState
		station string
	}
	first := make(map[place]int, len(items))
	for n, item := range items {
		at := place{item.State, item.Station}
		if _, known := first[at]; !known {
			first[at] = n
		}
	}
	walked := slices.Clone(items)
	slices.SortStableFunc(walked, func(a, b Item) int {
		if order := a.State.order() - b.State.order(); order != 0 {
			return order
		}
		return first[place{a.State, a.Station}] - first[place{b.State, b.Station}]
	})
	return walked
}

// validateConditions notes what is wrong with the conditions of a list whose
// ids are in order.
func (l List) validateConditions(bad *plain.Problems) {
	walked := Walked(l.Items)
	for n, item := range walked {
		if item.When == (Condition{}) {
			continue
		}
		field := "items." + string(item.ID) + ".when."
		at := slices.IndexFunc(walked[:n], func(i Item) bool { return i.ID == item.When.Item })
		if at < 0 {
			bad.Unless(false, field+"item", "an item that is walked before this one")
			continue
		}
		earlier := walked[at]
		bad.Unless(!earlier.NotFitted || item.NotFitted, field+"item", "an item that is fitted: this one waits for an answer nobody gives")
		item.When.validate(bad, field, earlier)
	}
}

func (c Condition) validate(bad *plain.Problems, field string, earlier Item) {
	number := c.From != nil || c.To != nil
	tests := 0
	for _, set := range []bool{c.Result != "", c.Choice != "", number} {
		if set {
			tests++
		}
	}
	bad.Unless(tests == 1, field+"result", "one thing the answer is to be: its result, its word or its number")
	bad.Unless(c.Result == "" || c.Result.Known(), field+"result", "OK, defect or not checked")
	bad.Unless(c.Choice == "" || slices.Contains(earlier.Options, c.Choice), field+"choice", "one of the words %s lets choose from", string(earlier.ID))
	if !number {
		return
	}
	bad.Unless(earlier.Kind == Number || earlier.Kind == MeterReading, field+"from", "only a measurement or a meter has a number")
	sane := func(bound *float64) bool { return bound == nil || finite(*bound) && *bound >= 0 }
	bad.Unless(sane(c.From), field+"from", "a number of 0 or more")
	bad.Unless(sane(c.To), field+"to", "a number of 0 or more")
	bad.Unless(c.From == nil || c.To == nil || *c.From <= *c.To, field+"to", "no less than the number it starts from")
}
