package server

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/pb33f/libopenapi-validator/config"
	"github.com/pb33f/libopenapi-validator/errors"
	v3 "github.com/pb33f/libopenapi/datamodel/high/v3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// apiClient calls operations by what the served document says of them, and holds
// every request and answer against it.
type apiClient struct {
	t      *testing.T
	url    string
	check  validator.Validator
	calls  map[string]documented
	called map[string]bool // operations that went well
}

// documented is one operation of the document.
type documented struct {
	method, path string
	*v3.Operation
}

// apiAsk is what goes into a call.
type apiAsk struct {
	token string
	path  map[string]string
	query url.Values
	body  any    // JSON of it, or bytes as they are
	key   string // "" for a new one
	loose bool   // it need not be what the document asks for
}

// newAPIClient reads the document from a server that answers at an address.
func newAPIClient(t *testing.T, address string) *apiClient {
	t.Helper()
	reply, err := http.Get(address + apiRoot + "/openapi.json")
	require.NoError(t, err)
	text, err := io.ReadAll(reply.Body)
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	document, err := libopenapi.NewDocument(text)
	require.NoError(t, err)
	model, err := document.BuildV3Model()
	require.NoError(t, err)
	check, faults := validator.NewValidator(document, config.WithFormatAssertions())
	require.Empty(t, faults)
	ok, wrong := check.ValidateDocument()
	require.True(t, ok, said(wrong))
	c := &apiClient{t: t, url: address, check: check, calls: map[string]documented{}, called: map[string]bool{}}
	for path, at := range model.Model.Paths.PathItems.FromOldest() {
		for method, operation := range at.GetOperations().FromOldest() {
			require.NotContains(t, c.calls, operation.OperationId)
			c.calls[operation.OperationId] = documented{strings.ToUpper(method), path, operation}
		}
	}
	return c
}

func said(wrong []*errors.ValidationError) string {
	var b strings.Builder
	for _, one := range wrong {
		b.WriteString(one.Message + ": " + one.Reason + "\n")
		for _, more := range one.SchemaValidationErrors {
			fmt.Fprintf(&b, "  %s %s\n", more.Reason, more.KeywordLocation)
		}
	}
	return b.String()
}

// request makes the call as the document describes it.
func (c *apiClient) request(id string, a apiAsk) *http.Request {
	c.t.Helper()
	op, known := c.calls[id]
	require.True(c.t, known, "%s is not in the document", id)
	path, key := op.path, a.key
	header := http.Header{}
	for _, p := range op.Parameters {
		switch p.In {
		case "path":
			require.Contains(c.t, a.path, p.Name, id)
			path = strings.ReplaceAll(path, "{"+p.Name+"}", url.PathEscape(a.path[p.Name]))
		case "header":
			if key == "" {
				key = store.NewID()
			}
			header.Set(p.Name, key)
		}
	}
	var body io.Reader
	if op.RequestBody != nil {
		media := op.RequestBody.Content.First().Key()
		content, raw := a.body.([]byte)
		if raw {
			media = strings.TrimSuffix(http.DetectContentType(content), ";")
		} else {
			var err error
			content, err = json.Marshal(a.body)
			require.NoError(c.t, err)
		}
		header.Set("Content-Type", media)
		body = bytes.NewReader(content)
	}
	if len(a.query) > 0 {
		path += "?" + a.query.Encode()
	}
	r, err := http.NewRequestWithContext(c.t.Context(), op.method, c.url+path, body)
	require.NoError(c.t, err)
	r.Header = header
	if a.token != "" {
		r.Header.Set("Authorization", "Bearer "+a.token)
	}
	return r
}

// call makes the call and returns its status and answer; both are what the
// document says.
func (c *apiClient) call(id string, a apiAsk) (int, map[string]any) {
	c.t.Helper()
	if !a.loose {
		ok, wrong := c.check.ValidateHttpRequestSync(c.request(id, a))
		assert.True(c.t, ok, "%s: %s", id, said(wrong))
	}
	status, answer := c.send(c.request(id, a))
	if status == http.StatusOK {
		c.called[id] = true
	}
	return status, answer
}

func (c *apiClient) send(r *http.Request) (int, map[string]any) {
	c.t.Helper()
	reply, err := http.DefaultClient.Do(r)
	require.NoError(c.t, err)
	text, err := io.ReadAll(reply.Body)
	require.NoError(c.t, err)
	require.NoError(c.t, reply.Body.Close())
	reply.Body = io.NopCloser(bytes.NewReader(text))
	ok, wrong := c.check.ValidateHttpResponse(r, reply)
	assert.True(c.t, ok, "%s %s answered %d %.2000s: %s", r.Method, r.URL, reply.StatusCode, text, said(wrong))
	var answer map[string]any
	require.NoError(c.t, json.Unmarshal(text, &answer), string(text))
	return reply.StatusCode, answer
}

// goes makes a call that has to go well.
func (c *apiClient) goes(id string, a apiAsk) map[string]any {
	c.t.Helper()
	status, answer := c.call(id, a)
	require.Equal(c.t, http.StatusOK, status, "%s: %v", id, answer)
	return answer
}

// fields are the names of the fields an answer says are not right.
func fieldsOf(answer map[string]any) (names []string) {
	problems, _ := answer["problems"].([]any)
	for _, one := range problems {
		names = append(names, one.(map[string]any)["field"].(string))
	}
	return names
}

// itemsIn are the things of a page.
func itemsIn(answer map[string]any) (all []map[string]any) {
	for _, one := range answer["items"].([]any) {
		all = append(all, one.(map[string]any))
	}
	return all
}

// token makes a token for who, or one that reads for "".
func (m *testMill) token(who string) string {
	m.t.Helper()
	raw := sha256.Sum256([]byte("token of " + who))
	made := checklists.Token{Name: "test " + who, Use: checklists.TokenReads, Until: m.clock.Now().Add(200 * time.Hour)}
	if who != "" {
		made.Use, made.Person = checklists.TokenWrites, m.people[who].ID
	}
	_, err := m.desk().MakeToken(m.t.Context(), store.NewID(), made, sha256.Sum256(raw[:]), m.people["sam"], m.clock.Now())
	require.NoError(m.t, err)
	return tokenMark + base64.RawURLEncoding.EncodeToString(raw[:])
}

// smallList is a list in the words of a file, checked with the machine stopped.
func smallList() map[string]any {
	item := func(id, check string) map[string]any {
		return map[string]any{"id": id, "section": "Stand", "equipment": "head-saw", "check": check, "how": "by eye", "why": "common practice, no source",
			"machine": "stopped", "answer": "choice", "a defect means": "mend"}
	}
	gauge := item("K2", "Belt gap")
	gauge["answer"], gauge["limits"] = "number", map[string]any{"unit": "in", "highest": 0.5, "slip beyond": 10}
	return map[string]any{"stillsaw list": 1, "id": "small", "title": "Small look", "due": map[string]any{"every": "year"}, "items": []any{item("K1", "Belt guard on"), gauge}}
}

// TestEveryOperationOfTheDocumentGoesAsItSays walks a day of the mill through the
// API. Every operation of the served document has to go well once, with request
// and answer as the document has them (OpenAPI 3.1.0, JSON Schema 2020-12, by an
// independent validator).
func TestEveryOperationOfTheDocumentGoesAsItSays(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	kept := m.as("ada").post("/lifts/new", typing(redOakCant(), "keep", "yes"))
	require.Equal(t, http.StatusOK, kept.Status)
	c := newAPIClient(t, onTheNetwork(t, m.server))
	reader, ada, bo, sam := m.token(""), m.token("ada"), m.token("bo"), m.token("sam")
	pinA, pinB, pinS := testSecrets["ada"], testSecrets["bo"], testSecrets["sam"]
	read := func(id string, path ...string) map[string]any {
		t.Helper()
		return c.goes(id, apiAsk{token: reader, path: inTurn(path)})
	}

	require.Equal(t, "3.1.0", c.goes("getDocument", apiAsk{})["openapi"])
	require.Equal(t, "Fernhollow", read("getMill")["name"])
	require.Len(t, itemsIn(read("listPeople")), 4)
	require.NotEmpty(t, itemsIn(read("listEquipment")))
	require.Equal(t, "MAY RUN", itemsIn(read("listReadiness"))[0]["status"], "the check before the shift is signed")
	require.NotEmpty(t, itemsIn(read("listDue")))
	require.NotEmpty(t, itemsIn(read("listUpcoming")))

	// A list: drafted, told apart from what is in force, published, gone through.
	small := map[string]string{"list": "small"}
	c.goes("putDraft", apiAsk{token: sam, path: small, body: map[string]any{"revision": 0, "over": 0, "list": smallList()}})
	draft := read("getDraft", "list", "small")
	require.EqualValues(t, 1, draft["revision"])
	require.Equal(t, "Sam Ordway", draft["saved"].(map[string]any)["name"])
	c.goes("publishList", apiAsk{token: sam, path: small, body: map[string]any{"revision": 1, "over": 0, "pin": pinS}})
	inForce := read("getList", "list", "small")
	require.EqualValues(t, 1, inForce["version"])
	require.Len(t, itemsIn(read("listVersions", "list", "small")), 1)
	require.Equal(t, inForce, read("getVersion", "list", "small", "version", "1"))
	longer := smallList()
	longer["title"] = "Small look, reworded"
	c.goes("putDraft", apiAsk{token: sam, path: small, body: map[string]any{"revision": 0, "over": 1, "list": longer}})
	changes := itemsIn(read("compareList", "list", "small"))
	require.Len(t, changes, 1)
	require.Equal(t, "changed", changes[0]["kind"])
	require.Len(t, itemsIn(read("listLists")), 2)

	digest := c.goes("keepPhoto", apiAsk{token: ada, body: testPhoto(t)})["digest"]
	key := store.NewID()
	inspection := apiAsk{token: ada, key: key, body: map[string]any{"list": "small", "version": 1, "pin": pinA,
		"answers": []any{map[string]any{"item": "K1", "result": "ok", "photo": digest}, map[string]any{"item": "K2", "number": 0.75, "note": "gap too wide", "severity": "stop"}}}}
	id := c.goes("signInspection", inspection)["id"].(string)
	require.Equal(t, id, c.goes("signInspection", inspection)["id"], "sent once more it is the same")
	pages := itemsIn(c.goes("listInspections", apiAsk{token: reader, query: url.Values{"list": {"small"}, "limit": {"1"}}}))
	require.Len(t, pages, 1)
	require.Equal(t, "defect", read("getInspection", "inspection", id)["answers"].([]any)[1].(map[string]any)["result"])
	require.Contains(t, fmt.Sprint(read("getTrends")["series"]), "list:small")
	left := c.goes("signInspection", apiAsk{token: ada, body: map[string]any{"list": "small", "version": 1, "pin": pinA,
		"answers": []any{map[string]any{"item": "K1", "result": "not-checked", "note": "snowed under"}, map[string]any{"item": "K2", "number": 0.25}}}})["id"].(string)
	c.goes("amendInspection", apiAsk{token: ada, path: map[string]string{"inspection": left}, body: map[string]any{"answers": []any{map[string]any{"item": "K1", "result": "ok"}}, "pin": pinA}})
	require.Len(t, read("getInspection", "inspection", left)["added"], 1)

	// A defect, from stop to return to service.
	found := itemsIn(read("listDefects"))[0]
	require.Equal(t, id, found["inspection"])
	defect := map[string]string{"defect": found["id"].(string)}
	c.goes("assignDefect", apiAsk{token: sam, path: defect, body: map[string]any{"person": m.people["bo"].ID, "due": "2026-03-10", "pin": pinS}})
	c.goes("noteDefect", apiAsk{token: bo, path: defect, body: map[string]any{"kind": "ordered", "text": "one belt", "pin": pinB}})
	c.goes("mendDefect", apiAsk{token: bo, path: defect, body: map[string]any{"note": "belt moved", "pin": pinB}})
	status, answer := c.call("returnDefect", apiAsk{token: bo, path: defect, body: map[string]any{"pin": pinB}})
	require.Equal(t, http.StatusConflict, status, "not by who mended it: %v", answer)
	c.goes("returnDefect", apiAsk{token: ada, path: defect, body: map[string]any{"note": "runs right", "pin": pinA}})
	require.Equal(t, "over", read("getDefect", "defect", defect["defect"])["state"])
	silent := c.goes("raiseDefect", apiAsk{token: ada, body: map[string]any{"equipment": "carriage"}})["id"].(string)
	c.goes("describeDefect", apiAsk{token: ada, path: map[string]string{"defect": silent}, body: map[string]any{"what": "rail loose"}})
	again := apiAsk{token: ada, body: map[string]any{"list": "small", "version": 1, "pin": pinA, "answers": []any{map[string]any{"item": "K1", "result": "ok"},
		map[string]any{"item": "K2", "number": 0.6, "note": "a little wide", "severity": "mend", "stop_gap": "watched each hour", "mend_by": m.clock.Now().Add(72 * time.Hour)}}}}
	c.goes("signInspection", again)
	for _, d := range itemsIn(read("listDefects")) {
		if d["severity"] == "mend" {
			c.goes("redateDefect", apiAsk{token: sam, path: map[string]string{"defect": d["id"].(string)}, body: map[string]any{"mend_by": "2026-03-05", "pin": pinS}})
		}
	}

	// What happened.
	now := m.clock.Now()
	c.goes("reportEvent", apiAsk{token: ada, body: map[string]any{"kind": "jam", "equipment": "head-saw", "note": "slab", "pin": pinA}})
	require.Len(t, itemsIn(read("listEvents")), 1)
	incident := map[string]string{"incident": c.goes("enterIncident", apiAsk{token: bo, body: map[string]any{"kind": "near-miss", "equipment": "carriage", "happened": now.Add(-time.Hour), "what": "log rolled", "hold": "nothing", "pin": pinB}})["id"].(string)}
	c.goes("actAfterIncident", apiAsk{token: sam, path: incident, body: map[string]any{"action": "a stop at the deck", "person": m.people["bo"].ID, "due": "2026-03-09", "pin": pinS}})
	require.Len(t, itemsIn(read("listIncidents")), 1)
	action := read("getIncident", "incident", incident["incident"])["actions"].([]any)[0].(map[string]any)["id"].(string)
	c.goes("reportAction", apiAsk{token: bo, path: map[string]string{"incident": incident["incident"], "action": action}, body: map[string]any{"done": "stop bolted on", "pin": pinB}})
	hurt := map[string]string{"incident": c.goes("enterIncident", apiAsk{token: bo, body: map[string]any{"kind": "hurt", "equipment": "site", "happened": now.Add(-time.Hour), "what": "fell", "harmed": "Walt, an arm", "hold": "nothing", "pin": pinB}})["id"].(string)}
	c.goes("learnHarm", apiAsk{token: sam, path: hurt, body: map[string]any{"harm": "hospital", "known": now, "pin": pinS}})
	c.goes("closeIncident", apiAsk{token: sam, path: incident, body: map[string]any{"reason": "the stop holds", "pin": pinS}})
	departure := c.goes("enterDeparture", apiAsk{token: ada, body: map[string]any{"equipment": "hoist", "what": "lifted while held", "happened": now.Add(-time.Hour), "pin": pinA}})["id"].(string)
	require.Len(t, itemsIn(read("listDepartures")), 1)
	c.goes("closeDeparture", apiAsk{token: sam, path: map[string]string{"departure": departure}, body: map[string]any{"reason": "talked over", "pin": pinS}})

	walkRegisters(t, m, c, reader, ada, sam)
	walkPeopleAndSchedule(t, m, c, reader, sam)

	// What is only read.
	require.NotEmpty(t, itemsIn(read("listReminders")))
	lockout, err := m.desk().BeginLockout(t.Context(), store.NewID(), "hoist", "new latch", now.Add(time.Hour), m.people["ada"], now)
	require.NoError(t, err)
	require.Len(t, itemsIn(read("listLockouts")), 1)
	require.Equal(t, "new latch", read("getLockout", "lockout", string(lockout))["task"])
	lift := itemsIn(read("listLifts"))[0]
	require.Equal(t, lift, read("getLift", "lift", lift["id"].(string)))
	require.Greater(t, lift["upper_kg"], lift["expected_kg"])
	first := c.goes("listEntries", apiAsk{token: reader, query: url.Values{"limit": {"2"}}})
	second := c.goes("listEntries", apiAsk{token: reader, query: url.Values{"limit": {"2"}, "before": {first["next"].(string)}}})
	require.Equal(t, itemsIn(first)[1]["seq"].(float64)-1, itemsIn(second)[0]["seq"], "no gap between pages")
	require.Equal(t, "lockout", read("getEntry", "entry", fmt.Sprint(itemsIn(first)[0]["seq"]))["kind"])

	found = c.goes("searchRecord", apiAsk{token: reader, query: url.Values{"q": {"rolled"}}})
	require.NotEmpty(t, itemsIn(found), "by a word of what was said")
	status, _ = c.call("searchRecord", apiAsk{token: reader})
	require.Equal(t, http.StatusUnprocessableEntity, status, "for nothing nothing is looked for")
	calendar := c.goes("getCalendar", apiAsk{token: reader, query: url.Values{"period": {"quarter"}, "from": {"2026-03-02"}}})
	require.Equal(t, []any{"2026-01-01", "2026-03-31"}, []any{calendar["from"], calendar["until"]})
	require.NotEmpty(t, calendar["lists"])

	// The shift ends without its check.
	m.clock.Advance(24 * time.Hour)
	missed := c.goes("listDue", apiAsk{token: reader})["missed"].([]any)
	require.NotEmpty(t, missed)
	one := missed[0].(map[string]any)
	c.goes("excuseMiss", apiAsk{token: sam, body: map[string]any{"list": one["list"], "starts": one["starts"], "reason": "snowed in", "pin": pinS}})

	for id := range c.calls {
		require.True(t, c.called[id], "%s of the document was not tried", id)
	}
}

// inTurn makes parameters of names and values in turn.
func inTurn(pairs []string) map[string]string {
	path := map[string]string{}
	for pair := range slices.Chunk(pairs, 2) {
		path[pair[0]] = pair[1]
	}
	return path
}
