package secure

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"net"
	"net/netip"
	"slices"
	"time"
)

// certificateLasts is how long a server's certificate holds. Apple takes at most
// 398 days from public authorities since 1 September 2020 and asks for 397
// (support.apple.com/102028, "About upcoming limits on trusted certificates"), as
// do the CA/Browser Forum's Baseline Requirements of the time, section 6.3.2;
// Chromium refuses more than 398 of those, too. An authority that was installed by
// hand is let off (Apple: 825 days), but what is in line with the stricter rule
// needs no watching. From memory.
const certificateLasts = 397 * 24 * time.Hour

// issued is a certificate of the server with the chain it is sent with.
type issued struct {
	*tls.Certificate
}

// issue makes a certificate with a new key for p, which the authority covers.
func (a *authority) issue(p Place, now time.Time) (issued, []byte, error) {
	serial, err := newSerial()
	if err != nil {
		return issued{}, nil, err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return issued{}, nil, err
	}
	begins := now.UTC().Add(-early).Truncate(time.Second)
	c := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{Organization: []string{"Stillsaw"}, CommonName: p.names()[len(p.Names)]},
		NotBefore: begins, NotAfter: begins.Add(certificateLasts - time.Second), // both ends count
		BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames: p.names(),
	}
	if c.NotAfter.After(a.issuer.NotAfter) {
		c.NotAfter = a.issuer.NotAfter
	}
	for _, addr := range p.addresses() {
		c.IPAddresses = append(c.IPAddresses, net.IP(addr.AsSlice()))
	}
	signed, err := x509.CreateCertificate(rand.Reader, c, a.issuer, key.Public(), a.key)
	if err != nil {
		return issued{}, nil, err
	}
	leaf, err := x509.ParseCertificate(signed)
	if err != nil {
		return issued{}, nil, err
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return issued{}, nil, err
	}
	return a.chained(leaf, key), joined(leaf.Raw, a.issuer.Raw, private), nil
}

// chained is leaf as it is sent: with the issuer, without the root a phone has.
func (a *authority) chained(leaf *x509.Certificate, key *ecdsa.PrivateKey) issued {
	return issued{&tls.Certificate{Certificate: [][]byte{leaf.Raw, a.issuer.Raw}, PrivateKey: key, Leaf: leaf}}
}

// readIssued reads a certificate this authority issued; false for any other.
func (a *authority) readIssued(text []byte) (issued, bool) {
	leaf, _, key, err := taken(text)
	if err != nil || leaf.CheckSignatureFrom(a.issuer) != nil || !key.PublicKey.Equal(leaf.PublicKey) {
		return issued{}, false
	}
	return a.chained(leaf, key), true
}

// holds tells whether a phone whose clock is right takes it.
func (i issued) holds(now time.Time) bool {
	return i.Certificate != nil && !now.Before(i.Leaf.NotBefore) && now.Before(i.Leaf.NotAfter)
}

// fits tells whether i goes on as it is: under two thirds of its life are over, or
// the authority ends with it, and it is for exactly p.
func (a *authority) fits(i issued, p Place, now time.Time) bool {
	if !i.holds(now) {
		return false
	}
	late := now.Sub(i.Leaf.NotBefore) >= i.Leaf.NotAfter.Sub(i.Leaf.NotBefore)*2/3
	if late && i.Leaf.NotAfter.Before(a.issuer.NotAfter) {
		return false
	}
	return slices.Equal(i.Leaf.DNSNames, p.names()) && slices.Equal(i.addresses(), p.addresses())
}

func (i issued) addresses() []netip.Addr {
	var all []netip.Addr
	for _, ip := range i.Leaf.IPAddresses {
		if addr, ok := netip.AddrFromSlice(ip); ok {
			all = append(all, addr.Unmap())
		}
	}
	slices.SortFunc(all, netip.Addr.Compare)
	return all
}
