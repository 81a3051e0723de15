package server

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

func TestAnybodyStopsAMachineInTwoTaps(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.phone()
	page := p.get("/stop-it") // the first
	require.Equal(t, http.StatusOK, page.Status)
	page = p.post("/stop-it", url.Values{"submission": {page.submission()}, "equipment": {"hoist"}}) // the second
	require.Equal(t, "/", page.URL.Path)
	page.says(t, "Hoist is held. Everybody sees it now.")
	page.says(t, `href="#m-hoist"`)
	page.says(t, `id="m-hoist"`)
	require.Equal(t, checklists.Held, m.status("hoist"))
	defects, err := m.desk().Defects(t.Context(), true, 10)
	require.NoError(t, err)
	require.Len(t, defects, 1)
	require.Empty(t, defects[0].By, "nobody was signed in, and the record says so")
	m.storesNothing(func() {
		p.post("/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}})
	})
	m.storesNothing(func() {
		page := p.post("/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"moon"}})
		require.Equal(t, http.StatusUnprocessableEntity, page.Status)
		page.says(t, "a piece of equipment of this mill")
	})
}

// Going back to the page and tapping another machine must hold that one too:
// the page comes back with the id it was shown with.
func TestPageSentAgainForAnotherMachineStopsThatOneToo(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.as("ada")
	id := p.get("/stop-it").submission()
	p.post("/stop-it", url.Values{"submission": {id}, "equipment": {"hoist"}})
	p.post("/stop-it", url.Values{"submission": {id}, "equipment": {"dust-collection"}})
	m.storesNothing(func() {
		p.post("/stop-it", url.Values{"submission": {id}, "equipment": {"dust-collection"}}) // a retry
	})
	defects, err := m.desk().Defects(t.Context(), true, 10)
	require.NoError(t, err)
	require.Len(t, defects, 2)
	require.Equal(t, checklists.Held, m.status("hoist"))
	require.Equal(t, checklists.Held, m.status("dust-collection"))
	again := m.as("bo").post("/stop-it", url.Values{"submission": {id}, "equipment": {"hoist"}})
	require.Contains(t, again.URL.Path, "/defects/")
	defects, err = m.desk().Defects(t.Context(), true, 10)
	require.NoError(t, err)
	require.Len(t, defects, 3, "another person's word is another act")
}

// Not even a digest of a PIN may be kept, or the four digits could be tried out.
func TestSubmissionHoldsNothingOfAPIN(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	form := url.Values{"submission": {store.NewID()}, "what": {"slab lodged"}, "equipment": {"hoist"}, "happened": {"2026-03-03"}, "time": {"05:30"}}
	p := m.as("ada")
	form.Set("pin", "9999")
	p.post("/departures/new", form)
	form.Set("pin", testSecrets["ada"])
	require.Equal(t, http.StatusOK, p.post("/departures/new", form).Status)
	m.storesNothing(func() { // the same act, though the PIN field says something else
		form.Set("pin", testSecrets["ada"]+" ")
		p.post("/departures/new", form)
	})
}

func TestFrontPageNeverComesFromACache(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://mill.test/", nil)
	require.NoError(t, err)
	reply, err := m.server.app.Test(request, 60_000)
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.Equal(t, "no-store", reply.Header.Get("Cache-Control"))
	require.Equal(t, contentPolicy, reply.Header.Get("Content-Security-Policy"))
	require.Equal(t, "nosniff", reply.Header.Get("X-Content-Type-Options"))
}

func TestDefectWithAStopGapIsSaidBesideTheMachineItDoesNotHold(t *testing.T) {
	now := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	mend := checklists.Defect{ID: "d", Equipment: "hoist", What: "lamp out", Severity: checklists.Mend, StopGap: "torch", MendBy: now.Add(time.Hour), At: now}
	require.Len(t, mendLines([]checklists.Defect{mend}, "hoist", now), 1)
	require.Empty(t, mendLines([]checklists.Defect{mend}, "carriage", now))
	require.Empty(t, mendLines([]checklists.Defect{mend}, "hoist", now.Add(2*time.Hour)), "its day is over: it holds, and stands among the holds")
	mend.Severity = checklists.Stop
	require.Empty(t, mendLines([]checklists.Defect{mend}, "hoist", now))
}

// A form of another site, sent by the browser of somebody signed in here, does
// nothing.
func TestFormOfAnotherSiteIsRefused(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	for header, value := range map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "http://evil.test"} {
		m.storesNothing(func() {
			request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://mill.test/stop-it?equipment=hoist", nil)
			require.NoError(t, err)
			request.Header.Set(header, value)
			reply, err := m.server.app.Test(request, 60_000)
			require.NoError(t, err)
			require.NoError(t, reply.Body.Close())
			require.Equal(t, http.StatusForbidden, reply.StatusCode, header)
		})
	}
}

// Every address that asks for somebody sends a visitor to sign in, and refuses
// who may not come; the table is the server's own.
func TestEveryAddressKeepsOutWhoMayNotCome(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	visitor, reader, operator := m.phone(), m.as("rita"), m.as("ada")
	for _, route := range m.server.routes {
		path := pathOf(route.Path)
		ask := func(p *phone) page {
			if route.Method == http.MethodGet {
				return p.get(path)
			}
			return p.post(path, url.Values{"submission": {store.NewID()}, "what": {"kept words"}})
		}
		name := route.Method + " " + route.Path
		if route.May != anyone {
			m.storesNothing(func() {
				page := ask(visitor)
				if route.Method == http.MethodGet {
					require.Equal(t, "/sign-in", page.URL.Path, name)
					return
				}
				require.Equal(t, http.StatusUnauthorized, page.Status, name)
				page.says(t, `value="kept words"`, name)
			})
		}
		if route.May == crew || route.May == supervisors {
			m.storesNothing(func() { require.Equal(t, http.StatusForbidden, ask(reader).Status, name) })
		}
		if route.May == supervisors {
			m.storesNothing(func() { require.Equal(t, http.StatusForbidden, ask(operator).Status, name) })
		}
	}
}

var pathParameter = regexp.MustCompile(`:[a-z]+`)

// pathOf puts an id nobody gave out in the place of parameters.
func pathOf(route string) string {
	return pathParameter.ReplaceAllString(route, "01990000-0000-7000-8000-00000000000f")
}

func TestUnknownIDsAreNotFoundAndNothingElse(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	boss := m.as("sam")
	for _, route := range m.server.routes {
		if route.Path == pathOf(route.Path) || route.Method != http.MethodGet {
			continue
		}
		if owner := m.server.owner(route.Path); route.Leads && owner == pathOf(owner) {
			continue // leads to a page of no one thing
		}
		require.Equal(t, http.StatusNotFound, boss.get(pathOf(route.Path)).Status, route.Path)
	}
}

func TestTypedBeforeSigningInComesBackAndIsSent(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.phone()
	form := url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}, "what": {"hook <bent>"}, "happened": {"2026-03-03"}, "time": {"05:30"}, "pin": {"4071"}, "secret": {"4071"}}
	stopped := p.post("/departures/new", form)
	require.Equal(t, http.StatusUnauthorized, stopped.Status)
	stopped.says(t, `name="kept.what" value="hook &lt;bent&gt;"`)
	require.NotContains(t, stopped.Body, "4071", "never the PIN")
	signIn := url.Values{"person": {string(m.people["ada"].ID)}, "pin": {testSecrets["ada"]}, "act": {"/departures/new"}}
	for name, values := range form {
		if !isSecret(name) {
			signIn["kept."+name] = values
		}
	}
	goOn := p.post("/sign-in", signIn)
	goOn.says(t, `action="/departures/new"`)
	goOn.says(t, `name="what" value="hook &lt;bent&gt;"`)
	form.Del("pin")
	again := p.post("/departures/new", form)
	require.Equal(t, http.StatusUnprocessableEntity, again.Status, "it asks for the PIN, and keeps the rest")
	again.says(t, "hook &lt;bent&gt;")
	form.Set("pin", testSecrets["ada"])
	require.Equal(t, http.StatusOK, p.post("/departures/new", form).Status)
	require.Equal(t, checklists.Held, m.status("hoist"))
}

func TestSignInLeadsNowhereElse(t *testing.T) {
	for to, ok := range map[string]bool{"/lifts/new?x=1": true, "//evil.test/": false, "https://evil.test/": false, `/\evil.test`: false, "lifts": false, "/a\r\nSet-Cookie: x": false, "": false} {
		require.Equal(t, ok, local(to), to)
	}
}

func TestWrongPINsAreSlowedByPersonAndByAddress(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.phone()
	try := func(who, pin string) page {
		return p.post("/sign-in", url.Values{"person": {string(m.people[who].ID)}, "pin": {pin}})
	}
	for range freeTriesPerson {
		try("ada", "0000").says(t, "that is not it")
	}
	try("ada", testSecrets["ada"]).says(t, "too many wrong tries") // even the right one waits
	m.clock.Advance(firstWait + time.Second)
	require.Equal(t, http.StatusOK, try("ada", testSecrets["ada"]).Status)
	try("ada", "0000").says(t, "that is not it") // forgiven: it starts anew
	require.Equal(t, time.Duration(0), waitAfter(3, 4))
	require.Equal(t, 2*firstWait, waitAfter(5, 4))
	require.Equal(t, longestWait, waitAfter(1000, 4))
	unknown := p.post("/sign-in", url.Values{"person": {"nobody"}, "pin": {"0000"}})
	unknown.says(t, "that is not it")
}

func TestSomebodyWhoLeftSignsNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	gone := m.people["ada"]
	gone.Left = true
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), gone, "", m.people["sam"], m.clock.Now()))
	require.Equal(t, "/sign-in", ada.get("/lifts/new").URL.Path, "the phone is signed out")
	m.phone().post("/sign-in", url.Values{"person": {string(gone.ID)}, "pin": {testSecrets["ada"]}}).says(t, "that is not it")
}

func TestPINsThatAreEasyToGuessAreRefused(t *testing.T) {
	for pin, ok := range map[string]bool{"4071": true, "1111": false, "1234": false, "9876": false, "407": false, "40716285930417": true, "4o71": false, "a longer phrase": true, "": false} {
		require.Equal(t, ok, len(CheckSecret(procedures.Operator, "pin", pin)) == 0, "%q", pin)
	}
	require.NotEmpty(t, CheckSecret(procedures.Supervisor, "password", "4071"))
	require.Empty(t, CheckSecret(procedures.Supervisor, "password", "green oak cant"))
}

// Whoever comes in by the wall sees first who has which lock where.
func TestWallNamesWhoHasWhichLockBeforeAllElse(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	m.atWork(ada)
	wall := m.phone().get("/?wall").Body
	board, locks := strings.Index(wall, `id="board"`), strings.Index(wall, "<strong>Ada Rook</strong>")
	require.Positive(t, locks)
	require.Less(t, locks, board)
	require.NotContains(t, m.phone().get("/").Body, "<strong>Ada Rook</strong>")
}
