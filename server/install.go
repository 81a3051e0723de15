package server

import (
	"encoding/json"

	"github.com/gofiber/fiber/v2"

	"stillsaw/views"
)

// manifest is what a browser puts Stillsaw on the home screen by (W3C, Web
// Application Manifest). Its members have the standard's names.
type manifest struct {
	ID              string         `json:"id"`
	Lang            string         `json:"lang"`
	Name            string         `json:"name"`
	ShortName       string         `json:"short_name"`
	Description     string         `json:"description"`
	StartURL        string         `json:"start_url"`
	Scope           string         `json:"scope"`
	Display         string         `json:"display"`
	BackgroundColor string         `json:"background_color"`
	ThemeColor      string         `json:"theme_color"`
	Icons           []manifestIcon `json:"icons"`
	Shortcuts       []shortcut     `json:"shortcuts"`
}

type manifestIcon struct {
	Source  string `json:"src"`
	Sizes   string `json:"sizes"`
	Type    string `json:"type"`
	Purpose string `json:"purpose,omitzero"`
}

type shortcut struct {
	Name  string         `json:"name"`
	URL   string         `json:"url"`
	Icons []manifestIcon `json:"icons"`
}

// installRoutes is what the home screen needs. A manifest is asked for without a
// cookie, so its address says the language.
func (s *Server) installRoutes() {
	s.app.Get("/manifest.webmanifest", s.showManifest)
}

func (s *Server) showManifest(c *fiber.Ctx) error {
	f := &views.Frame{Words: s.words.For(c.Query("lang"), c.Get(fiber.HeaderAcceptLanguage))}
	name := "Stillsaw"
	if mill, err := s.store.TheMill(c.UserContext()); err == nil {
		name = mill.Name
	}
	icon := func(file, sizes, kind, purpose string) (manifestIcon, error) {
		at, err := s.assets.URL(file)
		return manifestIcon{at, sizes, kind, purpose}, err
	}
	m := manifest{ID: "/", Lang: f.Lang(), Name: name, ShortName: "Stillsaw", Description: f.T("May it run?"), StartURL: "/", Scope: "/",
		Display: "standalone", BackgroundColor: "#f6f3ec", ThemeColor: "#1d4b3a"}
	for _, one := range []manifestIcon{
		{"icon-192.png", "192x192", "image/png", ""}, {"icon-512.png", "512x512", "image/png", ""},
		{"icon-maskable.png", "512x512", "image/png", "maskable"}, {"icon.svg", "any", "image/svg+xml", ""},
	} {
		shown, err := icon(one.Source, one.Sizes, one.Type, one.Purpose)
		if err != nil {
			return err
		}
		m.Icons = append(m.Icons, shown)
	}
	for _, to := range []shortcut{
		{Name: f.T("Check now"), URL: "/inspections/new"}, {Name: f.T("Check a lift"), URL: "/lifts/new"},
		{Name: f.T("Lockouts"), URL: "/lockouts"}, {Name: f.T("Stop it"), URL: "/stop-it"},
	} {
		to.Icons = m.Icons[:1]
		m.Shortcuts = append(m.Shortcuts, to)
	}
	body, err := json.Marshal(m)
	if err != nil {
		return err
	}
	c.Set(fiber.HeaderContentType, "application/manifest+json")
	c.Set(fiber.HeaderCacheControl, "public, max-age=86400")
	c.Vary(fiber.HeaderAcceptLanguage)
	return c.Send(body)
}
