package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"
)

// The bar of the browser shows the address of a form once it was refused; whoever
// asks for it comes to what the form belongs to, signed in or after signing in.
func TestTheAddressOfAFormLeadsToItsPage(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	leads, owners := 0, map[string]string{}
	for i, route := range m.server.routes {
		if route.Method == http.MethodPost && route.May != anyone {
			require.True(t, m.server.shows(route.Path) || m.server.owner(route.Path) != "", "%s leads nowhere", route.Path)
		}
		for _, later := range m.server.routes[i+1:] {
			require.False(t, route.Leads && later.Method == fiber.MethodGet && later.Path == route.Path, "%s has a page, said too late", route.Path)
		}
		if !route.Leads {
			continue
		}
		leads++
		path, owner := pathOf(route.Path), pathOf(m.server.owner(route.Path))
		reply := sam.asked(http.MethodGet, path, nil)
		require.Equal(t, http.StatusSeeOther, reply.StatusCode, path)
		require.Equal(t, owner, reply.Header.Get("Location"), path)
		owners[route.Path] = m.server.owner(route.Path)
	}
	require.Greater(t, leads, 40)
	for form, page := range map[string]string{
		"/lockouts/:id/:act": "/lockouts/:id", "/inspections/:id/sign": "/inspections/:id", "/inspections/:id/run-check": "/inspections/:id", "/lifts/wait/:id/over": "/lifts",
		"/equipment/:id/energy/:energy/remove": "/equipment/:id/energy/:energy", "/incidents/:id/actions/:action": "/incidents/:id", "/retention/holds/:id/lift": "/retention",
	} {
		require.Equal(t, page, owners[form], form)
	}
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	for _, act := range []string{actSteps, actJoin, actVerify, actHandOver, actAbsent, actOff} {
		page := ada.get("/lockouts/" + string(l.id) + "/" + act)
		require.Equal(t, http.StatusOK, page.Status, act)
		require.Equal(t, "/lockouts/"+string(l.id), page.URL.Path, act)
	}
	require.Equal(t, http.StatusNotFound, ada.get("/lockouts/"+strings.Repeat("0", 8)+"/steps").Status)
	require.Equal(t, http.StatusNotFound, ada.get("/witness/add-checkpoint").Status, "for programs")
	require.Equal(t, "/sign-in", m.phone().get("/lockouts/"+string(l.id)+"/steps").URL.Path)
}

// A refused form stays true: what is entered elsewhere shows on it, and it does
// not say that nothing is heard.
func TestARefusedLockoutFormStaysTrue(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.atWork(ada)
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "bo")
	b.open("/lockouts/" + string(l.id))
	b.write("pin", testSecrets["bo"])
	b.press(`#act form button.main`)
	require.True(t, strings.HasSuffix(b.path(), "/join"), b.path())
	b.sees("HELD", "Locks reported on by Ada Rook")
	l.does(ada, actOvernight, "ada", url.Values{"until": {"2026-03-04T07:00"}})
	b.comes("what was entered elsewhere", `document.getElementById("answer").textContent.includes("Nobody may reach in before proving zero again")`)
	b.sees("HELD")
	b.doesNotSee("NOT KNOWN")
}
