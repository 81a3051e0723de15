package server_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/checklists"
	"stillsaw/server"
	"stillsaw/server/demo"
	"stillsaw/server/store"
	"stillsaw/server/store/scratchdb"
)

// millsYard is processes of the server on one database of PostgreSQL, on loopback.
type millsYard struct {
	t       *testing.T
	address string
	data    string
	admin   *store.Postgres
}

func newMillsYard(t *testing.T) *millsYard {
	t.Helper()
	if !scratchdb.Asked() {
		t.Skip("needs a PostgreSQL server, see " + scratchdb.Variable)
	}
	y := &millsYard{t: t, address: scratchdb.New(t, ""), data: t.TempDir()}
	y.admin = y.open()
	return y
}

func (y *millsYard) open() *store.Postgres {
	y.t.Helper()
	p, err := store.OpenPostgres(y.t.Context(), y.address, store.PostgresOptions{MayLose: true})
	require.NoError(y.t, err)
	y.t.Cleanup(func() { require.NoError(y.t, p.Close()) })
	return p
}

// filled adds the invented mill under host.
func (y *millsYard) filled(host string) []demo.SignIn {
	y.t.Helper()
	mill := checklists.MillID(store.NewID())
	require.NoError(y.t, y.admin.AddTenant(y.t.Context(), store.Tenant{Mill: mill, Host: host, Made: demoNow}))
	st, err := y.admin.Open(y.t.Context(), server.MillFolder(y.data, mill), mill, nil)
	require.NoError(y.t, err)
	people, err := demo.Fill(y.t.Context(), st, demoNow)
	require.NoError(y.t, err)
	require.NoError(y.t, st.Close())
	return people
}

// process serves the database's mills; it takes what is asked for alone. What else of
// its configuration is another than here, changes say.
func (y *millsYard) process(changes ...func(*server.MillsConfig)) (m *server.Mills, at string) {
	y.t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(y.t, err)
	at = listener.Addr().String()
	config := server.MillsConfig{DB: y.open(), Data: y.data, Now: func() time.Time { return demoNow }, Log: slog.New(slog.NewTextHandler(y.t.Output(), nil)),
		Address: at, Proxies: []netip.Prefix{netip.MustParsePrefix("127.0.0.1/32")}}
	for _, change := range changes {
		change(&config)
	}
	m, err = server.NewMills(config)
	require.NoError(y.t, err)
	served := make(chan error, 1)
	go func() { served <- m.Serve(listener) }()
	y.t.Cleanup(func() { require.NoError(y.t, errors.Join(m.Stop(), <-served)) })
	return m, at
}

// millCaller is a browser that knows every host under one address.
type millCaller struct {
	t      *testing.T
	client *http.Client
}

func newMillCaller(t *testing.T, at string) *millCaller {
	transport := &http.Transport{DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
		return new(net.Dialer).DialContext(ctx, network, at)
	}}
	t.Cleanup(transport.CloseIdleConnections)
	return &millCaller{t: t, client: &http.Client{Transport: transport, Timeout: time.Minute, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

func (c *millCaller) ask(method, address string, form url.Values, cookies []*http.Cookie) (*http.Response, string) {
	c.t.Helper()
	request, err := http.NewRequestWithContext(c.t.Context(), method, address, strings.NewReader(form.Encode()))
	require.NoError(c.t, err)
	if form != nil {
		request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		request.Header.Set("Origin", request.URL.Scheme+"://"+request.URL.Host)
	}
	for _, cookie := range cookies {
		request.AddCookie(cookie)
	}
	reply, err := c.client.Do(request)
	require.NoError(c.t, err)
	defer reply.Body.Close()
	body, err := io.ReadAll(reply.Body)
	require.NoError(c.t, err)
	return reply, string(body)
}

// signIn is the cookies of somebody who supervises at host.
func (c *millCaller) signIn(host string, people []demo.SignIn) []*http.Cookie {
	c.t.Helper()
	_, page := c.ask(http.MethodGet, "http://"+host+"/sign-in", nil, nil)
	for _, who := range people {
		if !strings.Contains(who.What, "supervisor") {
			continue
		}
		found := regexp.MustCompile(`value="([0-9a-f-]{36})"[^>]*>\s*(?:<[^>]*>\s*)*` + regexp.QuoteMeta(who.Name)).FindStringSubmatch(page)
		require.NotNil(c.t, found, "%s stands on the page of %s", who.Name, host)
		reply, _ := c.ask(http.MethodPost, "http://"+host+"/sign-in", url.Values{"person": {found[1]}, "pin": {who.Secret}}, nil)
		require.Equal(c.t, http.StatusSeeOther, reply.StatusCode)
		require.NotEmpty(c.t, reply.Cookies())
		return reply.Cookies()
	}
	require.Fail(c.t, "nobody supervises")
	return nil
}

var (
	anyID   = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`)
	anyLink = regexp.MustCompile(`(?:href|formaction|action|src)="(/[^"#]*)"`)
)

// walk reads every page a supervisor of host comes to, up to most, and is the
// addresses and every id that stood on them.
func (c *millCaller) walk(host string, cookies []*http.Cookie, most int) (addresses []string, ids map[string]bool) {
	c.t.Helper()
	seen, next, ids := map[string]bool{}, []string{"/", "/record", "/people", "/gear", "/lockouts", "/settings", "/export", "/verify", "/api"}, map[string]bool{}
	for len(next) > 0 && len(addresses) < most {
		path := next[0]
		next = next[1:]
		if seen[path] || strings.HasPrefix(path, "/assets/") || strings.HasPrefix(path, "/events") {
			continue
		}
		seen[path] = true
		addresses = append(addresses, path)
		_, body := c.ask(http.MethodGet, "http://"+host+path, nil, cookies)
		for _, id := range anyID.FindAllString(body, -1) {
			ids[id] = true
		}
		for _, link := range anyLink.FindAllStringSubmatch(body, -1) {
			next = append(next, strings.ReplaceAll(link[1], "&amp;", "&"))
		}
	}
	return addresses, ids
}

// The same invented mill lies in one database twice, under two names. Whatever address
// of one is asked under the name of the other, by its own supervisor or with the
// session of the first: nothing of the first comes back.
func TestNoAddressTellsOfAnotherMill(t *testing.T) {
	y := newMillsYard(t)
	hosts := []string{"brook.example", "hollow.example"}
	people := y.filled(hosts[0])
	y.filled(hosts[1])
	_, at := y.process()
	c := newMillCaller(t, at)
	sessions := map[string][]*http.Cookie{}
	for _, host := range hosts {
		sessions[host] = c.signIn(host, people)
	}
	asked, refused, walked := 0, 0, 150 // addresses of each mill
	if os.Getenv("STILLSAW_LONG") != "" {
		walked = 2000
	}
	for i, host := range hosts {
		other := hosts[1-i]
		addresses, ids := c.walk(host, sessions[host], walked)
		_, own := c.walk(other, sessions[other], walked)
		theirs := map[string]bool{}
		for id := range ids {
			if !own[id] {
				theirs[id] = true
			}
		}
		require.Greater(t, len(theirs), 50, "ids that are of %s alone", host)
		for _, path := range addresses {
			for _, cookies := range [][]*http.Cookie{sessions[other], sessions[host]} {
				reply, body := c.ask(http.MethodGet, "http://"+other+path, nil, cookies)
				asked++
				if reply.StatusCode >= 400 {
					refused++
				}
				for _, id := range anyID.FindAllString(body+reply.Header.Get("Location"), -1) {
					if theirs[id] && !strings.Contains(path, id) {
						require.Fail(t, "another mill's", "%s of %s has %s of %s", path, other, id, host)
					}
				}
				for id := range theirs {
					if strings.Contains(path, id) && reply.StatusCode == http.StatusOK && !strings.Contains(path, "?") {
						require.Fail(t, "another mill's", "%s is shown at %s (%d)", path, other, reply.StatusCode)
					}
				}
			}
		}
	}
	t.Logf("%d requests, %d refused", asked, refused)
	require.Greater(t, refused, 30, "pages of one thing alone")
}

// A mill nobody knows is not one; a process says how it does without a mill.
func TestAnUnknownNameIsNoMill(t *testing.T) {
	y := newMillsYard(t)
	_, at := y.process()
	c := newMillCaller(t, at)
	reply, body := c.ask(http.MethodGet, "http://nowhere.example/", nil, nil)
	require.Equal(t, http.StatusNotFound, reply.StatusCode)
	require.Contains(t, body, "No mill is known here by the name nowhere.example")
	reply, body = c.ask(http.MethodGet, "http://nowhere.example/readyz", nil, nil)
	require.Equal(t, http.StatusOK, reply.StatusCode, body)
}

// Two processes on one database: the one that has not the mill passes requests and
// streams on to the one that has, and takes the mill when that is gone.
func TestAnotherProcessAnswersForItsMills(t *testing.T) {
	y := newMillsYard(t)
	people := y.filled("brook.example")
	first, atFirst := y.process()
	_, atSecond := y.process()
	one, two := newMillCaller(t, atFirst), newMillCaller(t, atSecond)
	_, page := one.ask(http.MethodGet, "http://brook.example/", nil, nil)
	_, same := two.ask(http.MethodGet, "http://brook.example/", nil, nil)
	require.Equal(t, withoutIDs(page), withoutIDs(same), "sent on")
	cookies := two.signIn("brook.example", people)

	// A stream opened at the second hears of an act done at the first.
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://brook.example/events", nil)
	require.NoError(t, err)
	stream, err := two.client.Do(request)
	require.NoError(t, err)
	defer stream.Body.Close()
	heard := make(chan string, 16)
	go func() {
		lines := bufio.NewScanner(stream.Body)
		for lines.Scan() {
			if strings.HasPrefix(lines.Text(), "event: moved") {
				heard <- lines.Text()
			}
		}
		close(heard)
	}()
	<-heard // what there is
	reply, body := one.ask(http.MethodPost, "http://brook.example/stop-it", url.Values{"equipment": {"head-saw"}, "what": {"a tooth rings"}, "submission": {store.NewID()}}, cookies)
	require.Equal(t, http.StatusSeeOther, reply.StatusCode, body)
	select {
	case _, open := <-heard:
		require.True(t, open, "the stream goes on")
	case <-time.After(20 * time.Second):
		require.Fail(t, "nothing was heard of it")
	}

	require.NoError(t, first.Stop())
	_, page = two.ask(http.MethodGet, "http://brook.example/record", nil, cookies)
	require.Contains(t, page, "a tooth rings", "the second has it now, with the session")
}

// withoutIDs is a page without what differs each time it is made.
func withoutIDs(page string) string { return anyID.ReplaceAllString(page, "") }

// What is signed at many mills from many phones at once stands in each mill's record,
// whole and in order, whichever of two processes it came to.
func TestManyMillsAtOnceKeepTheirRecordsApart(t *testing.T) {
	y := newMillsYard(t)
	const mills, acts = 2, 10
	people := make([][]demo.SignIn, mills)
	people[0] = y.filled("mill0.example")
	for i := 1; i < mills; i++ {
		people[i] = y.filled(fmt.Sprintf("mill%d.example", i))
	}
	_, atFirst := y.process()
	_, atSecond := y.process()
	callers := []*millCaller{newMillCaller(t, atFirst), newMillCaller(t, atSecond)}
	cookies := make([][]*http.Cookie, mills)
	for i := range mills {
		cookies[i] = callers[i%2].signIn(fmt.Sprintf("mill%d.example", i), people[i])
	}
	failed := make(chan string, mills*acts)
	done := make(chan struct{})
	for i := range mills {
		go func() {
			defer func() { done <- struct{}{} }()
			for n := range acts {
				reply, _ := callers[(i+n)%2].ask(http.MethodPost, fmt.Sprintf("http://mill%d.example/stop-it", i),
					url.Values{"equipment": {"head-saw"}, "what": {fmt.Sprintf("of mill %d, number %d", i, n)}, "submission": {store.NewID()}}, cookies[i])
				if reply.StatusCode != http.StatusSeeOther {
					failed <- fmt.Sprintf("mill %d act %d: %d", i, n, reply.StatusCode)
				}
			}
		}()
	}
	for range mills {
		<-done
	}
	close(failed)
	for said := range failed {
		require.Fail(t, said)
	}
	tenants, err := y.admin.Tenants(t.Context())
	require.NoError(t, err)
	for i, tenant := range tenants {
		st, err := y.admin.Open(t.Context(), t.TempDir(), tenant.Mill, nil)
		require.NoError(t, err)
		reports, err := st.Verify(t.Context())
		require.NoError(t, err)
		require.Len(t, reports, 1)
		require.True(t, reports[tenant.Mill].OK())
		open, err := st.Of(tenant.Mill).Defects(t.Context(), true, 100)
		require.NoError(t, err)
		own := 0
		for _, d := range open {
			if strings.HasPrefix(d.What, "of mill ") {
				require.True(t, strings.HasPrefix(d.What, fmt.Sprintf("of mill %d,", i)), d.What)
				own++
			}
		}
		require.Equal(t, acts, own)
		require.NoError(t, st.Close())
	}
}

// A mill that was renamed or removed is soon not shown any more by the process that had
// it, and what is sent where none is set up is not passed over in silence.
func TestARenamedMillIsAnUnknownNameUnderTheEarlierOne(t *testing.T) {
	y := newMillsYard(t)
	mill := checklists.MillID(store.NewID())
	require.NoError(t, y.admin.AddTenant(t.Context(), store.Tenant{Mill: mill, Host: "oak.example", Made: demoNow, Code: "SAW-AAAA-AAAA"}))
	_, at := y.process()
	phone := newMillCaller(t, at)
	leads := func(host string) string {
		reply, _ := phone.ask(http.MethodGet, "http://"+host+"/", nil, nil)
		return fmt.Sprint(reply.StatusCode, reply.Header.Get("Location"))
	}
	require.Equal(t, "303/set-up", leads("oak.example"))
	reply, page := phone.ask(http.MethodPost, "http://oak.example/stop-it", url.Values{"equipment": {"head-saw"}, "submission": {store.NewID()}}, nil)
	require.Equal(t, http.StatusConflict, reply.StatusCode)
	require.Contains(t, page, "Nothing was saved")

	soon := func(host, want string) {
		t.Helper()
		require.Eventually(t, func() bool { return leads(host) == want }, 20*time.Second, 100*time.Millisecond, "%s: %s", host, want)
	}
	require.NoError(t, y.admin.RenameTenant(t.Context(), mill, "ash.example"))
	soon("oak.example", "404")
	require.Equal(t, "303/set-up", leads("ash.example"))
	require.NoError(t, y.admin.Remove(t.Context(), mill, tlog.Hash{}))
	soon("ash.example", "404")
}
