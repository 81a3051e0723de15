package server

import (
	"flag"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

const accessFile = "../testdata/access/README.md"

// visitors are who comes to a screen, from the one who may least to the one who may
// most.
func visitors() []struct {
	name   string
	person procedures.Person
} {
	one := func(role procedures.Role, deputy bool) procedures.Person {
		return procedures.Person{ID: "one", Role: role, Deputy: deputy}
	}
	return []struct {
		name   string
		person procedures.Person
	}{{"anyone", procedures.Person{}}, {"reader", one(procedures.Reader, false)}, {"operator", one(procedures.Operator, false)}, {"deputy", one(procedures.Operator, true)}, {"supervisor", one(procedures.Supervisor, false)}}
}

// callers are the tokens programs come with.
func callers() []struct {
	name  string
	token *checklists.Token
	as    procedures.Person
} {
	reads, writes := &checklists.Token{Use: checklists.TokenReads}, &checklists.Token{Use: checklists.TokenWrites}
	return []struct {
		name  string
		token *checklists.Token
		as    procedures.Person
	}{{"no token", nil, procedures.Person{}}, {"reads", reads, procedures.Person{Role: procedures.Reader}},
		{"as operator", writes, procedures.Person{ID: "one", Role: procedures.Operator}}, {"as supervisor", writes, procedures.Person{ID: "one", Role: procedures.Supervisor}}}
}

// accessPage is the table of every address and who gets in, as the router has it.
func accessPage(s *Server) string {
	var out strings.Builder
	out.WriteString("# Every address, and who gets in\n\nWritten by `go test ./server -run TestEveryAddressAndRole -update`, which holds every row against the server. ")
	out.WriteString("A new address stands here by a decision of whoever adds it. *sign in*: sent to sign in, with what was typed kept; *no*: refused, and nothing is kept.\n\n## Screens\n\n")
	head := "| address |"
	for _, v := range visitors() {
		head += " " + v.name + " |"
	}
	table := func(head string, rows []string) {
		slices.Sort(rows)
		fmt.Fprintf(&out, "%s\n%s\n%s\n", head, "|"+strings.Repeat(" --- |", strings.Count(head, "|")-1), strings.Join(rows, "\n"))
	}
	known := map[string]bool{}
	var rows []string
	for _, route := range s.routes {
		known[route.Method+" "+route.Path] = true
		row := "| " + route.Method + " " + route.Path + " |"
		for _, v := range visitors() {
			switch {
			case route.May.admits(v.person):
				row += " yes |"
			case v.person.ID == "":
				row += " sign in |"
			default:
				row += " no |"
			}
		}
		rows = append(rows, row)
	}
	table(head, rows)

	out.WriteString("\n## The API\n\nA cookie counts for nothing here. A token whose day is over, or that was taken back, is no token.\n\n")
	head, rows = "| address |", nil
	for _, c := range callers() {
		head += " " + c.name + " |"
	}
	for i := range s.api {
		o := &s.api[i]
		known[o.method+" "+apiRoot+fiberPath(o.path)] = true
		who, err := s.mayAs(o)
		if err != nil {
			panic(err)
		}
		row := "| " + o.method + " " + apiRoot + o.path + " |"
		for _, c := range callers() {
			switch {
			case o.open, c.token != nil && (&call{visit: &visit{person: c.as}, token: *c.token}).allowed(o, who) == nil:
				row += " yes |"
			default:
				row += " no |"
			}
		}
		rows = append(rows, row)
	}
	table(head, rows)

	out.WriteString("\n## For anybody, before a mill is set up as well\n\n")
	rows = nil
	for _, route := range s.app.GetRoutes(true) {
		if row := "| " + route.Method + " " + route.Path + " |"; route.Method != fiber.MethodHead && !known[route.Method+" "+route.Path] && !slices.Contains(rows, row) {
			rows = append(rows, row)
		}
	}
	table("| address |", rows)
	return out.String()
}

// The table says who gets in where, of screens, programs and the rest; a new address
// is on it only when somebody put it there.
func TestEveryAddressAndRoleStandsInTheTable(t *testing.T) {
	s, _, _ := newServer(t, "")
	page := accessPage(s)
	if flag.Lookup("update").Value.String() == "true" { // of every page written here
		require.NoError(t, os.WriteFile(accessFile, []byte(page), 0o600))
	}
	kept, err := os.ReadFile(accessFile)
	require.NoError(t, err)
	require.Equal(t, strings.Split(string(kept), "\n"), strings.Split(page, "\n"), "an address or who may come there changed: decide, then run with -update")
}

// Each row of the screens, asked over the wire by the one who may most of those kept
// out and the one who may least of those let in; and by a method nobody gave it.
// TestTokenMayWhatItsPersonMayOnTheScreens asks the rows of the API.
func TestEveryAddressAndRoleIsAsTheTableSays(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.withKey()
	deputy := m.people["bo"]
	deputy.Deputy = true
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), deputy, "", m.people["sam"], m.clock.Now()))
	phones := []*phone{m.phone(), m.as("rita"), m.as("ada"), m.as("bo"), m.as("sam")}
	wrong := []string{http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodTrace, "PROPFIND"}
	for i, route := range m.server.routes {
		name, path := route.Method+" "+route.Path, pathOf(route.Path)
		least := slices.IndexFunc(visitors(), func(v struct {
			name   string
			person procedures.Person
		}) bool {
			return route.May.admits(v.person)
		})
		ask := func(who int, method string) *http.Response {
			form := url.Values{"submission": {store.NewID()}}
			return phones[who].asked(method, path, form)
		}
		for _, kept := range []int{0, least - 1} {
			if kept < 0 || kept >= least {
				continue
			}
			m.storesNothing(func() {
				reply := ask(kept, route.Method)
				switch {
				case kept > 0:
					require.Equal(t, http.StatusForbidden, reply.StatusCode, name)
				case route.Method == http.MethodGet:
					require.Contains(t, reply.Header.Get("Location"), "/sign-in?back=", name)
				default:
					require.Equal(t, http.StatusUnauthorized, reply.StatusCode, name)
				}
			})
		}
		m.storesNothing(func() {
			require.Contains(t, []int{http.StatusBadRequest, http.StatusNotFound, http.StatusMethodNotAllowed, http.StatusNotImplemented}, ask(4, wrong[i%len(wrong)]).StatusCode, "%s by %s", name, wrong[i%len(wrong)])
		})
		if route.Path == "/sign-out" || route.Path == "/sign-in" {
			continue
		}
		reply := ask(least, route.Method)
		require.NotEqual(t, http.StatusForbidden, reply.StatusCode, name)
		require.NotEqual(t, http.StatusUnauthorized, reply.StatusCode, name)
		require.NotContains(t, reply.Header.Get("Location"), "/sign-in", name)
		require.Less(t, reply.StatusCode, 500, name)
	}
}
