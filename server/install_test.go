package server

import (
	"bytes"
	"encoding/json"
	"image"
	_ "image/png"
	"io"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Members and what a browser needs to offer the home screen: W3C Web Application
// Manifest; icons of 192 and 512 pixels as Chromium asks (web.dev, "Installation
// prompt", from memory).
func TestManifestPutsTheMillOnTheHomeScreenInTheReadersLanguage(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.phone()
	for lang, lift := range map[string]string{"en": "Check a lift", "es": "Revisar un izaje"} {
		p.get("/").says(t, `href="/manifest.webmanifest?lang=en"`)
		var got manifest
		require.NoError(t, json.Unmarshal([]byte(p.get("/manifest.webmanifest?lang="+lang).Body), &got))
		require.Equal(t, "Fernhollow", got.Name)
		require.Equal(t, lang, got.Lang)
		require.Equal(t, lift, got.Shortcuts[1].Name)
		sizes := map[string]bool{}
		for _, icon := range got.Icons {
			body := p.get(icon.Source).Body
			if icon.Type == "image/png" {
				config, kind, err := image.DecodeConfig(strings.NewReader(body))
				require.NoError(t, err)
				require.Equal(t, "png", kind)
				require.True(t, strings.HasPrefix(icon.Sizes, map[int]string{192: "192x192", 512: "512x512"}[config.Width]), icon.Source)
				require.Equal(t, config.Width, config.Height)
			}
			sizes[icon.Sizes+icon.Purpose] = true
		}
		require.True(t, sizes["192x192"] && sizes["512x512"] && sizes["512x512maskable"])
		for _, to := range got.Shortcuts {
			require.Equal(t, http.StatusOK, m.as("ada").get(to.URL).Status, to.URL)
		}
	}
}

// Every page, an error too, and nothing that is a stream or packed already.
func TestPagesComePacked(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	for path, packed := range map[string]bool{"/": true, "/nowhere": true, "/manifest.webmanifest": true, "/assets/none": true} {
		for accept, encoding := range map[string]string{"gzip, deflate, br": "br", "gzip": "gzip", "identity": "", "br;q=0": ""} {
			request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://mill.test"+path, nil)
			require.NoError(t, err)
			request.Header.Set("Accept-Encoding", accept)
			reply, err := m.server.app.Test(request, 60_000)
			require.NoError(t, err)
			wire, err := io.ReadAll(reply.Body)
			require.NoError(t, err)
			require.NoError(t, reply.Body.Close())
			require.Equal(t, packed && encoding != "", reply.Header.Get("Content-Encoding") == encoding && encoding != "", "%s %s", path, accept)
			require.Contains(t, reply.Header.Get("Vary"), "Accept-Encoding")
			require.True(t, bytes.ContainsAny(unpacked(t, encoding, wire), "<{"), path)
		}
	}
}
