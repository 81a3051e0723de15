package procedures

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// Taking off another's lock asks for much; what is missing is said at once.
func TestAllThatIsMissingOfALockTakenIsSaidAtOnce(t *testing.T) {
	for name, tc := range map[string]struct {
		e      Event
		fields []string
	}{
		"nothing said": {Event{}, []string{"0", "0.tries", "0.not_here"}},
		"no lock":      {Event{NotHere: "looked", Tries: []Try{{At: shiftDay, Way: "telephone", Result: "none"}}}, []string{"0"}},
		"no tries":     {Event{Lock: "B-1", NotHere: "looked"}, []string{"0.tries"}},
		"half a try":   {Event{Lock: "B-1", Tries: []Try{{At: shiftDay, Way: "telephone"}}}, []string{"0.not_here", "0.tries"}},
	} {
		l := twoStep(Work)
		l.Members[1].Away = true
		tc.e.Kind, tc.e.Person, tc.e.At, tc.e.Program = LockTaken, samSup.ID, l.Expected.Add(1), true
		var refused plain.Problems
		require.ErrorAs(t, l.ApplyTogether([]Event{tc.e}, samSup), &refused, name)
		var fields []string
		for _, p := range refused {
			fields = append(fields, p.Field)
		}
		require.Equal(t, tc.fields, fields, name)
	}
}
