package server

import (
	"bytes"
	"fmt"
	"html"
	"maps"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// chartAsked is one chart with all that the server's judge needs for its lifts.
type chartAsked struct {
	form  chartForm
	rig   lift.Rig
	units checklists.Units
	facts store.LiftFacts
	now   time.Time
	hoist procedures.EquipmentID
	lands procedures.EquipmentID
}

func (a chartAsked) chart(t *testing.T) *liftChart {
	t.Helper()
	of, problems := a.form.of(&a.rig, measures{units: a.units})
	require.Empty(t, problems)
	of.Now = a.now
	of, err := asItStands(of, a.rig, a.facts)
	require.NoError(t, err)
	f := &views.Frame{Units: a.units, Now: a.now, Mill: "Fernhollow"}
	return chartOf(f, of, "main-hoist", 2)
}

// typed is what somebody enters who lifts such a piece, length and thickness as
// they stand on the chart.
func (a chartAsked) typed(kind, thick string, length int) liftForm {
	unit := " cm"
	if a.units == checklists.InchPound {
		unit = " in"
	}
	size := strconv.Itoa(length) + unit
	f := liftForm{Shape: a.form.Shape, Species: kind, Condition: a.form.Condition, BarkOff: a.form.BarkOff, Length: size,
		Small: thick + unit, Large: thick + unit, Width: thick + unit, Height: thick + unit, Span: a.form.Span,
		Placing: lift.OverBalance.String(), Unreadable: make([]bool, len(a.rig.Links))}
	if grips(&a.rig) {
		less, _ := strconv.Atoi(strings.Fields(a.form.Less)[0])
		f.Span = strconv.Itoa(length-less) + unit
	}
	for range a.rig.Asks() {
		f.Answers = append(f.Answers, lift.Yes.String())
	}
	return f
}

// goes is the server's own answer to a lift as it is typed.
func (a chartAsked) goes(t *testing.T, kind, thick string, length int) bool {
	t.Helper()
	form := a.typed(kind, thick, length)
	l, problems := form.lift(a.rig, measures{units: a.units})
	if len(problems) > 0 {
		return false // the form itself refuses it
	}
	j, err := judge(l, a.facts, a.hoist, a.lands, a.now)
	require.NoError(t, err)
	return j.Verdict.Allowed(!a.form.Unsigned)
}

// disagreements are the printed limits that the judge does not bear out: GO at
// the limit, NO-GO a step beyond.
func (a chartAsked) disagreements(t *testing.T, p printedChart) (wrong []string, limits int) {
	t.Helper()
	check := func(want bool, kind, thick string, length int) {
		limits++
		if length < 1 {
			return // there is no such piece
		}
		if a.goes(t, kind, thick, length) != want {
			wrong = append(wrong, fmt.Sprintf("%s, %s thick, %d long: want GO %v", kind, thick, length, want))
		}
	}
	for kind, row := range p.limits {
		require.Len(t, row, len(p.heads))
		for d, cell := range row {
			if cell == noPiece {
				continue
			}
			least, most, both := strings.Cut(cell, "–")
			if !both {
				least, most = p.shortest[d], cell
			}
			longest, err := strconv.Atoi(most)
			require.NoError(t, err)
			shortest, err := strconv.Atoi(least)
			require.NoError(t, err)
			check(true, kind, p.heads[d], shortest)
			check(true, kind, p.heads[d], longest)
			check(false, kind, p.heads[d], shortest-1)
			check(false, kind, p.heads[d], longest+1)
		}
	}
	return wrong, limits
}

// askedCharts are charts of several rigs and pieces, at a mill where nothing but
// the lift decides.
func askedCharts(t *testing.T, m *testMill) map[string]chartAsked {
	t.Helper()
	const in = float64(plain.Inch)
	facts, err := m.desk().LiftFacts(t.Context(), "main-hoist", m.clock.Now())
	require.NoError(t, err)
	base := chartAsked{form: chartForm{Rig: "main-hoist", Shape: "round", Condition: "green", Less: "2 in"}, rig: testRig(m.clock.Now()),
		units: checklists.InchPound, facts: facts, now: m.clock.Now(), hoist: "hoist", lands: "carriage"}
	variant := func(change func(*chartAsked)) chartAsked {
		a := base
		a.rig.Links = slices.Clone(base.rig.Links)
		change(&a)
		return a
	}
	sling := func(a *chartAsked, hitch lift.Hitch) {
		a.rig.Hitch, a.rig.EndHookBand = hitch, lift.Band{}
		a.rig.Links = slices.DeleteFunc(a.rig.Links, func(l lift.Link) bool { return l.Kind == lift.EndHook })
		for i := range a.rig.Links {
			a.rig.Links[i].ChokerLoad = 600
		}
		a.rig.YokeWidth = 30 * in
		a.form.Less, a.form.Span = "", "44 in"
	}
	all := map[string]chartAsked{
		"end hooks":        base,
		"squared, air-dry": variant(func(a *chartAsked) { a.form.Shape, a.form.Condition = "squared", "air-dry" }),
		"bark off":         variant(func(a *chartAsked) { a.form.BarkOff, a.form.Less = true, "4 in" }),
		"soaked, unsigned": variant(func(a *chartAsked) { a.form.Condition, a.form.Unsigned = "soaked", true }),
		"low roof":         variant(func(a *chartAsked) { a.rig.HookToYoke, a.rig.Headroom = 0.1, 1.1 }), // the shortest differs by the bark
		"bridle":           variant(func(a *chartAsked) { sling(a, lift.TwoLegBridle) }),
		"choker":           variant(func(a *chartAsked) { sling(a, lift.Choker) }),
		"metric":           variant(func(a *chartAsked) { a.units, a.form.Less = checklists.Metric, "5 cm" }),
		"metric sling": variant(func(a *chartAsked) {
			sling(a, lift.Basket)
			a.units, a.form.Span, a.form.Condition = checklists.Metric, "110 cm", "part-dry"
		}),
	}
	nth := 0 // each chart with other kinds: with STILLSAW_LONG two of them with every one
	for _, name := range slices.Sorted(maps.Keys(all)) {
		a, every := all[name], 12
		if os.Getenv("STILLSAW_LONG") != "" {
			every = 6
			if name == "end hooks" || name == "low roof" {
				every = 1
			}
		}
		for i, kind := range lift.AllSpecies() {
			if i%every == nth%every {
				a.form.Kinds = append(a.form.Kinds, kind.Common)
			}
		}
		nth++
		all[name] = a
	}
	return all
}

func TestEveryLimitOnAChartIsGoByTheServersOwnJudgeAndOneStepBeyondIsNot(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("long, and without a race to find")
	}
	m := liftingMill(t)
	for name, a := range askedCharts(t, m) {
		c := a.chart(t)
		require.Empty(t, c.Faults, name)
		want := printed(c)
		wrong, limits := a.disagreements(t, want)
		require.Empty(t, wrong, name)
		require.Greater(t, limits, 200, name)
		for k, row := range c.Rows { // the phone's own form of it says the same
			require.Equal(t, len(row.Lines), len(want.heads)-strings.Count(strings.Join(row.Limits, " ")+" ", noPiece+" "), "%s %d", name, k)
		}

		pages, onSheet, _ := chartOnPaper(t, onPaper(t, c, a.units), want)
		require.Equal(t, 1, pages, name)
		require.Equal(t, want, onSheet, name)
	}
}

// The comparison above is seen to find a chart whose limits are a step too long
// or too short, in a single cell.
func TestALimitThatIsAStepOffIsSeen(t *testing.T) {
	if testing.Short() {
		t.Skip("long, and without a race to find")
	}
	m := liftingMill(t)
	a := askedCharts(t, m)["end hooks"]
	a.form.Kinds = []string{"northern red oak"}
	for _, by := range []int{-1, 1} {
		p := printed(a.chart(t))
		row := slices.Clone(p.limits["northern red oak"])
		n, err := strconv.Atoi(row[3])
		require.NoError(t, err)
		row[3] = strconv.Itoa(n + by)
		p.limits["northern red oak"] = row
		wrong, _ := a.disagreements(t, p)
		require.Len(t, wrong, 1, "longest %+d", by)

		p = printed(a.chart(t))
		p.shortest = slices.Clone(p.shortest)
		n, err = strconv.Atoi(p.shortest[3])
		require.NoError(t, err)
		p.shortest[3] = strconv.Itoa(n + by)
		wrong, _ = a.disagreements(t, p)
		require.NotEmpty(t, wrong, "shortest %+d", by)
	}
}

func TestPageFileAndSheetSayTheSame(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	reader := m.as("rita")
	for _, query := range []string{"", "?kind=white+oak&kind=northern+red+oak&shape=squared&condition=air-dry"} {
		page := reader.get("/lifts/chart" + query)
		require.Equal(t, http.StatusOK, page.Status, page.Body)
		want := chartOnPage(t, page.Body)
		file := reader.get("/lifts/chart/file" + query)
		require.Equal(t, http.StatusOK, file.Status)
		require.Equal(t, want, chartOnPage(t, file.Body))
		sheet := reader.get("/lifts/chart/pdf" + query)
		require.Equal(t, http.StatusOK, sheet.Status)
		pages, onSheet, text := chartOnPaper(t, []byte(sheet.Body), want)
		require.Equal(t, 1, pages)
		require.Equal(t, want, onSheet)
		for _, said := range []string{"Main hoist", "version 2", "Made", "Tue 3 Mar 2026, 6:03 am", "Void after", "Sat 28 Mar 2026, 7:00 am", "DANGER", "WARNING", "NOTICE",
			"shock load", "supervisor signs", "questions at the hook", "place of landing", "Fernhollow", "Lengths stop at",
			"setting third hole, yoke 5 ft, legs 30 in", "hold for the rig as it is set here and for no other setting"} {
			require.Contains(t, breaking(text), breaking(said), "on paper")
			require.Contains(t, breaking(html.UnescapeString(page.Body)), breaking(said), "on the page")
			require.Contains(t, breaking(html.UnescapeString(file.Body)), breaking(said), "in the file")
		}
	}
	all := chartOnPage(t, reader.get("/lifts/chart").Body)
	require.Len(t, all.limits, len(lift.AllSpecies()))
	require.Equal(t, []string{"6", "8", "10", "12", "14", "16", "18", "20", "22", "24", "26", "28", "30"}, all.heads)
}

// A file to keep asks nothing of any server, and has no script.
func TestKeptFileStandsAlone(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	file := m.as("ada").get("/lifts/chart/file")
	assert.NotRegexp(t, `(?i)\s(src|href|action|data-stream)=|<script|<link|url\(|@import|https?://`, file.Body)
	assert.Contains(t, file.Body, "<style>")
	assert.Contains(t, file.Body, "<details")
	assert.NotContains(t, file.Body, "Ada Rook")
	assert.NotContains(t, file.Body, string(m.people["ada"].ID))
	for _, kind := range []string{"file", "pdf"} {
		request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://mill.test/lifts/chart/"+kind, nil)
		require.NoError(t, err)
		ada := m.as("ada")
		for _, cookie := range ada.jar.Cookies(request.URL) {
			request.AddCookie(cookie)
		}
		reply, err := m.server.app.Test(request, 60_000)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		ending := map[string]string{"file": "html", "pdf": "pdf"}[kind]
		assert.Equal(t, `attachment; filename="chart-main-hoist-v2-2026-03-03.`+ending+`"`, reply.Header.Get("Content-Disposition"))
	}
}

func TestRigWithAFaultHasAnEmptyChartAndTheFaultComesFirst(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	r := testRig(m.clock.Now())
	for i := range r.Links {
		r.Links[i].TagReadable = false
	}
	m.useRig(r)
	ada := m.as("ada")
	page := ada.get("/lifts/chart")
	page.says(t, `class="badge no-go"`)
	require.Equal(t, "Chart: no lift may be made with "+r.Name, page.title())
	require.Less(t, strings.Index(page.Body, "tag or marking can&#39;t be read"), strings.Index(page.Body, `href="/lifts/chart/pdf`))
	p := chartOnPage(t, page.Body)
	for kind, row := range p.limits {
		for _, cell := range row {
			require.Equal(t, noPiece, cell, kind)
		}
	}
	pages, onSheet, text := chartOnPaper(t, []byte(ada.get("/lifts/chart/pdf").Body), p)
	require.Equal(t, 1, pages)
	require.Equal(t, p, onSheet)
	require.Contains(t, text, "every lift with it is a NO-GO")
	require.Contains(t, text, "its tag or marking can't be read")

	everything := lift.StarterRig() // nothing of it is known: more faults than a sheet has room for
	everything.ID = "main-hoist"
	m.useRig(everything)
	pages, _, text = chartOnPaper(t, []byte(ada.get("/lifts/chart/pdf").Body), p)
	require.Equal(t, 1, pages)
	require.Regexp(t, `and \d+ more, on the page of the rig`, text)
}

func TestAfterAShockLoadThereIsNoChartToLiftBy(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	reply := ada.post("/lifts/shock-load", url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}, "pin": {testSecrets["ada"]}})
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	page := ada.get("/lifts/chart")
	page.says(t, "A shock load was reported at")
	page.says(t, `class="badge no-go"`)
	for _, row := range chartOnPage(t, page.Body).limits {
		for _, cell := range row {
			require.Equal(t, noPiece, cell)
		}
	}
}

func TestChartCountsWhatIsRegisteredAndWeighed(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	before := chartOnPage(t, ada.get("/lifts/chart").Body)
	kept := ada.post("/lifts/new", typing(redOakCant(), "keep", "yes"))
	id := kept.URL.Path[strings.LastIndex(kept.URL.Path, "/")+1:]
	weigh := ada.post("/lifts/"+id+"/weighed", url.Values{"submission": {store.NewID()}, "scale": {"900 lb"}, "scale-gear": {"20 lb"}, "pin": {testSecrets["ada"]}})
	require.Equal(t, http.StatusOK, weigh.Status, weigh.Body)
	page := ada.get("/lifts/chart")
	page.says(t, "own scale has shown is counted for 1 of the kinds")
	after, shorter := chartOnPage(t, page.Body), 0
	for d := range before.heads {
		was, _ := strconv.Atoi(before.limits["northern red oak"][d])
		is, _ := strconv.Atoi(after.limits["northern red oak"][d])
		require.LessOrEqual(t, is, was)
		if is < was {
			shorter++
		}
	}
	require.Positive(t, shorter)
	facts, err := m.desk().LiftFacts(t.Context(), "main-hoist", m.clock.Now())
	require.NoError(t, err)
	a := askedCharts(t, m)["end hooks"]
	a.facts, a.form.Unsigned = facts, true
	wrong, _ := a.disagreements(t, after)
	require.Empty(t, wrong)
}

func TestAddressOfAChartHoldsAllThatWasChosen(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	page := ada.get("/lifts/chart?shape=squared&condition=part-dry&less=6+in&signed=yes&kind=white+oak&kind=white+ash")
	require.Equal(t, http.StatusOK, page.Status)
	p := chartOnPage(t, page.Body)
	require.Len(t, p.limits, 2)
	require.Len(t, p.heads, 25, "every inch where there are few kinds")
	link := regexp.MustCompile(`href="/lifts/chart/pdf\?([^"]+)"`).FindStringSubmatch(page.Body)
	require.NotNil(t, link)
	query, err := url.ParseQuery(html.UnescapeString(link[1]))
	require.NoError(t, err)
	require.Equal(t, url.Values{"rig": {"main-hoist"}, "shape": {"squared"}, "condition": {"part-dry"}, "less": {"6 in"}, "signed": {"yes"}, "kind": {"white oak", "white ash"}}, query)
	page.says(t, `value="squared" checked`)
	page.says(t, "a supervisor signs, also for lengths printed here")
	ada.get("/lifts/chart").says(t, "Lengths stop at")
	page.says(t, "6 in less apart")
	again := ada.get("/lifts/chart?" + query.Encode())
	require.Equal(t, p, chartOnPage(t, again.Body))
}

func TestChartThatCannotBeMadeSaysWhy(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	for query, field := range map[string]string{"shape=ball": "shape", "shape=slabbed": "shape", "condition=damp": "condition", "condition=measured": "condition",
		"less=x": "less", "less=-2+in": "less", "kind=iron": "kind"} {
		page := ada.get("/lifts/chart?" + query)
		require.Equal(t, http.StatusUnprocessableEntity, page.Status, query)
		assert.Contains(t, page.Body, `href="#f-`+field+`"`, query)
		assert.Contains(t, page.Body, `id="f-`+field+`"`, query)
		assert.NotContains(t, page.Body, `<table class="chart">`, query)
		for _, kind := range []string{"file", "pdf"} {
			require.Equal(t, http.StatusUnprocessableEntity, ada.get("/lifts/chart/"+kind+"?"+query).Status, query)
		}
	}
	require.Equal(t, http.StatusNotFound, ada.get("/lifts/chart?rig=nobody%27s").Status)
	require.Equal(t, http.StatusNotFound, ada.get("/lifts/chart/pdf?rig=nobody%27s").Status)
}

func TestWhereNoRigIsInForceThereIsNoChart(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	assert.Contains(t, m.as("ada").get("/lifts").Body, `href="/lifts/chart"`)
	assets, err := views.NewAssets()
	require.NoError(t, err)
	engine, err := views.NewEngine(assets)
	require.NoError(t, err)
	for name, page := range map[string]any{"chart": chartPage{Frame: &views.Frame{}}, "chart-file": chartPage{Frame: &views.Frame{Alone: true}}} {
		var out bytes.Buffer
		require.NoError(t, engine.Render(&out, name, page), name)
		require.NotContains(t, out.String(), "%!", name)
	}
	var out bytes.Buffer
	require.NoError(t, engine.Render(&out, "chart", chartPage{Frame: &views.Frame{}}))
	require.Contains(t, out.String(), "No rig is in force")
}

// breaking is the text with ordinary spaces for those that don't break, as a sheet
// of paper read back has them.
func breaking(text string) string { return strings.ReplaceAll(text, "\u00a0", " ") }
