package server_test

import (
	"html"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/sample"
	"stillsaw/server/store"
)

var formactionIn = regexp.MustCompile(`\bformaction="([^"]*)"`)

// Nobody is shown a way that is shut to them: no link and no form of a page a person
// can come to answers that it isn't for them.
func TestNoLinkAndNoFormIsShutToWhoSeesIt(t *testing.T) {
	if !sample.Whole() {
		t.Skip("in CI: 435 pages")
	}
	t.Parallel()
	s, st, people := demoServer(t)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	desk := st.Of(mill.ID)
	crew, err := desk.People(t.Context())
	require.NoError(t, err)
	named := func(name string) procedures.Person {
		return crew[slices.IndexFunc(crew, func(p procedures.Person) bool { return p.Name == name })]
	}
	hollis := named("Hollis Quade")
	hollis.Authorized = false // taken back
	require.NoError(t, desk.KeepPerson(t.Context(), store.NewID(), hollis, "", named("Marta Ostrow"), demoNow))
	crew, err = desk.People(t.Context())
	require.NoError(t, err)
	routes := map[string]map[string]server.Route{http.MethodGet: {}, http.MethodPost: {}}
	for _, route := range server.RoutesOf(s) {
		if of := routes[route.Method]; of != nil && !route.Leads {
			of[route.Path] = route
		}
	}
	patterns := func(method string) (all []string) {
		for path := range routes[method] {
			all = append(all, path)
		}
		slices.Sort(all)
		return all
	}
	gets, posts := patterns(http.MethodGet), patterns(http.MethodPost)
	for what, is := range map[string]func(procedures.Person) bool{
		"of the crew, authorized": func(p procedures.Person) bool { return p.Works() && !p.Supervises() && p.Authorized },
		"may not lock out":        func(p procedures.Person) bool { return p.Works() && !p.Supervises() && !p.Authorized },
		"reader":                  func(p procedures.Person) bool { return p.Role == procedures.Reader },
	} {
		var who procedures.Person
		var c caller
		for _, sign := range people {
			at := slices.IndexFunc(crew, func(p procedures.Person) bool { return p.Name == sign.Name })
			if at >= 0 && who.ID == "" && is(crew[at]) {
				who, c = crew[at], signedIn(t, s, st, sign)
			}
		}
		require.NotEmpty(t, who.ID, "somebody %s is in the invented mill", what)
		from := map[string]string{} // on which page a link was seen first
		shut := map[string]bool{}   // said once for each sort of page and way
		admitted := func(method, pattern, page, way string) {
			route, known := routes[method][pattern]
			if told := method + patternOf(gets, page) + " " + pattern; known && !shut[told] && !server.Admits(route, who) {
				shut[told] = true
				assert.Fail(t, "shut", "%s (%s): %s of %s", who.Name, what, way, page)
			}
		}
		walkPages(t, c, everyPage(s), func(path, body string, status int) {
			if page, seen := from[path]; seen {
				assert.NotEqual(t, http.StatusForbidden, status, "%s (%s): the link to %s of %s", who.Name, what, path, page)
			}
			for _, link := range attribute("href").FindAllStringSubmatch(body, -1) {
				to := html.UnescapeString(link[1])
				if strings.HasPrefix(to, "/") {
					if from[to] == "" {
						from[to] = path
					}
					admitted(http.MethodGet, patternOf(gets, to), path, "the link to "+to)
				}
			}
			for _, form := range formIn.FindAllStringSubmatch(body, -1) {
				method, of := http.MethodGet, gets
				if strings.Contains(form[1], `method="post"`) {
					method, of = http.MethodPost, posts
				}
				sent := []string{path}
				if action := attribute("action").FindStringSubmatch(form[1]); action != nil {
					sent[0] = html.UnescapeString(action[1])
				}
				for _, button := range formactionIn.FindAllStringSubmatch(form[2], -1) {
					sent = append(sent, html.UnescapeString(button[1]))
				}
				for _, to := range sent {
					admitted(method, patternOf(of, to), path, "the form to "+to)
				}
			}
		})
	}
}
