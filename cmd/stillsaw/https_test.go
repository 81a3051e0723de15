package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var printedEncrypted = regexp.MustCompile(`Encrypted: +https://localhost:(\d+)`)

func TestBothPortsAnswerAndTheFingerprintPrintedIsTheCertificates(t *testing.T) {
	dir := preparedMill(t)
	s := serving(t, dir)
	found := printedEncrypted.FindStringSubmatch(s.printed())
	require.NotNil(t, found, s.printed())
	reply, err := s.phone(t).http.Get("http://" + s.addr + "/trust/stillsaw.crt")
	require.NoError(t, err)
	defer reply.Body.Close()
	der, err := io.ReadAll(reply.Body)
	require.NoError(t, err)
	root, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	pool := x509.NewCertPool()
	pool.AddCert(root)
	client := &http.Client{Timeout: 20 * time.Second, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}, DisableKeepAlives: true}}
	reply, err = client.Get("https://localhost:" + found[1] + "/trust/ping")
	require.NoError(t, err)
	defer reply.Body.Close()
	print, err := io.ReadAll(reply.Body)
	require.NoError(t, err)
	require.Contains(t, strings.Join(strings.Fields(s.printed()), " "), string(print))
	require.Contains(t, s.printed(), "http://localhost:"+strings.TrimPrefix(s.addr, "127.0.0.1:")+"/trust")
	info, err := os.Stat(filepath.Join(dir, "keys", "https-authority.pem"))
	require.NoError(t, err)
	if os.PathSeparator == '/' {
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	}
}

func TestHTTPSCanBeOffAndATakenPortStopsTheServerOnlyWhereItWasChosen(t *testing.T) {
	dir := t.TempDir()
	started := func(args ...string) string {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		s := servingWith(ctx, t, append(args, "-addr", "127.0.0.1:0", "-data", dir)...)
		cancel()
		require.Equal(t, exitOK, <-s.ended, s.printed())
		return s.printed()
	}
	require.NotContains(t, started("-https", "off"), "https://")
	require.NoFileExists(t, filepath.Join(dir, "keys", "https-authority.pem"))

	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	callIt(t, "-addr", "127.0.0.1:0", "-data", dir, "-https", taken.Addr().String()).failed(t, exitWrong, "taken", "-https")

	require.NoError(t, os.MkdirAll(filepath.Join(dir, "keys"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "keys", "https-authority.pem"), []byte("spoilt"), 0o600))
	require.Contains(t, started(), "Pages are not encrypted: the mill's certificate authority")
}

func TestWhereToAnswerEncrypted(t *testing.T) {
	for _, c := range []struct {
		addr, plain, want string
		chosen            bool
	}{
		{":8443", ":8090", ":8443", false}, {":8443", "127.0.0.1:8090", "127.0.0.1:8443", false}, {":8443", "127.0.0.1:0", "127.0.0.1:0", false},
		{":9443", "127.0.0.1:0", "127.0.0.1:9443", true}, {"10.0.0.7:443", "127.0.0.1:8090", "10.0.0.7:443", true}, {":8443", "[::1]:8090", "[::1]:8443", false},
	} {
		f := httpsFlags{addr: c.addr, chosen: c.chosen}
		require.Equal(t, c.want, f.on(c.plain), c)
	}
}

func TestFlagsOfHTTPSThatContradictAreOneLine(t *testing.T) {
	for says, args := range map[string][]string{
		"exclude each other":                     {"-acme", "mill.example.com", "-behind", "https://mill.example.com"},
		"-acme needs -https":                     {"-acme", "mill.example.com", "-https", "off"},
		"-proxies needs -behind":                 {"-proxies", "10.0.0.1"},
		"is not an address such as":              {"-behind", "http://mill.example.com"},
		`"mill.example.com" is not an address`:   {"-behind", "mill.example.com"},
		"is neither an address nor a network":    {"-behind", "https://mill.example.com", "-proxies", "router"},
		`"https://mill.example.com/saw" is not`:  {"-behind", "https://mill.example.com/saw"},
		`"https://sam@mill.example.com" is not`:  {"-behind", "https://sam@mill.example.com"},
		`"https://mill.example.com/?a=b" is not`: {"-behind", "https://mill.example.com/?a=b"},
	} {
		callIt(t, append(args, "-addr", "127.0.0.1:0", "-data", t.TempDir())...).failed(t, exitUsage, says)
	}
	callIt(t, "-acme", "millpc.local", "-addr", "127.0.0.1:0", "-data", t.TempDir()).failed(t, exitWrong, "millpc.local", "internet")
}

func TestThePublicAddressIsTheOneShown(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	s := servingWith(ctx, t, "-behind", "https://mill.example.com/", "-https", "off", "-addr", "127.0.0.1:0", "-data", t.TempDir())
	require.Contains(t, s.printed(), "https://mill.example.com/set-up")
	require.NotContains(t, s.printed(), "SHA-256")
	cancel()
	require.Equal(t, exitOK, <-s.ended)
}
