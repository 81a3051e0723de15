package server

import (
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) settingsRoutes() {
	s.get("/settings", anyone, s.showSettings)
	s.post("/settings", anyone, s.keepSettings)
	s.app.Post("/settings/language", s.chooseLanguage)
}

// settingsCookie holds the choices of a phone on which nobody is signed in. It
// names nobody.
const (
	settingsCookie     = "stillsaw-settings"
	settingsCookieDays = 400 // the longest a browser keeps one
)

// settingsName is the cookie's name on this page: as of the session's, the encrypted
// page has one that no plain page can set. What was chosen on the plain page holds
// there until something else is chosen.
func settingsName(c *fiber.Ctx) string {
	if c.Secure() {
		return "__Host-" + settingsCookie
	}
	return settingsCookie
}

// settingsOf reads choices from what named fields hold; what is none of those
// there are counts as not chosen.
func (s *Server) settingsOf(get func(string) string) store.Settings {
	among := func(field string, all ...string) string {
		if chosen := get(field); slices.Contains(all, chosen) {
			return chosen
		}
		return ""
	}
	return store.Settings{Language: among("language", s.words.Languages()...), Mark: among("mark", "point", "comma"),
		Units:  checklists.Units(among("units", string(checklists.InchPound), string(checklists.Metric))),
		Scheme: among("scheme", "light", "dark", "sun"), Size: among("size", "large")}
}

// settingsOfPhone are the choices made on a phone before anybody signs in.
func (s *Server) settingsOfPhone(c *fiber.Ctx) store.Settings {
	values, err := url.ParseQuery(c.Cookies(settingsName(c), c.Cookies(settingsCookie)))
	if err != nil {
		return store.Settings{}
	}
	return s.settingsOf(values.Get)
}

func (s *Server) keepOnPhone(c *fiber.Ctx, chosen store.Settings) {
	values := url.Values{}
	for field, value := range map[string]string{"language": chosen.Language, "units": string(chosen.Units), "mark": chosen.Mark, "scheme": chosen.Scheme, "size": chosen.Size} {
		if value != "" {
			values.Set(field, value)
		}
	}
	c.Cookie(&fiber.Cookie{Name: settingsName(c), Value: values.Encode(), Path: "/", MaxAge: settingsCookieDays * 24 * 60 * 60,
		HTTPOnly: true, Secure: c.Secure(), SameSite: fiber.CookieSameSiteLaxMode})
}

// wordsFor are the words for somebody who chose so, on a browser that asks so.
func (s *Server) wordsFor(c *fiber.Ctx, chosen store.Settings) *views.Words {
	return s.words.For(chosen.Language, c.Get(fiber.HeaderAcceptLanguage)).WithMark(chosen.Mark)
}

// settle finds how pages look to who makes the visit.
func (v *visit) settle() error {
	v.settings = v.s.settingsOfPhone(v.Ctx)
	if v.person.ID != "" {
		own, chose, err := v.desk.Settings(v.ctx(), v.person.ID)
		if err != nil {
			return err
		}
		if chose {
			v.settings = own
		}
	}
	v.words = v.s.wordsFor(v.Ctx, v.settings)
	v.typedIn = measures{units: v.mill.Units, comma: v.words.Comma()}
	if v.settings.Units != "" {
		v.typedIn.units = v.settings.Units
	}
	v.readAs(v.FormValue(measuresField))
	return nil
}

// readAs shows and reads numbers as a form says that it was filled in.
func (v *visit) readAs(typedIn string) {
	if typed, ok := measuresTyped(typedIn); ok {
		v.typedIn = typed
		v.words = v.words.WithMark(typed.mark())
	}
}

type settingsPage struct {
	*views.Frame
	Fields  []views.Field
	OnPhone bool // nobody is signed in: kept on this phone
}

// languageNames are languages by what they call themselves.
func languageNames() map[string]string {
	return map[string]string{"en": "English", "es": "Español", "fr": "Français"}
}

func (s *Server) languageChoices() (all []views.Choice) {
	for _, tag := range s.words.Languages() {
		name := languageNames()[tag]
		if name == "" {
			name = tag
		}
		all = append(all, views.Choice{Value: tag, Text: name})
	}
	return all
}

func (s *Server) showSettings(v *visit) error {
	f := v.frame("Your settings")
	page := settingsPage{Frame: f, OnPhone: v.person.ID == ""}
	usual := f.T("Inches and pounds")
	if v.mill.Units == checklists.Metric {
		usual = f.T("Millimetres and kilograms")
	}
	page.Fields = []views.Field{
		f.ChoiceField("language", f.T("Language"), v.settings.Language, append([]views.Choice{{Text: f.T("As the browser says")}}, s.languageChoices()...)),
		f.ChoiceField("units", f.T("Units"), string(v.settings.Units), []views.Choice{{Text: f.T("As the mill: %s", usual)},
			{Value: string(checklists.InchPound), Text: f.T("Inches and pounds")}, {Value: string(checklists.Metric), Text: f.T("Millimetres and kilograms")}}),
		f.ChoiceField("mark", f.T("Decimals"), v.settings.Mark, []views.Choice{{Text: f.T("As usual in the language")}, {Value: "point", Text: f.T("With a point: %s", "7.5")},
			{Value: "comma", Text: f.T("With a comma: %s", "7,5")}}),
		f.ChoiceField("scheme", f.T("Colours"), v.settings.Scheme, []views.Choice{{Text: f.T("As the phone says")}, {Value: "light", Text: f.T("Light")},
			{Value: "dark", Text: f.T("Dark")}, {Value: "sun", Text: f.T("For bright sun")}}),
		f.ChoiceField("size", f.T("Letters"), v.settings.Size, []views.Choice{{Text: f.T("As usual")}, {Value: "large", Text: f.T("Large")}}),
	}
	return v.show("settings", page, nil)
}

func (s *Server) keepSettings(v *visit) error {
	chosen := s.settingsOf(v.typed)
	if v.person.ID == "" {
		s.keepOnPhone(v.Ctx, chosen)
		return v.moveOn("/settings", "settings")
	}
	if err := v.desk.KeepSettings(v.ctx(), v.person.ID, chosen, v.now); err != nil {
		return err
	}
	return v.moveOn("/settings", "settings")
}

// keepLanguage keeps the language the reader sees as theirs, where they left it to
// the browser: what is sent to them later goes without one. English needs no keeping.
func (v *visit) keepLanguage() error {
	if v.settings.Language != "" || v.words.Lang() == "en" {
		return nil
	}
	v.settings.Language = v.words.Lang()
	return v.desk.KeepSettings(v.ctx(), v.person.ID, v.settings, v.now)
}

// chooseLanguage keeps the language on this phone, before anybody is signed in or
// a mill is set up, and leads back to the page where it was chosen.
func (s *Server) chooseLanguage(c *fiber.Ctx) error {
	chosen := s.settingsOfPhone(c)
	chosen.Language = s.settingsOf(func(field string) string { return c.FormValue(field) }).Language
	s.keepOnPhone(c, chosen)
	back := c.FormValue("back")
	if !local(back) {
		back = "/"
	}
	return c.Redirect(back, fiber.StatusSeeOther)
}

// languages is the part of a page where somebody not signed in chooses.
func (s *Server) languages(f *views.Frame, back string) *views.Languages {
	return &views.Languages{Frame: f, Back: back, Choices: s.languageChoices()}
}

func (m measures) mark() string {
	if m.comma {
		return "comma"
	}
	return "point"
}

// measuresField carries with a form how the numbers in it are meant, so that one
// filled in before the settings were changed is read as it was filled in.
const measuresField = "typed-in"

// measures are how numbers are typed: the units of bare ones, and whether their
// decimal mark is a comma.
type measures struct {
	units checklists.Units
	comma bool
}

// String is what a form carries, as [views.Frame.TypedIn].
func (m measures) String() string { return views.TypedIn(m.units, m.comma) }

// typed is x as a person fills it in, to a ten-thousandth.
func (m measures) typed(x float64) string {
	if m.comma {
		return strings.Replace(typedNumber(x), ".", ",", 1)
	}
	return typedNumber(x)
}

// pointed is a number somebody typed with a decimal point, for what reads one. One
// that may be a thousand times as much is a problem.
func (m measures) pointed(field, typed string, problems *plain.Problems) string {
	return m.pointedUpTo(math.Inf(1), field, typed, problems)
}

// pointedUpTo is [measures.pointed] of what can be no more than most: a number whose
// thousandfold is more stands for what it says.
func (m measures) pointedUpTo(most float64, field, typed string, problems *plain.Problems) string {
	read, err := plain.WithPoint(typed, m.comma)
	if x, no := strconv.ParseFloat(read, 64); err == nil && (no != nil || 1000*x <= most) {
		err = plain.OneWay(typed)
	}
	problems.At(field, err)
	return read
}

// measuresTyped reads what [views.Frame.TypedIn] puts into a form.
func measuresTyped(text string) (measures, bool) {
	for _, units := range []checklists.Units{checklists.InchPound, checklists.Metric} {
		for _, comma := range []bool{false, true} {
			if m := (measures{units, comma}); m.String() == text {
				return m, true
			}
		}
	}
	return measures{}, false
}
