package server

import "stillsaw/views"

// The tests of package server_test stand outside, since the demo they need
// imports this package; they look at its pages with the same browser.
var (
	NewServerAt   = onTheNetwork
	LookAtScreens = lookAtScreens
	Thorough      = thorough
)

// WithWords is a server that speaks by another catalogue.
func WithWords(c Config, words *views.Catalogue) Config {
	c.words = words
	return c
}

// RoutesOf are the screens' addresses with who may come to them.
func RoutesOf(s *Server) []Route { return s.routes }

// LookAtForms is of every form shown again.
var LookAtForms = lookAtForms
