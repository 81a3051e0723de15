package secure

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"net/netip"
	"strings"
	"time"
)

// AuthorityLasts is how long phones need install nothing anew.
const AuthorityLasts = 10 * 365 * 24 * time.Hour

// early is how far before now a certificate begins to hold, for a phone whose
// clock is behind.
const early = 24 * time.Hour

// authority is the mill's own: see the doc of the package.
type authority struct {
	root, issuer *x509.Certificate
	key          *ecdsa.PrivateKey // the issuer's
}

// newAuthority makes one for the names and networks of p.
func newAuthority(p Place, lasts time.Duration, now time.Time) (*authority, error) {
	rootKey, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	called := "this mill"
	if len(p.Names) > 0 {
		called = p.Names[0]
	}
	begins := now.UTC().Add(-early).Truncate(time.Second)
	root, err := authorityTemplate(p, fmt.Sprintf("Stillsaw at %.30s, %s", called, now.UTC().Format("2006-01-02")), begins, lasts)
	if err != nil {
		return nil, err
	}
	root.MaxPathLen = 1
	signed, err := x509.CreateCertificate(rand.Reader, root, root, rootKey.Public(), rootKey)
	if err != nil {
		return nil, err
	}
	a := &authority{key: key}
	if a.root, err = x509.ParseCertificate(signed); err != nil {
		return nil, err
	}
	issuer, err := authorityTemplate(p, fmt.Sprintf("Stillsaw at %.30s, issuer", called), begins, lasts)
	if err != nil {
		return nil, err
	}
	issuer.MaxPathLenZero = true // signs servers, no further authority
	if signed, err = x509.CreateCertificate(rand.Reader, issuer, a.root, key.Public(), rootKey); err != nil {
		return nil, err
	}
	a.issuer, err = x509.ParseCertificate(signed)
	return a, err
}

// authorityTemplate is what root and issuer have in common. The constraints
// leave only names and addresses of p; the extended key usage leaves only
// servers, so mail or programs can't be signed either.
func authorityTemplate(p Place, called string, begins time.Time, lasts time.Duration) (*x509.Certificate, error) {
	serial, err := newSerial()
	if err != nil {
		return nil, err
	}
	c := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{Organization: []string{"Stillsaw"}, CommonName: called},
		NotBefore: begins, NotAfter: begins.Add(lasts),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: p.names(),
	}
	for _, network := range p.ranges() {
		c.PermittedIPRanges = append(c.PermittedIPRanges, &net.IPNet{IP: network.Addr().AsSlice(), Mask: net.CIDRMask(network.Bits(), network.Addr().BitLen())})
	}
	return c, nil
}

// newSerial is 127 bits of chance: no two alike, positive, at most 20 bytes
// (RFC 5280 section 4.1.2.2).
func newSerial() (*big.Int, error) {
	return rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
}

// covers tells whether a certificate for name or addr would be taken.
func (a *authority) coversName(name string) bool {
	for _, domain := range a.issuer.PermittedDNSDomains {
		if name == domain || strings.HasSuffix(name, "."+domain) {
			return true
		}
	}
	return false
}

func (a *authority) coversAddress(addr netip.Addr) bool {
	for _, network := range a.issuer.PermittedIPRanges {
		if network.Contains(addr.AsSlice()) {
			return true
		}
	}
	return false
}

// narrowed is p without what the authority may not speak for.
func (a *authority) narrowed(p Place) (within, without Place) {
	for _, name := range p.Names {
		if a.coversName(name) {
			within.Names = append(within.Names, name)
		} else {
			without.Names = append(without.Names, name)
		}
	}
	for _, addr := range p.Addresses {
		if a.coversAddress(addr) {
			within.Addresses = append(within.Addresses, addr)
		} else {
			without.Addresses = append(without.Addresses, addr)
		}
	}
	return within, without
}

// written is the authority as its file holds it: root, issuer, the issuer's key.
func (a *authority) written() ([]byte, error) {
	key, err := x509.MarshalPKCS8PrivateKey(a.key)
	if err != nil {
		return nil, err
	}
	return joined(a.root.Raw, a.issuer.Raw, key), nil
}

// joined is certificates and then a key as PEM.
func joined(first, second, key []byte) []byte {
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: first})
	text = append(text, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: second})...)
	return append(text, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: key})...)
}

// taken reads two certificates and the key of one of them, as joined wrote them.
func taken(text []byte) (first, second *x509.Certificate, key *ecdsa.PrivateKey, err error) {
	var certificates []*x509.Certificate
	for {
		var block *pem.Block
		if block, text = pem.Decode(text); block == nil {
			break
		}
		switch block.Type {
		case "CERTIFICATE":
			certificate, err := x509.ParseCertificate(block.Bytes)
			if err != nil {
				return nil, nil, nil, err
			}
			certificates = append(certificates, certificate)
		case "PRIVATE KEY":
			any, err := x509.ParsePKCS8PrivateKey(block.Bytes)
			if err != nil {
				return nil, nil, nil, err
			}
			key, _ = any.(*ecdsa.PrivateKey)
		}
	}
	if len(certificates) != 2 || key == nil {
		return nil, nil, nil, errors.New("it is not whole")
	}
	return certificates[0], certificates[1], key, nil
}

func readAuthority(text []byte) (*authority, error) {
	root, issuer, key, err := taken(text)
	if err != nil {
		return nil, err
	}
	if err := issuer.CheckSignatureFrom(root); err != nil {
		return nil, err
	}
	if !key.PublicKey.Equal(issuer.PublicKey) {
		return nil, errors.New("its key is another's")
	}
	return &authority{root, issuer, key}, nil
}

// Fingerprint is the SHA-256 of a certificate as devices show it: pairs of
// digits, with a blank between.
func Fingerprint(certificate *x509.Certificate) string {
	return strings.ToUpper(fmt.Sprintf("% x", sha256.Sum256(certificate.Raw)))
}
