package server

import (
	"context"
	"crypto/sha256"
	"errors"
	"net"
	"strings"

	"github.com/gofiber/fiber/v2"
	"github.com/gofiber/fiber/v2/middleware/recover"
	"github.com/valyala/fasthttp"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// group is the page across mills, for who looks after several, at a host of its own.
//
// It is an application apart from those of the mills and guarded as they are: the same
// headers, the same refusal of forms of other sites, of packed bodies and of requests
// that can be read in two ways. Its readers are people of no mill, made on the command
// line with a password that chance gives; their cookie has a name of its own, is sent
// to its host alone and opens no mill, as nobody's cookie of a mill opens it. It asks
// no mill and opens no part of the database that is one's: all it reads are standings
// and the names of hosts. Nothing can be done there but to sign in and out.
type group struct {
	m      *Mills
	host   string
	public string  // address of it; "" where that is as it was asked for
	wall   *Server // the guards of a server of no mill; it has no store
	app    *fiber.App
	answer fasthttp.RequestHandler

	names, addresses takings // of tries to sign in, in a minute
}

// How often a password may be tried in a minute, right or wrong, at one process. It
// has 80 bits of chance: this bounds what hashing takes, more than the guesses.
const (
	groupTriesOfName = 10
	groupTriesFrom   = 20
	groupTriesAll    = 120
)

func newGroup(m *Mills, assets *views.Assets) (*group, error) {
	g := &group{m: m, host: store.Host(m.config.Group)}
	g.public = strings.Replace(m.config.Public, "*", g.host, 1)
	w := &Server{now: m.config.Now, log: m.config.Log.With("group", g.host), words: m.words, assets: assets, packers: newPackers(), hashing: m.pins, crowd: m.crowd}
	w.ways.public, w.ways.proxies = g.public, m.config.Proxies
	w.under, w.drop = context.WithCancel(context.Background())
	w.lookout = newLookout(w.log, w.now)
	g.wall = w
	g.app = fiber.New(fiber.Config{
		AppName: "Stillsaw", DisableStartupMessage: true, Immutable: true, Views: m.pages,
		EnableTrustedProxyCheck: true, TrustedProxies: w.ways.named(),
	})
	g.app.Use(w.pack, g.answered, recover.New(recover.Config{EnableStackTrace: true, StackTraceHandler: w.panicked}),
		w.bounded, w.guardHeaders, w.refuseTwoReadings, w.refusePacked, w.refuseForgery)
	g.app.Get("/assets/:name", w.asset)
	g.app.Get("/favicon.ico", w.icon)
	g.app.Get("/healthz", w.healthy)
	g.app.Get("/readyz", m.healthy)
	g.app.Get("/", g.show)
	g.app.Get("/sign-in", g.showSignIn)
	g.app.Post("/sign-in", g.signIn)
	g.app.Post("/sign-out", g.signOut)
	g.app.Post("/settings/language", w.chooseLanguage)
	g.app.Use(func(*fiber.Ctx) error { return store.ErrNotFound })
	g.answer = g.app.Handler()
	return g, nil
}

// end is called once no request is under way.
func (g *group) end() {
	g.wall.drop()
	g.wall.lookout.end()
}

// answered shows what went wrong and has the log told what was refused.
func (g *group) answered(c *fiber.Ctx) error {
	if err := c.Next(); err != nil {
		if err := g.fail(c, err); err != nil {
			return err
		}
	}
	g.wall.answered(c, c.Response().StatusCode())
	return nil
}

func (g *group) fail(c *fiber.Ctx, err error) error {
	status, title, do := fiber.StatusServiceUnavailable, plain.Say("That did not work"), plain.Say("Load this page again in a moment.")
	var framework *fiber.Error
	switch {
	case errors.Is(err, store.ErrNotFound):
		framework = fiber.ErrNotFound
		fallthrough
	case errors.As(err, &framework):
		status = framework.Code
		title, do = frameworkWords(framework)
	default:
		g.wall.log.Error("request failed", "method", c.Method(), "route", c.Route().Path, "err", err)
	}
	frame := g.around(c, "", title)
	return g.render(c.Status(status), "error", views.ErrorPage{Frame: frame, Status: status, Do: frame.Say(do)})
}

// render answers with a page that is kept nowhere: what it said may not be so any more.
func (g *group) render(c *fiber.Ctx, name string, page any) error {
	c.Set(fiber.HeaderCacheControl, "no-store")
	return render(c, name, page)
}

// around is what the layout shows around a page.
func (g *group) around(c *fiber.Ctx, reader string, title plain.Sentence) *views.Frame {
	chosen := g.wall.settingsOfPhone(c)
	return &views.Frame{Group: true, Reader: reader, Title: title, Words: g.wall.wordsFor(c, chosen), Scheme: chosen.Scheme, Size: chosen.Size, Now: g.wall.now().UTC(), Path: c.Path()}
}

// cookie is the name of a reader's session's, see [cookie].
func (g *group) cookie(c *fiber.Ctx) string {
	if c.Secure() {
		return "__Host-stillsaw-group"
	}
	return "stillsaw-group"
}

func (g *group) token(c *fiber.Ctx) (digest [32]byte, ok bool) {
	token, ok := tokenIn(c, g.cookie(c))
	return sha256.Sum256(token), ok
}

// reader is who is signed in; "" for nobody.
func (g *group) reader(c *fiber.Ctx) (string, error) {
	digest, ok := g.token(c)
	if !ok {
		return "", nil
	}
	name, err := g.m.config.DB.GroupSession(c.UserContext(), digest, g.wall.now())
	if errors.Is(err, store.ErrNotFound) {
		return "", nil
	}
	return name, err
}

type groupSignInPage struct {
	*views.Frame
	Name      string
	Languages *views.Languages
}

func (g *group) showSignIn(c *fiber.Ctx) error { return g.signInPage(c, "", nil) }

func (g *group) signInPage(c *fiber.Ctx, name string, problems plain.Problems) error {
	page := groupSignInPage{Frame: g.around(c, "", plain.Say("Sign in")), Name: name}
	page.Problems = problems
	page.Languages = g.wall.languages(page.Frame, "/sign-in")
	if len(problems) > 0 {
		c.Status(fiber.StatusUnprocessableEntity)
	}
	return g.render(c, "group-sign-in", page)
}

func (g *group) signIn(c *fiber.Ctx) error {
	name, password := strings.TrimSpace(c.FormValue("name")), c.FormValue("password")
	var problems plain.Problems
	problems.Unless(name != "", "name", "enter your name")
	problems.Unless(password != "", "password", "enter your password")
	if len(problems) > 0 {
		return g.signInPage(c, name, problems)
	}
	now := g.wall.now().UTC()
	key := sha256.Sum256([]byte(strings.ToLower(name)))
	if !g.addresses.takeUpTo(groupTriesFrom, groupTriesAll, g.wall.addressOf(c), now) || !g.names.takeUpTo(groupTriesOfName, groupTriesAll, string(key[:]), now) {
		notice(c, slowedLine, "")
		c.Set(fiber.HeaderRetryAfter, "60")
		problems.Unless(false, "password", "too many tries; wait a minute and try again")
		return g.signInPage(c, name, problems)
	}
	right, err := g.matches(c.UserContext(), name, password)
	if err != nil {
		return err
	}
	if !right {
		notice(c, wrongPINLine, "")
		problems.Unless(false, "password", "that is not it; try again")
		return g.signInPage(c, name, problems)
	}
	if before, ok := g.token(c); ok {
		if err := g.m.config.DB.CloseGroupSession(c.UserContext(), before); err != nil {
			return err
		}
	}
	token, err := newToken()
	if err != nil {
		return err
	}
	if err := g.m.config.DB.OpenGroupSession(c.UserContext(), sha256.Sum256(token), name, now, now.Add(sessionLasts)); err != nil {
		return err
	}
	notice(c, signedInLine, "")
	setToken(c, g.cookie(c), token, fiber.CookieSameSiteStrictMode)
	return c.Redirect("/", fiber.StatusSeeOther)
}

// matches tells whether the password is the reader's; a name nobody has takes as long.
func (g *group) matches(ctx context.Context, name, password string) (bool, error) {
	digest, err := g.m.config.DB.GroupDigest(ctx, name)
	if errors.Is(err, store.ErrNotFound) {
		digest, err = standIn, nil
	}
	if err != nil {
		return false, err
	}
	return g.wall.proves(ctx, password, digest)
}

func (g *group) signOut(c *fiber.Ctx) error {
	if digest, ok := g.token(c); ok {
		if err := g.m.config.DB.CloseGroupSession(c.UserContext(), digest); err != nil {
			return err
		}
	}
	clearToken(c, g.cookie(c), fiber.CookieSameSiteStrictMode)
	return c.Redirect("/sign-in", fiber.StatusSeeOther)
}

// addressOf begins the addresses of the mill at host, as this page was come to.
func (g *group) addressOf(c *fiber.Ctx, host string) string {
	if strings.Contains(g.m.config.Public, "*") {
		return strings.Replace(g.m.config.Public, "*", host, 1)
	}
	if _, port, err := net.SplitHostPort(string(c.Request().Host())); err == nil {
		host = net.JoinHostPort(host, port)
	}
	return c.Protocol() + "://" + host
}
