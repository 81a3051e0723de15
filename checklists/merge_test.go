package checklists_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

func TestMergedTakesWhatIsTakenAndLeavesTheRest(t *testing.T) {
	list := func(title string, prompts ...string) checklists.List {
		l := checklists.List{ID: "x", Title: title}
		for _, p := range prompts {
			l.Items = append(l.Items, checklists.Item{ID: checklists.ItemID(p[:1]), Prompt: p})
		}
		return l
	}
	prompts := func(l checklists.List) (all []string) {
		for _, item := range l.Items {
			all = append(all, item.Prompt)
		}
		return all
	}
	theirs := list("Theirs", "a", "b of theirs", "c", "d")
	mine := list("Mine", "new of mine", "c", "a", "b of mine")
	take := func(ids ...checklists.ItemID) checklists.List {
		taken := map[checklists.ItemID]bool{}
		for _, id := range ids {
			taken[id] = true
		}
		return checklists.Merged(theirs, mine, taken)
	}
	require.Equal(t, theirs, take())
	require.Equal(t, []string{"a", "b of mine", "c", "d"}, prompts(take("b")))
	require.Equal(t, []string{"a", "b of theirs", "c"}, prompts(take("d")), "mine has it no more")
	require.Equal(t, []string{"new of mine", "a", "b of theirs", "c", "d"}, prompts(take("n")))
	require.Equal(t, "Mine", take("").Title)
	all := []checklists.ItemID{""}
	for _, change := range checklists.Compare(theirs, mine) {
		all = append(all, change.Item)
	}
	require.Equal(t, mine, take(all...), "all of mine is mine")
	require.Equal(t, list("Theirs", "a", "b of theirs", "c", "d"), theirs, "nothing that was read is changed")
}
