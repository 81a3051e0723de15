package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

func (m *testMill) person(who string) procedures.Person {
	m.t.Helper()
	p, err := m.desk().Person(m.t.Context(), m.people[who].ID)
	require.NoError(m.t, err)
	return p
}

func TestANewPersonCanSignIn(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.as("sam")
	form := with(p.get("/people/new").filled(t, "/people/new"), "name", "Cal Wye", "authorized", "yes", "password", "7193", "again", "7193", "pin", testSecrets["sam"])
	require.Equal(t, "/people", p.post("/people/new", form).URL.Path)
	size := m.size()
	require.Equal(t, "/people", p.post("/people/new", form).URL.Path)
	require.Equal(t, size, m.size(), "sent twice it is one person")
	people, err := m.desk().People(t.Context())
	require.NoError(t, err)
	var cal procedures.Person
	for _, one := range people {
		if one.Name == "Cal Wye" {
			cal = one
		}
	}
	require.True(t, cal.Authorized)
	reply := m.phone().post("/sign-in", url.Values{"person": {string(cal.ID)}, "pin": {"7193"}})
	require.Equal(t, "/", reply.URL.Path, reply.Body)
	page := m.as("rita").get("/people")
	page.says(t, "Cal Wye")
	page.says(t, "authorized to lock out")
	require.NotContains(t, page.Body, `href="/people/`+string(cal.ID))
}

func TestPeopleNamesWhatIsWrongAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.as("sam")
	form := with(p.get("/people/new").filled(t, "/people/new"), "name", "Cal <Wye>", "qualified_lifting", "yes", "password", "7193", "again", "7193", "pin", testSecrets["sam"])
	for _, tc := range []struct{ field, value string }{
		{"name", ""}, {"name", strings.Repeat("x", 300)}, {"name", "ada rook"}, {"role", "king"}, {"password", ""}, {"password", "1234"}, {"password", "12"}, {"again", "7194"},
		{"pin", ""}, {"pin", "wrong"},
	} {
		m.storesNothing(func() {
			sent := with(form, tc.field, tc.value)
			if tc.field == "password" {
				sent.Set("again", tc.value)
			}
			reply := p.post("/people/new", sent)
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc.field+`"`, tc.field, tc.value)
			require.NotContains(t, reply.Body, "7193", "a secret is not sent back")
			kept := reply.filled(t, "/people/new")
			require.Equal(t, "yes", kept.Get("qualified_lifting"))
			if tc.field != "name" {
				require.Equal(t, "Cal <Wye>", kept.Get("name"))
				reply.says(t, "Cal &lt;Wye&gt;")
			}
		})
	}
	m.storesNothing(func() {
		reply := p.post("/people/new", with(form, "role", "reader", "deputy", "yes", "authorized", "yes"))
		reply.says(t, `href="#f-deputy"`)
		reply.says(t, `href="#f-authorized"`)
	})
}

func TestWhoHasLeftSignsNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, sam := m.as("ada"), m.as("sam")
	address := "/people/" + string(m.people["ada"].ID)
	reply := sam.post(address, with(sam.get(address).filled(t, address), "left", "yes", "pin", testSecrets["sam"]))
	require.Equal(t, "/people", reply.URL.Path, reply.Body)
	reply.says(t, "Have left")
	require.Equal(t, "/sign-in", ada.get("/people/me").URL.Path, "signed out everywhere")
	again := m.phone().post("/sign-in", url.Values{"person": {string(m.people["ada"].ID)}, "pin": {testSecrets["ada"]}})
	require.Equal(t, http.StatusUnprocessableEntity, again.Status)
	require.NotContains(t, m.phone().get("/sign-in").Body, "Ada Rook")
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnauthorized, ada.post("/departures/new", url.Values{"equipment": {"hoist"}, "what": {"x"}, "pin": {testSecrets["ada"]}}).Status)
	})
}

func TestTheLastSupervisorStays(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	address := "/people/" + string(m.people["sam"].ID)
	form := sam.get(address).filled(t, address)
	for _, change := range [][]string{{"left", "yes"}, {"role", "operator"}} {
		m.storesNothing(func() {
			reply := sam.post(address, with(with(form, change...), "pin", testSecrets["sam"]))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
			reply.says(t, "without a supervisor")
		})
	}
}

func TestANewSupervisorNeedsAPassword(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	address := "/people/" + string(m.people["bo"].ID)
	form := with(sam.get(address).filled(t, address), "role", "supervisor", "pin", testSecrets["sam"])
	m.storesNothing(func() {
		sam.post(address, form).says(t, `href="#f-password"`)
		sam.post(address, with(form, "password", "4826", "again", "4826")).says(t, `href="#f-password"`)
	})
	require.Equal(t, "/people", sam.post(address, with(form, "password", "white pine slab", "again", "white pine slab")).URL.Path)
	require.Equal(t, procedures.Supervisor, m.person("bo").Role)
}

func TestAChangeToAPersonMadeMeanwhileIsTold(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	address := "/people/" + string(m.people["bo"].ID)
	mine, theirs := sam.get(address).filled(t, address), sam.get(address).filled(t, address)
	require.Equal(t, "/people", sam.post(address, with(theirs, "deputy", "yes", "pin", testSecrets["sam"])).URL.Path)
	m.storesNothing(func() {
		reply := sam.post(address, with(mine, "name", "Bo Lindqvist", "pin", testSecrets["sam"]))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "Somebody changed this meanwhile")
		require.Equal(t, "Bo Lindqvist", reply.filled(t, address).Get("name"))
	})
	require.True(t, m.person("bo").Deputy)
}

func TestOwnPINIsChangedWithTheOldOneAndSignsOut(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	for _, who := range []string{"ada", "rita"} {
		p, other := m.as(who), m.as(who)
		form := p.get("/people/me").filled(t, "/people/me")
		for field, sent := range map[string]url.Values{
			"pin":      with(form, "pin", "0000", "password", "6204", "again", "6204"),
			"password": with(form, "pin", testSecrets[who], "password", "1111", "again", "1111"),
			"again":    with(form, "pin", testSecrets[who], "password", "6204", "again", "6205"),
		} {
			m.storesNothing(func() {
				reply := p.post("/people/me", sent)
				require.Equal(t, http.StatusUnprocessableEntity, reply.Status, field)
				reply.says(t, `href="#f-`+field+`"`)
			})
		}
		reply := p.post("/people/me", with(form, "pin", testSecrets[who], "password", "6204", "again", "6204"))
		require.Equal(t, "/sign-in", reply.URL.Path)
		reply.says(t, "signed out everywhere")
		require.Equal(t, "/sign-in", other.get("/people/me").URL.Path, "on the other phone too")
		old := m.phone().post("/sign-in", url.Values{"person": {string(m.people[who].ID)}, "pin": {testSecrets[who]}})
		require.Equal(t, http.StatusUnprocessableEntity, old.Status)
		now := m.phone().post("/sign-in", url.Values{"person": {string(m.people[who].ID)}, "pin": {"6204"}})
		require.Equal(t, "/", now.URL.Path)
	}
	entries, _, err := m.desk().Entries(t.Context(), store.Filter{Kind: store.KindPINReset, Person: m.people["ada"].ID, Limit: 5})
	require.NoError(t, err)
	require.Equal(t, store.PINReset{Person: m.people["ada"].ID, How: "by-owner"}, entries[0].Body)
}
