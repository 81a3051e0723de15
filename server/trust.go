package server

import (
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures/plain"
	"stillsaw/server/secure"
	"stillsaw/server/store"
	"stillsaw/views"
)

// The page stands before a mill is set up, too: the first password is worth
// encrypting.
func (s *Server) trustRoutes() {
	s.app.Get("/trust", s.showTrust)
	s.app.Get("/trust/stillsaw.crt", s.trustFile)
	s.app.Get("/trust/stillsaw.pem", s.trustFile)
	s.app.Get("/trust/ping", s.trustPing)
	if s.acme() {
		s.app.Get("/.well-known/acme-challenge/:token", s.acmeChallenge)
	}
}

// acme tells whether the server has a public name of its own.
func (s *Server) acme() bool { return s.ways.keeper != nil && s.ways.keeper.Public != nil }

func (s *Server) acmeChallenge(c *fiber.Ctx) error {
	said, known := s.ways.keeper.Public.Challenge(c.UserContext(), c.Path())
	if !known {
		return store.ErrNotFound
	}
	return c.Send(said)
}

// keepToTheName sends a plain request for the public name on to where it is
// encrypted, and tells browsers to come so from now on (RFC 6797). Under the
// mill's own authority they are not told: the header holds for every port of a
// host, so it would turn the plain page into one that does not open, without a way
// past, on every phone that has not installed the certificate yet, the page to
// install it from included.
func (s *Server) keepToTheName(c *fiber.Ctx) error {
	if !s.acme() || !strings.EqualFold(hostOnly(c.Hostname()), s.ways.keeper.Public.Name) || strings.HasPrefix(c.Path(), "/.well-known/acme-challenge/") {
		return c.Next()
	}
	if !c.Secure() {
		return c.Redirect(s.ways.public+c.OriginalURL(), fiber.StatusPermanentRedirect)
	}
	c.Set(fiber.HeaderStrictTransportSecurity, "max-age=31536000")
	return c.Next()
}

// encryptAt is the page that leads from the plain page at path to the encrypted
// one; "" where this one is, or none is.
func (s *Server) encryptAt(c *fiber.Ctx) string {
	if c.Secure() || s.secureURL(hostOnly(c.Hostname())) == "" {
		return ""
	}
	if c.Method() != fiber.MethodGet || c.Path() == "/" {
		return "/trust"
	}
	return "/trust?at=" + c.Path()
}

// trustPage tells how a phone comes to trust this mill's certificate.
type trustPage struct {
	*views.Frame
	On        bool   // there is HTTPS
	Encrypted bool   // this page came so
	Public    string // address everybody's phone trusts already, "" for none
	Secure    string // begins the encrypted address
	At        string // where the reader came from
	Print     string // of the root
	Until     time.Time
	For       string // names and networks
	Beyond    string // names and addresses the root is not for
	Folder    string
	Address   string // of this page, for another phone
	Code      *qrCode
}

// Rows are the fingerprint in rows of eight pairs, to be compared by eye.
func (p trustPage) Rows() []string {
	var rows []string
	for row := range slices.Chunk(strings.Fields(p.Print), 8) {
		rows = append(rows, strings.Join(row, " "))
	}
	return rows
}

func (s *Server) showTrust(c *fiber.Ctx) error {
	page := trustPage{Encrypted: c.Secure(), Public: s.ways.public, At: "/"}
	if at := c.Query("at"); at != "" && local(at) {
		page.At = at
	}
	host := hostOnly(c.Hostname())
	page.Secure = s.secureURL(host)
	page.On = page.Secure != ""
	title := plain.Say("Pages are not encrypted")
	switch {
	case page.Encrypted:
		title = plain.Say("This page is encrypted")
	case page.On:
		title = plain.Say("Encrypt what this phone sends")
	}
	if page.On && page.Public == "" {
		s.ownAuthority(&page, host)
	}
	if page.Address != "" {
		code, err := qrOf(page.Address)
		if err != nil {
			return err
		}
		page.Code = &code
	}
	if v, err := s.visit(c); err == nil {
		page.Frame = v.frame(title.Format)
	} else {
		page.Frame = &views.Frame{Title: title, Words: s.wordsFor(c, s.settingsOfPhone(c)), Path: "/trust"}
	}
	page.Encrypt = ""
	if page.Secure != "" {
		c.Set("Content-Security-Policy", strings.Replace(contentPolicy, "connect-src 'self'", "connect-src 'self' "+page.Secure, 1))
	}
	c.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	return c.Render("trust", page)
}

// ownAuthority says on page what the mill's own certificate is and is good for.
func (s *Server) ownAuthority(page *trustPage, host string) {
	keeper := s.ways.keeper
	root := keeper.Root()
	page.Print, page.Until, page.Folder = secure.Fingerprint(root), root.NotAfter, keeper.Folder
	scope := append([]string{}, root.PermittedDNSDomains...)
	for _, network := range root.PermittedIPRanges {
		scope = append(scope, network.String())
	}
	page.For, page.Beyond = strings.Join(scope, ", "), strings.Join(keeper.Beyond(), ", ")
	addr, err := netip.ParseAddr(host)
	if hosts := keeper.Hosts(); (host == "localhost" || err == nil && addr.IsLoopback()) && len(hosts) > 0 {
		host = hosts[0] // another phone can't come to this one's loopback
	}
	if port := s.ways.plain.Load(); port != 0 {
		page.Address = withPort("http", host, port) + "/trust"
	}
}

// trustFile is the root: phones and desktops take the first form and, where it does
// not come as a mere file to be put by, begin to install it; tools of Linux take
// the second.
func (s *Server) trustFile(c *fiber.Ctx) error {
	if s.ways.keeper == nil {
		return store.ErrNotFound
	}
	if strings.HasSuffix(c.Path(), ".pem") {
		c.Attachment("stillsaw.pem")
		c.Set(fiber.HeaderContentType, "application/x-pem-file")
		return c.Send(s.ways.keeper.RootPEM())
	}
	c.Set(fiber.HeaderContentType, "application/x-x509-ca-cert")
	return c.Send(s.ways.keeper.Root().Raw)
}

// trustPing is asked over https by a plain page: only a phone that trusts the
// certificate gets the answer. It tells what /trust tells anybody.
func (s *Server) trustPing(c *fiber.Ctx) error {
	if s.ways.keeper == nil {
		return store.ErrNotFound
	}
	c.Set(fiber.HeaderAccessControlAllowOrigin, "*")
	c.Set("Cross-Origin-Resource-Policy", "cross-origin")
	c.Set(fiber.HeaderCacheControl, "no-store")
	return c.Status(http.StatusOK).SendString(secure.Fingerprint(s.ways.keeper.Root()))
}
