package server_test

import (
	"net/http"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

var linkOf = regexp.MustCompile(`(?:href|formaction)="(/[^"#]*)"`)

// A name that was dropped stands on no page of the mill that a supervisor can reach,
// and none of them is broken. The names others wrote in notes of their own stay.
func TestNameThatWasDroppedStandsOnNoPage(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("long: set STILLSAW_LONG")
	}
	s, st, people := demoServer(t)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	desk := st.Of(mill.ID)
	crew, err := desk.People(t.Context())
	require.NoError(t, err)
	var sup, gone procedures.Person
	for _, p := range crew {
		switch p.Name {
		case people[0].Name:
			sup = p
		case people[4].Name:
			gone = p
		}
	}
	name := gone.Name
	// The pre-shift check asks who is working: an answer of whoever checked, told
	// before the drop as a place where the name stays.
	working := strings.Join([]string{people[0].Name, people[1].Name, people[2].Name, people[3].Name, people[4].Name}, ", ")
	gone.Left = true
	require.NoError(t, desk.KeepPerson(t.Context(), store.NewID(), gone, "", sup, demoNow))
	g, later := store.Going{Person: gone.ID}, demoNow.AddDate(7, 0, 0)
	shown, err := desk.ShowDrop(t.Context(), g, sup, later)
	require.NoError(t, err)
	require.NotEmpty(t, shown.Left)
	require.NoError(t, desk.DropByHand(t.Context(), store.NewID(), store.Mark(shown), g, checklists.DropByHand{Reason: "long gone", Rule: "over"}, sup, later))

	c := signedIn(t, s, st, people[0])
	seen, shapes := map[string]bool{}, map[string]int{}
	ids := regexp.MustCompile(`[0-9a-f-]{36}|[0-9a-f]{64}|\d+`)
	next := []string{"/", "/people/" + string(gone.ID), "/people/" + string(gone.ID) + "/training", "/sign-in", "/calendar", "/export.csv?from=2026-05-01&until=2026-05-13", "/export.json?from=2026-05-01&until=2026-05-13", "/export.pdf?from=2026-05-12&until=2026-05-12"}
	for len(next) > 0 {
		path := strings.ReplaceAll(next[0], "&amp;", "&")
		next = next[1:]
		shape := ids.ReplaceAllString(path, "#")
		if seen[path] || shapes[shape] >= 3 || strings.HasPrefix(path, "/static") || strings.Contains(path, ".zip") {
			continue
		}
		seen[path] = true
		shapes[shape]++
		status, body := c.ask(path, url.Values(nil))
		require.Less(t, status, http.StatusInternalServerError, path)
		body = strings.ReplaceAll(body, working, "")
		if i := strings.Index(body, name); i >= 0 {
			t.Errorf("%s: …%s…", path, body[max(0, i-120):min(len(body), i+80)])
		}
		if len(seen) < 400 {
			for _, link := range linkOf.FindAllStringSubmatch(body, -1) {
				next = append(next, link[1])
			}
		}
	}
	t.Log(len(seen), "pages")
}
