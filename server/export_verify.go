package server

import (
	"github.com/gofiber/fiber/v2"

	"stillsaw/views"
)

func (s *Server) exportVerifyRoutes() { s.get("/export/verify.html", anyone, s.sendVerifyPage) }

// sendVerifyPage is the page that checks an export, as every ZIP has it, for
// whoever wants to take it from here rather than from the ZIP.
func (s *Server) sendVerifyPage(v *visit) error {
	page, err := views.VerifyPage()
	if err != nil {
		return err
	}
	policy, err := views.VerifyPolicy()
	if err != nil {
		return err
	}
	v.Set("Content-Security-Policy", policy+"; frame-ancestors 'none'")
	v.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	return v.Send(page)
}
