package checklists_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
)

func ids(l checklists.List) (all []checklists.ItemID) {
	for _, item := range l.Items {
		all = append(all, item.ID)
	}
	return all
}

func names(l checklists.List) (all []string) {
	for _, section := range l.Sections() {
		all = append(all, section.Name)
	}
	return all
}

func draftOf(items ...checklists.Item) checklists.List {
	return checklists.List{ID: "d", Title: "Draft", Items: items}
}

func itemIn(id checklists.ItemID, section string, state checklists.MachineState) checklists.Item {
	return checklists.Item{ID: id, Station: section, State: state, Equipment: "hoist", Prompt: string(id)}
}

func TestItemsAreCopiedSplitAndMoved(t *testing.T) {
	l := draftOf(itemIn("a", "A", checklists.Stopped), itemIn("b", "A", checklists.Stopped), itemIn("c", "B", checklists.LockedOut), itemIn("d", "B", checklists.Stopped))
	l.Items[0].Limits.High = number(3)
	copied, id := l.Copied("a")
	require.Equal(t, []checklists.ItemID{"a", id, "b", "c", "d"}, ids(copied))
	*copied.Items[1].Limits.High = 9
	require.Equal(t, 3.0, *l.Items[0].Limits.High, "the copy shares nothing")
	split, id := l.Split("b", "left one", "right one")
	require.Equal(t, []checklists.ItemID{"a", "b", id, "c", "d"}, ids(split))
	require.Equal(t, []string{"left one", "right one"}, []string{split.Items[1].Prompt, split.Items[2].Prompt})
	require.Equal(t, []checklists.ItemID{"b", "c", "a", "d"}, ids(l.MovedTo("a", 2)))
	require.Equal(t, []checklists.ItemID{"b", "c", "d", "a"}, ids(l.MovedTo("a", 99)))
	into := l.MovedInto("a", "B")
	require.Equal(t, []checklists.ItemID{"b", "c", "d", "a"}, ids(into), "after the last of the section done in the same state")
	require.Equal(t, "B", into.Items[3].Station)
	require.Equal(t, "A", l.Items[0].Station, "the list it was made from is as it was")
	for _, same := range []checklists.List{l.MovedTo("x", 1), l.MovedInto("x", "B"), l.MovedInto("a", "A"), l.Without("x")} {
		require.Equal(t, l, same)
	}
	_, id = l.Copied("x")
	require.Empty(t, id)
}

func TestNewIdsAreUsedByNoVersionHandedIn(t *testing.T) {
	old := draftOf(itemIn("N1", "A", checklists.Stopped), itemIn("N2", "A", checklists.Stopped))
	gone := draftOf()
	gone.Loosened = []checklists.Loosened{{Item: "N4"}}
	l := draftOf(itemIn("N3", "A", checklists.Stopped))
	_, id := l.WithNew(old, gone)
	require.Equal(t, checklists.ItemID("N5"), id)
	_, id = l.Copied("N3", old)
	require.Equal(t, checklists.ItemID("N4"), id)
	_, id, err := l.WithSection("B", "hoist", old)
	require.NoError(t, err)
	require.Equal(t, checklists.ItemID("N4"), id)
}

func TestSectionsAreMadeRenamedSplitMergedAndMoved(t *testing.T) {
	l := draftOf(itemIn("a", "A", checklists.LockedOut), itemIn("b", "B", checklists.LockedOut), itemIn("c", "A", checklists.Stopped), itemIn("d", "A", checklists.Stopped),
		itemIn("e", "B", checklists.Stopped), itemIn("f", "C", checklists.Stopped))
	require.Equal(t, []string{"A", "B", "C"}, names(l))
	made, id, err := l.WithSection(" D ", "head-saw")
	require.NoError(t, err)
	require.Equal(t, []string{"A", "B", "C", "D"}, names(made))
	item, _ := made.Item(id)
	require.EqualValues(t, "head-saw", item.Equipment)
	renamed, err := l.RenamedSection("A", "Z")
	require.NoError(t, err)
	require.Equal(t, []string{"Z", "B", "C"}, names(renamed))
	split, err := l.SplitSection("d", "A2")
	require.NoError(t, err)
	require.Equal(t, []string{"A", "B", "A2", "C"}, names(split))
	merged, err := l.MergedSections("A", "B")
	require.NoError(t, err)
	require.Equal(t, []string{"B", "C"}, names(merged))
	require.Equal(t, []checklists.ItemID{"b", "a", "e", "c", "d", "f"}, ids(merged))
	moved, err := l.MovedSection("C", -1)
	require.NoError(t, err)
	require.Equal(t, []checklists.ItemID{"a", "b", "c", "d", "f", "e"}, ids(moved))
	moved, err = moved.MovedSection("C", -1)
	require.NoError(t, err)
	require.Equal(t, []checklists.ItemID{"a", "b", "f", "c", "d", "e"}, ids(moved))
	moved, err = l.MovedSection("A", 1)
	require.NoError(t, err)
	require.Equal(t, []checklists.ItemID{"b", "a", "e", "c", "d", "f"}, ids(moved), "in every state past the same one")
	without, err := l.WithoutSection("A")
	require.NoError(t, err)
	require.Equal(t, []checklists.ItemID{"b", "e", "f"}, ids(without))
	for _, err := range []error{
		func() error { _, _, err := l.WithSection("A", "hoist"); return err }(),
		func() error { _, _, err := l.WithSection(" ", "hoist"); return err }(),
		func() error { _, err := l.RenamedSection("A", "B"); return err }(),
		func() error { _, err := l.RenamedSection("X", "Y"); return err }(),
		func() error { _, err := l.SplitSection("d", "B"); return err }(),
		func() error { _, err := l.SplitSection("x", "Y"); return err }(),
		func() error { _, err := l.MergedSections("A", "X"); return err }(),
		func() error { _, err := l.MovedSection("X", 1); return err }(),
		func() error { _, err := l.WithoutSection("X"); return err }(),
	} {
		require.NotNil(t, problems(t, err).For("section"))
	}
}

// Whatever is done to a list in whatever order: no item is lost or twice there,
// none changes its id, and the list handed in stays as it was.
func TestEditingLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		states := []checklists.MachineState{checklists.LockedOut, checklists.Stopped, checklists.Running}
		var l checklists.List
		for n := range rapid.IntRange(1, 8).Draw(t, "items") {
			l.Items = append(l.Items, itemIn(checklists.ItemID("i"+string(rune('0'+n))), rapid.SampledFrom([]string{"A", "B", "C"}).Draw(t, "section"), rapid.SampledFrom(states).Draw(t, "state")))
		}
		for range rapid.IntRange(1, 6).Draw(t, "edits") {
			before, had := slices.Clone(l.Items), ids(l)
			one := l.Items[rapid.IntRange(0, len(l.Items)-1).Draw(t, "one")]
			other := l.Items[rapid.IntRange(0, len(l.Items)-1).Draw(t, "other")].Station
			by := rapid.IntRange(-3, 3).Draw(t, "by")
			var made checklists.ItemID
			next, err := l, error(nil)
			switch rapid.IntRange(0, 8).Draw(t, "edit") {
			case 0:
				next, made = l.Copied(one.ID)
			case 1:
				next, made = l.Split(one.ID, "1", "2")
			case 2:
				next = l.MovedTo(one.ID, by)
			case 3:
				next = l.MovedInto(one.ID, other)
			case 4:
				next, err = l.MovedSection(other, by)
			case 5:
				next, err = l.MergedSections(one.Station, other)
			case 6:
				next, err = l.SplitSection(one.ID, one.Station+"'")
			case 7:
				next, made = l.WithNew()
			case 8:
				next, err = l.RenamedSection(other, other+"r")
			}
			if err != nil {
				problems(t, err)
				continue
			}
			require.Equal(t, before, l.Items, "the list handed in stays as it was")
			if made != "" {
				require.NotContains(t, had, made)
				had = append(had, made)
			}
			require.ElementsMatch(t, had, ids(next))
			l = next
		}
	})
}
