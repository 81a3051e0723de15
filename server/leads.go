package server

import (
	"strings"

	"github.com/gofiber/fiber/v2"

	"stillsaw/server/store"
)

// lead answers whoever asks for the address of a form that has no page of its own:
// from the bar of the browser, which shows it once a form was refused, and the page
// that keeps itself true. It leads to what the form belongs to.
func (s *Server) lead(path string) {
	s.routes = append(s.routes, Route{Method: fiber.MethodGet, Path: path, May: signedIn, Leads: true})
	s.handle(fiber.MethodGet, path, signedIn, func(v *visit) error {
		parts := strings.Count(s.owner(path), "/")
		if parts == 0 {
			return store.ErrNotFound
		}
		return v.Redirect(strings.Join(strings.Split(v.Path(), "/")[:parts+1], "/"), fiber.StatusSeeOther)
	})
}

// owner is the page that the form at path belongs to: the nearest address above it
// that has one; "" for none.
func (s *Server) owner(path string) string {
	for above := path; strings.Count(above, "/") > 1; {
		above = above[:strings.LastIndex(above, "/")]
		if s.shows(above) {
			return above
		}
	}
	return ""
}

// shows tells whether there is a page at path.
func (s *Server) shows(path string) bool {
	for _, route := range s.routes {
		if route.Method == fiber.MethodGet && route.Path == path && !route.Leads {
			return true
		}
	}
	return false
}
