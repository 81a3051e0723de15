package server

import (
	"bytes"
	"compress/flate"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// A few kilobytes that unpack to gigabytes: whoever unpacks them before looking at
// the size is out of memory. Nothing that belongs here sends a packed body.
func TestABodyThatComesPackedIsNotUnpacked(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	plain := m.phone().withFiles("/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}}, nil)
	form, err := io.ReadAll(plain.Body)
	require.NoError(t, err)
	var zipped, deflated bytes.Buffer
	z := gzip.NewWriter(&zipped)
	_, err = z.Write(form)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	d, err := flate.NewWriter(&deflated, flate.BestSpeed)
	require.NoError(t, err)
	_, err = d.Write(form)
	require.NoError(t, err)
	require.NoError(t, d.Close())
	for _, sent := range []struct {
		to, kind  string
		body      []byte
		encodings []string
	}{
		{"/stop-it", plain.Header.Get("Content-Type"), zipped.Bytes(), []string{"gzip"}},
		{"/stop-it", plain.Header.Get("Content-Type"), zipped.Bytes(), []string{"identity", "gzip"}},
		{"/stop-it", plain.Header.Get("Content-Type"), deflated.Bytes(), []string{"deflate"}},
		{"/stop-it", plain.Header.Get("Content-Type"), form, []string{"br"}},
		{"/witness/add-checkpoint", "text/plain", zipped.Bytes(), []string{"gzip"}},
		{apiRoot + "/defects", "application/json", zipped.Bytes(), []string{"gzip, gzip"}},
	} {
		m.storesNothing(func() {
			request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://mill.test"+sent.to, bytes.NewReader(sent.body))
			require.NoError(t, err)
			request.Header.Set("Content-Type", sent.kind)
			request.Header["Content-Encoding"] = sent.encodings
			reply, err := m.server.app.Test(request, 60_000)
			require.NoError(t, err)
			require.NoError(t, reply.Body.Close())
			require.Equal(t, http.StatusUnsupportedMediaType, reply.StatusCode, "%s %v", sent.to, sent.encodings)
		})
	}
	require.Equal(t, "/", m.phone().follow(m.phone().withFiles("/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}}, nil)).URL.Path, "as it is, it goes")
}

// An address others wrote may lead somebody to a form; what they type there is what
// they said.
func TestAFormsOwnFieldCountsBeforeTheAddress(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	ada.post("/stop-it?equipment=hoist&what=no", url.Values{"submission": {store.NewID()}, "equipment": {"dust-collection"}, "what": {""}})
	ada.postFiles("/stop-it?equipment=hoist&what=no", url.Values{"submission": {store.NewID()}, "equipment": {"carriage"}, "what": {""}}, nil)
	defects, err := m.desk().Defects(t.Context(), true, 10)
	require.NoError(t, err)
	require.Len(t, defects, 2)
	for _, d := range defects {
		require.NotEqual(t, "hoist", string(d.Equipment))
		require.NotEqual(t, "no", d.What, "a field left empty is empty")
	}
}

func TestOnlyAFormWithFilesMayBeLong(t *testing.T) {
	header := func(kind string) *fasthttp.RequestHeader {
		h := &fasthttp.RequestHeader{}
		h.SetContentType(kind)
		return h
	}
	require.Equal(t, bodyMost, limits(header("multipart/form-data; boundary=x")).MaxRequestBodySize)
	for _, kind := range []string{"application/x-www-form-urlencoded", "application/json", "multipart/form-data", "text/plain", ""} {
		require.Equal(t, wordsMost, limits(header(kind)).MaxRequestBodySize, kind)
	}
	s, _, _ := newServer(t, "")
	request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://mill.test/stop-it", strings.NewReader(strings.Repeat("a", wordsMost+1)))
	require.NoError(t, err)
	_, err = s.app.Test(request, 60_000)
	require.ErrorIs(t, err, fasthttp.ErrBodyTooLarge)
}

// Thousands of fields, and JSON as deep as the sea, are answered and not hung on.
func TestLongAndDeepBodiesAreAnswered(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	many := url.Values{"submission": {store.NewID()}, "equipment": {"moon"}}
	for i := range 20_000 {
		many.Set(fmt.Sprint("f", i), "x")
	}
	require.Equal(t, http.StatusUnprocessableEntity, m.phone().post("/stop-it", many).Status)
	token := m.token("sam")
	for _, body := range []string{strings.Repeat("[", 100_000), `{"a":` + strings.Repeat(`{"a":`, 100_000), `{"what":` + strings.Repeat("[", 9_000) + strings.Repeat("]", 9_000) + "}", `{"what":"` + strings.Repeat("x", apiBodyMost) + `"}`} {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://mill.test"+apiRoot+"/defects", strings.NewReader(body))
		require.NoError(t, err)
		request.Header.Set("Content-Type", "application/json")
		request.Header.Set("Authorization", "Bearer "+token)
		request.Header.Set(keyHeader, store.NewID())
		reply, err := m.server.app.Test(request, 60_000)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		require.GreaterOrEqual(t, reply.StatusCode, 400)
		require.Less(t, reply.StatusCode, 500, "%.20s", body)
	}
}

// dribble opens connections from an address of this computer and sends the
// beginning of a request on each.
func dribble(t *testing.T, from, to string, count int, begins string) (open []net.Conn) {
	t.Helper()
	dialer := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}}
	for range count {
		conn, err := dialer.DialContext(context.Background(), "tcp", to)
		require.NoError(t, err)
		t.Cleanup(func() { conn.Close() })
		_, err = conn.Write([]byte(begins))
		require.NoError(t, err)
		open = append(open, conn)
	}
	return open
}

// stopFrom stops a machine from an address of this computer, or says why it can't.
func stopFrom(from, to, machine string) (int, error) {
	client := http.Client{Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{DisableKeepAlives: true, DialContext: (&net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}}).DialContext}}
	reply, err := client.PostForm("http://"+to+"/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {machine}})
	if err != nil {
		return 0, err
	}
	return reply.StatusCode, reply.Body.Close()
}

// closed waits until the other side closed the connection.
func closed(conn net.Conn) bool {
	if err := conn.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
		return false
	}
	_, err := conn.Read(make([]byte, 1))
	return err != nil && !os.IsTimeout(err)
}

// Somebody who opens connections and says next to nothing on them takes those of
// one address, which others do not notice, and is let go when the time to read is up.
func TestSlowConnectionsKeepNobodyFromStopping(t *testing.T) {
	m := newMill(t)
	require.Equal(t, readTimeout, m.server.app.Config().ReadTimeout)
	require.LessOrEqual(t, readTimeout, time.Minute)
	to := strings.TrimPrefix(onTheNetwork(t, m.server), "http://")
	slow := dribble(t, "127.0.0.2", to, connectionsFrom, "POST /stop-it HTTP/1.1\r\nHost: mill\r\nX-A: ")
	require.True(t, closed(dribble(t, "127.0.0.2", to, 1, "G")[0]), "one too many")
	status, err := stopFrom("127.0.0.3", to, "hoist")
	require.NoError(t, err)
	require.Equal(t, http.StatusSeeOther, status)
	require.Equal(t, checklists.Held, m.status("hoist"))
	require.NoError(t, slow[0].Close())
	require.Eventually(t, func() bool {
		status, err := stopFrom("127.0.0.2", to, "carriage")
		return err == nil && status == http.StatusSeeOther
	}, 20*time.Second, 10*time.Millisecond, "a place that came free is given on")
}

// Who speaks for many has no such bound.
func TestAProxyMayOpenAsManyConnectionsAsItNeeds(t *testing.T) {
	c := newCrowd(func(address string) bool { return address == "10.0.0.1" })
	for range 3 * connectionsFrom {
		require.True(t, c.enter("10.0.0.1"))
	}
	for range connectionsFrom {
		require.True(t, c.enter("10.0.0.2"))
	}
	require.False(t, c.enter("10.0.0.2"))
	c.leave("10.0.0.2")
	require.True(t, c.enter("10.0.0.2"))
	for range connectionsFrom {
		c.leave("10.0.0.2")
	}
	require.NotContains(t, c.from, "10.0.0.2", "nothing is kept of who is gone")
}

// Bodies are kept in memory until they are answered. When all together are too much
// those that send much are closed, and a form as small as a stop still goes.
func TestBodiesUnderWayAreBoundedAndAStopStillGoes(t *testing.T) {
	m := newMill(t)
	m.server.crowd.bodies = 1 << 20
	to := strings.TrimPrefix(onTheNetwork(t, m.server), "http://")
	part := "POST /departures/new HTTP/1.1\r\nHost: mill\r\nContent-Type: multipart/form-data; boundary=x\r\nContent-Length: 20000000\r\n\r\n--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a\"\r\n\r\n"
	first := dribble(t, "127.0.0.1", to, 1, part+strings.Repeat("a", 900<<10))[0]
	require.Eventually(t, func() bool { return m.server.crowd.sent.Load() > 800<<10 }, 20*time.Second, time.Millisecond)
	second := dribble(t, "127.0.0.1", to, 1, part)[0]
	go func() { _, _ = second.Write([]byte(strings.Repeat("a", 400<<10))) }() // it may be closed meanwhile
	require.True(t, closed(second))
	status, err := stopFrom("127.0.0.1", to, "hoist")
	require.NoError(t, err)
	require.Equal(t, http.StatusSeeOther, status)
	require.NoError(t, first.Close())
	require.Eventually(t, func() bool { return m.server.crowd.sent.Load() == 0 }, 20*time.Second, time.Millisecond, "what they took is given back")
}

// Who asks for a page and takes nothing of it is let go.
func TestWhoTakesNothingOfAnAnswerIsLetGo(t *testing.T) {
	c := newCrowd(func(string) bool { return false })
	c.within = 10 * time.Millisecond
	here, there := net.Pipe()
	defer there.Close()
	defer here.Close()
	p := &place{conn: here, asked: func() bool { return true }, crowd: c, from: "a"}
	_, err := p.write(make([]byte, 10))
	require.ErrorIs(t, err, os.ErrDeadlineExceeded)
	require.LessOrEqual(t, newCrowd(nil).within, time.Minute)
}
