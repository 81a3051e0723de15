package server

import (
	"bytes"
	"net/http"
	"strings"
	"unicode"

	"github.com/gofiber/fiber/v2"
	"github.com/valyala/fasthttp"
)

// contentPolicy lets a page load only what this server sends, and no inline
// script or style: text somebody typed can't become code.
const contentPolicy = "default-src 'none'; object-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; manifest-src 'self'; worker-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (s *Server) guardHeaders(c *fiber.Ctx) error {
	c.Set("Content-Security-Policy", contentPolicy)
	c.Set("X-Content-Type-Options", "nosniff")
	c.Set("X-Frame-Options", "DENY")
	c.Set("Referrer-Policy", "same-origin")
	c.Set("Cross-Origin-Opener-Policy", "same-origin")
	c.Set("Cross-Origin-Resource-Policy", "same-origin")
	c.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
	c.Set(fiber.HeaderCacheControl, "private, no-cache")
	return c.Next()
}

// refusePacked turns away a body that comes packed: nothing that belongs here sends
// one, and a few bytes unpack to more than there is memory.
func (s *Server) refusePacked(c *fiber.Ctx) error {
	if len(c.Request().Header.PeekAll(fiber.HeaderContentEncoding)) > 0 {
		c.Request().ResetBody()
		c.Request().Header.Del(fiber.HeaderContentEncoding)
		notice(c, refusedLine, packedWhy)
		return fiber.NewError(fiber.StatusUnsupportedMediaType, "Send it as it is, not packed.")
	}
	return c.Next()
}

// limits bounds a body by what it is, before it is read: only a form with files may
// be long.
func limits(header *fasthttp.RequestHeader) fasthttp.RequestConfig {
	if len(header.MultipartFormBoundary()) > 0 {
		return fasthttp.RequestConfig{MaxRequestBodySize: bodyMost}
	}
	return fasthttp.RequestConfig{MaxRequestBodySize: wordsMost}
}

// formValue is a field of what was sent. One that the form has counts as the form
// has it, whatever the address says: somebody may have been led to the page by an
// address that others wrote.
func formValue(c *fasthttp.RequestCtx, field string) []byte {
	if c.PostArgs().Has(field) {
		return readable(c.PostArgs().Peek(field))
	}
	if form, err := c.MultipartForm(); err == nil && form.Value[field] != nil {
		return readable([]byte(form.Value[field][0]))
	}
	return readable(c.QueryArgs().Peek(field))
}

// readable is text without the signs that nobody types and that move a terminal or
// a printer: what is kept is shown on both.
func readable(text []byte) []byte {
	return bytes.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' {
			return -1
		}
		return r
	}, text)
}

// refuseForgery turns away a form another site sent in somebody's name. It
// keeps no state, so a page left open over a restart still works.
func (s *Server) refuseForgery(c *fiber.Ctx) error {
	if strings.HasPrefix(c.Path(), apiPrefix) {
		return c.Next() // no cookie counts there, so there is nothing to forge
	}
	// What the check looks at and no more: a whole request would hold the photos
	// of a form once again.
	request := &http.Request{Method: c.Method(), Host: string(c.Context().Host()), Header: http.Header{}}
	for _, name := range []string{"Sec-Fetch-Site", fiber.HeaderOrigin} {
		request.Header.Set(name, c.Get(name))
	}
	protection := http.NewCrossOriginProtection()
	if s.ways.public != "" {
		// A proxy may have put another host in its place.
		if err := protection.AddTrustedOrigin(s.ways.public); err != nil {
			return err
		}
	}
	if err := protection.Check(request); err != nil {
		notice(c, refusedLine, forgedWhy)
		return fiber.NewError(fiber.StatusForbidden, "This form did not come from a page of this mill, so nothing was saved. Open Stillsaw and enter it there.")
	}
	return c.Next()
}
