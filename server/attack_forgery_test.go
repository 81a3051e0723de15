package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server/store"
)

// posts are the addresses that take a form, with ids nobody gave out.
func posts(s *Server) (all []string) {
	for _, route := range s.routes {
		if route.Method == http.MethodPost {
			all = append(all, pathOf(route.Path))
		}
	}
	return append(all, "/settings/language", "/set-up")
}

// Every address that takes a form refuses what another site's page had a browser
// send, whoever is signed in there.
func TestNoAddressTakesAFormOfAnotherSite(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	m.storesNothing(func() {
		for _, path := range posts(m.server) {
			reply := sam.asked(http.MethodPost, path, url.Values{"submission": {store.NewID()}}, "Sec-Fetch-Site", "cross-site", "Origin", "http://evil.test")
			require.Equal(t, http.StatusForbidden, reply.StatusCode, path)
		}
	})
	// Browsers tell the origin of a form by these (Fetch, section 3.2; W3C Fetch
	// Metadata). One that tells neither is none of today's: it has no cookie of a
	// form sent from elsewhere either, SameSite keeps that.
	for _, sent := range []struct {
		site, origin string
		taken        bool
	}{
		{"", "null", false}, {"", "http://evil.test", false}, {"", "http://mill.test:81", false}, {"", "http://mill.test.evil.test", false}, {"", "http://a.mill.test", false}, {"", "mill.test", false},
		{"same-site", "http://a.mill.test", false}, {"cross-site", "http://mill.test", false}, {"cross-site", "", false}, {"odd", "", false},
		{"same-origin", "http://mill.test", true}, {"", "http://mill.test", true}, {"none", "", true}, {"", "", true},
	} {
		headers := []string{}
		if sent.site != "" {
			headers = append(headers, "Sec-Fetch-Site", sent.site)
		}
		if sent.origin != "" {
			headers = append(headers, "Origin", sent.origin)
		}
		reply := sam.asked(http.MethodPost, "/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"moon"}}, headers...)
		want := http.StatusForbidden
		if sent.taken {
			want = http.StatusUnprocessableEntity
		}
		require.Equal(t, want, reply.StatusCode, "%+v", sent)
	}
}

// Looking at an address, by any method that looks, changes nothing.
func TestLookingChangesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	m.storesNothing(func() {
		methods := []string{http.MethodGet, http.MethodHead, http.MethodOptions}
		for i, path := range posts(m.server) {
			sam.asked(methods[i%len(methods)], path+"?submission="+store.NewID()+"&equipment=hoist&pin=x", nil, "X-HTTP-Method-Override", "POST")
		}
	})
	require.Equal(t, "/due", sam.get("/due").URL.Path, "nobody is signed out by it")
}

// Every answer, an error and a file as well, tells the browser to run nothing but
// the mill's own scripts, to guess no type, to stand in no frame, and to keep what
// is somebody's to itself.
func TestEveryAnswerCarriesTheHeadersThatGuardIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	paths := []string{"/nowhere", "/assets/none", "/sw.js", "/contact", "/manifest.webmanifest", "/trust", apiRoot + "/mill", apiRoot + "/nowhere"}
	for _, route := range m.server.routes {
		if route.Method == http.MethodGet {
			paths = append(paths, pathOf(route.Path))
		}
	}
	for _, path := range paths {
		head := sam.asked(http.MethodGet, path, nil).Header
		policy := head.Get("Content-Security-Policy")
		for _, must := range []string{"default-src 'none'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"} {
			if path != "/export/verify.html" || must == "frame-ancestors 'none'" || must == "default-src 'none'" {
				require.Contains(t, policy, must, path)
			}
		}
		require.NotContains(t, policy, "unsafe", path)
		require.Equal(t, "nosniff", head.Get("X-Content-Type-Options"), path)
		require.Equal(t, "DENY", head.Get("X-Frame-Options"), path)
		require.Equal(t, "same-origin", head.Get("Referrer-Policy"), path)
		require.Contains(t, head.Get("Permissions-Policy"), "geolocation=()", path)
		require.Empty(t, head.Get("Access-Control-Allow-Origin"), path)
		require.Empty(t, head.Get("X-Powered-By"), path)
		if kind := head.Get("Content-Type"); strings.HasPrefix(kind, "text/") {
			require.Contains(t, strings.ToLower(kind), "charset=utf-8", path)
		}
		if path == "/manifest.webmanifest" {
			continue // it is the same for everybody
		}
		require.NotContains(t, head.Get("Cache-Control"), "public", path)
		require.Regexp(t, `no-store|no-cache|private`, head.Get("Cache-Control"), path)
	}
}
