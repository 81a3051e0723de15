package server

import (
	"crypto/tls"
	"crypto/x509"
	"io"
	"net/http"
	"net/http/cookiejar"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func helloFrom(name string) *tls.ClientHelloInfo { return &tls.ClientHelloInfo{ServerName: name} }

func clientThatTrusts(t *testing.T, pool *x509.CertPool) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	transport := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}
	t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Jar: jar, Timeout: 20 * time.Second, Transport: transport}
}

func fetched(t *testing.T, client *http.Client, url string) (*http.Response, string) {
	t.Helper()
	reply, err := client.Get(url)
	require.NoError(t, err)
	defer reply.Body.Close()
	body, err := io.ReadAll(reply.Body)
	require.NoError(t, err)
	return reply, string(body)
}

func TestABrowserThatTrustsTheMillOpensTheFirstPageEncrypted(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := overHTTPS(t, m.server)
	b := newBrowser(t, at.https, true, at.flags...)
	b.open("/")
	b.sees("HELD")
	b.signIn(m, "ada")
	b.open("/due")
	b.sees("Pre-shift")
}
