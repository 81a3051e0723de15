package secure

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"golang.org/x/crypto/acme"
)

// The files of the folder of keys. Neither goes into a copy of the database.
const (
	authorityFile = "https-authority.pem"
	serverFile    = "https-server.pem"
)

// lookEvery is how seldom the computer's addresses are looked up for a phone
// that came to one the certificate has.
const lookEvery = time.Minute

// Config is what a keeper is made of. Folder, Now and Here must be there.
type Config struct {
	Folder string // of keys
	Now    func() time.Time
	Here   func() Place
	Log    *slog.Logger
	Lasts  time.Duration // of a new authority; 0 is AuthorityLasts
	Public *Public       // for a public name; nil where there is none
}

// Keeper has a certificate ready whenever a phone asks for one, and renews it
// when two thirds of its life are over or the computer has another name or
// address, while the server runs. It may be used by many at once.
type Keeper struct {
	Config
	authority *authority

	mu     sync.Mutex // of what follows
	leaf   issued
	looked time.Time // when Here was asked last
}

// Open takes the authority out of the folder, or makes it where there is none or
// its time is over. A file that can't be read is left as it is, with an error
// that says what to do.
func Open(config Config) (*Keeper, error) {
	if config.Lasts == 0 {
		config.Lasts = AuthorityLasts
	}
	k := &Keeper{Config: config}
	path := k.path(authorityFile)
	text, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return k, k.found()
	case err != nil:
		return nil, fmt.Errorf("the mill's certificate authority %s can't be read: %w", path, err)
	}
	if k.authority, err = readAuthority(text); err != nil {
		return nil, fmt.Errorf("the mill's certificate authority %s can't be used (%w); put it back from where it is kept, or move it away and start again: a new one is made, and each phone has to install it", path, err)
	}
	if !k.Now().Before(k.authority.issuer.NotAfter) {
		return k, k.found()
	}
	if text, err := os.ReadFile(k.path(serverFile)); err == nil {
		k.leaf, _ = k.authority.readIssued(text) // any other is replaced at the first call
	}
	return k, nil
}

// found makes the authority and writes it down.
func (k *Keeper) found() error {
	made, err := newAuthority(k.Here(), k.Lasts, k.Now())
	if err != nil {
		return fmt.Errorf("no certificate authority can be made: %w", err)
	}
	text, err := made.written()
	if err != nil {
		return err
	}
	k.authority = made
	return k.write(authorityFile, text)
}

func (k *Keeper) path(name string) string { return filepath.Join(k.Folder, name) }

// write puts text into a file of the folder, whole or not at all, to be read by
// this user alone.
func (k *Keeper) write(name string, text []byte) error {
	if err := os.MkdirAll(k.Folder, 0o700); err != nil {
		return fmt.Errorf("the folder of keys %s can't be made: %w", k.Folder, err)
	}
	file, err := os.CreateTemp(k.Folder, ".https-*") // which only this user may read
	if err != nil {
		return fmt.Errorf("nothing can be written to %s: %w", k.Folder, err)
	}
	_, err = file.Write(text)
	err = errors.Join(err, file.Sync(), file.Close())
	if err == nil {
		err = os.Rename(file.Name(), k.path(name))
	}
	if err != nil {
		return errors.Join(fmt.Errorf("%s can't be written to %s: %w", name, k.Folder, err), os.Remove(file.Name()))
	}
	return nil
}

// Exposed tells whether others than this user may read the authority's key. On
// Windows a file's mode says nothing of that.
func (k *Keeper) Exposed() bool {
	info, err := os.Stat(k.path(authorityFile))
	return err == nil && runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0
}

// Root is the certificate phones install.
func (k *Keeper) Root() *x509.Certificate { return k.authority.root }

// RootPEM is the root as text.
func (k *Keeper) RootPEM() []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: k.authority.root.Raw})
}

// Covers tells whether the server's certificate is good for host, a name or an
// address without a port.
func (k *Keeper) Covers(host string) bool {
	certificate, err := k.own(netip.Addr{})
	return err == nil && certificate.Leaf.VerifyHostname(host) == nil
}

// Beyond are the names and addresses this computer has that the authority may
// not speak for: it was made when the computer had others. A certificate leaves
// them out.
func (k *Keeper) Beyond() []string {
	_, without := k.authority.narrowed(k.Here())
	all := slices.Clone(without.Names)
	for _, addr := range without.Addresses {
		all = append(all, addr.String())
	}
	return all
}

// GetCertificate answers a phone's greeting, for [tls.Config]. Whatever name it
// asks for, it gets the one there is: where that is not the name, the phone says
// so better than a broken connection would. The public name has its own; while
// its authority can't be reached the mill's stands in.
func (k *Keeper) GetCertificate(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
	if k.Public != nil && k.Public.asked(hello) {
		certificate, err := k.Public.manager.GetCertificate(hello)
		if err == nil || proving(hello) {
			return certificate, err
		}
		k.Log.Error("the public authority gave no certificate", "name", k.Public.Name, "error", err)
	}
	var at netip.Addr
	if hello.Conn != nil {
		if tcp, ok := hello.Conn.LocalAddr().(*net.TCPAddr); ok {
			at = tcp.AddrPort().Addr().Unmap()
		}
	}
	return k.own(at)
}

// own is the certificate for a phone that came to at, renewed where it is time.
func (k *Keeper) own(at netip.Addr) (*tls.Certificate, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.Now()
	known := k.leaf.holds(now) && (!at.IsValid() || slices.Contains(k.leaf.addresses(), at) || !k.authority.coversAddress(at))
	if since := now.Sub(k.looked); known && since >= 0 && since < lookEvery {
		return k.leaf.Certificate, nil
	}
	place := k.Here()
	if at.IsValid() && !at.IsLoopback() && !slices.Contains(place.Addresses, at) {
		place.Addresses = append(place.Addresses, at)
	}
	place, _ = k.authority.narrowed(place)
	k.looked = now
	if k.authority.fits(k.leaf, place, now) {
		return k.leaf.Certificate, nil
	}
	fresh, text, err := k.authority.issue(place, now)
	if err != nil {
		if k.leaf.holds(now) {
			k.Log.Error("the certificate was not renewed; the one there is goes on", "error", err)
			return k.leaf.Certificate, nil
		}
		return nil, err
	}
	k.leaf = fresh
	if err := k.write(serverFile, text); err != nil {
		k.Log.Error("the renewed certificate is used but was not kept", "error", err)
	}
	return k.leaf.Certificate, nil
}

// TLS is how a server with this keeper speaks. HTTP/1.1 only: fasthttp speaks no
// other, and at a mill's own network the second connection costs nothing.
func (k *Keeper) TLS() *tls.Config {
	config := &tls.Config{MinVersion: tls.VersionTLS12, NextProtos: []string{"http/1.1"}, GetCertificate: k.GetCertificate}
	if k.Public != nil {
		config.NextProtos = append(config.NextProtos, acme.ALPNProto)
	}
	return config
}

// Hosts are the names and addresses the server's certificate is good for now,
// those a phone could use first.
func (k *Keeper) Hosts() []string {
	certificate, err := k.own(netip.Addr{})
	if err != nil {
		return nil
	}
	var hosts []string
	for _, addr := range (issued{certificate}).addresses() {
		if !addr.IsLoopback() && addr.Is4() {
			hosts = append(hosts, addr.String())
		}
	}
	for _, name := range certificate.Leaf.DNSNames {
		if strings.HasSuffix(name, ".local") {
			hosts = append(hosts, name)
		}
	}
	return hosts
}
