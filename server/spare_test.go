package server

import (
	"crypto/tls"
	"net"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A browser keeps connections open on which it asked nothing yet. Stopping closes
// them: waited for, they would use up stopLasts, and Stop would say that requests
// did not end.
func TestStopWaitsForNoConnectionOnWhichNothingWasAsked(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	_, plain, _ := strings.Cut(at.plain, "//")
	_, encrypted, _ := strings.Cut(at.https, "//")
	spare, err := net.Dial("tcp", plain)
	require.NoError(t, err)
	defer spare.Close()
	trusts := at.client.Transport.(*http.Transport).TLSClientConfig.Clone()
	over, err := tls.Dial("tcp", encrypted, trusts)
	require.NoError(t, err)
	defer over.Close()
	reply, err := http.Get(at.plain + "/sign-in") // accepted after the spare one
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.NoError(t, m.server.Stop())
	_, err = spare.Read(make([]byte, 1))
	require.Error(t, err, "it is closed")
}
