package server

import (
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"stillsaw/server/secure"
)

// secured is an application served both ways at real addresses.
type secured struct {
	plain, https string // http://127.0.0.1:…, https://localhost:…
	keeper       *secure.Keeper
	flags        []chromedp.ExecAllocatorOption // make a browser trust the mill's authority
	client       *http.Client                   // trusts it, too
}

// overHTTPS serves s plain and encrypted until the test ends.
//
//	at := overHTTPS(t, m.server)
//	b := newBrowser(t, at.https, true, at.flags...)
func overHTTPS(t *testing.T, s *Server) secured {
	t.Helper()
	keeper, err := secure.Open(secure.Config{Folder: t.TempDir(), Now: time.Now, Here: func() secure.Place { return secure.Place{} }, Log: slog.New(slog.NewTextHandler(t.Output(), nil))})
	require.NoError(t, err)
	s.ways.keeper = keeper
	at := secured{plain: onTheNetwork(t, s), keeper: keeper}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	_, port, err := net.SplitHostPort(listener.Addr().String())
	require.NoError(t, err)
	at.https = "https://localhost:" + port
	served := make(chan error, 1)
	go func() { served <- s.ServeSecure(listener) }()
	t.Cleanup(func() { // before the one of onTheNetwork
		require.NoError(t, s.Stop())
		require.NoError(t, <-served)
	})
	at.flags = trusting(t, keeper)
	pool := x509.NewCertPool()
	pool.AddCert(keeper.Root())
	at.client = clientThatTrusts(t, pool)
	return at
}

// trusting are the flags with which Chromium takes what the mill's issuer signed.
// It needs a folder of its own for them to count.
func trusting(t *testing.T, keeper *secure.Keeper) []chromedp.ExecAllocatorOption {
	t.Helper()
	certificate, err := keeper.GetCertificate(helloFrom("localhost"))
	require.NoError(t, err)
	issuer, err := x509.ParseCertificate(certificate.Certificate[1])
	require.NoError(t, err)
	digest := sha256.Sum256(issuer.RawSubjectPublicKeyInfo)
	return []chromedp.ExecAllocatorOption{chromedp.Flag("ignore-certificate-errors-spki-list", base64.StdEncoding.EncodeToString(digest[:])), chromedp.UserDataDir(t.TempDir())}
}

// rootFile is the root as a phone downloads it.
func (at secured) rootFile(t *testing.T) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "root.pem")
	require.NoError(t, os.WriteFile(file, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: at.keeper.Root().Raw}), 0o600))
	return file
}

// signIn goes through the sign-in page encrypted.
func (at secured) signIn(t *testing.T, m *testMill, who string) {
	t.Helper()
	reply, err := at.client.PostForm(at.https+"/sign-in", url.Values{"person": {string(m.people[who].ID)}, "pin": {testSecrets[who]}})
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.Equal(t, http.StatusOK, reply.StatusCode)
}
