package server

import (
	"crypto/rand"
	"crypto/sha256"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"
	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) calendarRoutes() {
	s.get("/calendar", crew, s.showCalendars)
	s.post("/calendar", crew, s.openCalendar)
	s.post("/calendar/end", crew, s.endCalendar)
	s.get("/calendar/:token.ics", anyone, s.calendar)
}

type calendarLine struct {
	ID, Person, By string
	Made           time.Time
}

type calendarsPage struct {
	*views.Frame
	Submission string
	Address    string // of the one just made, shown this once
	For        string // whom it was made for
	Lines      []calendarLine
	People     []views.Choice // whom a supervisor may make one for
	Me         string
}

func (s *Server) showCalendars(v *visit) error { return v.calendarsPage("", "", nil) }

func (v *visit) calendarsPage(address, made string, problems plain.Problems) error {
	page := calendarsPage{Frame: v.frame("Reminders as a calendar"), Submission: store.NewID(), Address: address, For: made, Me: string(v.person.ID)}
	page.Problems = problems
	if address != "" {
		page.Title = plain.Say("The calendar of %s: copy its address now", made)
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	all, err := v.desk.Calendars(v.ctx())
	if err != nil {
		return err
	}
	for _, c := range all {
		if c.Person == v.person.ID || v.person.Supervises() {
			page.Lines = append(page.Lines, calendarLine{ID: c.ID, Person: names[c.Person], By: names[c.By], Made: c.Made})
		}
	}
	if v.person.Supervises() {
		people, err := v.desk.People(v.ctx())
		if err != nil {
			return err
		}
		for _, p := range people {
			if p.Works() {
				page.People = append(page.People, views.Choice{Value: string(p.ID), Text: p.Name})
			}
		}
	}
	return v.show("calendar", page, problems)
}

// openCalendar makes an address and shows it this once: only its digest is kept.
func (s *Server) openCalendar(v *visit) error {
	who := procedures.PersonID(v.typed("person"))
	if who == "" {
		who = v.person.ID
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	token := strings.ToLower(rand.Text())
	if err := v.desk.OpenCalendar(v.ctx(), v.submission(), who, sha256.Sum256([]byte(token)), v.person, v.now); err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.calendarsPage("", "", problems)
	}
	if who == v.person.ID {
		if err := v.keepLanguage(); err != nil {
			return err
		}
	}
	v.Set(fiber.HeaderCacheControl, "no-store")
	return v.calendarsPage(v.BaseURL()+"/calendar/"+token+".ics", names[who], nil)
}

func (s *Server) endCalendar(v *visit) error {
	if err := v.desk.CloseCalendar(v.ctx(), v.typed("calendar"), v.person); err != nil {
		return err
	}
	return v.moveOn("/calendar", "calendar-end")
}

// calendar is what a person has to see to, now and later, as iCalendar. Whoever
// has the address reads it: it names no more than the person's own reminders.
func (s *Server) calendar(v *visit) error {
	person, err := v.desk.CalendarFor(v.ctx(), sha256.Sum256([]byte(v.Params("token"))), v.now)
	if err != nil {
		return err
	}
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	all, err := ahead(v, facts)
	if err != nil {
		return err
	}
	// What is said follows from the record and the time; the stamp is when the
	// record was last added to, so that what has not changed reads the same.
	stamp := facts.LastEntry
	if stamp.IsZero() || stamp.After(v.now) {
		stamp = v.now
	}
	// Whoever fetches it is nobody known, but it is that person's own.
	chosen, _, err := v.desk.Settings(v.ctx(), person.ID)
	if err != nil {
		return err
	}
	f := s.frameOf(chosen, v.mill, v.zone, v.Get(fiber.HeaderAcceptLanguage))
	f.Person = person
	v.Set(fiber.HeaderContentType, "text/calendar; charset=utf-8")
	v.Set(fiber.HeaderCacheControl, "private, no-cache")
	return v.SendString(calendarOf(f, v.mill, all, stamp, v.BaseURL()))
}

// calendarOf writes the reminders that concern the frame's person and have a time
// as events (RFC 5545). Whole days are dates in the mill's zone, times are UTC.
func calendarOf(f *views.Frame, mill checklists.Mill, all []checklists.Reminder, stamp time.Time, base string) string {
	cal := ics.NewCalendar()
	cal.SetProductId("-//Stillsaw//Reminders//" + strings.ToUpper(f.Lang()))
	cal.SetVersion("2.0")
	cal.SetCalscale("GREGORIAN")
	cal.SetXWRCalName(f.T("%[1]s: reminders for %[2]s", mill.Name, f.Person.Name))
	zone := f.Zone
	if zone == nil {
		zone = time.UTC
	}
	for _, r := range all {
		if !r.Concerns(f.Person) || r.Due.IsZero() && r.From.IsZero() {
			continue
		}
		event := cal.AddEvent(calendarID(mill.ID, r))
		event.SetDtStampTime(stamp)
		event.SetSummary(f.Say(r.What))
		event.SetDescription(f.T("As known to Stillsaw %s. Before anything runs, look at Stillsaw and at the machine.", f.Day(stamp)+", "+f.Clock(stamp)))
		event.SetProperty(ics.ComponentPropertyUrl, base+reminderPath(r, f.Person))
		event.SetTimeTransparency(ics.TransparencyTransparent) // it takes up nobody's time
		begin, end := r.From, r.Due
		switch {
		case r.AllDay:
			if end.IsZero() {
				end = begin
			}
			local := end.In(zone)
			day := time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.UTC)
			event.SetAllDayStartAt(day)
			event.SetAllDayEndAt(day.AddDate(0, 0, 1)) // the end is the first day after, 3.6.1
		default:
			if begin.IsZero() || !end.IsZero() && !begin.Before(end) {
				begin = end
			}
			event.SetStartAt(begin)
			if end.After(begin) {
				event.SetEndAt(end)
			}
		}
	}
	return cal.Serialize(ics.WithNewLine("\r\n")) // 3.1, on every system
}

// calendarID is the same for the same reminder of the same mill for ever, and for
// no other: RFC 5545, 3.8.4.7. It tells nothing of what it is of.
func calendarID(mill checklists.MillID, r checklists.Reminder) string {
	return digestOf(string(mill), []checklists.Reminder{r}) + "@stillsaw.invalid"
}
