package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/store"
	"stillsaw/views"
)

// visit is one request with who makes it, to which mill, at what time.
type visit struct {
	*fiber.Ctx
	s         *Server
	mill      checklists.Mill
	zone      *time.Location
	desk      *store.Mill
	person    procedures.Person // zero: nobody signed in
	now       time.Time
	settings  store.Settings          // how pages look to who makes it
	words     *views.Words            // of the language by these
	typedIn   measures                // how numbers are typed and shown
	proof     *proof                  // of the PIN sent, once it was looked at
	meanwhile *views.Meanwhile        // what somebody else changed while the form sent was filled in
	notes     *[]views.Noted          // where the fields of a page are noted, nil for nowhere
	untold    []procedures.LockItem   // own locks taken off while away: to be told of before work
	walked    checklists.InspectionID // the walk or inspection of the address, once it was looked up
	waited    *waited                 // of what a phone kept until there was contact; nil: it comes at once
}

// may says who may come to a route.
type may int

const (
	anyone      may = iota // also somebody not signed in
	signedIn               // every role, to read
	crew                   // operators and supervisors
	supervisors            // supervisors and deputies
)

// Route is one address the server answers, for the tests that walk them all.
type Route struct {
	Method, Path string
	May          may
	Leads        bool // to the page it belongs to: it shows nothing itself
}

func (s *Server) get(path string, who may, handle func(*visit) error) {
	s.route(fiber.MethodGet, path, who, handle)
}

// post takes a form. Where its address shows no page, which is said before, asking
// for it leads to the page the form is of; what programs send to has none.
func (s *Server) post(path string, who may, handle func(*visit) error) {
	if !s.shows(path) && who != anyone {
		s.lead(path)
	}
	s.route(fiber.MethodPost, path, who, handle)
}

func (s *Server) route(method, path string, who may, handle func(*visit) error) {
	s.routes = append(s.routes, Route{Method: method, Path: path, May: who})
	s.handle(method, path, who, handle)
}

func (s *Server) handle(method, path string, who may, handle func(*visit) error) {
	s.app.Add(method, path, func(c *fiber.Ctx) error {
		v, err := s.visit(c)
		if errors.Is(err, store.ErrNotFound) {
			return nothingSetUp(c)
		}
		if err != nil {
			return err
		}
		if phone := phoneTime(v.FormValue("phone"), v.now); method == fiber.MethodPost && !phone.IsZero() {
			c.SetUserContext(store.WithPhone(c.UserContext(), phone))
		}
		switch {
		case method == fiber.MethodPost && v.Get(waitedHeader) != "":
			return v.takeWaited(who, handle)
		case who == anyone:
		case v.person.ID == "":
			return v.askToSignIn()
		case !who.admits(v.person):
			return v.notForTheRole()
		}
		return handle(v)
	})
}

// nothingSetUp leads to the set-up. What somebody sent to a mill that was here is not
// passed over in silence.
func nothingSetUp(c *fiber.Ctx) error {
	if c.Method() == fiber.MethodPost {
		return plain.Refuse("", "No mill is set up under this address any more. Nothing was saved; what stands on the machines themselves holds. Ask whoever looks after Stillsaw for the mill's address.")
	}
	return c.Redirect("/set-up", fiber.StatusSeeOther)
}

func (v *visit) notForTheRole() error {
	notice(v.Ctx, refusedLine, roleWhy)
	return fiber.NewError(fiber.StatusForbidden, "You are signed in, but this is not for your role. Ask a supervisor.")
}

// visit finds the mill and who is signed in. ErrNotFound: nothing is set up.
func (s *Server) visit(c *fiber.Ctx) (*visit, error) {
	mill, err := s.store.TheMill(c.UserContext())
	if err != nil {
		return nil, err
	}
	v := &visit{Ctx: c, s: s, mill: mill, desk: s.store.Of(mill.ID), now: s.now().UTC()}
	if v.zone, err = mill.LocationAt(v.now); err != nil {
		return nil, err
	}
	if v.person, err = s.whoIs(c, v.desk, v.now); err != nil {
		return v, err
	}
	if err := v.settle(); err != nil || v.person.ID == "" {
		return v, err
	}
	v.untold, err = v.desk.UntoldLocks(v.ctx(), v.person.ID)
	return v, err
}

func (v *visit) ctx() context.Context { return v.UserContext() }

// typed is what stands in a form field, without the blanks around it.
func (v *visit) typed(field string) string { return strings.TrimSpace(v.FormValue(field)) }

// frame is what the layout shows around a page.
func (v *visit) frame(title string, args ...any) *views.Frame {
	f := &views.Frame{
		Title: plain.Say(title, args...), Words: v.words, Scheme: v.settings.Scheme, Size: v.settings.Size, Person: v.person, Mill: v.mill.Name,
		Zone: v.zone, Units: v.typedIn.units, Now: v.now, Path: v.Path(), Places: v.places(), StopIt: "/stop-it",
		Encrypt: v.s.encryptAt(v.Ctx),
	}
	if v.person.ID != "" {
		f.Log = record.Origin(string(v.mill.ID))
	}
	f.Flash = flash(v.Query("done"))
	f.Sent = v.Query("sent")
	if v.Method() == fiber.MethodPost {
		f.SentTo = v.OriginalURL()
	}
	f.Meanwhile, f.Notes = v.meanwhile, v.notes
	for _, lock := range v.untold {
		f.Heed = append(f.Heed, views.Place{Href: "/lockouts/" + string(lock.Untold) + "#act",
			Text: plain.Say("Your lock %s was taken off while you were away. It does not protect you. Say that you know before you do any work under lockout.", lock.Number)})
	}
	return f
}

// places is the menu of who is signed in.
func (v *visit) places() []views.Place {
	places := []views.Place{{Href: "/", Text: plain.Say("May it run?")}}
	if v.person.ID == "" {
		return append(places, views.Place{Href: "/sign-in", Text: plain.Say("Sign in")}, views.Place{Href: "/settings", Text: plain.Say("Your settings")}, views.Place{Href: "/help/emergency", Text: plain.Say("Emergency")})
	}
	if v.person.Works() {
		places = append(places, views.Place{Href: "/lifts/new", Text: plain.Say("Check a lift")},
			views.Place{Href: "/lockouts", Text: plain.Say("Lockouts")})
	}
	places = append(places, views.Place{Href: "/due", Text: plain.Say("What is due")}, views.Place{Href: "/reminders", Text: plain.Say("Reminders")}, views.Place{Href: "/program", Text: plain.Say("Lockout program")}, views.Place{Href: "/defects", Text: plain.Say("Defects")}, views.Place{Href: "/departures", Text: plain.Say("Departures")},
		views.Place{Href: "/incidents", Text: plain.Say("Incidents")}, views.Place{Href: "/trends", Text: plain.Say("Trends")},
		views.Place{Href: "/record", Text: plain.Say("The record")}, views.Place{Href: "/verify", Text: plain.Say("Verify the record")}, views.Place{Href: "/compliance", Text: plain.Say("Checks on the calendar")}, views.Place{Href: "/lists", Text: plain.Say("Lists")}, views.Place{Href: "/published", Text: plain.Say("Procedures, rigs")},
		views.Place{Href: "/equipment", Text: plain.Say("Equipment")}, views.Place{Href: "/gear", Text: plain.Say("Lifting gear")}, views.Place{Href: "/registers", Text: plain.Say("Registers")}, views.Place{Href: "/people", Text: plain.Say("People")})
	if v.person.Supervises() {
		places = append(places, views.Place{Href: "/mill", Text: plain.Say("The mill")}, views.Place{Href: "/mill/mail", Text: plain.Say("Mail")}, views.Place{Href: "/witnesses", Text: plain.Say("Witnesses")}, views.Place{Href: "/backups", Text: plain.Say("Backups")})
	}
	return append(places, views.Place{Href: "/help/emergency", Text: plain.Say("Emergency")}, views.Place{Href: "/phone", Text: plain.Say("On this phone")}, views.Place{Href: "/settings", Text: plain.Say("Your settings")}, views.Place{Href: "/sign-out", Text: plain.Say("Sign out")})
}

// show renders a page; with problems it is a 422, so a script knows to keep the form.
func (v *visit) show(name string, page any, problems plain.Problems) error {
	if len(problems) > 0 {
		if v.waited != nil {
			return v.tellProblems(problems)
		}
		v.Status(fiber.StatusUnprocessableEntity)
	}
	return render(v.Ctx, name, page)
}

// render answers with a page. Fiber's own Render notes at its first page which apps
// there are, and two first pages at once note it side by side: a race.
func render(c *fiber.Ctx, name string, page any) error {
	var body bytes.Buffer
	if err := c.App().Config().Views.Render(&body, name, page); err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	c.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	c.Response().SetBodyRaw(body.Bytes())
	return nil
}

// moveOn redirects after a POST. done names a flash of the next page. to may
// have a query and a fragment of its own.
func (v *visit) moveOn(to, done string) error {
	if v.waited != nil {
		return v.SendStatus(fiber.StatusNoContent)
	}
	next, err := url.Parse(to)
	if err != nil {
		return err
	}
	if done != "" {
		query := next.Query()
		query.Set("done", done)
		if form := v.typed("form"); form != "" {
			query.Set("sent", form)
		}
		next.RawQuery = query.Encode()
	}
	return v.Redirect(next.String(), fiber.StatusSeeOther)
}

// problems sorts an error: what was wrong with the form, what the rules refuse
// as a problem of the form as a whole, and anything else as err.
func problemsOf(err error) (plain.Problems, error) {
	var problems plain.Problems
	if errors.As(err, &problems) {
		return problems, nil
	}
	var refusal *plain.Refusal
	if errors.As(err, &refusal) {
		why := refusal.Why
		if refusal.Clause != "" {
			why = plain.Say("%s (%s)", why, refusal.Clause)
		}
		return plain.Problems{{Want: why}}, nil
	}
	if errors.Is(err, store.ErrChanged) {
		return plain.Problems{{Want: changedMeanwhile()}}, nil
	}
	return nil, err
}

// names maps ids to the names the screens show.
func (v *visit) names() (map[procedures.PersonID]string, error) {
	people, err := v.desk.People(v.ctx())
	names := make(map[procedures.PersonID]string, len(people))
	for _, p := range people {
		names[p.ID] = v.called(p)
	}
	return names, err
}

// called is the name the screens show of somebody, or that it is not kept.
func (v *visit) called(p procedures.Person) string {
	if p.Name == "" {
		return v.frame("").T("person no longer named")
	}
	return p.Name
}

// plantAndNames is what a page needs to name machines and people.
func (v *visit) plantAndNames() (procedures.Plant, map[procedures.PersonID]string, error) {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return nil, nil, err
	}
	names, err := v.names()
	return plant, names, err
}
