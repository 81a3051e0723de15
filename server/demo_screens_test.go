package server_test

import (
	"html"
	"net/http"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/server"
	"stillsaw/server/demo"
	"stillsaw/server/store"
)

// Every screen of the invented mill in the middle of a shift fits a phone and a
// desktop, and the browser has nothing to complain of.
func TestEveryScreenFitsPhoneAndDesk(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and without a race to find")
	}
	t.Parallel()
	s, st, people := demoServer(t)
	screens := screensOf(t, s, st, people[0])
	for _, screen := range screens {
		require.NotEmpty(t, patternOf(everyPage(s), screen.Path), "%s is no page", screen.Path)
	}
	server.LookAtScreens(t, server.NewServerAt(t, s), people[0].Name, people[0].Secret, screens)
}

// screensOf are the screens of the invented mill, as one of its supervisors comes to
// them.
func screensOf(t *testing.T, s *server.Server, st *store.Store, who demo.SignIn) []server.Screen {
	t.Helper()
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	crew, err := st.Of(mill.ID).People(t.Context())
	require.NoError(t, err)
	screens := []server.Screen{
		{Name: "front", Path: "/"}, {Name: "wall", Path: "/?wall"}, {Name: "sign-in", Path: "/sign-in"}, {Name: "sign-out", Path: "/sign-out"},
		{Name: "stop-it", Path: "/stop-it"}, {Name: "emergency", Path: "/help/emergency"}, {Name: "emergency-card", Path: "/help/emergency/card"}, {Name: "emergency-edit", Path: "/help/emergency/edit"},
		{Name: "reminders", Path: "/reminders"}, {Name: "mail", Path: "/mill/mail"}, {Name: "witnesses", Path: "/witnesses"}, {Name: "backups", Path: "/backups"}, {Name: "calendar", Path: "/calendar"}, {Name: "inspection-new", Path: "/inspections/new?list=pre-shift"},
		{Name: "lift-new", Path: "/lifts/new"}, {Name: "lifts", Path: "/lifts"}, {Name: "lockouts", Path: "/lockouts"}, {Name: "lockout-new", Path: "/lockouts/new?procedure=head-saw"},
		{Name: "defects", Path: "/defects"}, {Name: "incidents", Path: "/incidents"}, {Name: "incident-new", Path: "/incidents/new"}, {Name: "trends", Path: "/trends"}, {Name: "departures", Path: "/departures"}, {Name: "departure-new", Path: "/departures/new"},
		{Name: "record", Path: "/record"}, {Name: "record-search", Path: "/record?q=worn"}, {Name: "record-day", Path: "/record?day=2026-05-12"}, {Name: "export", Path: "/export?from=2026-05-12&until=2026-05-12"}, {Name: "compliance", Path: "/compliance"}, {Name: "compliance-year", Path: "/compliance?period=year&by=equipment"}, {Name: "compliance-people", Path: "/compliance?by=person"}, {Name: "compliance-clauses", Path: "/compliance?by=clause"}, {Name: "entry", Path: "/record/12"}, {Name: "verify", Path: "/verify"},
		{Name: "published", Path: "/published"}, {Name: "list", Path: "/lists/pre-shift"}, {Name: "list-edit", Path: "/lists/pre-shift/edit"},
		{Name: "lists", Path: "/lists"}, {Name: "list-new", Path: "/lists/new"}, {Name: "list-import", Path: "/lists/import"}, {Name: "list-item", Path: "/lists/pre-shift/items/S3"}, {Name: "list-preview", Path: "/lists/pre-shift/preview"},
		{Name: "list-compare", Path: "/lists/pre-shift/compare"}, {Name: "list-publish", Path: "/lists/pre-shift/publish"}, {Name: "list-versions", Path: "/lists/pre-shift/versions"},
		{Name: "procedure", Path: "/procedures/head-saw"}, {Name: "placard", Path: "/procedures/head-saw/placard"}, {Name: "procedure-edit", Path: "/procedures/head-saw/edit"},
		{Name: "gear", Path: "/gear"}, {Name: "gear-round", Path: "/gear/main-hoist"}, {Name: "part", Path: "/gear/main-hoist/legs"}, {Name: "part-measure", Path: "/gear/main-hoist/legs?measure=yes"},
		{Name: "chart", Path: "/lifts/chart"}, {Name: "chart-few", Path: "/lifts/chart?kind=white+oak&kind=northern+red+oak"}, {Name: "weighed", Path: "/lifts/weighed"}, {Name: "rig-new", Path: "/rigs/new"}, {Name: "rig", Path: "/rigs/main-hoist"}, {Name: "rig-edit", Path: "/rigs/main-hoist/edit"},
		{Name: "people", Path: "/people"}, {Name: "person-new", Path: "/people/new"}, {Name: "own-pin", Path: "/people/me"}, {Name: "signed-in", Path: "/people/me/phones"}, {Name: "phone", Path: "/phone"}, {Name: "trust", Path: "/trust"}, {Name: "clock", Path: "/clock"}, {Name: "waiting", Path: "/inspections/waiting"}, {Name: "equipment-new", Path: "/equipment/new"}, {Name: "compare", Path: "/verify/compare"}, {Name: "key", Path: "/verify/key"}, {Name: "settings", Path: "/settings"}, {Name: "person", Path: "/people/" + string(crew[0].ID)},
		{Name: "equipment", Path: "/equipment"}, {Name: "machine", Path: "/equipment/head-saw"}, {Name: "machine-edit", Path: "/equipment/head-saw/edit"}, {Name: "machine-energy", Path: "/equipment/head-saw/energy/saw-rotation"}, {Name: "machine-device", Path: "/equipment/head-saw/device/saw-disconnect"},
		{Name: "machine-device-new", Path: "/equipment/head-saw/device/new"}, {Name: "machine-point", Path: "/equipment/head-saw/device/saw-disconnect/point"}, {Name: "machine-coast", Path: "/equipment/head-saw/coast"}, {Name: "machine-affected", Path: "/equipment/head-saw/affected"}, {Name: "carriage", Path: "/equipment/carriage"}, {Name: "shock-load", Path: "/lifts/shock-load"}, {Name: "mill", Path: "/mill"},
		{Name: "due", Path: "/due"}, {Name: "due-happened", Path: "/due/happened"}, {Name: "due-starters", Path: "/due/starters"},
	}
	screens = append(screens, []server.Screen{
		{Name: "program", Path: "/program"}, {Name: "program-edit", Path: "/program/edit"}, {Name: "training", Path: "/training"}, {Name: "training-new", Path: "/training/new"},
		{Name: "training-whole", Path: "/training/new?next=yes&level=authorized&procedure=hoist"}, {Name: "training-of", Path: "/people/" + string(crew[0].ID) + "/training"},
		{Name: "locks", Path: "/locks"}, {Name: "registers", Path: "/registers"}, {Name: "roles", Path: "/people/roles"}, {Name: "tokens", Path: "/mill/tokens"}, {Name: "retention", Path: "/retention"}, {Name: "retention-drop", Path: "/retention/drop?seq=12"}, {Name: "api", Path: "/api"}, {Name: "blades", Path: "/blades"}, {Name: "blade-new", Path: "/blades/new"}, {Name: "safety-new", Path: "/safety/new"}, {Name: "lock-new", Path: "/locks/new"}, {Name: "contractors", Path: "/contractors"}, {Name: "contractor-new", Path: "/contractors/new"},
		{Name: "procedure-new", Path: "/procedures/new?equipment=hoist"}, {Name: "procedure-hoist-edit", Path: "/procedures/hoist/edit"}, {Name: "procedure-compare", Path: "/procedures/hoist/compare"}, {Name: "procedure-publish", Path: "/procedures/hoist/publish"},
		{Name: "tasks", Path: "/tasks"}, {Name: "task-new", Path: "/tasks/new"}, {Name: "task", Path: "/tasks/saw"},
		{Name: "procedure-inspect", Path: "/procedures/head-rig/inspections/new"},
	}...)
	for _, f := range []struct {
		name, kind, place string
	}{{"inspection", store.KindInspection, "/inspections/"}, {"lift", store.KindLift, "/lifts/"}, {"lockout", store.KindLockout, "/lockouts/"},
		{"defect", store.KindDefect, "/defects/"}, {"departure", store.KindDeparture, "/departures/"}, {"incident", store.KindIncident, "/incidents/"}, {"defect-given", store.KindDefectAssigned, "/defects/"}, {"certificate", store.KindProcedureInspected, "/procedure-inspections/"}, {"blade", store.KindBladeAct, "/blades/"}, {"safety", store.KindSafetyCheck, "/safety/"}} {
		entries, _, err := st.Of(mill.ID).Entries(t.Context(), store.Filter{Kind: f.kind, Limit: 1})
		require.NoError(t, err)
		require.NotEmpty(t, entries, f.kind)
		screens = append(screens, server.Screen{Name: f.name, Path: f.place + entries[0].Subject})
		if f.kind == store.KindBladeAct || f.kind == store.KindSafetyCheck {
			screens = append(screens, server.Screen{Name: f.name + "-edit", Path: f.place + entries[0].Subject + "/edit"})
		}
		if f.kind == store.KindLift {
			screens = append(screens, server.Screen{Name: "lift-run", Path: f.place + entries[0].Subject + "/run"})
		}
	}
	c := signedIn(t, s, st, who)
	for _, f := range []struct{ name, on, page string }{{"due-excuse", "/due", "/due/excuse"}, {"lock", "/locks", "/locks/edit"}, {"contractor", "/contractors", "/contractors/"}} {
		_, body := c.ask(f.on, nil)
		link := regexp.MustCompile(`href="(`+f.page+`[^"]+)"`).FindAllStringSubmatch(body, -1)
		require.NotEmpty(t, link, f.on)
		screens = append(screens, server.Screen{Name: f.name, Path: html.UnescapeString(link[len(link)-1][1])})
	}
	return screens
}

// Every form of the invented mill, shown again with what is to be put right.
func TestEveryFormShownAgainIsFitForAll(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and without a race to find")
	}
	t.Parallel()
	s, st, people := demoServer(t)
	server.LookAtForms(t, server.NewServerAt(t, s), people[0].Name, people[0].Secret, screensOf(t, s, st, people[0]))
}

// Every page there is an address of is looked at, here or where it says.
func TestEveryAddressIsLookedAt(t *testing.T) {
	t.Parallel()
	s, st, people := demoServer(t)
	looked := map[string]bool{}
	for _, screen := range screensOf(t, s, st, people[0]) {
		looked[patternOf(everyPage(s), screen.Path)] = true
	}
	for _, pattern := range everyPage(s) {
		why, elsewhere := lookedAtElsewhere()[pattern]
		require.NotEqual(t, looked[pattern], elsewhere, "%s is to be looked at by TestEveryScreenFitsPhoneAndDesk, or not (%s)", pattern, why)
	}
}

// everyPage are the addresses that show something.
func everyPage(s *server.Server) (all []string) {
	for _, route := range server.RoutesOf(s) {
		if route.Method == http.MethodGet && !route.Leads {
			all = append(all, route.Path)
		}
	}
	return append(all, "/trust")
}

// lookedAtElsewhere are the addresses that are no page, and those of pages a test
// beside TestEveryScreenFitsPhoneAndDesk looks at.
func lookedAtElsewhere() map[string]string {
	return map[string]string{
		"/calendar/:token.ics": "for calendar programs", "/checkpoint": "for programs", "/checkpoint/consistency": "for programs", "/record/:seq/proof": "a file",
		"/help/emergency/file": "a file: the card of /help/emergency/card", "/help/emergency/pdf": "paper", "/export.pdf": "paper", "/export.csv": "a file", "/export.json": "a file", "/export.zip": "a file",
		"/export/verify.html": "a file, looked at by TestTheCheckPage", "/lifts/chart/file": "a file: the chart of /lifts/chart", "/lifts/chart/pdf": "paper", "/lists/schema.json": "a file", "/lists/:id/export": "a file",
		"/photos/:digest": "a picture", "/inspections/:id/set-aside": "a form of the parts of /due/excuse; nothing waits unsigned in the invented mill", "/procedures/:id/placard.pdf": "paper", "/procedures/:id/tags.pdf": "paper", "/rigs/:id/file": "a file", "/witnesses/logs/checkpoint": "a file",
	}
}
