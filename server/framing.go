package server

import (
	"strings"

	"github.com/gofiber/fiber/v2"
)

// refuseTwoReadings turns away a request whose end a proxy before the server could
// see elsewhere, and closes the connection: what comes after it on the line may be
// the rest of it or a request of somebody else. RFC 9112 sections 5.2, 6.1 and 6.3.
func (s *Server) refuseTwoReadings(c *fiber.Ctx) error {
	if oneReading(string(c.Request().Header.RawHeaders()), c.Request().Header.IsHTTP11()) {
		return c.Next()
	}
	c.Context().SetConnectionClose()
	c.Request().ResetBody()
	notice(c, refusedLine, lengthsWhy)
	return fiber.NewError(fiber.StatusBadRequest, "It can be read in more than one way.")
}

// oneReading tells whether header fields, as they were sent, say in one way alone
// where the body ends.
func oneReading(fields string, http11 bool) bool {
	lengths, codings := 0, 0
	for line := range strings.Lines(fields) {
		line = strings.TrimRight(line, "\r\n")
		if strings.HasPrefix(line, " ") || strings.HasPrefix(line, "\t") || strings.Contains(line, "\r") {
			return false // folded, or ended in two ways
		}
		name, value, _ := strings.Cut(line, ":")
		value = strings.Trim(value, " \t")
		switch strings.ToLower(name) {
		case "content-length":
			lengths++
			if value == "" || strings.Trim(value, "0123456789") != "" {
				return false
			}
		case "transfer-encoding":
			codings++
			if !strings.EqualFold(value, "chunked") || !http11 {
				return false
			}
		}
	}
	return lengths+codings <= 1
}
