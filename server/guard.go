package server

import (
	"net/http"
	"strings"

	"github.com/gofiber/fiber/v2"
	"github.com/gofiber/fiber/v2/middleware/adaptor"
)

// contentPolicy lets a page load only what this server sends, and no inline
// script or style: text somebody typed can't become code.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; manifest-src 'self'; worker-src 'self'; " +
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

// refuseForgery turns away a form another site sent in somebody's name. It
// keeps no state, so a page left open over a restart still works.
func (s *Server) refuseForgery(c *fiber.Ctx) error {
	if strings.HasPrefix(c.Path(), apiPrefix) {
		return c.Next() // no cookie counts there, so there is nothing to forge
	}
	request, err := adaptor.ConvertRequest(c, true)
	if err != nil {
		return fiber.ErrBadRequest
	}
	protection := http.NewCrossOriginProtection()
	if s.ways.public != "" {
		// A proxy may have put another host in its place.
		if err := protection.AddTrustedOrigin(s.ways.public); err != nil {
			return err
		}
	}
	if err := protection.Check(request); err != nil {
		return fiber.NewError(fiber.StatusForbidden, "This form did not come from a page of this mill, so nothing was saved. Open Stillsaw and enter it there.")
	}
	return c.Next()
}
