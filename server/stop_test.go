package server

import (
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Somebody may stop the program between its first words and its first request.
func TestServerStoppedBeforeItServesDoesNotServe(t *testing.T) {
	s, _, _ := newServer(t, "")
	require.NoError(t, s.Stop())
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	served := make(chan error, 1)
	go func() { served <- s.Serve(listener) }()
	select {
	case err := <-served:
		require.NoError(t, err)
	case <-time.After(10 * time.Second):
		require.Fail(t, "it serves for ever")
	}
	require.ErrorIs(t, listener.Close(), net.ErrClosed, "it was closed")
	require.NoError(t, s.Stop(), "stopping twice is stopping")
}

// The listener is known and fiber has not begun with it: a shutdown of fiber's
// does nothing then, so the listener itself has to go.
func TestStopClosesTheListener(t *testing.T) {
	s, _, _ := newServer(t, "")
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s.gate.Lock()
	s.listeners = []net.Listener{listener}
	s.gate.Unlock()
	require.NoError(t, s.Stop())
	require.ErrorIs(t, listener.Close(), net.ErrClosed, "it was closed")
}
