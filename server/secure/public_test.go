package secure

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/base64"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// publicAuthority is the least of an ACME server (RFC 8555) that gives one
// certificate: it looks at the server's answer on its TLS port (RFC 8737), and
// checks no signature of a request.
type publicAuthority struct {
	t    *testing.T
	url  string
	root *x509.Certificate
	key  *ecdsa.PrivateKey

	mu     sync.Mutex
	target string // where the name is found
	proven bool
	chain  []byte
	plain  *Public  // asked on port 80 instead, where it is set
	names  []string // asked for
}

func newPublicAuthority(t *testing.T) *publicAuthority {
	t.Helper()
	p := &publicAuthority{t: t}
	var err error
	p.key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	c := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "Everybody knows it"}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour * 9999),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	raw, err := x509.CreateCertificate(rand.Reader, c, c, p.key.Public(), p.key)
	require.NoError(t, err)
	p.root, err = x509.ParseCertificate(raw)
	require.NoError(t, err)
	server := httptest.NewServer(http.HandlerFunc(p.answer))
	t.Cleanup(server.Close)
	p.url = server.URL
	return p
}

func (p *publicAuthority) answer(w http.ResponseWriter, r *http.Request) {
	p.mu.Lock()
	defer p.mu.Unlock()
	w.Header().Set("Replay-Nonce", fmt.Sprint(time.Now().UnixNano()))
	var envelope struct{ Payload string }
	_ = json.NewDecoder(r.Body).Decode(&envelope)
	payload, err := base64.RawURLEncoding.DecodeString(envelope.Payload)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	say := func(status int, what any) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		_ = json.NewEncoder(w).Encode(what)
	}
	order := func() map[string]any {
		status := "pending"
		switch {
		case p.chain != nil:
			status = "valid"
		case p.proven:
			status = "ready"
		}
		return map[string]any{"status": status, "authorizations": []string{p.url + "/authorization"}, "finalize": p.url + "/finalize", "certificate": p.url + "/certificate",
			"identifiers": []map[string]string{{"type": "dns", "value": "mill.example.com"}}}
	}
	kind := "tls-alpn-01"
	if p.plain != nil {
		kind = "http-01"
	}
	challenge := map[string]any{"type": kind, "url": p.url + "/challenge", "token": "a-token", "status": "pending"}
	status := "pending"
	if p.proven {
		challenge["status"], status = "valid", "valid"
	}
	switch r.URL.Path {
	case "/directory":
		say(http.StatusOK, map[string]any{"newNonce": p.url + "/nonce", "newAccount": p.url + "/account", "newOrder": p.url + "/order"})
	case "/nonce":
	case "/account":
		w.Header().Set("Location", p.url+"/account/1")
		say(http.StatusCreated, map[string]any{"status": "valid"})
	case "/order":
		var asked struct{ Identifiers []struct{ Value string } }
		_ = json.Unmarshal(payload, &asked)
		for _, name := range asked.Identifiers {
			p.names = append(p.names, name.Value)
		}
		w.Header().Set("Location", p.url+"/order/1")
		say(http.StatusCreated, order())
	case "/order/1":
		say(http.StatusOK, order())
	case "/authorization":
		say(http.StatusOK, map[string]any{"status": status, "identifier": map[string]string{"type": "dns", "value": "mill.example.com"}, "challenges": []any{challenge}})
	case "/challenge":
		if p.plain != nil {
			said, known := p.plain.Challenge(r.Context(), "/.well-known/acme-challenge/a-token")
			p.proven = known && strings.HasPrefix(string(said), "a-token.") // RFC 8555 section 8.1
		} else {
			p.proven = p.looks()
		}
		say(http.StatusOK, challenge)
	case "/finalize":
		var sent struct{ CSR string }
		_ = json.Unmarshal(payload, &sent)
		p.chain = p.signs(sent.CSR)
		w.Header().Set("Location", p.url+"/order/1")
		say(http.StatusOK, order())
	case "/certificate":
		w.Header().Set("Content-Type", "application/pem-certificate-chain")
		_, _ = w.Write(p.chain)
	default:
		http.NotFound(w, r)
	}
}

// looks asks the server as RFC 8737 section 3 has it.
func (p *publicAuthority) looks() bool {
	conn, err := tls.Dial("tcp", p.target, &tls.Config{ServerName: "mill.example.com", NextProtos: []string{"acme-tls/1"}, InsecureSkipVerify: true})
	if err != nil {
		return false
	}
	defer func() { _, _ = io.Copy(io.Discard, conn); _ = conn.Close() }()
	_ = conn.SetDeadline(time.Now().Add(5 * time.Second))
	if conn.CloseWrite() != nil || conn.ConnectionState().NegotiatedProtocol != "acme-tls/1" {
		return false
	}
	for _, extension := range conn.ConnectionState().PeerCertificates[0].Extensions {
		if extension.Id.String() == "1.3.6.1.5.5.7.1.31" && extension.Critical {
			return true
		}
	}
	return false
}

func (p *publicAuthority) signs(encoded string) []byte {
	raw, err := base64.RawURLEncoding.DecodeString(encoded)
	if err != nil {
		return nil
	}
	asked, err := x509.ParseCertificateRequest(raw)
	if err != nil {
		return nil
	}
	c := &x509.Certificate{SerialNumber: big.NewInt(2), Subject: asked.Subject, DNSNames: asked.DNSNames, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(90 * 24 * time.Hour),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	signed, err := x509.CreateCertificate(rand.Reader, c, p.root, asked.PublicKey, p.key)
	if err != nil {
		return nil
	}
	var out bytes.Buffer
	_ = pem.Encode(&out, &pem.Block{Type: "CERTIFICATE", Bytes: signed})
	_ = pem.Encode(&out, &pem.Block{Type: "CERTIFICATE", Bytes: p.root.Raw})
	return out.Bytes()
}

func TestAPublicNameGetsACertificateEverybodyKnowsAndKeepsItOverARestart(t *testing.T) {
	authority := newPublicAuthority(t)
	b := newBench(t)
	b.now = time.Now()
	start := func() (*Keeper, string) {
		public, err := NewPublic("Mill.example.com", b.dir, authority.url+"/directory")
		require.NoError(t, err)
		k := b.open(t)
		k.Public = public
		return k, heard(t, k)
	}
	k, addr := start()
	authority.mu.Lock()
	authority.target = addr
	authority.mu.Unlock()
	client := phone(t, authority.root, "mill.example.com")
	reply, err := client.Get("https://" + addr + "/")
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.Equal(t, []string{"mill.example.com"}, authority.names)

	_, port, err := net.SplitHostPort(addr)
	require.NoError(t, err)
	reply, err = phone(t, k.Root(), "").Get("https://localhost:" + port + "/")
	require.NoError(t, err, "the mill's own network goes on by the mill's own authority")
	require.NoError(t, reply.Body.Close())

	require.FileExists(t, filepath.Join(b.dir, "acme", "mill.example.com"))
	_, addr = start()
	reply, err = phone(t, authority.root, "mill.example.com").Get("https://" + addr + "/")
	require.NoError(t, err)
	require.NoError(t, reply.Body.Close())
	require.Len(t, authority.names, 1, "nothing was asked again")
}

func TestTheAuthorityMayAskOnPort80Instead(t *testing.T) {
	authority := newPublicAuthority(t)
	b := newBench(t)
	b.now = time.Now()
	public, err := NewPublic("mill.example.com", b.dir, authority.url+"/directory")
	require.NoError(t, err)
	authority.mu.Lock()
	authority.plain = public
	authority.mu.Unlock()
	k := b.open(t)
	k.Public = public
	require.NoError(t, verified(authority.root, given(t, k, hello("mill.example.com", "")).Certificate, "mill.example.com", b.clock()))
	_, known := public.Challenge(t.Context(), "/.well-known/acme-challenge/another")
	require.False(t, known)
}

func TestOnlyTheNameGivenIsAskedFor(t *testing.T) {
	authority := newPublicAuthority(t)
	b := newBench(t)
	public, err := NewPublic("mill.example.com", b.dir, authority.url+"/directory")
	require.NoError(t, err)
	k := b.open(t)
	k.Public = public
	for _, name := range []string{"evil.example.com", "example.com", "www.mill.example.com", ""} {
		require.Equal(t, k.authority.issuer.Raw, given(t, k, hello(name, "")).Certificate[1], name)
	}
	require.Empty(t, authority.names)
	require.Error(t, public.manager.HostPolicy(t.Context(), "evil.example.com"))
	require.NoError(t, public.manager.HostPolicy(t.Context(), "mill.example.com"))
}

func TestWhileThePublicAuthorityCannotBeReachedTheMillsOwnStandsIn(t *testing.T) {
	b := newBench(t)
	public, err := NewPublic("mill.example.com", b.dir, "http://127.0.0.1:1/directory")
	require.NoError(t, err)
	k := b.open(t)
	k.Public = public
	require.Equal(t, k.authority.issuer.Raw, given(t, k, hello("mill.example.com", "")).Certificate[1])
}

func TestANameTheInternetCannotKnowIsRefused(t *testing.T) {
	for _, name := range []string{"", "millpc", "millpc.local", "192.168.1.20", "mill example.com", "https://mill.example.com", "mill.example.com:443"} {
		_, err := NewPublic(name, t.TempDir(), "")
		require.Error(t, err, name)
	}
	_, err := NewPublic("mill.example.com.", t.TempDir(), "")
	require.NoError(t, err)
}
