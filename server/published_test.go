package server

import (
	"encoding/xml"
	"errors"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// filled is the form of that action as a browser would send it untouched,
// without the button pressed.
func (p page) filled(t *testing.T, action string) url.Values {
	t.Helper()
	at := strings.Index(p.Body, `action="`+action+`"`)
	require.Positive(t, at, "no form for %s", action)
	start := strings.LastIndex(p.Body[:at], "<form")
	form, _, _ := strings.Cut(p.Body[start:], "</form>")
	reader := xml.NewDecoder(strings.NewReader(form + "</form>"))
	reader.Strict, reader.AutoClose, reader.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	values, list := url.Values{}, ""
	for {
		token, err := reader.Token()
		if errors.Is(err, io.EOF) {
			return values
		}
		require.NoError(t, err)
		tag, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		name, value := attr(tag, "name"), attr(tag, "value")
		switch tag.Name.Local {
		case "input":
			kind := attr(tag, "type")
			if name != "" && (kind != "checkbox" && kind != "radio" || has(tag, "checked")) {
				values.Add(name, value)
			}
		case "textarea":
			var text struct {
				Text string `xml:",chardata"`
			}
			require.NoError(t, reader.DecodeElement(&text, &tag))
			values.Add(name, text.Text)
		case "select":
			list = name
			values.Set(list, "")
		case "option":
			if has(tag, "selected") {
				values.Set(list, value)
			}
		}
	}
}

func attr(tag xml.StartElement, name string) string {
	for _, a := range tag.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func has(tag xml.StartElement, name string) bool {
	return slices.ContainsFunc(tag.Attr, func(a xml.Attr) bool { return a.Name.Local == name })
}

// freshMill is a mill right after set-up: everything is a draft, sam signed in.
func freshMill(t *testing.T) (*testMill, *phone) {
	t.Helper()
	s, st, now := newServer(t, "")
	m := &testMill{t: t, server: s, store: st, clock: now, mill: testSetUpIn(st), people: map[string]procedures.Person{
		"sam": {ID: procedures.PersonID(store.NewID()), Name: "Sam Ordway", Role: procedures.Supervisor, Authorized: true},
		"ada": {ID: procedures.PersonID(store.NewID()), Name: "Ada Rook", Role: procedures.Operator},
	}}
	set, err := Starter(m.mill, m.people["sam"], testDigests()["sam"], now.Now())
	require.NoError(t, err)
	require.NoError(t, st.SetUp(t.Context(), set))
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), m.people["ada"], testDigests()["ada"], m.people["sam"], now.Now()))
	return m, m.as("sam")
}

func TestAllStartersArePublishedUnderOneSignatureEachAnEntry(t *testing.T) {
	t.Parallel()
	m, p := freshMill(t)
	reading := p.get("/published")
	require.Contains(t, reading.title(), "Nothing is in force")
	drafts, err := m.desk().Drafts(t.Context())
	require.NoError(t, err)
	form := reading.filled(t, "/published")
	form.Set("pin", testSecrets["sam"])
	for _, d := range drafts {
		form.Set("publish."+string(d.Sort)+"."+d.ID, "yes")
	}
	before := m.size()
	reply := p.post("/published", form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	require.Contains(t, reply.title(), "no draft waits")
	require.Equal(t, before+int64(len(drafts)), m.size())
	again := p.post("/published", form)
	require.Equal(t, http.StatusOK, again.Status, "sent twice it is one act")
	require.Equal(t, before+int64(len(drafts)), m.size())
	front := p.get("/")
	front.says(t, "/inspections/new?list=pre-shift")
	require.NotContains(t, front.Body, "No list is in force")
}

func TestPublishingAsksForTicksASignatureAndWhatWasRead(t *testing.T) {
	t.Parallel()
	m, p := freshMill(t)
	form := p.get("/published").filled(t, "/published")
	tick := "publish.list." + string(checklists.PreShift)
	m.storesNothing(func() {
		reply := p.post("/published", with(form, "pin", testSecrets["sam"]))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, `href="#f-publish"`)
		reply = p.post("/published", with(form, tick, "yes", "pin", "wrong"))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, `href="#f-pin"`)
		require.Equal(t, "yes", reply.filled(t, "/published").Get(tick), "the tick is not lost")
		reply = p.post("/published", with(form, tick, "yes", "pin", testSecrets["sam"], "revision.list."+string(checklists.PreShift), "0"))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "read it once more")
		reply = m.as("ada").post("/published", with(form, tick, "yes", "pin", testSecrets["ada"]))
		require.Equal(t, http.StatusForbidden, reply.Status)
	})
	_, err := m.desk().List(t.Context(), checklists.PreShift, 0)
	require.ErrorIs(t, err, store.ErrNotFound)
	require.NotContains(t, m.as("ada").get("/published").Body, `name="pin"`)
}

// with is the form with fields changed: name, value, name, value.
func with(form url.Values, pairs ...string) url.Values {
	changed := url.Values{}
	for name, values := range form {
		changed[name] = append([]string(nil), values...)
	}
	for i := 0; i < len(pairs); i += 2 {
		changed.Set(pairs[i], pairs[i+1])
	}
	return changed
}

const preShiftEdit = "/lists/pre-shift/edit"

// The screens of this part turn away whoever may not come, and send somebody
// not signed in to sign in and back.
func TestWhoMayComeToTheOfficeScreens(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, rita, nobody := m.as("ada"), m.as("rita"), m.phone()
	for _, path := range []string{"/record", "/record/0", "/verify", "/published", "/lists", "/lists/pre-shift", "/lists/pre-shift/versions", "/lists/pre-shift/compare", "/lists/pre-shift/preview", "/people", "/people/me", "/equipment"} {
		assert.Equal(t, http.StatusOK, rita.get(path).Status, path)
		reply := nobody.get(path)
		assert.Equal(t, "/sign-in", reply.URL.Path, path)
		assert.Equal(t, path, reply.URL.Query().Get("back"), path)
	}
	for _, path := range []string{preShiftEdit, "/lists/new", "/lists/import", preShiftPublish, itemPage("S3"), "/people/new", "/people/" + string(m.people["bo"].ID), "/equipment/new", "/equipment/hoist/edit", "/mill"} {
		assert.Equal(t, http.StatusForbidden, ada.get(path).Status, path)
		assert.Equal(t, http.StatusForbidden, rita.get(path).Status, path)
		m.storesNothing(func() {
			assert.Equal(t, http.StatusForbidden, ada.post(path, url.Values{"pin": {testSecrets["ada"]}}).Status, path)
			assert.Equal(t, http.StatusUnauthorized, nobody.post(path, url.Values{"pin": {"4071"}, "name": {"typed before"}}).Status, path)
		})
	}
	nobody.post("/mill", url.Values{"pin": {"4071"}, "password": {"kept secret"}, "again": {"kept secret"}, "name": {"typed before"}}).says(t, "typed before")
	require.NotContains(t, nobody.post("/people/new", url.Values{"password": {"kept secret"}, "again": {"kept secret"}}).Body, "kept secret")
	sam := m.as("sam")
	for _, path := range []string{"/lists/none", "/lists/none/edit", "/lists/none/versions", "/lists/none/compare", "/lists/none/preview", "/lists/none/publish", "/lists/none/export", "/lists/pre-shift/items/none", "/people/none", "/equipment/none", "/record/none"} {
		assert.Equal(t, http.StatusNotFound, sam.get(path).Status, path)
	}
	for _, path := range []string{"/lists/none/edit", "/lists/none/merge", "/lists/none/publish", "/lists/pre-shift/items/none", "/people/none", "/equipment/none/edit", "/equipment/none/remove"} {
		assert.Equal(t, http.StatusNotFound, sam.post(path, url.Values{"pin": {testSecrets["sam"]}}).Status, path)
	}
}
