package server

import (
	"encoding/base64"
	"net/http"
	"net/netip"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// asked sends one request without following where it leads.
func (p *phone) asked(method, path string, form url.Values, headers ...string) *http.Response {
	p.t.Helper()
	request, err := http.NewRequestWithContext(p.t.Context(), method, "http://mill.test"+path, strings.NewReader(form.Encode()))
	require.NoError(p.t, err)
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i < len(headers); i += 2 {
		request.Header.Set(headers[i], headers[i+1])
	}
	if host := request.Header.Get("Host"); host != "" {
		request.Host = host
	}
	for _, cookie := range p.jar.Cookies(request.URL) {
		request.AddCookie(cookie)
	}
	reply, err := p.server.app.Test(request, 60_000)
	require.NoError(p.t, err)
	require.NoError(p.t, reply.Body.Close())
	p.keep(request.URL, reply.Cookies())
	return reply
}

func (p *phone) cookie() string {
	for _, cookie := range p.jar.Cookies(&url.URL{Scheme: "http", Host: "mill.test", Path: "/"}) {
		if cookie.Name == "stillsaw" {
			return cookie.Value
		}
	}
	return ""
}

// A token somebody put on a phone beforehand never becomes a session, and the one it
// had is worth nothing once somebody else signed in there.
func TestSigningInGivesANewSessionAndEndsTheOneBefore(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	planted := base64.RawURLEncoding.EncodeToString(make([]byte, 32))
	p := m.phone()
	p.jar.SetCookies(&url.URL{Scheme: "http", Host: "mill.test", Path: "/"}, []*http.Cookie{{Name: "stillsaw", Value: planted, Path: "/"}})
	reply := p.asked(http.MethodPost, "/sign-in", url.Values{"person": {string(m.people["ada"].ID)}, "pin": {testSecrets["ada"]}})
	require.Equal(t, http.StatusSeeOther, reply.StatusCode)
	first := p.cookie()
	require.NotEqual(t, planted, first)
	require.Len(t, first, 43, "256 bits")
	for _, cookie := range reply.Cookies() {
		require.True(t, cookie.HttpOnly && cookie.SameSite == http.SameSiteLaxMode && cookie.Path == "/" && cookie.Domain == "", cookie.Raw)
		require.False(t, cookie.Secure, "the plain page has one of its own")
	}
	with := func(token string) *phone {
		q := m.phone()
		q.jar.SetCookies(&url.URL{Scheme: "http", Host: "mill.test", Path: "/"}, []*http.Cookie{{Name: "stillsaw", Value: token, Path: "/"}})
		return q
	}
	require.Equal(t, "/sign-in", with(planted).get("/due").URL.Path)
	require.Equal(t, "/due", with(first).get("/due").URL.Path)
	p.asked(http.MethodPost, "/sign-in", url.Values{"person": {string(m.people["bo"].ID)}, "pin": {testSecrets["bo"]}})
	require.NotEqual(t, first, p.cookie())
	require.Equal(t, "/sign-in", with(first).get("/due").URL.Path, "ada's is over")
	second := p.cookie()
	p.asked(http.MethodPost, "/sign-out", nil)
	require.Equal(t, "/sign-in", with(second).get("/due").URL.Path, "signing out ends it at the server")
}

func TestASessionEndsAfterAShiftAtANewPINAndAtAnotherRole(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	there := func(p *phone) bool { return p.get("/due").URL.Path == "/due" }
	ada, elsewhere := m.as("ada"), m.as("ada")
	require.NoError(t, m.desk().ResetPIN(t.Context(), store.NewID(), m.people["ada"].ID, testDigests()["ada"], "by-owner", m.people["ada"].ID, m.clock.Now()))
	require.False(t, there(ada) || there(elsewhere), "a new PIN signs out everywhere")

	ada = m.as("ada")
	deputy := m.people["ada"]
	deputy.Deputy = true
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), deputy, "", m.people["sam"], m.clock.Now()))
	require.False(t, there(ada), "so does another role")
	ada = m.as("ada")
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), deputy, "", m.people["sam"], m.clock.Now()))
	require.True(t, there(ada), "and nothing else")
	m.clock.Advance(sessionLasts)
	require.False(t, there(ada))
}

// Somebody who tries PINs from elsewhere slows signing in; who is signed in signs on.
func TestGuessingElsewhereKeepsNobodyFromSigning(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	for range freeTriesPerson {
		m.phone().signIn(m.people["ada"].ID, "0000")
	}
	m.phone().signIn(m.people["ada"].ID, testSecrets["ada"]).says(t, "too many wrong tries")
	send := func(pin string) page {
		return ada.post("/departures/new", with(cutLock(), "pin", pin, "submission", store.NewID()))
	}
	require.Equal(t, http.StatusOK, send(testSecrets["ada"]).Status)
	m.phone().signIn(m.people["ada"].ID, testSecrets["ada"]).says(t, "too many wrong tries", "a signature forgets no tries made elsewhere")
	for range freeTriesPerson {
		send("0000").says(t, "that is not it")
	}
	send(testSecrets["ada"]).says(t, "too many wrong tries", "where ada is signed in, guessing has its bound, too")
}

// One who tries everybody's PIN is slowed by the address, a crowd of addresses that
// tries one person's by the person; and neither keeps anybody from stopping.
func TestPINsAreGuessedNoFasterByManyPeopleOrManyAddresses(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.server.ways.proxies = []netip.Prefix{netip.MustParsePrefix("0.0.0.0/32")} // app.Test comes from there
	try := func(who procedures.PersonID, pin, from string) string {
		p := m.phone()
		request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://mill.test/sign-in", strings.NewReader(url.Values{"person": {string(who)}, "pin": {pin}}.Encode()))
		require.NoError(t, err)
		request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		request.Header.Set("X-Forwarded-For", from)
		return p.follow(request).Body
	}
	looked := 0
	for i := range 4 * freeTriesPerson {
		if strings.Contains(try(m.people["ada"].ID, "0000", netip.AddrFrom4([4]byte{10, 0, 0, byte(i)}).String()), "that is not it") {
			looked++
		}
	}
	require.Equal(t, freeTriesPerson, looked, "one person from many addresses")
	looked = 0
	for _, who := range m.hire(10) {
		for range freeTriesPerson {
			if strings.Contains(try(who, "0000", "10.0.1.1"), "that is not it") {
				looked++
			}
		}
	}
	require.Equal(t, freeTriesAddress, looked, "many people from one address")
	require.Contains(t, try(m.people["bo"].ID, testSecrets["bo"], "10.0.1.1"), "too many wrong tries from this phone or network")
	reply := m.phone().asked(http.MethodPost, "/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}}, "X-Forwarded-For", "10.0.1.1")
	require.Equal(t, http.StatusSeeOther, reply.StatusCode)
	require.Equal(t, checklists.Held, m.status("hoist"))
	require.NotContains(t, m.phone().get("/stop-it").Body, `name="pin"`, "no PIN is asked to stop")
}

var madeAnew = regexp.MustCompile(`value="[0-9a-f-]{36}"|[0-9a-f-]{36}`)

// The page of signing in names the crew, by design. What it answers tells nothing
// more: not who has a PIN, who left, or that there is no such person.
func TestAWrongPINIsToldAlikeWhoeverItIs(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	gone := m.people["bo"]
	gone.Left = true
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), gone, "", m.people["sam"], m.clock.Now()))
	bare := procedures.Person{ID: procedures.PersonID(store.NewID()), Name: "No Pin", Role: procedures.Operator}
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), bare, "", m.people["sam"], m.clock.Now()))
	said := func(who procedures.PersonID, pin string) (int, string) {
		p := m.phone().signIn(who, pin)
		_, wrong, found := strings.Cut(p.Body, `<section class="wrong"`)
		require.True(t, found)
		wrong, _, _ = strings.Cut(wrong, "</section>")
		return p.Status, madeAnew.ReplaceAllString(wrong, "")
	}
	for _, pin := range []string{"0000", "99999", strings.Repeat("9", secretMost+1)} {
		status, wrong := said(m.people["ada"].ID, pin)
		for _, who := range []procedures.PersonID{gone.ID, bare.ID, "nobody"} {
			otherStatus, other := said(who, pin)
			require.Equal(t, status, otherStatus)
			require.Equal(t, wrong, other)
		}
	}
	_, wrong := said(gone.ID, testSecrets["bo"])
	require.Contains(t, wrong, "that is not it", "the right PIN of who left is none")
}

// Whatever stands behind back, signing in leads to a page of this server.
func TestNoAddressLeadsAwayFromTheMill(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	for _, away := range []string{"//evil.test", "///evil.test", `/\evil.test`, `\\evil.test`, "https://evil.test", "https:evil.test", "javascript:alert(1)", "/\t/evil.test", "\t//evil.test", " //evil.test", "/%0d%0aSet-Cookie:x=1", "//evil.test/%2f..", "http:///evil.test", "data:text/html,x"} {
		for path, form := range map[string]url.Values{
			"/sign-in":           {"person": {string(m.people["ada"].ID)}, "pin": {testSecrets["ada"]}, "back": {away}},
			"/settings/language": {"language": {"fr"}, "back": {away}},
		} {
			reply := m.phone().asked(http.MethodPost, path, form)
			require.Equal(t, http.StatusSeeOther, reply.StatusCode)
			to, err := url.Parse(reply.Header.Get("Location"))
			require.NoError(t, err)
			require.Empty(t, to.Host+to.Scheme, "%s to %q", path, away)
			require.Regexp(t, `^/([^/\\]|$)`, reply.Header.Get("Location"))
			for _, cookie := range reply.Cookies() {
				require.NotEqual(t, "x", cookie.Name)
			}
		}
		form := m.phone().post("/sign-in", url.Values{"person": {string(m.people["ada"].ID)}, "pin": {testSecrets["ada"]}, "act": {away}})
		if !strings.HasPrefix(away, "/%0d") { // an address of this server, with nothing behind it
			require.NotContains(t, form.Body, `action="`+away, "no form is sent on to elsewhere")
		}
		require.NotContains(t, m.phone().get("/trust?"+url.Values{"at": {away}}.Encode()).Body, "evil.test")
	}
}

// A page tells nothing of the name somebody asked for it by, but where it gives the
// address of this server on, and that only to who asked.
func TestTheHostSomebodyClaimsIsBelievedByNobodyElse(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	for _, path := range []string{"/", "/sign-in", "/due", "/people", "/record", "/settings", "/help/emergency", "/nowhere"} {
		for _, p := range []*phone{m.phone(), sam} {
			reply := p.asked(http.MethodGet, path, nil, "Host", "evil.test", "X-Forwarded-Host", "evil.test", "X-Forwarded-Proto", "https", "Forwarded", "host=evil.test")
			require.NotContains(t, reply.Header.Get("Location"), "evil.test", path)
		}
	}
	reply := m.phone().asked(http.MethodGet, "/sign-in", nil, "X-Forwarded-Proto", "https")
	require.Empty(t, reply.Header.Get("Strict-Transport-Security"))
	before := m.size()
	reply = m.phone().asked(http.MethodPost, "/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}}, "Host", "evil.test", "Origin", "http://mill.test")
	require.Equal(t, http.StatusForbidden, reply.StatusCode)
	require.Equal(t, before, m.size())
}
