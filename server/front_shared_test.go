package server

import (
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Phones on which nobody is signed in are shown the first page that was made for
// another of them a moment ago, and never one made before something was written.
func TestTheFirstPageIsMadeOnceForAllAndIsNeverOld(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	made := func(sort func(frontSort) bool) *sharedFront {
		m.server.fronts.mu.Lock()
		defer m.server.fronts.mu.Unlock()
		for s, page := range m.server.fronts.all {
			if sort(s) {
				return page
			}
		}
		return nil
	}
	plain := func(s frontSort) bool { return !s.wall }
	first := m.phone().get("/")
	kept := made(plain)
	require.NotNil(t, kept)
	kept.body = []byte(strings.Replace(first.Body, "<h1>", "<h1>seen once: ", 1)) // so that it is told from one made anew
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() { m.phone().get("/").says(t, "seen once: ") })
	}
	all.Wait()
	require.NotContains(t, m.phone().get("/?wall").Body, "seen once", "another page")
	require.NotContains(t, m.phone().get("/?done=stopped").Body, "seen once", "what somebody just did is for them alone")
	signedIn := m.as("ada").get("/")
	require.NotContains(t, signedIn.Body, "seen once")
	signedIn.says(t, "Ada")
	require.NotContains(t, m.phone().get("/").Body, "seen once", "signing in was written")

	kept = made(plain)
	kept.body = []byte("seen once")
	m.clock.Advance(sharedFor - time.Millisecond)
	require.Contains(t, m.phone().get("/").Body, "seen once")
	m.clock.Advance(time.Millisecond)
	require.NotContains(t, m.phone().get("/").Body, "seen once", "the time goes on")
	made(plain).body = []byte("seen once")
	m.clock.Advance(-time.Hour)
	require.NotContains(t, m.phone().get("/").Body, "seen once", "the clock was set back")
	made(plain).body = []byte("seen once")
	m.stop("ada", "hoist", "hook bent")
	page := m.phone().get("/")
	require.NotContains(t, page.Body, "seen once")
	page.says(t, "hook bent")
	require.NotContains(t, page.Body, "Ada</a>", "nobody is signed in on it")
}

// Each is shown the words, colours and units chosen on it.
func TestASharedFirstPageIsOfThePhonesLanguageAndSettings(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ask := func(header, value string) page {
		p := m.phone()
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://mill.test/", nil)
		require.NoError(t, err)
		request.Header.Set(header, value)
		return p.follow(request)
	}
	for range 2 {
		ask("Accept-Language", "en").says(t, `<html lang="en">`)
		ask("Accept-Language", "es").says(t, `<html lang="es">`)
		ask("Cookie", settingsCookie+"=language=fr").says(t, `<html lang="fr">`)
		ask("Cookie", settingsCookie+"=scheme=sun").says(t, `data-scheme="sun"`)
		require.NotContains(t, ask("Accept-Language", "en").Body, "data-scheme")
	}
}
