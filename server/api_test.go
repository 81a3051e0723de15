package server

import (
	"bytes"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func TestEveryRouteOfTheAPIStandsInTheDocumentAndNoOther(t *testing.T) {
	s, _, _ := newServer(t, "")
	c := newAPIClient(t, onTheNetwork(t, s))
	var routed, written []string
	for _, route := range s.app.GetRoutes() {
		if strings.HasPrefix(route.Path, apiPrefix) {
			routed = append(routed, route.Method+" "+route.Path)
		}
	}
	for _, op := range c.calls {
		written = append(written, op.method+" "+fiberPath(op.path))
	}
	require.ElementsMatch(t, routed, written)
}

// Who may call what, said once more beside the table that drives it.
func operationsForSupervisors() []string {
	return []string{"putDraft", "publishList", "excuseMiss", "redateDefect", "actAfterIncident", "learnHarm", "closeIncident", "closeDeparture",
		"changeBlade", "enterSafety", "changeSafety", "putSchedule", "getPerson", "addPerson", "changePerson", "enterTraining", "putEmergencyCard"}
}

func TestTokenMayWhatItsPersonMayOnTheScreens(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	c := newAPIClient(t, onTheNetwork(t, m.server))
	tokens := map[string]string{"none": "", "reads": m.token(""), "operator": m.token("ada"), "supervisor": m.token("sam")}
	for id, op := range c.calls {
		writes, supervised := op.method != http.MethodGet, contains(operationsForSupervisors(), id)
		if id == "getDocument" {
			continue // for everybody, as its own test shows
		}
		for who, token := range tokens {
			status, answer := c.call(id, apiAsk{token: token, path: everyParameter(op), body: map[string]any{}, loose: true})
			switch {
			case who == "none":
				require.Equal(t, http.StatusUnauthorized, status, id)
			case who == "reads" && (writes || supervised), who == "operator" && supervised:
				require.Equal(t, http.StatusForbidden, status, "%s as %s", id, who)
			default:
				require.NotContains(t, []int{http.StatusUnauthorized, http.StatusForbidden, http.StatusInternalServerError}, status, "%s as %s: %v", id, who, answer)
			}
			if writes && status != http.StatusUnauthorized && status != http.StatusForbidden {
				require.NotEqual(t, http.StatusOK, status, "%s did something with nothing sent", id)
			}
		}
	}
}

func everyParameter(op documented) map[string]string {
	path := map[string]string{}
	for _, p := range op.Parameters {
		if p.In == "path" {
			path[p.Name] = "none"
		}
	}
	return path
}

func TestBodyThatIsNotRightIsNamedByItsFieldAndKeepsNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	c := newAPIClient(t, onTheNetwork(t, m.server))
	ada, sam := m.token("ada"), m.token("sam")
	stop := map[string]any{"equipment": "hoist", "what": "hook bent"}
	m.storesNothing(func() {
		for name, tc := range map[string]struct {
			id     string
			body   any
			status int
			field  string
		}{
			"unknown field":     {"raiseDefect", map[string]any{"equipment": "hoist", "severity": "mend"}, http.StatusUnprocessableEntity, "severity"},
			"other capitals":    {"raiseDefect", map[string]any{"Equipment": "hoist"}, http.StatusUnprocessableEntity, "Equipment"},
			"PIN in capitals":   {"reportEvent", map[string]any{"kind": "jam", "equipment": "hoist", "PIN": "4071"}, http.StatusUnprocessableEntity, "PIN"},
			"capitals inside":   {"signInspection", map[string]any{"list": "pre-shift", "version": 1, "pin": "4071", "answers": []any{map[string]any{"item": "Z9", "Result": "ok"}}}, http.StatusUnprocessableEntity, "answers.Result"},
			"wrong kind":        {"raiseDefect", map[string]any{"equipment": 7}, http.StatusUnprocessableEntity, "equipment"},
			"unknown equipment": {"raiseDefect", map[string]any{"equipment": "mangle"}, http.StatusUnprocessableEntity, "equipment"},
			"no pin":            {"reportEvent", map[string]any{"kind": "jam", "equipment": "hoist"}, http.StatusUnprocessableEntity, "pin"},
			"wrong pin":         {"reportEvent", map[string]any{"kind": "jam", "equipment": "hoist", "pin": "0000"}, http.StatusUnprocessableEntity, "pin"},
			"no such time":      {"reportEvent", map[string]any{"kind": "jam", "equipment": "hoist", "happened": "yesterday", "pin": "4071"}, http.StatusUnprocessableEntity, ""},
			"no such photo":     {"raiseDefect", map[string]any{"equipment": "hoist", "photo": "abc"}, http.StatusUnprocessableEntity, "photo"},
			"no field for it":   {"signInspection", map[string]any{"list": "pre-shift", "version": 1, "pin": "4071", "answers": []any{map[string]any{"item": "Z9", "result": "ok"}}}, http.StatusUnprocessableEntity, "Z9.result"},
			"other version":     {"signInspection", map[string]any{"list": "pre-shift", "version": 9, "pin": "4071", "answers": []any{}}, http.StatusConflict, ""},
		} {
			status, answer := c.call(tc.id, apiAsk{token: ada, body: tc.body, loose: true})
			require.Equal(t, tc.status, status, "%s: %v", name, answer)
			if tc.status == http.StatusUnprocessableEntity {
				require.Contains(t, fieldsOf(answer), tc.field, name)
			}
		}
		wrong := smallList()
		wrong["items"].([]any)[0].(map[string]any)["colour"] = "green"
		status, answer := c.call("putDraft", apiAsk{token: sam, path: map[string]string{"list": "small"}, body: map[string]any{"revision": 0, "over": 0, "list": wrong}, loose: true})
		require.Equal(t, http.StatusUnprocessableEntity, status)
		require.Contains(t, fieldsOf(answer)[0], "colour")

		for name, tc := range map[string]struct {
			change func(*http.Request)
			body   string
			status int
		}{
			"not JSON by its header": {func(r *http.Request) { r.Header.Set("Content-Type", "text/plain") }, `{"equipment": "hoist"}`, http.StatusUnsupportedMediaType},
			"no key":                 {func(r *http.Request) { r.Header.Del(keyHeader) }, `{"equipment": "hoist"}`, http.StatusUnprocessableEntity},
			"key of version 4":       {func(r *http.Request) { r.Header.Set(keyHeader, "9b2d7f7c-6f4e-4a62-9d0a-0d1f4ad3c1aa") }, `{"equipment": "hoist"}`, http.StatusUnprocessableEntity},
			"two objects":            {func(*http.Request) {}, `{"equipment": "hoist"} {}`, http.StatusUnprocessableEntity},
			"no object":              {func(*http.Request) {}, `[]`, http.StatusUnprocessableEntity},
			"cut off":                {func(*http.Request) {}, `{"equipment": "hoi`, http.StatusUnprocessableEntity},
			"too large":              {func(*http.Request) {}, `{"what": "` + strings.Repeat("x", apiBodyMost) + `"}`, http.StatusRequestEntityTooLarge},
		} {
			r := c.request("raiseDefect", apiAsk{token: ada, body: stop})
			again, err := http.NewRequestWithContext(t.Context(), r.Method, r.URL.String(), strings.NewReader(tc.body))
			require.NoError(t, err)
			again.Header = r.Header
			tc.change(again)
			status, _ := c.send(again)
			require.Equal(t, tc.status, status, name)
		}
	})
	status, answer := c.call("raiseDefect", apiAsk{token: ada, body: stop})
	require.Equal(t, http.StatusOK, status, answer)
	defect := map[string]string{"defect": answer["id"].(string)}
	status, answer = c.call("returnDefect", apiAsk{token: ada, path: defect, body: map[string]any{"pin": "4071"}})
	require.Equal(t, http.StatusConflict, status)
	require.Contains(t, answer["detail"], "not mended")
	require.Equal(t, "/api#s409", answer["type"])
}

func TestDraftSomebodyElseSavedIsNotWrittenOver(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	c := newAPIClient(t, onTheNetwork(t, m.server))
	sam, small := m.token("sam"), map[string]string{"list": "small"}
	first, second := smallList(), smallList()
	second["title"] = "Second"
	c.goes("putDraft", apiAsk{token: sam, path: small, body: map[string]any{"revision": 0, "over": 0, "list": first}})
	status, answer := c.call("putDraft", apiAsk{token: sam, path: small, body: map[string]any{"revision": 0, "over": 0, "list": second}})
	require.Equal(t, http.StatusConflict, status)
	require.Equal(t, "Sam Ordway", answer["saved"].(map[string]any)["name"])
	status, answer = c.call("publishList", apiAsk{token: sam, path: small, body: map[string]any{"revision": 7, "over": 0, "pin": testSecrets["sam"]}})
	require.Equal(t, http.StatusConflict, status)
	require.EqualValues(t, 1, answer["saved"].(map[string]any)["revision"])
	key := store.NewID()
	publish := apiAsk{token: sam, path: small, key: key, body: map[string]any{"revision": 1, "over": 0, "pin": testSecrets["sam"]}}
	c.goes("publishList", publish)
	m.storesNothing(func() { c.goes("publishList", publish) })
}

func TestNoCookieOpensTheAPIAndAPageElsewhereCanNotForgeIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	require.Equal(t, http.StatusUnauthorized, sam.get(apiRoot+"/people").Status)
	reply := sam.get("/mill/tokens")
	made := sam.post("/mill/tokens", url.Values{"submission": {reply.submission()}, "name": {"kiln PC"}, "use": {"write"}, "person": {string(m.people["ada"].ID)}, "until": {"2026-04-01"}, "pin": {testSecrets["sam"]}})
	require.Equal(t, http.StatusOK, made.Status)
	at := strings.Index(made.Body, tokenMark)
	require.Positive(t, at, "it is shown once")
	token := made.Body[at : at+len(tokenMark)+43]
	require.NotContains(t, sam.get("/mill/tokens").Body, token)
	require.Equal(t, http.StatusForbidden, m.as("ada").get("/mill/tokens").Status)

	c := newAPIClient(t, onTheNetwork(t, m.server))
	r := c.request("raiseDefect", apiAsk{token: token, body: map[string]any{"equipment": "hoist"}})
	r.Header.Set("Origin", "http://kiln.example")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	status, answer := c.send(r)
	require.Equal(t, http.StatusOK, status, "what carries a token was not forged: %v", answer)

	tokens, err := m.desk().Tokens(t.Context())
	require.NoError(t, err)
	require.Equal(t, m.clock.Now().UTC(), tokens[0].Used)
	gone := sam.post("/mill/tokens/"+string(tokens[0].ID)+"/revoke", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["sam"]}})
	require.Equal(t, http.StatusOK, gone.Status)
	gone.says(t, "took it back")
	status, _ = c.call("listPeople", apiAsk{token: token})
	require.Equal(t, http.StatusUnauthorized, status)
	sam.get("/record").says(t, "The token kiln PC was taken back.")
	sam.get("/api").says(t, "/defects/{defect}/mending")
}

func TestWrongTokensAreSlowedAndARightOneStillGoes(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	c := newAPIClient(t, onTheNetwork(t, m.server))
	right := m.token("")
	wrong := apiAsk{token: tokenMark + strings.Repeat("A", 43)}
	for range freeTriesAddress {
		status, _ := c.call("getMill", wrong)
		require.Equal(t, http.StatusUnauthorized, status)
	}
	status, _ := c.call("getMill", wrong)
	require.Equal(t, http.StatusTooManyRequests, status)
	c.goes("getMill", apiAsk{token: right})
	m.clock.Advance(firstWait)
	status, _ = c.call("getMill", wrong)
	require.Equal(t, http.StatusUnauthorized, status)
	status, _ = c.call("getMill", apiAsk{token: "something else"})
	require.Equal(t, http.StatusTooManyRequests, status)
}

func TestTokenPagesRenderEmptyAndWithWhatIsRare(t *testing.T) {
	assets, err := views.NewAssets()
	require.NoError(t, err)
	engine, err := views.NewEngine(assets)
	require.NoError(t, err)
	frame := &views.Frame{Title: plain.Say("a title")}
	for _, tc := range []struct {
		name string
		page any
		says string
	}{
		{"tokens", tokensPage{Frame: frame}, "Only a supervisor makes tokens"},
		{"tokens", tokensPage{Frame: frame, Makes: true, Secret: "s3cret", Good: []tokenLine{{Name: "<kiln>"}}, Over: []tokenLine{{Name: "old"}}}, "s3cret"},
		{"api", apiPage{Frame: frame}, "RFC 9457"},
	} {
		var out bytes.Buffer
		require.NoError(t, engine.Render(&out, tc.name, tc.page), tc.name)
		require.Contains(t, out.String(), tc.says)
	}
}
