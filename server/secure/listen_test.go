package secure

import (
	"bufio"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// heard serves "here" over TLS at a real address until the test ends.
func heard(t *testing.T, k *Keeper) string {
	t.Helper()
	plain, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	server := &http.Server{ReadHeaderTimeout: time.Minute, Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, "here") })}
	served := make(chan error, 1)
	go func() { served <- server.Serve(Listen(plain, k.TLS())) }()
	t.Cleanup(func() {
		require.NoError(t, server.Close())
		require.ErrorIs(t, <-served, http.ErrServerClosed)
	})
	return plain.Addr().String()
}

func phone(t *testing.T, root *x509.Certificate, name string) *http.Client {
	t.Helper()
	roots := x509.NewCertPool()
	roots.AddCert(root)
	transport := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots, ServerName: name}, ForceAttemptHTTP2: true}
	t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Transport: transport, Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

func TestAPhoneWithTheRootIsAnswered(t *testing.T) {
	b := newBench(t)
	b.now = time.Now()
	k := b.open(t)
	addr := heard(t, k)
	reply, err := phone(t, k.Root(), "").Get("https://" + addr + "/")
	require.NoError(t, err)
	defer reply.Body.Close()
	require.Equal(t, "http/1.1", reply.TLS.NegotiatedProtocol, "of the two the phone offered")
	require.GreaterOrEqual(t, reply.TLS.Version, uint16(tls.VersionTLS12))

	stranger := newBench(t)
	_, err = phone(t, stranger.open(t).Root(), "").Get("https://" + addr + "/")
	var unknown x509.UnknownAuthorityError
	require.ErrorAs(t, err, &unknown)
}

func TestAPlainRequestOnTheSecurePortIsSentOn(t *testing.T) {
	b := newBench(t)
	b.now = time.Now()
	k := b.open(t)
	addr := heard(t, k)
	reply, err := phone(t, k.Root(), "").Get("http://" + addr + "/due?done=x")
	require.NoError(t, err)
	defer reply.Body.Close()
	require.Equal(t, http.StatusTemporaryRedirect, reply.StatusCode)
	require.Equal(t, "https://"+addr+"/due?done=x", reply.Header.Get("Location"))

	for _, rubbish := range []string{"GET / HTTP/1.1\r\n\r\n", "GET / HTTP/1.1\r\nHost: a@b\r\n\r\n", "\x00\x01\x02\r\n\r\n"} {
		conn, err := net.Dial("tcp", addr)
		require.NoError(t, err)
		_, err = io.WriteString(conn, rubbish)
		require.NoError(t, err)
		require.NoError(t, conn.SetReadDeadline(time.Now().Add(10*time.Second)))
		line, _ := bufio.NewReader(conn).ReadString('\n')
		require.NotContains(t, line, "HTTP/1.1 307", rubbish)
		require.NoError(t, conn.Close())
	}
}
