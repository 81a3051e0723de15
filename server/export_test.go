package server

// The tests of package server_test stand outside, since the demo they need
// imports this package; they look at its pages with the same browser.
var (
	NewServerAt   = onTheNetwork
	LookAtScreens = lookAtScreens
)
