package server

import (
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// apiRoot is where the API lies. What is under it stays as it is; what would
// change what it means gets a root of its own.
const (
	apiRoot   = "/api/v1"
	apiPrefix = "/api/" // of everything that answers in JSON
)

// operation is one act of the API. The table of them drives the routes, who may
// call them and the document.
type operation struct {
	id, method, path string // path below apiRoot, its parameters in braces
	about            string
	like             string // the screen's address it does the same as: who may come there may call it
	query            []parameter
	in, out          reflect.Type // nil in: no body
	media            string       // of the body, where it is not JSON
	signs            bool         // the body carries the PIN
	open             bool         // needs no token
	run              func(*call) (any, error)
}

// parameter is one of the address's query.
type parameter struct {
	name, says string
	whole      bool // a whole number
	oneOf      []string
}

// call is one request with a token. It acts as the token's person, and as a
// reader without a name where the token only reads.
type call struct {
	*visit
	token checklists.Token
	sent  []byte // the body's JSON without the PIN, for telling a repeated request
}

// reads is an operation that answers with an O.
func reads[O any](id, path, like, about string, run func(*call) (O, error), query ...parameter) operation {
	return operation{id: id, method: fiber.MethodGet, path: path, like: "GET " + like, about: about, query: query, out: reflect.TypeFor[O](),
		run: func(c *call) (any, error) { return run(c) }}
}

// writes is an operation that takes a B and answers with an O. Where B carries a
// PIN it is looked at before anything is done.
func writes[B, O any](id, method, path, like, about string, run func(*call, B) (O, error)) operation {
	o := operation{id: id, method: method, path: path, like: "POST " + like, about: about, in: reflect.TypeFor[B](), out: reflect.TypeFor[O]()}
	_, o.signs = any(*new(B)).(signing)
	o.run = func(c *call) (any, error) {
		body, err := takeBody[B](c)
		if err != nil {
			return nil, err
		}
		if signed, ok := any(body).(signing); ok {
			if err := c.provePIN(signed.secret()); err != nil {
				return nil, err
			}
		}
		return run(c, body)
	}
	return o
}

// apiRoutes registers the operations behind the token. It fails on one that names
// no screen.
func (s *Server) apiRoutes() error {
	all := operations(s)
	for i := range all {
		o := &all[i]
		who, err := s.mayAs(o)
		if err != nil {
			return err
		}
		s.app.Add(o.method, apiRoot+fiberPath(o.path), func(c *fiber.Ctx) error { return s.answer(c, o, who) })
	}
	s.api = all
	s.apiDocument = sync.OnceValues(func() ([]byte, error) { return documentOfAPI(all) })
	return nil
}

// mayAs is who may come to the screen an operation is like.
func (s *Server) mayAs(o *operation) (may, error) {
	if o.open {
		return anyone, nil
	}
	method, path, _ := strings.Cut(o.like, " ")
	for _, route := range s.routes {
		if route.Method == method && route.Path == path {
			return route.May, nil
		}
	}
	return anyone, fmt.Errorf("operation %s is like %s, which is no screen", o.id, o.like)
}

// fiberPath writes the parameters of a path as the router does.
func fiberPath(path string) string { return asRouted.Replace(path) }

var asRouted = strings.NewReplacer("{", ":", "}", "")

func (s *Server) answer(ctx *fiber.Ctx, o *operation, who may) error {
	ctx.Set(fiber.HeaderCacheControl, "no-store")
	if o.open {
		out, err := o.run(&call{visit: &visit{Ctx: ctx, s: s}})
		if err != nil {
			return err
		}
		return ctx.JSON(out)
	}
	c, err := s.called(ctx)
	if err != nil {
		return err
	}
	if err := c.allowed(o, who); err != nil {
		return err
	}
	out, err := o.run(c)
	if err != nil {
		return err
	}
	return ctx.JSON(out)
}

// allowed asks whether the token may call the operation.
func (c *call) allowed(o *operation, who may) error {
	switch {
	case o.method == fiber.MethodGet && (who == signedIn || who == anyone):
		return nil
	case o.method != fiber.MethodGet && c.token.Use != checklists.TokenWrites:
		return fail(fiber.StatusForbidden, "This token only reads", "A supervisor makes one that writes as a person of the mill.")
	case !who.admits(c.person):
		return fail(fiber.StatusForbidden, "Not for this role", "The person of this token may not do that. Ask a supervisor.")
	}
	return nil
}

// tokenMark begins every token, so that one that got out is known for what it is.
const tokenMark = "stillsaw_"

// tokenDigest is what a token is known by, and whether it has the form of one.
func tokenDigest(token string) ([32]byte, bool) {
	secret, ok := strings.CutPrefix(token, tokenMark)
	raw, err := base64.RawURLEncoding.DecodeString(secret)
	return sha256.Sum256(raw), ok && err == nil && len(raw) == 32
}

// called is the request with the token it came with. Cookies say nothing here. A
// right token is let in whatever came before; wrong ones from one address wait
// ever longer.
func (s *Server) called(ctx *fiber.Ctx) (*call, error) {
	mill, err := s.store.TheMill(ctx.UserContext())
	if errors.Is(err, store.ErrNotFound) {
		return nil, noToken("")
	}
	if err != nil {
		return nil, err
	}
	c := &call{visit: &visit{Ctx: ctx, s: s, mill: mill, desk: s.store.Of(mill.ID), now: s.now().UTC()}}
	if c.zone, err = mill.LocationAt(c.now); err != nil {
		return nil, err
	}
	scheme, secret, _ := strings.Cut(ctx.Get(fiber.HeaderAuthorization), " ")
	if !strings.EqualFold(scheme, "Bearer") || secret == "" {
		return nil, noToken("")
	}
	if digest, ok := tokenDigest(strings.TrimSpace(secret)); ok {
		c.token, c.person, err = c.desk.TokenFor(c.ctx(), digest, c.now)
		if err == nil {
			if c.token.Use == checklists.TokenReads {
				c.person = procedures.Person{Role: procedures.Reader}
			}
			return c, nil
		}
		if !errors.Is(err, store.ErrNotFound) {
			return nil, err
		}
	}
	wait, err := c.desk.WrongToken(c.ctx(), c.IP(), tryLimits(), c.now)
	if err != nil {
		return nil, err
	}
	if wait > 0 {
		notice(ctx, slowedLine, "")
		return nil, mustWaitFor(wait)
	}
	notice(ctx, wrongTokenLine, "")
	return nil, noToken("invalid_token")
}

// noToken is the answer to a request without a token that is good; code is of
// RFC 6750 section 3.1.
func noToken(code string) error {
	f := fail(fiber.StatusUnauthorized, "No token that is good", "Send the header: Authorization: Bearer, and a token that a supervisor made and nobody took back.")
	f.challenge = "Bearer"
	if code != "" {
		f.challenge = `Bearer error="` + code + `"`
	}
	return f
}

func mustWaitFor(wait time.Duration) error {
	f := fail(fiber.StatusTooManyRequests, "Too many wrong tries", "Wait, and send it again.")
	f.after = inSeconds(wait)
	return f
}
