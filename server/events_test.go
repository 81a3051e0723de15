package server

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
	"stillsaw/server/store/lent"
)

// A screen that lost the stream says what it heard last (WHATWG HTML, section
// 9.2.4, Last-Event-ID) and is told of a move only if there was one.
func TestStreamGoesOnWhereItWasLost(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	go func() { _ = m.server.Serve(listener) }()
	size := m.size()
	for heard, moved := range map[string]bool{"": true, fmt.Sprint(size - 1): true, "nonsense": true, fmt.Sprint(size): false} {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://"+listener.Addr().String()+"/events", nil)
		require.NoError(t, err)
		request.Header.Set("Last-Event-ID", heard)
		request.Header.Set("Accept-Encoding", "br, gzip")
		reply, err := http.DefaultClient.Do(request)
		require.NoError(t, err)
		require.Empty(t, reply.Header.Get("Content-Encoding"), "a stream is not packed")
		lines := bufio.NewScanner(reply.Body)
		next := func() string {
			var event []string
			for lines.Scan() && lines.Text() != "" {
				event = append(event, lines.Text())
			}
			return strings.Join(event, " ")
		}
		require.Contains(t, next(), "event: here")
		if moved {
			require.Equal(t, fmt.Sprintf("event: moved id: %d data: %d", size, size), next(), heard)
		} else {
			m.stop("ada", "head-saw", "guard loose")
			require.Equal(t, fmt.Sprintf("event: moved id: %d data: %d", size+1, size+1), next(), heard)
			size++
		}
		require.NoError(t, reply.Body.Close())
	}
}

// listenFrom opens a stream from an address of this computer.
func listenFrom(t *testing.T, from, to string) *http.Response {
	t.Helper()
	client := http.Client{Transport: &http.Transport{DialContext: (&net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}}).DialContext}}
	reply, err := client.Get(to + "/events")
	require.NoError(t, err)
	t.Cleanup(func() { reply.Body.Close() })
	return reply
}

// Somebody who opens streams without end takes those of one address; the page of
// another, which finds no room, is told so, and a place that comes free is given on.
func TestStreamsOfOneAddressAndOfAllAreBounded(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.server.streams.from, m.server.streams.most = 2, 3
	to := onTheNetwork(t, m.server)
	first := listenFrom(t, "127.0.0.2", to)
	require.Equal(t, http.StatusOK, first.StatusCode)
	require.Equal(t, http.StatusOK, listenFrom(t, "127.0.0.2", to).StatusCode)
	third := listenFrom(t, "127.0.0.2", to)
	require.Equal(t, http.StatusServiceUnavailable, third.StatusCode, "one too many of it")
	require.Equal(t, "15", third.Header.Get("Retry-After"))
	require.Equal(t, http.StatusOK, listenFrom(t, "127.0.0.3", to).StatusCode)
	require.Equal(t, http.StatusServiceUnavailable, listenFrom(t, "127.0.0.4", to).StatusCode, "one too many of all")
	require.NoError(t, first.Body.Close())
	require.Eventually(t, func() bool {
		m.stop("ada", "hoist", "hook bent") // it is written to, and so found to be gone
		return m.server.streams.open() == 2
	}, 20*time.Second, 200*time.Millisecond)
	require.Equal(t, http.StatusOK, listenFrom(t, "127.0.0.2", to).StatusCode)
	require.LessOrEqual(t, newStreams(nil, nil, nil).from, connectionsFrom/2, "half of an address's connections are left for all else")
}

// A server that stops ends streams at once: nobody waits for them, and no browser for
// a server that is gone.
func TestStoppingEndsEveryStream(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	to := onTheNetwork(t, m.server)
	var open []*http.Response
	for range 20 {
		reply := listenFrom(t, "127.0.0.1", to)
		require.Equal(t, http.StatusOK, reply.StatusCode)
		open = append(open, reply)
	}
	began := time.Now()
	require.NoError(t, m.server.Stop())
	require.Less(t, time.Since(began), stopLasts, "it waited for none")
	for _, reply := range open {
		_, err := io.Copy(io.Discard, reply.Body)
		require.NoError(t, err, "it ends as a whole answer does")
	}
	require.Nil(t, m.server.streams.join(m.desk().ID(), "127.0.0.1"), "none is begun then")
	require.Eventually(t, func() bool { return m.server.streams.open() == 0 }, 20*time.Second, time.Millisecond)
}

// What asks only whether there is a stream takes no place.
func TestHeadOfTheStreamEnds(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	reply, err := http.Head(onTheNetwork(t, m.server) + "/events")
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.Equal(t, "text/event-stream", reply.Header.Get("Content-Type"))
	require.Zero(t, m.server.streams.open())
}

// written is a page that notes what it is told.
type written chan string

func (w written) Write(p []byte) (int, error) { w <- string(p); return len(p), nil }

// A page whose network takes nothing any more holds up no other.
func TestAPageThatTakesNothingHoldsUpNoOther(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ctx, end := context.WithCancel(t.Context())
	defer end()
	all := newStreams(m.store, ctx, func(string) {})
	stuck, other := all.join(m.desk().ID(), "a"), all.join(m.desk().ID(), "b")
	require.Same(t, stuck, other)
	_, deaf := io.Pipe()
	told := make(written, 16)
	go stuck.tell(deaf, []byte("begin"), -1)
	go other.tell(told, []byte("begin"), -1)
	require.Equal(t, "begin", <-told)
	size := m.size()
	require.Equal(t, fmt.Sprintf("event: moved\nid: %d\ndata: %d\n\n", size, size), <-told)
	m.stop("ada", "hoist", "hook bent")
	require.Equal(t, fmt.Sprintf("event: moved\nid: %d\ndata: %d\n\n", size+1, size+1), <-told)
	all.leave(stuck, "a")
	all.leave(other, "b")
	all.end()
	require.Empty(t, all.rooms, "nobody looks at the record for nobody")
}

// Where the record can't be read the page hears nothing more, and says NOT KNOWN.
func TestStreamsEndWhereTheRecordCantBeRead(t *testing.T) {
	t.Parallel()
	st, err := lent.Open(t.Context(), t.TempDir())
	require.NoError(t, err)
	require.NoError(t, st.Close())
	all := newStreams(st, t.Context(), func(string) {})
	mill := checklists.MillID(store.NewID())
	r := all.join(mill, "a")
	told := make(written, 16)
	r.tell(told, []byte("begin"), -1)
	require.Len(t, told, 1, "no event says that the server is there")
	all.end()
	require.NotSame(t, r, all.join(mill, "a"), "who comes later has it tried anew")
	all.end()
}
