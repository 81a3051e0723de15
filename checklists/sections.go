package checklists

import (
	"slices"
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Section is the items answered in one place, in the list's order. Its name is
// their Station; one without items is none.
type Section struct {
	Name  string
	Items []ItemID
}

// Sections are the list's sections in the order they are first met.
func (l List) Sections() []Section {
	var all []Section
	for _, item := range l.Items {
		at := slices.IndexFunc(all, func(s Section) bool { return s.Name == item.Station })
		if at < 0 {
			at = len(all)
			all = append(all, Section{Name: item.Station})
		}
		all[at].Items = append(all[at].Items, item.ID)
	}
	return all
}

func (l List) hasSection(name string) bool {
	return slices.ContainsFunc(l.Items, func(i Item) bool { return i.Station == name })
}

// newSection is nil or a [plain.Problems] with what keeps name from being a
// section the list does not have yet.
func (l List) newSection(name string) error {
	var bad plain.Problems
	bad.Unless(worded(name, LongestPrompt), "section", "a name for the section, in at most %d letters", LongestPrompt)
	bad.Unless(!l.hasSection(name), "section", "a name no other section of the list has")
	return bad.Err()
}

func (l List) knownSection(name string) error {
	var bad plain.Problems
	bad.Unless(l.hasSection(name), "section", "a section of the list")
	return bad.Err()
}

// WithSection returns the list with one more section about that equipment and
// the id of the one item in it, to be filled in. Its error, as that of the other
// changes to sections, is a [plain.Problems] for "section".
func (l List) WithSection(name string, equipment procedures.EquipmentID, versions ...List) (List, ItemID, error) {
	name = strings.TrimSpace(name)
	if err := l.newSection(name); err != nil {
		return l, "", err
	}
	with, id := l.WithNew(versions...)
	last := &with.Items[len(with.Items)-1]
	last.Station, last.Equipment, last.State = name, equipment, Stopped
	return with, id, nil
}

// RenamedSection returns the list with another name for a section.
func (l List) RenamedSection(name, to string) (List, error) {
	to = strings.TrimSpace(to)
	if err := l.knownSection(name); err != nil || name == to {
		return l, err
	}
	if err := l.newSection(to); err != nil {
		return l, err
	}
	l.Items = slices.Clone(l.Items)
	for i := range l.Items {
		if l.Items[i].Station == name {
			l.Items[i].Station = to
		}
	}
	return l, nil
}

// SplitSection returns the list with a section made two: the item and those of
// the section after it are in the new one.
func (l List) SplitSection(from ItemID, name string) (List, error) {
	name = strings.TrimSpace(name)
	at := l.place(from)
	if at < 0 {
		return l, l.knownSection("")
	}
	if err := l.newSection(name); err != nil {
		return l, err
	}
	old := l.Items[at].Station
	l.Items = slices.Clone(l.Items)
	for i := at; i < len(l.Items); i++ {
		if l.Items[i].Station == old {
			l.Items[i].Station = name
		}
	}
	return l, nil
}

// MergedSections returns the list with the items of one section at the end of
// another.
func (l List) MergedSections(from, into string) (List, error) {
	for _, name := range []string{from, into} {
		if err := l.knownSection(name); err != nil {
			return l, err
		}
	}
	for _, section := range l.Sections() {
		if section.Name != from || from == into {
			continue
		}
		for _, id := range section.Items {
			l = l.MovedInto(id, into)
		}
	}
	return l, nil
}

// MovedSection returns the list with a section moved past so many of the
// sections one walks beside it, down for a positive number, at most to either
// end, and all its items in the order one walks them. Beside it are those of the
// first state of the machine it has items in; in the other states it is moved
// past the same one.
func (l List) MovedSection(name string, by int) (List, error) {
	if err := l.knownSection(name); err != nil {
		return l, err
	}
	walked := Walked(l.Items)
	var states []MachineState
	beside := make(map[MachineState][]string)
	for _, item := range walked {
		if !slices.Contains(states, item.State) {
			states = append(states, item.State)
		}
		if !slices.Contains(beside[item.State], item.Station) {
			beside[item.State] = append(beside[item.State], item.Station)
		}
	}
	past := ""
	for _, state := range states {
		order := beside[state]
		at := slices.Index(order, name)
		if at < 0 {
			continue
		}
		if past == "" {
			past = order[min(max(at+by, 0), len(order)-1)]
		}
		if slices.Contains(order, past) && past != name {
			order = slices.Delete(order, at, at+1)
			to := slices.Index(order, past)
			if by > 0 {
				to++
			}
			beside[state] = slices.Insert(order, to, name)
		}
	}
	slices.SortStableFunc(walked, func(a, b Item) int {
		if a.State != b.State {
			return a.State.order() - b.State.order()
		}
		return slices.Index(beside[a.State], a.Station) - slices.Index(beside[a.State], b.Station)
	})
	l.Items = walked
	return l, nil
}

// WithoutSection returns the list less a section and all its items.
func (l List) WithoutSection(name string) (List, error) {
	if err := l.knownSection(name); err != nil {
		return l, err
	}
	l.Items = slices.DeleteFunc(slices.Clone(l.Items), func(i Item) bool { return i.Station == name })
	return l, nil
}
