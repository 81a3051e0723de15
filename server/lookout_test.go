package server

import (
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// loggedMill is a mill whose log is read.
func loggedMill(t *testing.T) (*testMill, *logged) {
	t.Helper()
	m := newMill(t)
	log := &logged{}
	m.server.log = slog.New(slog.NewJSONHandler(log, nil))
	m.server.lookout.log = m.server.log
	return m, log
}

// lines are the lines of a log by their members.
func (l *logged) lines(t *testing.T) (all []map[string]any) {
	t.Helper()
	l.mu.Lock()
	defer l.mu.Unlock()
	for line := range strings.Lines(l.String()) {
		var one map[string]any
		require.NoError(t, json.Unmarshal([]byte(line), &one), line)
		all = append(all, one)
	}
	return all
}

// take are the lines since the last time, the time of each taken out.
func (l *logged) take(t *testing.T) []map[string]any {
	t.Helper()
	all := l.lines(t)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.Reset()
	for _, one := range all {
		require.NotEmpty(t, one["time"])
		delete(one, "time")
	}
	return all
}

// Whoever reads the log sees that somebody signed in or could not, what was refused
// and from where, nobody's name or id, and nothing that anybody typed.
func TestLogTellsWhoSignedInAndWhatWasRefused(t *testing.T) {
	t.Parallel()
	m, log := loggedMill(t)
	m.server.ways.proxies = []netip.Prefix{netip.MustParsePrefix("0.0.0.0/32")} // app.Test comes from there
	ada, sam := string(m.people["ada"].ID), m.as("sam")
	var said strings.Builder
	expect := func(want ...map[string]any) {
		t.Helper()
		got := log.take(t)
		fmt.Fprintln(&said, got)
		require.Equal(t, want, got)
	}
	line := func(level, msg, method, route string, status int, more ...any) map[string]any {
		one := map[string]any{"level": level, "msg": msg, "method": method, "route": route, "status": float64(status), "address": "0.0.0.0"}
		for i := 0; i < len(more); i += 2 {
			one[more[i].(string)] = more[i+1]
		}
		return one
	}
	expect(line("INFO", "signed in", "POST", "/sign-in", 303))
	from := func(p *phone, path string, form url.Values, headers ...string) {
		p.asked(http.MethodPost, path, form, append(headers, "X-Forwarded-For", "10.1.2.3")...)
	}
	line10 := func(one map[string]any) map[string]any { one["address"] = "10.1.2.3"; return one }
	try := func(who, pin string) { from(m.phone(), "/sign-in", url.Values{"person": {who}, "pin": {pin}}) }
	try(ada, "7777")
	expect(line10(line("WARN", "wrong PIN or password", "POST", "/sign-in", 422)))
	try("nobody of that name", "7777")
	for range freeTriesPerson - 1 {
		try(ada, "7777")
	}
	expect() // the same once more is counted
	try(ada, testSecrets["ada"])
	expect(line10(line("WARN", "made to wait after wrong tries", "POST", "/sign-in", 422)))
	m.clock.Advance(time.Hour)
	from(sam, "/departures/new", url.Values{"submission": {store.NewID()}, "what": {"zq typed"}, "pin": {"88888"}})
	expect(line10(line("WARN", "wrong PIN or password", "POST", "/sign-in", 422, "again", 4.0, "minute", "2026-03-03T11:00:00Z")),
		line10(line("WARN", "wrong PIN or password", "POST", "/departures/new", 422)))

	adas := m.as("ada")
	log.take(t)
	from(adas, "/mill", url.Values{"name": {"zq"}})
	expect(line10(line("WARN", "refused", "POST", "/mill", 403, "why", "not for the role")))
	from(adas, "/stop-it", url.Values{"equipment": {"hoist"}}, "Origin", "http://zq.test")
	expect(line10(line("WARN", "refused", "POST", "/", 403, "why", "form of another site")))
	from(adas, "/stop-it", url.Values{"equipment": {"hoist"}}, "Content-Encoding", "gzip")
	expect(line10(line("WARN", "refused", "POST", "/", 415, "why", "packed")))
	from(m.phone(), "/departures/new", url.Values{"what": {"zq"}})
	expect(line10(line("INFO", "refused", "POST", "/departures/new", 401)))
	from(adas, "/departures/new", url.Values{"submission": {store.NewID()}, "what": {"zq"}})
	expect(line10(line("INFO", "refused", "POST", "/departures/new", 422)))
	from(m.phone(), apiRoot+"/defects", nil, "Authorization", "Bearer stillsaw_zq")
	expect(line10(line("WARN", "wrong token", "POST", apiRoot+"/defects", 401)))
	from(m.phone(), apiRoot+"/defects", nil)
	expect(line10(line("INFO", "refused", "POST", apiRoot+"/defects", 401)))
	adas.asked(http.MethodGet, "/zq", nil)
	expect()
	for _, typed := range []string{"zq", "7777", "88888", testSecrets["ada"], "Rook", "nobody of that name", ada} {
		require.NotContains(t, said.String(), typed)
	}
}

// What never becomes a request is told, too: too long a body, no HTTP, a crowd.
func TestLogTellsWhatCouldNotBeRead(t *testing.T) {
	t.Parallel()
	m, log := loggedMill(t)
	m.server.crowd.connections = 3
	to := strings.TrimPrefix(onTheNetwork(t, m.server), "http://")
	long := dribble(t, "127.0.0.4", to, 1, "POST /zq HTTP/1.1\r\nHost: mill\r\nContent-Length: 99999999\r\n\r\nzq")[0]
	_, err := io.ReadAll(long)
	require.NoError(t, err)
	odd := dribble(t, "127.0.0.4", to, 1, "zq\r\n\r\n")[0]
	_, err = io.ReadAll(odd)
	require.NoError(t, err)
	dribble(t, "127.0.0.5", to, 3, "G")
	require.True(t, closed(dribble(t, "127.0.0.5", to, 1, "G")[0]))
	told := map[string]bool{}
	for _, one := range log.take(t) {
		told[fmt.Sprint(one["msg"], " ", one["status"], " ", one["address"])] = true
		require.NotContains(t, fmt.Sprint(one), "zq")
	}
	require.Equal(t, map[string]bool{"not read 413 127.0.0.4": true, "not read 400 127.0.0.4": true, "too many connections <nil> 127.0.0.5": true}, told)
}

// A flood is a few lines, which say how many there were.
func TestAFloodOfRefusalsIsAFewLinesAndNoneIsLost(t *testing.T) {
	log := &logged{}
	now := &clock{now: time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)}
	l := newLookout(slog.New(slog.NewJSONHandler(log, nil)), now.Now)
	for i := range 10_000 {
		l.saw(sight{what: wrongPINLine, status: 422, address: fmt.Sprint("10.0.", i%5000)})
		l.saw(sight{what: refusedLine, why: roleWhy, status: 403, address: "10.0.0.1", route: fmt.Sprint("/", i%300)})
	}
	l.saw(sight{what: signedInLine, address: "10.0.0.9"})
	first := log.take(t)
	require.Len(t, first, 2*(linesOfASort+1)+1)
	now.Advance(time.Minute)
	l.saw(sight{what: signedInLine, address: "10.0.0.9"})
	l.end()
	l.end()
	all := append(first, log.take(t)...)
	require.Less(t, len(all), 100)
	count := map[any]int{}
	for _, one := range all {
		if again, counted := one["again"].(float64); counted {
			count[one["msg"]] += int(again)
		} else {
			count[one["msg"]]++
		}
	}
	require.Equal(t, map[any]int{wrongPINLine: 10_000, refusedLine: 10_000, signedInLine: 2}, count)
}
