package server

import (
	"log/slog"
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Somebody may stop the program between its first words and its first request.
func TestServerStoppedBeforeItServesDoesNotServe(t *testing.T) {
	s, _, _ := newServer(t, "")
	require.NoError(t, s.Stop())
	requireNotServing(t, s.Serve)
	require.NoError(t, s.Stop(), "stopping twice is stopping")
}

// requireNotServing gives a listener to whoever was stopped before.
func requireNotServing(t *testing.T, serve func(net.Listener) error) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	served := make(chan error, 1)
	go func() { served <- serve(listener) }()
	select {
	case err := <-served:
		require.NoError(t, err)
	case <-time.After(10 * time.Second):
		require.Fail(t, "it serves for ever")
	}
	require.ErrorIs(t, listener.Close(), net.ErrClosed, "it was closed")
}

// Stop may come after the listener is known and before fiber has begun with it: a
// shutdown of fiber's does nothing then, so the listener itself has to go.
func TestStopClosesTheListener(t *testing.T) {
	s, _, _ := newServer(t, "")
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s.doors.all = []net.Listener{listener}
	require.NoError(t, s.Stop())
	require.ErrorIs(t, listener.Close(), net.ErrClosed, "it was closed")
}

// What Stop has closed is found closed by whoever was about to serve on it.
func TestServingOnAListenerThatStopHasClosedIsNoError(t *testing.T) {
	s, _, _ := newServer(t, "")
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	require.NoError(t, s.Stop())
	require.NoError(t, listener.Close())
	require.NoError(t, s.Serve(listener))
	require.NoError(t, s.Stop())
}

func TestMillsStoppedBeforeTheyServeDoNotServe(t *testing.T) {
	m, err := NewMills(MillsConfig{Data: t.TempDir(), Now: time.Now, Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	require.NoError(t, m.Stop())
	requireNotServing(t, m.Serve)
}
