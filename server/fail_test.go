package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// What failed may have failed after it was saved, so no page of an error says
// that nothing was, nor that what was typed is still there.
func TestErrorPagePromisesNoMoreThanIsTrue(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	var failed error
	app := fiber.New(fiber.Config{Views: m.server.app.Config().Views, ErrorHandler: m.server.fail, DisableStartupMessage: true})
	app.All("/", func(*fiber.Ctx) error { return failed })
	ask := func(method string, err error) (int, string) {
		failed = err
		request, err := http.NewRequestWithContext(t.Context(), method, "http://mill.test/", nil)
		require.NoError(t, err)
		reply, err := app.Test(request, 60_000)
		require.NoError(t, err)
		body, err := io.ReadAll(reply.Body)
		require.NoError(t, errors.Join(err, reply.Body.Close()))
		_, main, _ := strings.Cut(string(body), "<main")
		main, _, _ = strings.Cut(main, "</main>")
		return reply.StatusCode, main
	}
	for _, tc := range []struct {
		err    error
		status int
	}{{errors.New("the disk is full"), 500}, {store.ErrClosing, 503}, {store.ErrNotHeld, 503}, {fmt.Errorf("the database %w", store.ErrUpgraded), 503}, {context.DeadlineExceeded, 503}, {context.Canceled, 503}} {
		status, said := ask(http.MethodPost, tc.err)
		require.Equal(t, tc.status, status, tc.err)
		require.Contains(t, said, "It may or may not have been saved", tc.err)
		require.Contains(t, said, "it is not entered twice", tc.err)
		status, looked := ask(http.MethodGet, tc.err)
		require.Equal(t, tc.status, status, tc.err)
		require.NotContains(t, looked, "saved", "nothing was sent to save")
		for _, words := range []string{said, looked} {
			require.Contains(t, words, "Load this page again", tc.err)
			require.NotContains(t, words, "Nothing was saved", tc.err)
			require.NotContains(t, words, "still there", tc.err)
			require.NotContains(t, words, "Back to where you were", "the button leads to the first page")
			require.NotContains(t, words, "disk", "what failed is for the log")
		}
	}
	status, said := ask(http.MethodPost, fiber.ErrRequestEntityTooLarge)
	require.Equal(t, http.StatusRequestEntityTooLarge, status)
	require.Contains(t, said, "48 MB together at most; what you typed may have to be entered again")
}
