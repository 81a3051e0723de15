package server

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func TestCalendarOpensEachCheckInOneTap(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.preShift("ada", nil, everyMachine...)
	rita := m.as("rita")
	page := rita.get("/compliance")
	require.Equal(t, http.StatusOK, page.Status)
	signed, _, _, err := m.desk().InspectionPage(t.Context(), "pre-shift", 0, 1)
	require.NoError(t, err)
	require.NotEmpty(t, signed)
	mark := `href="/inspections/` + string(signed[0].ID) + `"`
	page.says(t, mark)
	page.says(t, "Pre-shift check")
	require.NotContains(t, page.Body, "%!")
	require.NotContains(t, page.Body, "score")
	for _, address := range []string{"/compliance?period=quarter", "/compliance?by=equipment", "/record"} {
		assert.Contains(t, rita.get(address).Body, mark, address)
	}
	assert.Contains(t, rita.get("/compliance?period=year").Body, `href="/compliance?by=list&amp;from=`, "a month of the year opens that month")
	rita.get("/compliance?by=person").says(t, m.people["ada"].Name)
	clauses := rita.get("/compliance?by=clause")
	require.Equal(t, http.StatusOK, clauses.Status)
	clauses.says(t, "29 CFR 1910.265(e)(1)")
	assert.Contains(t, clauses.Body, mark, "the evidence opens the check")
	clauses.says(t, "No list in force asks for this, and no register answers it.")
	require.Less(t, strings.Index(clauses.Body, "No list in force asks"), strings.Index(clauses.Body, "No gap"), "gaps first")
	require.Equal(t, http.StatusOK, rita.get("/compliance?period=century&by=moon").Status)
	for _, odd := range []string{"?from=yesterday", "?from=9999-12-31", "?from=0001-01-01&period=year", "?by=clause&from=2026-02-30"} {
		require.Equal(t, http.StatusUnprocessableEntity, rita.get("/compliance"+odd).Status, odd)
	}
	m.phone().get("/compliance").says(t, "Sign in")
}

// The period is a whole month, quarter or year of the mill's own calendar.
func TestPeriodOfTheCalendarIsWhole(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	for period, want := range map[string][2]string{"month": {"2026-11-01", "2026-12-01"}, "quarter": {"2026-10-01", "2027-01-01"}, "year": {"2026-01-01", "2027-01-01"}} {
		p := wholePeriod(period, "list", time.Date(2026, 11, 26, 23, 0, 0, 0, zone))
		assert.Equal(t, want, [2]string{p.from.Format(time.DateOnly), p.until().Format(time.DateOnly)}, period)
		assert.Zero(t, p.from.Hour(), "over the change of the clock on 1 November")
	}
}

func TestCompliancePageRendersEmptyAndFull(t *testing.T) {
	s, _, _ := newServer(t, "")
	engine, err := views.NewEngine(s.assets)
	require.NoError(t, err)
	f := &views.Frame{}
	day := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	mark := gridMark{Href: "/record?day=2026-03-02", Letter: "M", Stands: "missed", Label: "A list, Mon 2 Mar: missed"}
	grid := checkGrid{Frame: f, Title: "March", Corner: "What", Class: "days", Heads: []gridHead{{Text: "2", Under: "Mon", Full: "Mon 2 Mar", Today: true}},
		Rows: []gridRow{{Title: "A list", Href: "/lists/a", Words: plain.Say("%d missed", 1), Cells: []gridCell{{Stands: "missed", On: "2", Start: 1, Marks: []gridMark{mark, {Letter: "C", Stands: "closed"}}}}}, {Title: "B", Quiet: true}}}
	for name, page := range map[string]compliancePage{
		"empty": {Frame: f},
		"calendar": {Frame: f, Grids: []checkGrid{grid}, Legend: legend(f), Gaps: []undoneLine{{"/record", plain.Say("missed")}}, MoreGaps: 3,
			Periods: []switchLink{{"/compliance", "Month", true}}, Sorts: []switchLink{{"/compliance", "Lists", true}}, Earlier: switchLink{Href: "/compliance?from=2026-02-01", Text: "February"},
			People: []signerLine{{Name: "Ben", Href: "/people/ben", Lapsed: []lapseLine{{plain.Say("qualified for lifting gear"), day}}}}},
		"clauses": {Frame: f, AsOf: day, Whole: []clauseCard{{Clause: "NFPA 664", NotYet: true, First: true, Due: day}}, Clauses: []clauseCard{
			{Clause: "29 CFR 1910.184(d)", Gaps: []clauseGapLine{{plain.Say("missed"), "Ben", "/due"}}, Evidence: []evidenceLine{{Href: "/due", What: plain.Say("missed")}, {Href: "/procedures/p", InForce: true}}, Due: day, Over: true},
			{Clause: "29 CFR 1910.151(c)", NotHere: plain.Say("No procedure is in force.")}, {Clause: "29 CFR 1910.95", Due: day}}},
	} {
		var out strings.Builder
		require.NoError(t, engine.Render(&out, "compliance", page), name)
		require.NotContains(t, out.String(), "%!", name)
	}
}
