package secure

import (
	"net"
	"net/netip"
	"os"
	"slices"
	"strings"
)

// Place is where a server is found: what its computer is called and the
// addresses it has. Names are in small letters; loopback need not be named.
type Place struct {
	Names     []string
	Addresses []netip.Addr
}

// Here is the place of this computer as it is now. What can't be found out is
// left out: localhost and loopback always work.
func Here() Place {
	var p Place
	if host, err := os.Hostname(); err == nil {
		p.Names = namesOf(host)
	}
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		return p
	}
	for _, address := range addresses {
		if network, ok := address.(*net.IPNet); ok {
			if addr, ok := netip.AddrFromSlice(network.IP); ok && useful(addr.Unmap()) {
				p.Addresses = append(p.Addresses, addr.Unmap())
			}
		}
	}
	return p
}

// useful tells whether a phone could write addr into its address line and find
// it there tomorrow. Link-local addresses need a zone, which no browser takes,
// and public IPv6 addresses change by themselves.
func useful(addr netip.Addr) bool {
	return addr.IsGlobalUnicast() && (addr.Is4() || addr.IsPrivate())
}

// namesOf are the names a computer called host is found by: its first label,
// that label under .local as multicast DNS has it (RFC 6762), and the whole.
// A host that can't stand in a certificate has none.
func namesOf(host string) []string {
	host = strings.ToLower(strings.TrimSuffix(host, "."))
	first, _, _ := strings.Cut(host, ".")
	if first == "localhost" || !speakable(host) {
		return nil
	}
	names := []string{first, first + ".local", host}
	slices.Sort(names)
	return slices.Compact(names)
}

// speakable tells whether host has only what a name in DNS may have.
func speakable(host string) bool {
	for label := range strings.SplitSeq(host, ".") {
		if label == "" || len(label) > 63 || strings.Trim(label, "abcdefghijklmnopqrstuvwxyz0123456789-_") != "" || label[0] == '-' {
			return false
		}
	}
	_, err := netip.ParseAddr(host)
	return len(host) <= 253 && err != nil
}

// names are all of p with the one every computer has.
func (p Place) names() []string { return append([]string{"localhost"}, p.Names...) }

// addresses are all of p with loopback, in order and once each.
func (p Place) addresses() []netip.Addr {
	all := append([]netip.Addr{netip.AddrFrom4([4]byte{127, 0, 0, 1}), netip.IPv6Loopback()}, p.Addresses...)
	slices.SortFunc(all, netip.Addr.Compare)
	return slices.Compact(all)
}

// private are the networks nobody has on the public internet, to be used within
// a site. Source: RFC 1918 section 3; RFC 4193 section 3.1 for IPv6.
func private() []netip.Prefix {
	return []netip.Prefix{netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("172.16.0.0/12"), netip.MustParsePrefix("192.168.0.0/16"), netip.MustParsePrefix("fc00::/7")}
}

// ranges are the addresses an authority made at p may speak for: loopback, the
// whole of each private network p is in, and any other address of p alone. It is
// the whole network because the router gives the computer another address of it
// one day, and then no phone should have to install anything anew; at a place
// that is in none yet, each of IPv4. A public site has no such address, so
// nothing on the internet is within.
func (p Place) ranges() []netip.Prefix {
	found := []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("::1/128")}
	among := false
	for _, network := range private() {
		if slices.ContainsFunc(p.Addresses, network.Contains) {
			found = append(found, network)
			among = among || network.Addr().Is4()
		}
	}
	for _, addr := range p.Addresses {
		if !slices.ContainsFunc(found, func(network netip.Prefix) bool { return network.Contains(addr) }) {
			found = append(found, netip.PrefixFrom(addr, addr.BitLen()))
			among = among || addr.Is4()
		}
	}
	if !among {
		for _, network := range private() {
			if network.Addr().Is4() {
				found = append(found, network)
			}
		}
	}
	return found
}
