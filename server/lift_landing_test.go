package server

import (
	"encoding/json"
	"html"
	"math"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

const testInch = float64(plain.Inch)

// track puts headblocks on the mill's carriage, inches from the zero mark.
func (m *testMill) track(mark float64, blocks ...float64) {
	m.t.Helper()
	plant := m.plant()
	for i := range plant {
		if plant[i].ID == "carriage" {
			plant[i].LandingMark = mark * testInch
			for _, at := range blocks {
				plant[i].Headblocks = append(plant[i].Headblocks, at*testInch)
			}
		}
	}
	require.NoError(m.t, m.desk().ChangePlant(m.t.Context(), store.NewID(), plant, m.people["sam"], m.clock.Now()))
}

// The squared piece is 90 in long and balances at 45 in; its middle comes over 60 in,
// so that it lies from 15 in to 105 in. On headblocks at 30 in and 80 in it hangs
// over by 15 in and 25 in, and by moments the first bears (80−60)/50 = 40 %.
func TestLandingSaysWhatThePieceBearsOn(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	m.track(60, 30, 80, 120)
	form := typing(redOakCant(), "shape", "squared", "width", "12", "height", "12")
	reply := m.as("ada").post("/lifts/new", form)
	reply.says(t, "It rests on 2 headblocks.")
	reply.says(t, "3 ft 9 in from either end")
	reply.says(t, "It hangs over by 15 in at the small end and 25 in at the large end")
	reply.says(t, "Headblock 1 bears 40 % of the weight")
	reply.says(t, "Headblock 2 bears 60 % of the weight")
	assert.NotContains(t, reply.Body, "Headblock 3")

	kept := m.as("ada").post("/lifts/new", typing(form, "keep", "yes", "submission", store.NewID()))
	m.track(60) // whatever stands there later, the kept lift says what stood there then
	m.as("rita").get(kept.URL.Path).says(t, "bears 40 % of the weight")

	tips := liftingMill(t)
	tips.track(60, 70, 100)
	tips.as("ada").post("/lifts/new", form).says(t, "it would tip when the hooks come off")
	beside := liftingMill(t)
	beside.track(60, 30, 80)
	assert.NotContains(t, beside.as("ada").post("/lifts/new", typing(form, "lands", "dust-collection")).Body, "Set down on the carriage")
}

func TestWithoutHeadblocksTheLandingStillHasItsMark(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	reply := m.as("ada").post("/lifts/new", redOakCant())
	reply.says(t, "Chalk the half-length mark 3 ft 9 in from either end")
	assert.NotContains(t, reply.Body, "/equipment/carriage/edit", "only a supervisor can enter them")
	m.as("sam").post("/lifts/new", redOakCant()).says(t, `href="/equipment/carriage/edit"`)
}

func TestHeadblocksAreEnteredAtTheCarriage(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	page := sam.get("/equipment/carriage/edit")
	page.says(t, `name="headblocks"`)
	assert.NotContains(t, sam.get("/equipment/hoist/edit").Body, `name="headblocks"`)
	form := func(blocks, mark string) url.Values {
		return with(page.filled(t, "/equipment/carriage/edit"), "headblocks", blocks, "landing_mark", mark, "pin", testSecrets["sam"], "submission", store.NewID())
	}
	for typed, mark := range map[string]string{"1 ft, five ft": "3 ft", "-1 ft": "3 ft", "1 ft, 1 ft": "3 ft", "200 ft": "3 ft", "1 ft": ""} {
		m.storesNothing(func() {
			reply := sam.post("/equipment/carriage/edit", form(typed, mark))
			require.Equal(t, 422, reply.Status, typed)
			assert.Contains(t, reply.Body, `name="headblocks" value="`+html.EscapeString(typed)+`"`)
		})
	}
	require.Equal(t, "/equipment/carriage", sam.post("/equipment/carriage/edit", form("5 ft, 1 ft 6 in, 96", "4 ft")).URL.Path)
	carriage, _ := m.plant().Find("carriage")
	require.Len(t, carriage.Headblocks, 3)
	for i, inches := range []float64{18, 60, 96} {
		require.InDelta(t, inches*testInch, carriage.Headblocks[i], 1e-12)
	}
	require.InDelta(t, 48*testInch, carriage.LandingMark, 1e-12)
	// Shown set off by semicolons, which no locale takes for a decimal mark; sent
	// again as shown, they are the same.
	page = sam.get("/equipment/carriage/edit")
	page.says(t, `name="headblocks" value="18 in; 60 in; 96 in"`)
	again := with(page.filled(t, "/equipment/carriage/edit"), "name", "Log carriage", "pin", testSecrets["sam"])
	require.Equal(t, "/equipment/carriage", sam.post("/equipment/carriage/edit", again).URL.Path)
	same, _ := m.plant().Find("carriage")
	require.Equal(t, "Log carriage", same.Name)
	require.Equal(t, carriage.Headblocks, same.Headblocks)
	require.InDelta(t, carriage.LandingMark, same.LandingMark, 1e-12)
}

func TestYokeWindowOnTheAnswerIsTheRulesOwn(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	r := testRig(m.clock.Now())
	r.HookToYoke, r.Headroom = 12*testInch, 90*testInch
	m.useRig(r)
	reply := m.as("ada").post("/lifts/new", typing(redOakCant(), "rig-version", "3"))
	l := domainCant(t, m)
	l.Rig = r
	w := lift.Window(l)
	require.True(t, w.Open)
	f := &views.Frame{Units: checklists.InchPound}
	bar := rangesOf(f, "", w.Legs, r.LegLength)
	require.NotEmpty(t, bar.Ranges)
	for _, one := range append(bar.Ranges, rangesOf(f, "", w.Yoke, r.YokeWidth).Ranges...) {
		reply.says(t, one)
	}

	r.Settings = []lift.Setting{{Name: "third hole", YokeWidth: 60 * testInch, LegLength: 30 * testInch}, {Name: "widest", YokeWidth: 96 * testInch, LegLength: 30 * testInch}}
	m.useRig(r)
	form := typing(redOakCant(), "rig-version", "4", "setting", r.Setting)
	require.NotRegexp(t, `name="setting"[^>]* checked`, m.as("ada").get("/lifts/new?setting=third+hole").Body, "it is what somebody sees, not what is entered")
	unsaid := m.as("ada").post("/lifts/new", typing(form, "setting", ""))
	unsaid.says(t, `class="badge no-go"`)
	unsaid.says(t, "how the yoke is set is not said")
	reply = m.as("ada").post("/lifts/new", form)
	l.Rig = r
	w = lift.Window(l)
	require.True(t, w.Fits[0].Fits && !w.Fits[1].Fits)
	reply.says(t, "third hole: fits")
	reply.says(t, f.T("needs %s from the hoist hook down", w.Fits[0].Needed))
	reply.says(t, "widest: does not fit")
	reply.says(t, html.EscapeString(f.Say(w.Fits[1].Why[0].Said)))
	kept := m.as("ada").post("/lifts/new", typing(form, "keep", "yes"))
	kept.says(t, "widest: does not fit")
}

// Whatever the rounding shows can be set: it is rounded inward.
func TestShownRangesLieWithinWhatFits(t *testing.T) {
	for _, units := range []checklists.Units{checklists.InchPound, checklists.Metric} {
		f := &views.Frame{Units: units}
		bar := rangesOf(f, "", []lift.Range{{From: 1.0001, To: 1.4999}, {From: 2.0001, To: 2.0002}}, 1.2)
		require.Len(t, bar.Ranges, 1, "a sliver can't be set by hand")
	}
}

// A lift kept before these fields were there is shown, with what can be said of it.
func TestLiftKeptBeforeHeadblocksAndHeadroomIsShown(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	kept, err := m.desk().Lifts(t.Context(), 1)
	require.NoError(t, err)
	var asked map[string]any
	require.NoError(t, json.Unmarshal(kept[0].Asked, &asked))
	for _, field := range []string{"carriage", "headblocks", "landing_mark"} {
		delete(asked, field)
	}
	rig := asked["rig"].(map[string]any)
	for _, field := range []string{"SecondLeg", "Headroom", "HookToYoke", "Clearance", "Settings"} {
		delete(rig, field)
	}
	old, err := json.Marshal(asked)
	require.NoError(t, err)
	kept[0].Asked = old
	j, err := readLift(kept[0])
	require.NoError(t, err)
	a := answerTo(&views.Frame{Units: checklists.InchPound}, &j, "")
	require.Nil(t, a.Landing)
	require.True(t, a.Window.Open)
	require.NotEmpty(t, at)
}

func TestFindingsAreWorstFirst(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	reply := m.as("ada").post("/lifts/new", typing(redOakCant(), "extra", "2300 lb", "seated", "no"))
	l := domainCant(t, m)
	l.Piece.Extra, l.Questions.Seated = 2300*float64(plain.Pound), lift.No
	v := lift.Check(l)
	f := &views.Frame{Units: checklists.InchPound}
	last, ratios := 0, 0
	for _, one := range v.Findings {
		place := strings.Index(reply.Body, html.EscapeString(f.Say(one.Said)))
		require.Greater(t, place, last, one.Said)
		last = place
		if one.Load > 0 && one.Limit > 0 && !math.IsInf(one.Ratio, 0) {
			reply.says(t, html.EscapeString(figures(f, &one)))
			assert.Contains(t, figures(f, &one), f.T("%s", plain.Fraction(one.Ratio)))
			ratios++
		}
	}
	require.Positive(t, ratios)
	sorted := []findingLine{{Blocks: false, ratio: 0.9}, {Blocks: true, ratio: 0}, {Blocks: true, ratio: 1.4}}
	require.Negative(t, worseFirst(sorted[2], sorted[1]))
	require.Negative(t, worseFirst(sorted[1], sorted[0]))
}

// distance of the ends of a stroke.
func drawn(s stroke) float64 { return math.Hypot(float64(s.X2-s.X1), float64(s.Y2-s.Y1)) }

var turned = regexp.MustCompile(`^translate\(0 (-?[\d.]+)\) rotate\((-?[\d.]+) ([\d.]+) ([\d.]+)\)$`)

func TestDrawingHangsThePieceAsItComesToRest(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	f := &views.Frame{Units: checklists.InchPound}
	for name, change := range map[string]func(*lift.Lift){
		"level":          func(l *lift.Lift) { l.Piece.Large = l.Piece.Small },
		"off centre":     func(l *lift.Lift) { l.Piece.Balance = 47.5 * testInch },
		"the other way":  func(l *lift.Lift) { l.Piece.Balance = 43.2 * testInch },
		"unequal legs":   func(l *lift.Lift) { l.Rig.SecondLeg = 31 * testInch },
		"under no yoke":  func(l *lift.Lift) { l.Rig.YokeWidth, l.Rig.LegLength, l.Piece.Balance = 0, 60*testInch, 47*testInch },
		"with a low eye": func(l *lift.Lift) { l.Rig.HookToYoke, l.Piece.Balance = 14*testInch, 47*testInch },
	} {
		l := domainCant(t, m)
		change(&l)
		v := lift.Check(l)
		require.Positive(t, v.Height, name)
		d := drawLift(f, &l, &v)
		require.Len(t, d.Legs, 2, name)
		hooks := math.Hypot(float64(d.Points[1].X-d.Points[0].X), float64(d.Points[1].Y-d.Points[0].Y))
		scale := hooks / l.Span
		second := l.Rig.SecondLeg
		if second == 0 {
			second = l.Rig.LegLength
		}
		require.InDelta(t, l.Rig.LegLength, drawn(d.Legs[0])/scale, 0.001, name)
		require.InDelta(t, second, drawn(d.Legs[1])/scale, 0.001, name)
		if l.Rig.YokeWidth > 0 {
			require.InDelta(t, l.Rig.YokeWidth, drawn(*d.Yoke)/scale, 0.001, name)
		}
		tilt := math.Atan2(float64(d.Points[1].Y-d.Points[0].Y), float64(d.Points[1].X-d.Points[0].X)) * 180 / math.Pi
		if name == "level" {
			require.Empty(t, d.Turn)
			require.InDelta(t, 0, tilt, 1e-6)
			continue
		}
		require.InDelta(t, float64(d.Tilted), math.Abs(tilt), 1e-6, name)
		require.LessOrEqual(t, float64(d.Tilted), float64(v.Tilt)+1e-9, name)
		found := turned.FindStringSubmatch(d.Turn)
		require.NotNil(t, found, "%s: %q", name, d.Turn)
		by, err := strconv.ParseFloat(found[2], 64)
		require.NoError(t, err)
		require.InDelta(t, tilt, by, 0.06, "%s: piece and hook points turn alike", name)
		// A point under the hoist hook: the balance point on the line of the hook points.
		share := float64(v.Balance-v.FirstHook) / l.Span
		over := float64(d.Points[0].X) + share*float64(d.Points[1].X-d.Points[0].X)
		require.InDelta(t, float64(d.Rope.X2), over, 0.01, "%s: plumb under the hoist hook", name)
	}
}
