package server

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// The page of what each role may do says of every address that takes something
// in what the router does.
func TestTableOfRolesSaysWhatTheRouterDoes(t *testing.T) {
	s, _, _ := newServer(t, "")
	all := deeds()
	used := map[string]bool{}
	for _, route := range s.routes {
		if route.Method != http.MethodPost {
			continue
		}
		row, ok := deedAt(all, route.Path)
		require.True(t, ok, "%s stands in no row of deeds() in roles.go", route.Path)
		require.Equal(t, row.May, route.May, "%s is said to be for others than it is", route.Path)
		used[row.What.Format] = true
	}
	require.Len(t, used, len(all), "a row that no address falls under")
}

func TestWhoMayComeIsWhatTheRulesSayOfTheRole(t *testing.T) {
	for who, want := range map[may][4]bool{anyone: {true, true, true, true}, signedIn: {true, true, true, true}, crew: {true, true, true, false}, supervisors: {false, true, true, false}} {
		got := [4]bool{}
		for i, p := range []procedures.Person{{ID: "a", Role: procedures.Operator}, {ID: "a", Role: procedures.Operator, Deputy: true}, {ID: "a", Role: procedures.Supervisor}, {ID: "a", Role: procedures.Reader}} {
			got[i] = who.admits(p)
			p.Left = true
			require.Equal(t, who == anyone || who == signedIn, who.admits(p), "who has left is kept out by having no session")
		}
		require.Equal(t, want, got, who)
	}
	require.False(t, signedIn.admits(procedures.Person{}))
}
