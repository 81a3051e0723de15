package server_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/demo"
	"stillsaw/server/store"
)

const groupHost, groupPassword = "mills.example", "ABCD-EFGH-IJKL-MNOP"

func withGroup(c *server.MillsConfig) { c.Group = groupHost }

// reader makes somebody who may read the page across mills.
func (y *millsYard) reader(name string) {
	y.t.Helper()
	digest, err := server.Hash(groupPassword)
	require.NoError(y.t, err)
	require.NoError(y.t, y.admin.SetGroupReader(y.t.Context(), name, digest, demoNow))
}

// signInGroup is the cookie of a reader.
func (c *millCaller) signInGroup(name string) *http.Cookie {
	c.t.Helper()
	reply, body := c.ask(http.MethodPost, "http://"+groupHost+"/sign-in", url.Values{"name": {name}, "password": {groupPassword}}, nil)
	require.Equal(c.t, http.StatusSeeOther, reply.StatusCode, body)
	require.Len(c.t, reply.Cookies(), 1)
	return reply.Cookies()[0]
}

// tells adds a mill that another process holds and tells of; nothing at the zero time.
func (y *millsYard) tells(host string, s checklists.MillStanding, at time.Time) {
	y.t.Helper()
	mill := checklists.MillID(store.NewID())
	require.NoError(y.t, y.admin.AddTenant(y.t.Context(), store.Tenant{Mill: mill, Host: host, Made: demoNow}))
	if at.IsZero() {
		return
	}
	hold, err := y.admin.Hold(y.t.Context(), mill, "127.0.0.1:1")
	require.NoError(y.t, err)
	require.NoError(y.t, y.admin.KeepStanding(y.t.Context(), hold, s, at))
}

// standing is what the database says of the one mill at host.
func (y *millsYard) standing(host string) store.GroupMill {
	y.t.Helper()
	all, err := y.admin.GroupMills(y.t.Context())
	require.NoError(y.t, err)
	for _, one := range all {
		if one.Host == host {
			return one
		}
	}
	require.Fail(y.t, "no such mill", host)
	return store.GroupMill{}
}

var shownBadge = regexp.MustCompile(`<strong class="badge ([a-z-]+)[^>]*data-contact`)

func TestTheInventedMillOnTheGroupPage(t *testing.T) {
	y := newMillsYard(t)
	people := y.filled("brook.example")
	m, at := y.process(withGroup)
	c := newMillCaller(t, at)
	cookies := c.signIn("brook.example", people)
	y.reader("Ines Vale")
	reader := c.signInGroup("ines  vale")
	y.asItsFirstPage(m, c, cookies, reader)
	y.nothingPersonal(m, c, people, cookies, reader)
	y.nobodyAtTheOther(c, cookies, reader)
}

// asItsFirstPage: what is told of a mill is what its own first page shows, before and
// after acts.
func (y *millsYard) asItsFirstPage(m *server.Mills, c *millCaller, cookies []*http.Cookie, reader *http.Cookie) {
	t := y.t
	held := func() store.GroupMill {
		m.Stand(time.Now())
		_, page := c.ask(http.MethodGet, "http://brook.example/", nil, cookies)
		shown := map[string]int{}
		for _, badge := range shownBadge.FindAllStringSubmatch(page, -1) {
			shown[badge[1]]++
		}
		told := y.standing("brook.example")
		s := told.Standing
		require.Equal(t, shown, without(map[string]int{"may-run": s.MayRun, "held": s.Held, "run-check": s.RunCheck, "not-known": s.Unknown}))
		require.Len(t, s.Holds, s.Held)
		require.Positive(t, len(shown))
		st, err := y.admin.Open(t.Context(), t.TempDir(), told.Mill, nil)
		require.NoError(t, err)
		open, err := st.Of(told.Mill).Defects(t.Context(), true, 100)
		require.NoError(t, err)
		require.Len(t, open, s.Stop+s.Mend)
		head, err := st.Of(told.Mill).Head(t.Context())
		require.NoError(t, err)
		require.Equal(t, head.Size, s.Entries)
		require.NoError(t, st.Close())
		return told
	}
	before := held()
	require.Equal(t, demoNow, before.At)
	require.Positive(t, before.Standing.MayRun)

	reply, body := c.ask(http.MethodPost, "http://brook.example/stop-it", url.Values{"equipment": {"head-saw"}, "what": {"a tooth rings"}, "submission": {store.NewID()}}, cookies)
	require.Equal(t, http.StatusSeeOther, reply.StatusCode, body)
	after := held()
	require.Equal(t, before.Standing.Stop+1, after.Standing.Stop)
	require.Equal(t, before.Standing.Entries+1, after.Standing.Entries)
	require.Greater(t, after.Standing.Held, before.Standing.Held)
	require.True(t, after.Standing.Stopped())
	require.Contains(t, after.Standing.Holds, checklists.MachineHeld{Kind: procedures.HeadSaw, By: []checklists.HoldKind{checklists.HeldByDefect}})

	_, page := c.ask(http.MethodGet, "http://"+groupHost+"/", nil, []*http.Cookie{reader})
	require.Contains(t, page, "Mills: 1. Held by more than a check: 1. Not known: 0")
	require.Contains(t, page, "head saw: a defect that stops")
	require.Contains(t, page, `href="http://brook.example/"`)
	require.NotContains(t, page, "a tooth rings")
}

func without(counts map[string]int) map[string]int {
	for key, n := range counts {
		if n == 0 {
			delete(counts, key)
		}
	}
	return counts
}

// nothingPersonal: of everything somebody wrote about a person or in words of their
// own, nothing is told: no opening of the mill's record stands in its standing or on
// the page.
func (y *millsYard) nothingPersonal(m *server.Mills, c *millCaller, people []demo.SignIn, cookies []*http.Cookie, reader *http.Cookie) {
	t := y.t
	_, _ = c.ask(http.MethodPost, "http://brook.example/stop-it", url.Values{"equipment": {"head-saw"}, "what": {"Ned's glove is in it"}, "submission": {store.NewID()}}, cookies)
	m.Stand(time.Now())
	told := y.standing("brook.example")
	text, err := json.Marshal(told.Standing)
	require.NoError(t, err)
	_, page := c.ask(http.MethodGet, "http://"+groupHost+"/", nil, []*http.Cookie{reader})

	conn, err := pgx.Connect(t.Context(), y.address)
	require.NoError(t, err)
	defer conn.Close(t.Context())
	// As the store says it where the tables are spread over servers.
	_, err = conn.Exec(t.Context(), "BEGIN; SET LOCAL citus.propagate_set_commands TO 'local'; SET LOCAL stillsaw.mill = '"+string(told.Mill)+"'")
	require.NoError(t, err)
	rows, err := conn.Query(t.Context(), "SELECT DISTINCT value FROM openings")
	require.NoError(t, err)
	values, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	held := 0
	for _, value := range values {
		var words string
		if json.Unmarshal([]byte(value), &words) != nil {
			words = value
		}
		if utf8.RuneCountInString(words) < 3 {
			continue // a letter or two stands in every text
		}
		held++
		require.NotContains(t, string(text), words)
		require.NotContains(t, page, words)
	}
	t.Logf("%d values held against %s", held, text)
	require.Greater(t, held, 100)
	names := 0
	for _, who := range people {
		require.NotContains(t, string(text)+page, who.Name)
		names++
	}
	require.Greater(t, names, 2)
}

// nobodyAtTheOther: no cookie of one place opens the other, under whatever name it is
// sent.
func (y *millsYard) nobodyAtTheOther(c *millCaller, supervisor []*http.Cookie, reader *http.Cookie) {
	t := y.t
	for _, name := range []string{"stillsaw", "stillsaw-group"} {
		there := []*http.Cookie{{Name: name, Value: supervisor[0].Value}}
		reply, _ := c.ask(http.MethodGet, "http://"+groupHost+"/", nil, there)
		require.Equal(t, "/sign-in", reply.Header.Get("Location"), name)
		here := []*http.Cookie{{Name: name, Value: reader.Value}}
		for _, path := range []string{"/people", "/record", "/mill", "/settings/x"} {
			reply, body := c.ask(http.MethodGet, "http://brook.example"+path, nil, here)
			require.Contains(t, reply.Header.Get("Location")+fmt.Sprint(reply.StatusCode), map[bool]string{true: "404", false: "/sign-in"}[path == "/settings/x"], body)
		}
	}
	reply, _ := c.ask(http.MethodGet, "http://brook.example/people", nil, supervisor)
	require.Equal(t, http.StatusOK, reply.StatusCode)
}

// A mill of which nothing was heard for a while is NOT KNOWN, whatever was told last.
func TestAnOldStandingIsNotKnown(t *testing.T) {
	y := newMillsYard(t)
	var now atomic.Int64
	_, at := y.process(withGroup, func(c *server.MillsConfig) {
		c.Now = func() time.Time { return demoNow.Add(time.Duration(now.Load())) }
	})
	good := checklists.MillStanding{Mill: "Brook", MayRun: 3, Entries: 7, Last: demoNow}
	y.tells("brook.example", good, demoNow.Add(-9*time.Minute))
	y.tells("hollow.example", checklists.MillStanding{}, time.Time{})
	y.reader("Q")
	c := newMillCaller(t, at)
	cookie := []*http.Cookie{c.signInGroup("Q")}
	_, page := c.ask(http.MethodGet, "http://"+groupHost+"/", nil, cookie)
	require.Equal(t, 1, strings.Count(page, ">MAY RUN<"), page)
	require.Contains(t, page, "Nothing was heard of this mill yet.")
	require.Contains(t, page, "Mills: 2. Held by more than a check: 0. Not known: 1")

	for _, later := range []time.Duration{2 * time.Minute, -30 * time.Minute} { // and where its clock ran ahead
		now.Store(int64(later))
		_, page = c.ask(http.MethodGet, "http://"+groupHost+"/", nil, cookie)
		require.NotContains(t, page, ">MAY RUN<")
		require.NotContains(t, page, "may run: 3")
		require.Contains(t, page, "Nothing was heard of this mill since today 2:51")
		require.Contains(t, page, "Mills: 2. Held by more than a check: 0. Not known: 2")
	}
}

// Who is not signed in as a reader sees no mill: not with a wrong password however
// often, not with a form of another site, not after signing out or being removed.
func TestTheGroupPageIsForItsReaders(t *testing.T) {
	y := newMillsYard(t)
	const name = "Quillet Brook"
	y.tells("brook.example", checklists.MillStanding{Mill: name, MayRun: 3}, demoNow)
	var now atomic.Int64
	clock := func(c *server.MillsConfig) {
		c.Now = func() time.Time { return demoNow.Add(time.Duration(now.Load())) }
	}
	_, at := y.process(withGroup, clock)
	_, elsewhere := y.process(withGroup, clock)
	c, other := newMillCaller(t, at), newMillCaller(t, elsewhere)
	y.reader("Q")
	barred := func(caller *millCaller, cookies ...*http.Cookie) {
		t.Helper()
		for _, path := range []string{"/", "/?q=b", "/?page=2", "/sign-in", "/record", "/people", "/api", "/settings", "/manifest.webmanifest"} {
			reply, body := caller.ask(http.MethodGet, "http://"+groupHost+path, nil, cookies)
			require.NotContains(t, body+reply.Header.Get("Location"), "brook", path)
			require.NotContains(t, body, name, path)
			if path == "/" {
				require.Equal(t, "/sign-in", reply.Header.Get("Location"))
			}
			require.Equal(t, "DENY", reply.Header.Get("X-Frame-Options"), path)
			require.Contains(t, reply.Header.Get("Content-Security-Policy"), "default-src 'none'", path)
		}
	}
	barred(c)
	cookie := c.signInGroup("Q")
	require.True(t, cookie.HttpOnly)
	require.Equal(t, http.SameSiteStrictMode, cookie.SameSite)
	require.Empty(t, cookie.Domain)
	for _, caller := range []*millCaller{c, other} {
		reply, body := caller.ask(http.MethodGet, "http://"+groupHost+"/", nil, []*http.Cookie{cookie})
		require.Equal(t, http.StatusOK, reply.StatusCode)
		require.Contains(t, body, name)
		require.Equal(t, "no-store", reply.Header.Get("Cache-Control"))
	}

	request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://"+groupHost+"/sign-out", strings.NewReader("x=1"))
	require.NoError(t, err)
	request.Header.Set("Origin", "http://elsewhere.example")
	request.AddCookie(cookie)
	reply, err := c.client.Do(request)
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.Equal(t, http.StatusForbidden, reply.StatusCode)
	_, body := c.ask(http.MethodGet, "http://"+groupHost+"/", nil, []*http.Cookie{cookie})
	require.Contains(t, body, name, "still signed in")

	reply, _ = c.ask(http.MethodPost, "http://"+groupHost+"/sign-out", url.Values{}, []*http.Cookie{cookie})
	require.Equal(t, http.StatusSeeOther, reply.StatusCode)
	barred(c, cookie)
	barred(other, cookie)

	second := c.signInGroup("Q")
	now.Store(int64(15 * time.Hour))
	barred(c, second) // it is over
	third := c.signInGroup("Q")
	require.NoError(t, y.admin.RemoveGroupReader(t.Context(), "q"))
	require.ErrorIs(t, y.admin.RemoveGroupReader(t.Context(), "q"), store.ErrNotFound)
	barred(c, third)

	y.reader("Q")
	now.Store(int64(16 * time.Hour))
	try := func(who, password string) (*http.Response, string) {
		return c.ask(http.MethodPost, "http://"+groupHost+"/sign-in", url.Values{"name": {who}, "password": {password}}, nil)
	}
	for i := range 10 {
		reply, body := try("Q", "wrong")
		require.Equal(t, http.StatusUnprocessableEntity, reply.StatusCode)
		require.Contains(t, body, "that is not it", i)
		require.Empty(t, reply.Cookies())
	}
	reply, body = try("Q", groupPassword)
	require.Equal(t, http.StatusUnprocessableEntity, reply.StatusCode)
	require.Contains(t, body, "too many tries")
	require.Equal(t, "60", reply.Header.Get("Retry-After"))
	for i := range 9 { // and from one address, whatever the name
		_, _ = try(fmt.Sprintf("nobody %d", i), "wrong")
	}
	_, body = try("somebody else", "wrong")
	require.Contains(t, body, "too many tries")
	now.Store(int64(16*time.Hour + time.Minute))
	reply, _ = try("Q", groupPassword)
	require.Equal(t, http.StatusSeeOther, reply.StatusCode)
}

// Mills come a hundred at a time, those held by more than a check first, then those not known,
// then the others, each by name; a part of a name finds them.
func TestManyMillsComeInPages(t *testing.T) {
	y := newMillsYard(t)
	_, at := y.process(withGroup)
	for i := range 130 {
		heard := demoNow
		if i == 129 {
			heard = time.Time{}
		}
		s := checklists.MillStanding{Mill: fmt.Sprintf("Mill %03d", i), MayRun: 1}
		if i == 128 {
			s.MayRun, s.Held, s.Stop = 0, 1, 1
			s.Holds = []checklists.MachineHeld{{Kind: procedures.Hoist, By: []checklists.HoldKind{checklists.HeldByDue, checklists.HeldByDefect}}}
		}
		if i == 0 {
			s.MayRun, s.Held = 0, 1
			s.Holds = []checklists.MachineHeld{{Kind: procedures.HeadSaw, By: []checklists.HoldKind{checklists.HeldByDue}}}
		}
		y.tells(fmt.Sprintf("m%03d.example", i), s, heard)
	}
	y.reader("Q")
	c := newMillCaller(t, at)
	cookie := []*http.Cookie{c.signInGroup("Q")}
	named := regexp.MustCompile(`<h2><a[^>]*href="http://(m[0-9]+)\.example/"`)
	shown := func(query string) (hosts []string, page string) {
		_, page = c.ask(http.MethodGet, "http://"+groupHost+"/"+query, nil, cookie)
		for _, found := range named.FindAllStringSubmatch(page, -1) {
			hosts = append(hosts, found[1])
		}
		return hosts, page
	}
	first, page := shown("")
	require.Len(t, first, 100)
	require.Equal(t, []string{"m128", "m129", "m000", "m001"}, first[:4])
	require.Contains(t, page, "1 to 100 of 130")
	second, _ := shown("?page=2")
	require.Len(t, second, 30)
	require.Equal(t, "m127", second[29])
	past, _ := shown("?page=999999999999999999999")
	require.Equal(t, second, past, "the last one")
	found, page := shown("?q=ILL+12")
	require.Equal(t, []string{"m128", "m120", "m121"}, found[:3])
	require.Len(t, found, 9)
	require.NotContains(t, page, "rel=\"next\"")
	none, page := shown("?q=%3Cscript%3E")
	require.Empty(t, none)
	require.Contains(t, page, "No mill has that in its name.")
	require.NotContains(t, page, "<script>")
}
