package secure

import (
	"context"
	"crypto/tls"
	"fmt"
	"net/http"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"
)

// Public gets certificates for a mill's public name from an authority every
// phone knows, by ACME (RFC 8555), and renews them when two thirds of their life
// are over, at the latest 30 days before their end. The authority must reach the
// server under the name: on port 443 (RFC 8737) or on port 80 (RFC 8555 section
// 8.3), which a router sends on to the two ports of Stillsaw.
type Public struct {
	Name    string
	manager *autocert.Manager
}

// NewPublic keeps what it gets in the folder acme under folder. directory is the
// authority's address; "" is Let's Encrypt's, whose terms whoever names a public
// name accepts. It asks nobody anything yet.
func NewPublic(name, folder, directory string) (*Public, error) {
	name = strings.ToLower(strings.TrimSuffix(name, "."))
	if !speakable(name) || !strings.Contains(name, ".") || strings.HasSuffix(name, ".local") {
		return nil, fmt.Errorf("%q is no name the whole internet knows, such as mill.example.com", name)
	}
	manager := &autocert.Manager{Prompt: autocert.AcceptTOS, Cache: autocert.DirCache(filepath.Join(folder, "acme")), HostPolicy: autocert.HostWhitelist(name)}
	if directory != "" {
		manager.Client = &acme.Client{DirectoryURL: directory}
	}
	p := &Public{Name: name, manager: manager}
	manager.HTTPHandler(nil) // so that the challenge on port 80 may be tried as well
	return p, nil
}

// Challenge answers the authority's question at path on port 80; false for one
// that was not announced.
func (p *Public) Challenge(ctx context.Context, path string) ([]byte, bool) {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+p.Name+path, nil)
	if err != nil {
		return nil, false
	}
	said := answer{header: http.Header{}, status: http.StatusOK}
	p.manager.HTTPHandler(http.NotFoundHandler()).ServeHTTP(&said, request)
	return said.body, said.status == http.StatusOK
}

// answer keeps what a handler of net/http says.
type answer struct {
	header http.Header
	status int
	body   []byte
}

func (a *answer) Header() http.Header    { return a.header }
func (a *answer) WriteHeader(status int) { a.status = status }
func (a *answer) Write(p []byte) (int, error) {
	a.body = append(a.body, p...)
	return len(p), nil
}

// asked tells whether a greeting is for the public name.
func (p *Public) asked(hello *tls.ClientHelloInfo) bool {
	return strings.EqualFold(strings.TrimSuffix(hello.ServerName, "."), p.Name)
}

// proving tells whether the greeting is the authority's own question on port 443.
func proving(hello *tls.ClientHelloInfo) bool {
	return slices.Contains(hello.SupportedProtos, acme.ALPNProto)
}
