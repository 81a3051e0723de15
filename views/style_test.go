package views

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"maps"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/andybalholm/brotli"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func style(t *testing.T) string {
	t.Helper()
	body, err := staticFiles.ReadFile("static/style.css")
	require.NoError(t, err)
	return string(body)
}

// luminance is the relative luminance of #rrggbb. Source: WCAG 2.2, "relative
// luminance", https://www.w3.org/TR/WCAG22/#dfn-relative-luminance.
func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(strings.TrimPrefix(colour, "#"), 16, 32)
	require.NoError(t, err, colour)
	linear := func(shift uint) float64 {
		c := float64(n>>shift&0xff) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(16) + 0.7152*linear(8) + 0.0722*linear(0)
}

// contrast is WCAG 2.2's contrast ratio, 1 to 21.
func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Black on white is 21:1 by the definition; #767676 is the well-known lightest
// grey that passes on white, 4.54:1 (WebAIM, "Contrast and Color Accessibility").
func TestContrastFormula(t *testing.T) {
	assert.InDelta(t, 21, contrast(t, "#000000", "#ffffff"), 1e-9)
	assert.InDelta(t, 4.54, contrast(t, "#767676", "#ffffff"), 0.005)
}

// palettes are the colours by scheme: each is light with what it overrides. Dark
// and sunlight stand there twice, as chosen and as the phone says.
func palettes(t *testing.T) map[string]map[string]string {
	t.Helper()
	property := regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6});`)
	css := style(t)
	block := func(after, root string) string {
		at := strings.Index(css, after)
		require.GreaterOrEqual(t, at, 0, after)
		start := at + strings.Index(css[at:], root)
		return css[start : start+strings.Index(css[start:], "}")]
	}
	all := map[string]map[string]string{}
	for _, scheme := range [][3]string{{"light", ":root {", ":root {"}, {"dark", "@media screen {", "[data-scheme=dark] {"}, {"dark by the phone", "(prefers-color-scheme: dark) {", ":root:not([data-scheme]) {"},
		{"sunlight", "@media screen {", "[data-scheme=sun] {"}, {"sunlight by the phone", "(prefers-contrast: more) {", ":root:not([data-scheme]) {"}, {"print", "@media print", ":root {"}} {
		palette := maps.Clone(all["light"])
		if palette == nil {
			palette = map[string]string{}
		}
		for _, match := range property.FindAllStringSubmatch(block(scheme[1], scheme[2]), -1) {
			palette[match[1]] = match[2]
		}
		all[scheme[0]] = palette
	}
	require.Equal(t, all["dark"], all["dark by the phone"])
	require.Equal(t, all["sunlight"], all["sunlight by the phone"])
	require.NotEqual(t, all["dark"], all["light"])
	return all
}

// WCAG 2.2: 1.4.3 asks 4.5:1 of text, 1.4.11 asks 3:1 of borders, shapes and the
// focus ring. In sunlight text has the 7:1 of 1.4.6, on white without a tint.
func TestPaletteContrast(t *testing.T) {
	text := []string{"ink/paper", "ink/card", "soft/paper", "soft/card", "spruce/paper", "spruce/card", "halt/paper", "halt/card",
		"on-spruce/spruce", "on-halt/halt", "on-danger/danger", "on-warning/warning", "on-caution/caution", "on-notice/notice"}
	shape := []string{"line/paper", "line/card", "spruce/paper", "halt/paper", "focus/paper", "focus/card"}
	for scheme, palette := range palettes(t) {
		require.Len(t, palette, 18, scheme)
		least := map[bool]float64{false: 4.5, true: 7}[strings.HasPrefix(scheme, "sunlight")]
		for _, pair := range text {
			front, back, _ := strings.Cut(pair, "/")
			ratio := contrast(t, palette[front], palette[back])
			assert.GreaterOrEqual(t, ratio, least, "%s: %s is %.2f", scheme, pair, ratio)
		}
		for _, pair := range shape {
			front, back, _ := strings.Cut(pair, "/")
			ratio := contrast(t, palette[front], palette[back])
			assert.GreaterOrEqual(t, ratio, 3.0, "%s: %s is %.2f", scheme, pair, ratio)
		}
	}
	sunlight := palettes(t)["sunlight"]
	for name, colour := range map[string]string{"paper": "#ffffff", "card": "#ffffff", "ink": "#000000", "soft": "#000000", "line": "#000000"} {
		assert.Equal(t, colour, sunlight[name], name)
	}
}

// The design's own colours, and that no rule brings in another.
func TestPaletteIsTheDesigns(t *testing.T) {
	light := palettes(t)["light"]
	assert.Equal(t, "#f6f3ec", light["paper"])
	assert.Equal(t, "#1c2226", light["ink"])
	assert.Equal(t, "#1d4b3a", light["spruce"])
	calendar, err := staticFiles.ReadFile("static/calendar.css")
	require.NoError(t, err)
	outside := regexp.MustCompile(`--[a-z-]+: #[0-9a-f]{6};`).ReplaceAllString(style(t)+string(calendar), "")
	assert.NotRegexp(t, `#[0-9a-fA-F]{3,8}\b|rgb|hsl`, outside)
}

func TestNothingIsSmallerThan16Pixels(t *testing.T) {
	screen, _, _ := strings.Cut(style(t), "@media print")
	for _, match := range regexp.MustCompile(`font(?:-size)?: ([0-9.]+)(rem|px|em)`).FindAllStringSubmatch(screen, -1) {
		size, err := strconv.ParseFloat(match[1], 64)
		require.NoError(t, err)
		if match[2] != "px" {
			size *= 16
		}
		assert.GreaterOrEqual(t, size, 16.0, match[0])
	}
}

func TestAssetsStaySmall(t *testing.T) {
	assets, err := NewAssets()
	require.NoError(t, err)
	for name, most := range map[string]int{"style.css": 13 << 10, "calendar.css": 8 << 10, "start.js": 1 << 10, "form.js": 12 << 10, "rest.js": 43 << 10, "icon.svg": 1 << 10} {
		url, err := assets.URL(name)
		require.NoError(t, err)
		body, _, ok := assets.Lookup(url)
		require.True(t, ok)
		assert.Less(t, len(body), most, name)
	}
}

// A file is made lean when it is first asked for; that each can be is seen here.
func TestEveryAssetCanBeMadeLean(t *testing.T) {
	assets, err := NewAssets()
	require.NoError(t, err)
	for name := range assets.texts {
		_, err := assets.Text(name)
		assert.NoError(t, err, name)
	}
	require.NotEmpty(t, assets.sheets)
	for _, s := range assets.sheets {
		url, err := assets.URL(s.name)
		require.NoError(t, err)
		want, err := lean("text/css", []byte(s.text))
		require.NoError(t, err, s.name)
		body, _, _ := assets.Lookup(url)
		assert.Equal(t, string(want), string(body), s.name)
	}
}

func TestAssetAddressChangesWithItsContent(t *testing.T) {
	assets := &Assets{urls: map[string]string{}, files: map[string]asset{}}
	seen := map[string]bool{}
	for n := range 3 {
		require.NoError(t, assets.add("style.css", fmt.Appendf(nil, "a{top:%dpx}", n), nil))
		seen[assets.urls["style.css"]] = true
	}
	assert.Len(t, seen, 3)
	assert.Error(t, assets.add("photo.bmp", nil, nil))
	_, err := assets.URL("none.css")
	assert.Error(t, err)
	_, _, ok := assets.Lookup("/assets/style.css")
	assert.False(t, ok)
}

func TestCompressedIsTheSameFile(t *testing.T) {
	assets, err := NewAssets()
	require.NoError(t, err)
	url, err := assets.URL("style.css")
	require.NoError(t, err)
	want, contentType, ok := assets.Lookup(url)
	require.True(t, ok)
	assert.Equal(t, "text/css; charset=utf-8", contentType)
	assert.Regexp(t, `^/assets/style\.[0-9a-f]{6}\.css$`, url)
	for header, encoding := range map[string]string{"": "", "gzip, deflate, br": "br", "gzip;q=0.8": "gzip", "br;q=0, gzip": "gzip", "identity": ""} {
		body, got := assets.Compressed(url, header)
		assert.Equal(t, encoding, got, header)
		again, _ := assets.Compressed(url, header)
		assert.Same(t, &body[0], &again[0], "packed once")
		var reader io.Reader = bytes.NewReader(body)
		switch got {
		case "br":
			reader = brotli.NewReader(reader)
		case "gzip":
			reader, err = gzip.NewReader(reader)
			require.NoError(t, err)
		}
		whole, err := io.ReadAll(reader)
		require.NoError(t, err)
		assert.Equal(t, want, whole, header)
	}
	body, _ := assets.Compressed("/assets/none", "br")
	assert.Nil(t, body)
}
