package server

import (
	"bufio"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
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
