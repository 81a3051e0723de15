package server

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// deputize makes bo the deputy, who keeps a PIN of four digits.
func (m *testMill) deputize() *phone {
	m.t.Helper()
	bo := m.people["bo"]
	bo.Deputy = true
	require.NoError(m.t, m.desk().KeepPerson(m.t.Context(), store.NewID(), bo, "", m.people["sam"], m.clock.Now()))
	m.people["bo"] = bo
	return m.as("bo")
}

func TestDeputyBecomesNoSupervisorAndMakesNone(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.deputize()
	m.storesNothing(func() {
		for _, who := range []string{"bo", "ada"} {
			address := "/people/" + string(m.people[who].ID)
			form := p.get(address).filled(t, address)
			for _, change := range [][]string{
				{"role", "supervisor", "deputy", "", "password", "a long new password", "again", "a long new password"}, {"deputy", map[string]string{"bo": "", "ada": "yes"}[who]},
				{"authorized", ""}, {"qualified_lifting", "yes"}, {"qualified_electrical", "yes"},
			} {
				reply := p.post(address, with(with(form, change...), "pin", testSecrets["bo"]))
				require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%s %v", who, change)
				reply.says(t, "Only a supervisor", who, change)
			}
		}
		address := "/people/" + string(m.people["ada"].ID)
		reply := p.post(address, with(p.get(address).filled(t, address), "password", "6204", "again", "6204", "pin", testSecrets["bo"]))
		reply.says(t, "nobody&#39;s PIN or password but their own")
		address = "/people/" + string(m.people["sam"].ID)
		sam := m.as("sam")
		reply = p.post(address, with(sam.get(address).filled(t, address), "password", "a long new password", "again", "a long new password", "pin", testSecrets["bo"]))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "Only a supervisor changes what is kept of a supervisor")
		require.Error(t, m.desk().ResetPIN(t.Context(), store.NewID(), m.people["sam"].ID, testDigests()["bo"], "by-supervisor", m.people["bo"].ID, m.clock.Now()))
	})
	require.Equal(t, "/", m.phone().signIn(m.people["sam"].ID, testSecrets["sam"]).URL.Path, "sam's password is the old one")
}

// What a deputy is there for while the supervisor is away: a new hand, a name
// written wrong, somebody who has left.
func TestDeputyKeepsNamesAndAddsOperators(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.deputize()
	page := p.get("/people/new")
	page.says(t, "A deputy may add an operator")
	for _, field := range []string{`type="checkbox" name="deputy"`, `type="checkbox" name="authorized"`, `value="reader"`} {
		require.NotContains(t, page.Body, field, "what is refused is not offered")
	}
	form := with(page.filled(t, "/people/new"), "name", "Cal Wye", "password", "7193", "again", "7193", "pin", testSecrets["bo"])
	for _, change := range [][]string{{"role", "reader"}, {"authorized", "yes"}, {"deputy", "yes"}} {
		m.storesNothing(func() {
			p.post("/people/new", with(form, change...)).says(t, "Only a supervisor", change)
		})
	}
	require.Equal(t, "/people", p.post("/people/new", form).URL.Path)

	address := "/people/" + string(m.people["ada"].ID)
	form = p.get(address).filled(t, address)
	require.Equal(t, "yes", form.Get("authorized"), "goes along unchanged")
	require.NotContains(t, p.get(address).Body, `name="password"`)
	require.Equal(t, "/people", p.post(address, with(form, "name", "Ada M. Rook", "left", "yes", "pin", testSecrets["bo"])).URL.Path)
	ada := m.person("ada")
	require.Equal(t, procedures.Person{ID: ada.ID, Name: "Ada M. Rook", Role: procedures.Operator, Authorized: true, Left: true}, ada)
	m.storesNothing(func() {
		p.post(address, with(p.get(address).filled(t, address), "left", "", "pin", testSecrets["bo"])).says(t, "Only a supervisor")
	})

	address = "/people/" + string(m.people["sam"].ID)
	page = p.get(address)
	page.says(t, "Only a supervisor changes what is kept of a supervisor")
	require.NotContains(t, page.Body, `name="pin"`)

	address = "/people/" + string(m.people["bo"].ID)
	require.Equal(t, "/sign-in", p.post(address, with(p.get(address).filled(t, address), "password", "6204", "again", "6204", "pin", testSecrets["bo"])).URL.Path, "the own PIN signs out")
	require.True(t, m.person("bo").Deputy)
	entries, _, err := m.desk().Entries(t.Context(), store.Filter{Kind: store.KindPINReset, Person: m.people["bo"].ID, Limit: 1})
	require.NoError(t, err)
	require.Equal(t, store.PINReset{Person: m.people["bo"].ID, How: "by-owner"}, entries[0].Body)
}
