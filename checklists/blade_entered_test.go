package checklists_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// What may not be entered of a saw is refused with what to do instead.
func TestWhatIsEnteredOfASawGoesWithWhatIsKnownOfIt(t *testing.T) {
	blades := []checklists.Blade{sawOf("a", "A-1", 52, 700), sawOf("b", "B-2", 52, 700), sawOf("c", "C-3", 52, 700)}
	filed := []checklists.BladeAct{sawAct("a", checklists.BladeFiled, monday, inches(0)), sawAct("b", checklists.BladeFiled, monday, inches(0)), sawAct("c", checklists.BladeFiled, monday, inches(0))}
	later := monday.AddDate(0, 0, 1)
	fitted := sawAct("a", checklists.BladeFitted, monday, nil)
	scrapped := sawAct("c", checklists.BladeScrapped, monday, nil)
	for name, tc := range map[string]struct {
		saw  int
		work checklists.BladeWork
		by   procedures.Person
		said string
	}{
		"a reader":                {1, checklists.BladeFiled, reader(), "Only somebody of the crew"},
		"a scrapped saw":          {2, checklists.BladeFiled, anOperator(), "This saw was scrapped"},
		"back without supervisor": {1, checklists.BladeReturned, anOperator(), "A supervisor or deputy takes a saw back"},
		"back and never out":      {1, checklists.BladeReturned, boss(), "This saw is not out of use"},
		"off and not on":          {1, checklists.BladeTakenOff, anOperator(), "This saw is not reported fitted"},
		"scrapped on the spindle": {0, checklists.BladeScrapped, anOperator(), "Take it off first"},
		"fitted twice":            {0, checklists.BladeFitted, anOperator(), "reported fitted already"},
		"two at once":             {1, checklists.BladeFitted, anOperator(), "Saw A-1 is reported fitted"},
	} {
		all := checklists.Blades(blades, append(filed, fitted, scrapped))
		_, err := all[tc.saw].Enter(checklists.BladeAct{Work: tc.work, On: later, Crack: inches(0), Who: "Jo", Marked: 700}, tc.by, all, 600, underWay)
		require.Contains(t, refusal(t, err).Why.String(), tc.said, name)
	}
}
