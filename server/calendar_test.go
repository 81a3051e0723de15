package server

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	ics "github.com/arran4/golang-ical"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// conforms reads a calendar back with a library and holds it against what RFC 5545
// requires of one: 3.1 (lines), 3.6 (PRODID, VERSION), 3.6.1 (events), 3.8.2.2
// (ends), 3.8.4.7 (UID), 3.8.7.2 (DTSTAMP).
func conforms(t *testing.T, text string) []*ics.VEvent {
	t.Helper()
	for _, line := range strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		require.LessOrEqual(t, len(line), 75, "3.1: %s", line)
		require.NotContains(t, line, "\n", "3.1: lines end in CRLF")
	}
	cal, err := ics.ParseCalendar(strings.NewReader(text))
	require.NoError(t, err)
	for name, want := range map[string]string{"PRODID": "-//Stillsaw//Reminders//EN", "VERSION": "2.0"} {
		n := 0
		for _, p := range cal.CalendarProperties {
			if p.IANAToken == name {
				n++
				require.Equal(t, want, p.Value)
			}
		}
		require.Equal(t, 1, n, "3.6: %s once", name)
	}
	seen := map[string]bool{}
	for _, e := range cal.Events() {
		for _, once := range []ics.ComponentProperty{ics.ComponentPropertyUniqueId, ics.ComponentPropertyDtstamp, ics.ComponentPropertyDtStart, ics.ComponentPropertySummary} {
			require.Len(t, e.GetProperties(once), 1, "3.6.1: %s", once)
		}
		require.Empty(t, e.GetProperties("DURATION"), "3.6.1: never with DTEND")
		require.LessOrEqual(t, len(e.GetProperties(ics.ComponentPropertyDtEnd)), 1)
		require.False(t, seen[e.Id()], "3.8.4.7: %s is unique", e.Id())
		seen[e.Id()] = true
		require.Regexp(t, `^\d{8}T\d{6}Z$`, e.GetProperty(ics.ComponentPropertyDtstamp).Value, "3.8.7.2: in UTC")
		start, end := e.GetProperty(ics.ComponentPropertyDtStart), e.GetProperty(ics.ComponentPropertyDtEnd)
		if end != nil {
			require.Equal(t, start.ICalParameters["VALUE"], end.ICalParameters["VALUE"], "3.8.2.2: of one type")
			require.Greater(t, end.Value, start.Value, "3.8.2.2: later than the start")
		}
		form := `^\d{8}T\d{6}Z$`
		if slices.Contains(start.ICalParameters["VALUE"], "DATE") {
			form = `^\d{8}$`
		}
		require.Regexp(t, form, start.Value)
	}
	return cal.Events()
}

func eventSaying(t *testing.T, events []*ics.VEvent, text string) *ics.VEvent {
	t.Helper()
	for _, e := range events {
		if strings.Contains(e.GetProperty(ics.ComponentPropertySummary).Value, text) {
			return e
		}
	}
	require.Fail(t, "no event says "+text)
	return nil
}

func TestCalendarIsReadBackAsItWasMeant(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	stamp := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	f := &views.Frame{Person: procedures.Person{ID: "ada", Name: "Ada; Rook, jr", Role: procedures.Operator}, Zone: zone}
	mill := checklists.Mill{ID: "m", Name: "Fernhollow"}
	odd := "hook: bent, worn; “far” \\ gone\nand a line more, long enough that it has to be folded once or twice on its way — säge"
	all := []checklists.Reminder{
		{Kind: checklists.AboutDefect, Subject: "a", What: plain.Say("%s", odd), Due: time.Date(2026, 3, 9, 3, 30, 0, 0, time.UTC), AllDay: true}, // still the 8th there
		{Kind: checklists.AboutList, Subject: "b", Part: "1", What: plain.Say("shift"), From: time.Date(2026, 3, 8, 6, 30, 0, 0, time.UTC), Due: time.Date(2026, 3, 8, 19, 0, 0, 0, time.UTC)},
		{Kind: checklists.AboutSafety, Subject: "c", What: plain.Say("never")},
		{Kind: checklists.AboutSafety, Subject: "d", What: plain.Say("theirs"), Due: stamp, AllDay: true, Role: procedures.Supervisor},
		{Kind: checklists.AboutList, Subject: "e", What: plain.Say("ends"), Due: stamp},
	}
	events := conforms(t, calendarOf(f, mill, all, stamp, "http://mill.test"))
	require.Len(t, events, 3)
	bent := eventSaying(t, events, "hook")
	require.Equal(t, odd, bent.GetProperty(ics.ComponentPropertySummary).Value)
	require.Equal(t, "20260308", bent.GetProperty(ics.ComponentPropertyDtStart).Value)
	require.Equal(t, "20260309", bent.GetProperty(ics.ComponentPropertyDtEnd).Value)
	shift := eventSaying(t, events, "shift")
	from, err := shift.GetStartAt()
	require.NoError(t, err)
	require.True(t, from.Equal(all[1].From), "over the change of the clock, in UTC")
	until, err := shift.GetEndAt()
	require.NoError(t, err)
	require.True(t, until.Equal(all[1].Due))
	require.Equal(t, "20260303T110000Z", shift.GetProperty(ics.ComponentPropertyDtstamp).Value)
}

var calendarAddress = regexp.MustCompile(`http://mill\.test(/calendar/[a-z0-9]+\.ics)`)

func TestCalendarIsReadByItsAddressUntilThatEnds(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	id := m.stop("bo", "hoist", "hook bent")
	ada := m.as("ada")
	made := ada.post("/calendar", ada.get("/calendar").filled(t, "/calendar"))
	at := calendarAddress.FindStringSubmatch(made.Body)
	require.NotNil(t, at, made.Body)
	require.NotContains(t, ada.get("/calendar").Body, at[1], "shown once")
	reader := m.phone()
	page := reader.get(at[1])
	require.Equal(t, http.StatusOK, page.Status)
	events := conforms(t, page.Body)
	check := eventSaying(t, events, "Pre-shift")
	require.NotContains(t, check.GetProperty(ics.ComponentPropertySummary).Value, "today")
	require.NotContains(t, page.Body, "emergency card", "that is for supervisors")
	require.NotContains(t, page.Body, string(id)+"@", "an id tells nothing")
	ids := func(events []*ics.VEvent) (all []string) {
		for _, e := range events {
			all = append(all, e.Id())
		}
		slices.Sort(all)
		return all
	}
	require.Equal(t, page.Body, reader.get(at[1]).Body, "nothing changed, nothing reads otherwise")
	m.clock.Advance(time.Minute)
	m.stop("bo", "carriage", "rail loose")
	require.Equal(t, ids(events), ids(conforms(t, reader.get(at[1]).Body)), "ids stay")

	require.Equal(t, http.StatusUnprocessableEntity, m.as("bo").post("/calendar", url.Values{"person": {string(m.people["ada"].ID)}, "submission": {"x"}}).Status)
	all, err := m.desk().Calendars(t.Context())
	require.NoError(t, err)
	require.Len(t, all, 1)
	m.as("sam").post("/calendar/end", url.Values{"calendar": {all[0].ID}}).says(t, "has ended")
	require.Equal(t, http.StatusNotFound, reader.get(at[1]).Status)
}
