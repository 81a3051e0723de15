package server

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"net/url"
	"sort"
	"strings"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

const sessionLasts = 14 * time.Hour // a long shift, not until tomorrow

// hashCost is argon2id as OWASP's Password Storage Cheat Sheet has it: 19 MiB,
// two passes, one lane.
var hashCost = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

func (s *Server) signInRoutes() {
	s.get("/sign-in", anyone, s.showSignIn)
	s.post("/sign-in", anyone, s.signIn)
	s.get("/sign-out", signedIn, s.showSignOut)
	s.post("/sign-out", anyone, s.signOut)
}

type signInPage struct {
	*views.Frame
	Form      signInForm
	People    []views.Choice
	Languages *views.Languages // nil where a form waits that would be lost
}

// signInForm is what was typed, and, where somebody was stopped in the middle of
// a form, what that form held.
type signInForm struct {
	Person string
	Back   string // address to go on to
	Act    string // the form to go on with, "" for none
	Kept   []keptField
}

type keptField struct{ Name, Value string }

func (s *Server) showSignIn(v *visit) error {
	return v.signInPage(signInForm{Back: v.Query("back"), Person: v.Query("person")}, nil)
}

// askToSignIn sends a visitor to sign in and keeps what was typed.
func (v *visit) askToSignIn() error {
	if v.Method() == fiber.MethodGet {
		return v.Redirect("/sign-in?"+url.Values{"back": {v.OriginalURL()}}.Encode(), fiber.StatusSeeOther)
	}
	v.Status(fiber.StatusUnauthorized)
	return v.signInPage(signInForm{Act: v.OriginalURL(), Kept: v.keptFields("")}, nil)
}

// keptFields are the fields of the form sent, less its secrets and what the phone's
// clock said then. With a prefix
// only those that an earlier sign-in page carried along, the prefix taken off.
func (v *visit) keptFields(prefix string) []keptField {
	var kept []keptField
	add := func(name, value string) {
		if name, ok := strings.CutPrefix(name, prefix); ok && name != "phone" && !isSecret(name) {
			kept = append(kept, keptField{name, value})
		}
	}
	if form, err := v.MultipartForm(); err == nil {
		for name, values := range form.Value {
			for _, value := range values {
				add(name, value)
			}
		}
	} else {
		v.Context().PostArgs().VisitAll(func(name, value []byte) { add(string(name), string(value)) })
	}
	sort.SliceStable(kept, func(i, j int) bool { return kept[i].Name < kept[j].Name })
	return kept
}

func (v *visit) signInPage(form signInForm, problems plain.Problems) error {
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	page := signInPage{Frame: v.frame("Sign in"), Form: form}
	page.Problems = problems
	if form.Act != "" && problems == nil {
		page.Flash = plain.Say("Sign in first. What you typed is kept and comes back after that; a photo must be chosen again.")
	}
	if form.Act == "" {
		page.Languages = v.s.languages(page.Frame, "/sign-in?"+url.Values{"back": {form.Back}}.Encode())
	}
	for _, p := range people {
		if !p.Left {
			page.People = append(page.People, views.Choice{Value: string(p.ID), Text: p.Name})
		}
	}
	if v.Response().StatusCode() == fiber.StatusUnauthorized {
		return v.Render("sign-in", page)
	}
	return v.show("sign-in", page, problems)
}

func (s *Server) signIn(v *visit) error {
	form := signInForm{Person: v.typed("person"), Back: v.typed("back"), Act: v.typed("act"), Kept: v.keptFields("kept.")}
	var problems plain.Problems
	problems.Unless(form.Person != "", "person", "choose your name")
	problems.Unless(v.FormValue("pin") != "", "pin", "enter your PIN or password")
	if len(problems) > 0 {
		return v.signInPage(form, problems)
	}
	person, err := v.desk.Person(v.ctx(), procedures.PersonID(form.Person))
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	if proof, err := v.prove(person, v.FormValue("pin")); err != nil {
		return err
	} else if len(proof.problems) > 0 {
		return v.signInPage(form, proof.problems)
	}
	if err := v.openSession(person); err != nil {
		return err
	}
	notice(v.Ctx, signedInLine, "")
	if form.Act != "" && local(form.Act) {
		v.person = person
		page := goOnPage{Frame: v.frame("You are signed in"), Act: form.Act, Kept: form.Kept}
		return v.show("go-on", page, nil)
	}
	if form.Back != "" && local(form.Back) {
		return v.Redirect(form.Back, fiber.StatusSeeOther)
	}
	return v.Redirect("/", fiber.StatusSeeOther)
}

// goOnPage sends the form that was stopped for signing in.
type goOnPage struct {
	*views.Frame
	Act  string
	Kept []keptField
}

// local tells whether to is an address of this server and nothing a browser
// could read as another's.
func local(to string) bool {
	u, err := url.Parse(to)
	return err == nil && u.Scheme == "" && u.Host == "" && strings.HasPrefix(to, "/") && !strings.HasPrefix(to, "//") && !strings.ContainsAny(to, "\\\r\n\t")
}

type signOutPage struct{ *views.Frame }

func (s *Server) showSignOut(v *visit) error {
	return v.show("sign-out", signOutPage{v.frame("Sign out?")}, nil)
}

func (s *Server) signOut(v *visit) error {
	if token, ok := tokenOf(v.Ctx); ok {
		if err := v.desk.CloseSession(v.ctx(), sha256.Sum256(token)); err != nil {
			return err
		}
	}
	clearToken(v.Ctx, cookie(v.Ctx), fiber.CookieSameSiteLaxMode)
	return v.Redirect("/", fiber.StatusSeeOther)
}

// openSession gives this phone a new token; only its digest is stored. The one it
// had before is worth nothing from now on.
func (v *visit) openSession(person procedures.Person) error {
	if before, ok := tokenOf(v.Ctx); ok {
		if err := v.desk.CloseSession(v.ctx(), sha256.Sum256(before)); err != nil {
			return err
		}
	}
	token, err := newToken()
	if err != nil {
		return err
	}
	session := store.Session{Token: sha256.Sum256(token), Person: person.ID, Made: v.now, Expires: v.now.Add(sessionLasts)}
	if err := v.desk.OpenSession(v.ctx(), session); err != nil {
		return err
	}
	setToken(v.Ctx, cookie(v.Ctx), token, fiber.CookieSameSiteLaxMode)
	return nil
}

func tokenOf(c *fiber.Ctx) ([]byte, bool) { return tokenIn(c, cookie(c)) }

const tokenSize = 32

// newToken is what a browser has that is signed in.
func newToken() ([]byte, error) {
	token := make([]byte, tokenSize)
	_, err := rand.Read(token)
	return token, err
}

func tokenIn(c *fiber.Ctx, cookie string) ([]byte, bool) {
	token, err := base64.RawURLEncoding.DecodeString(c.Cookies(cookie))
	return token, err == nil && len(token) == tokenSize
}

// setToken has the browser keep a token. How long is told as a span: a phone's clock
// may be wrong.
func setToken(c *fiber.Ctx, cookie string, token []byte, sameSite string) {
	c.Cookie(&fiber.Cookie{Name: cookie, Value: base64.RawURLEncoding.EncodeToString(token), Path: "/", MaxAge: int(sessionLasts.Seconds()),
		HTTPOnly: true, Secure: c.Secure(), SameSite: sameSite})
}

func clearToken(c *fiber.Ctx, cookie string, sameSite string) {
	c.Cookie(&fiber.Cookie{Name: cookie, Path: "/", Expires: time.Unix(0, 0), HTTPOnly: true, Secure: c.Secure(), SameSite: sameSite})
}

// whoIs is who is signed in on this phone, or nobody.
func (s *Server) whoIs(c *fiber.Ctx, desk *store.Mill, now time.Time) (procedures.Person, error) {
	token, ok := tokenOf(c)
	if !ok {
		return procedures.Person{}, nil
	}
	digest := sha256.Sum256(token)
	person, err := desk.Session(c.UserContext(), digest, now)
	if errors.Is(err, store.ErrNotFound) || person.Left {
		return procedures.Person{}, nil
	}
	if err == nil {
		s.phones.met(digest, agentOf(c.Get(fiber.HeaderUserAgent)), now)
	}
	return person, err
}
