package server

import (
	"net"
	"net/netip"
	"strconv"
	"strings"
	"sync/atomic"

	"github.com/gofiber/fiber/v2"

	"stillsaw/server/secure"
)

// ways are how phones come to the server.
type ways struct {
	keeper  *secure.Keeper // nil: no HTTPS of our own
	public  string         // address everybody may use, as https://mill.example.com; "" for none
	proxies []netip.Prefix // who may speak for a phone
	plain   atomic.Int32   // the port, once there is one
	secure  atomic.Int32
}

// bound notes the port of a listener.
func bound(port *atomic.Int32, listener net.Listener) {
	if tcp, ok := listener.Addr().(*net.TCPAddr); ok {
		port.Store(int32(tcp.Port))
	}
}

// hostOnly is the host of an address line without its port.
func hostOnly(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		return name
	}
	return strings.Trim(host, "[]")
}

func withPort(scheme, host string, port int32) string {
	return scheme + "://" + net.JoinHostPort(host, strconv.Itoa(int(port)))
}

// BaseURL begins an address that is given to others: on a placard, in a mail, in
// a calendar. It is the public one where there is one. Otherwise it is the plain
// one, whichever way this page came: a placard is scanned by phones that never
// heard of the mill's authority, and a browser's warning is the last thing to show
// somebody at a lockout. The plain page leads on to the encrypted one.
func (v *visit) BaseURL() string {
	port := v.s.ways.plain.Load()
	switch {
	case v.s.ways.public != "":
		return v.s.ways.public
	case v.Secure() && port != 0:
		return withPort("http", hostOnly(v.Hostname()), port)
	}
	return v.Ctx.BaseURL()
}

// secureURL begins the encrypted address for whoever came to host; "" where the
// server has none.
func (s *Server) secureURL(host string) string {
	port := s.ways.secure.Load()
	switch {
	case s.ways.public != "":
		return s.ways.public
	case s.ways.keeper == nil || port == 0:
		return ""
	case s.ways.keeper.Covers(host):
		return withPort("https", host, port)
	}
	if hosts := s.ways.keeper.Hosts(); len(hosts) > 0 {
		return withPort("https", hosts[0], port)
	}
	return ""
}

// cookie is the name of the session's cookie. The encrypted page has one of its
// own: a browser lets no plain page replace a cookie marked Secure, so with one
// name nobody could sign in on the plain page again. __Host- keeps it to this
// host and to encryption. Source: RFC 6265bis section 4.1.3.2, 5.7 (from memory).
func cookie(c *fiber.Ctx) string {
	if c.Secure() {
		return "__Host-stillsaw"
	}
	return "stillsaw"
}

// IP is the address of the phone, as [Server.addressOf] has it.
func (v *visit) IP() string { return v.s.addressOf(v.Ctx) }

// addressOf is the address of the phone: behind a proxy that may speak for it, the last
// one in X-Forwarded-For that is no such proxy. What stands before that anybody
// could have written.
func (s *Server) addressOf(c *fiber.Ctx) string {
	at := c.IP()
	said := strings.Split(c.Get(fiber.HeaderXForwardedFor), ",")
	for i := len(said) - 1; i >= 0 && s.ways.mayForward(at); i-- {
		next := strings.TrimSpace(said[i])
		if _, err := netip.ParseAddr(next); err != nil {
			break
		}
		at = next
	}
	return at
}

// named are the proxies as fiber is told of them.
func (w *ways) named() (proxies []string) {
	for _, proxy := range w.proxies {
		proxies = append(proxies, proxy.String())
	}
	return proxies
}

func (w *ways) mayForward(at string) bool {
	addr, err := netip.ParseAddr(at)
	if err != nil {
		return false
	}
	for _, proxy := range w.proxies {
		if proxy.Contains(addr.Unmap()) {
			return true
		}
	}
	return false
}
