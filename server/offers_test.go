package server

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/views"
)

// What one chooses from in the program's words begins with a capital in every
// language; the mill's own words stay as they were written.
func TestChoicesInTheProgramsWordsBeginWithACapital(t *testing.T) {
	for text, want := range map[string]string{"keyed padlock": "Keyed padlock", "état": "État", "ñandú": "Ñandú", "5/8 in": "5/8 in", "": ""} {
		require.Equal(t, views.Choice{Value: "v", Text: want}, views.Offer("v", text))
	}
	sources, err := filepath.Glob("*.go")
	require.NoError(t, err)
	small := regexp.MustCompile(`(?:Choice|\W)\{(?:Value: [^{}]*?, )?Text: \w+\.(?:Say\(|T\("[a-z])`)
	require.Regexp(t, small, `views.Choice{Value: string(kind), Text: p.Say(kind.Words())}`)
	require.Regexp(t, small, ` {Value: "never", Text: p.T("never")}`)
	for _, name := range sources {
		source, err := os.ReadFile(name)
		require.NoError(t, err)
		if name != "offers_test.go" {
			require.Empty(t, small.FindAllString(string(source), -1), "%s: views.Offer begins it with a capital", name)
		}
	}
}

// The heading says of a machine that runs for a check neither that it is held nor
// that it may run.
func TestTheHeadingTellsARunCheckFromAHold(t *testing.T) {
	plant := procedures.Plant{{ID: "a", Name: "Head saw"}, {ID: "b", Name: "Hoist"}, {ID: "c", Name: "Carriage"}}
	for want, statuses := range map[string][]checklists.Status{
		"All held":    {checklists.Held, checklists.Held, checklists.NotKnown},
		"All may run": {checklists.MayRun, checklists.MayRun, checklists.MayRun},
		"Held: Hoist": {checklists.MayRun, checklists.Held, checklists.MayRun},
		"Held: Hoist, Carriage. Run check only: Head saw": {checklists.RunCheckOnly, checklists.Held, checklists.Held},
		"Run check only: Head saw, Hoist, Carriage":       {checklists.RunCheckOnly, checklists.RunCheckOnly, checklists.RunCheckOnly},
		"Run check only: Carriage":                        {checklists.MayRun, checklists.MayRun, checklists.RunCheckOnly},
		"Not known: no equipment is entered":              nil,
	} {
		var ready []checklists.Readiness
		for i, status := range statuses {
			ready = append(ready, checklists.Readiness{Equipment: plant[i].ID, Status: status})
		}
		require.Equal(t, want, frontTitle(ready, plant).String())
	}
}
