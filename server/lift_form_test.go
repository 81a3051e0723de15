package server

import (
	"fmt"
	"html"
	"math"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/views"
)

// oakLog is a log of which everything the form knows is typed.
func oakLog(pairs ...string) url.Values {
	return typing(typing(redOakCant(), "shape", "round", "slab-1", "", "slab-2", "", "girths", "tape", "small", "56 in", "middle", "57 in", "large", "60",
		"heart-share", "40 %", "density", "60 lb/ft3", "ice", "1/4 in", "ice-area", "12", "snow", "3", "snow-area", "8.5", "snow-kind", "settled", "wet", "yes", "extra", "15", "balance", "46"), pairs...)
}

func typedIn(t *testing.T, form url.Values, units checklists.Units) lift.Piece {
	t.Helper()
	rig := lift.StarterRig()
	typed := typedLift(form.Get, &rig)
	l, problems := typed.lift(rig, measures{units: units})
	require.Empty(t, problems)
	return l.Piece
}

// Units are exact by definition (international yard and pound, 1959): 1 lb/ft³
// is 0.45359237/0.3048³ kg/m³. A girth is π diameters.
func TestEveryFieldOfTheFormReachesTheRules(t *testing.T) {
	const in, lb, ft = 0.0254, 0.45359237, 0.3048
	p := typedIn(t, oakLog(), checklists.InchPound)
	for name, pair := range map[string][2]float64{
		"small": {56 * in / math.Pi, p.Small}, "middle": {57 * in / math.Pi, p.Middle}, "large": {60 * in / math.Pi, p.Large}, "heart": {0.4, p.HeartShare},
		"density": {60 * lb / (ft * ft * ft), p.Density}, "ice": {in / 4, p.Weather.Ice}, "ice area": {12 * ft * ft, p.Weather.IceArea},
		"snow": {3 * in, p.Weather.Snow}, "snow area": {8.5 * ft * ft, p.Weather.SnowArea}, "extra": {15 * lb, p.Extra}, "balance": {46 * in, p.Balance},
	} {
		assert.InDelta(t, pair[0], pair[1], 1e-9, name)
	}
	assert.True(t, p.Girths && p.HeartKnown && p.Weather.Wet)
	assert.Equal(t, lift.SettledSnow, p.Weather.SnowKind)

	metric := typedIn(t, oakLog("density", "880", "ice", "6", "snow", "75", "ice-area", "1.2", "small", "1420", "middle", "1450", "large", "1500", "balance", "1170"), checklists.Metric)
	assert.InDelta(t, 880, metric.Density, 1e-9)
	assert.InDelta(t, 0.006, metric.Weather.Ice, 1e-12)
	assert.InDelta(t, 1.2, metric.Weather.IceArea, 1e-12)

	across := typedIn(t, oakLog("girths", "across", "small", "17 in", "middle", "17.5 in", "large", "18 in"), checklists.InchPound)
	assert.InDelta(t, 17*in, across.Small, 1e-12)
	assert.False(t, across.Girths)

	alone := typedIn(t, oakLog("girths", "", "small", "", "middle", "17.5 in", "large", ""), checklists.InchPound)
	assert.Equal(t, [2]float64{}, [2]float64{alone.Small, alone.Large}, "with the middle the ends may be left empty")
	assert.InDelta(t, 17.5*in, alone.Middle, 1e-12)

	soaked := typedIn(t, oakLog("condition", "soaked", "density", "", "heart-share", ""), checklists.InchPound)
	assert.Equal(t, lift.Soaked, soaked.Condition)
	assert.False(t, soaked.HeartKnown, "left empty is not known")

	weighed := typedIn(t, oakLog("condition", "", "species", unknownSpecies), checklists.InchPound)
	assert.InDelta(t, 60*lb/(ft*ft*ft), weighed.Density, 1e-9, "a density that was weighed needs no wetness")
}

// Seen to fail while a moisture chosen beside a density was not asked for.
func TestAMoistureChosenBesideADensityIsAskedForAndLookedAt(t *testing.T) {
	rig := lift.StarterRig()
	for _, typed := range []string{"", "0.8", "-99", "NaN"} {
		f := typedLift(oakLog("condition", "measured", "moisture", typed).Get, &rig)
		_, problems := f.lift(rig, measures{units: checklists.InchPound})
		assert.NotNil(t, problems.For("moisture"), "%q", typed)
	}
	p := typedIn(t, oakLog("condition", "measured", "moisture", "80"), checklists.InchPound)
	assert.InDelta(t, 0.8, p.Moisture, 1e-12)
}

// What belongs to another shape may still stand in the form, and counts nowhere.
func TestFieldsOfAnotherShapeAreNotRead(t *testing.T) {
	cant := typedIn(t, typing(redOakCant(), "middle", "nonsense", "width", "x", "girths", "across"), checklists.InchPound)
	assert.Zero(t, cant.Middle)
	squared := typedIn(t, typing(redOakCant(), "shape", "squared", "width", "12 in", "height", "10 in", "small", "x", "middle", "x", "girths", "perhaps"), checklists.InchPound)
	assert.Zero(t, squared.Small)
	assert.False(t, squared.Girths)
}

func TestEachRareFieldRefusesNonsenseAtItsFieldAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	for _, tc := range []struct{ field, typed string }{
		{"girths", "perhaps"},
		{"middle", "thick"}, {"middle", "-3 in"}, {"middle", "0 in"}, {"middle", "300 in"}, {"middle", "9 lb"}, {"middle", "1"}, {"middle", "NaN"},
		{"small", "300 in"}, {"large", "300 in"},
		{"heart-share", "much"}, {"heart-share", "-5"}, {"heart-share", "101"}, {"heart-share", "40 in"}, {"heart-share", "1e1"}, {"heart-share", "%"},
		{"density", "heavy"}, {"density", "0"}, {"density", "5"}, {"density", "200"}, {"density", "55 lb"}, {"density", "-55"}, {"density", "Inf"},
		{"ice", "thin"}, {"ice", "-1 in"}, {"ice", "7 in"}, {"ice", "2 kg"}, {"ice", "0.1"},
		{"snow", "deep"}, {"snow", "-1 in"}, {"snow", "41 in"}, {"snow", "9 lb"}, {"snow", "1"},
		{"ice-area", "all"}, {"ice-area", "12 ft²"}, {"ice-area", "-1"}, {"ice-area", "500"}, {"snow-area", "top"}, {"snow-area", "431"},
		{"snow-kind", "yellow"}, {"condition", "dripping"}, {"extra", "9 in"},
	} {
		form := oakLog("small", "56 in", "middle", "57 in", "large", "60 in")
		form.Set(tc.field, tc.typed)
		m.storesNothing(func() {
			reply := ada.post("/lifts/new", typing(form, "keep", "yes"))
			about := fmt.Sprintf("%s=%q", tc.field, tc.typed)
			require.Equal(t, 422, reply.Status, about)
			assert.Contains(t, reply.Body, `href="#f-`+tc.field+`"`, about)
			assert.Contains(t, reply.Body, `id="f-`+tc.field+`"`, about)
			assert.NotContains(t, withContact(t, reply.Body), `class="badge`, about)
			for _, kept := range []string{"length", "small", "middle", "large", "heart-share", "density", "ice", "ice-area", "snow", "snow-area", "extra", "balance"} {
				assert.Contains(t, reply.Body, `name="`+kept+`" value="`+html.EscapeString(form.Get(kept))+`"`, about+" loses "+kept)
			}
			if tc.field != "snow-kind" {
				assert.Contains(t, reply.Body, `name="snow-kind" value="settled" checked`, about)
			}
			assert.Contains(t, reply.Body, `name="wet" value="yes" checked`, about)
		})
	}
	one := ada.post("/lifts/new", oakLog("large", ""))
	assert.Contains(t, one.Body, `href="#f-large"`, "one end alone is not enough")
	area := ada.post("/lifts/new", oakLog("shape", "measured", "volume", "12", "snow-area", ""))
	assert.Contains(t, area.Body, `href="#f-snow-area"`, "a volume tells no area")
	cold := ada.post("/lifts/new", oakLog("shape", "slabbed", "slab-1", "3", "small", "56 in", "large", "300 in"))
	assert.Contains(t, cold.Body, "round", "a girth that is too large is told as a girth")
}

func TestRareFieldsAreOpenWhenFilledOrWrong(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	opened := func(body string) (wood, onIt bool) {
		parts := strings.Split(body, `<details class="more-of"`)
		require.GreaterOrEqual(t, len(parts), 3)
		return strings.HasPrefix(parts[1], " open"), strings.HasPrefix(parts[2], " open")
	}
	for _, tc := range []struct {
		field, typed string
		wood, onIt   bool
	}{
		{"small", "18", false, false}, {"heart-share", "40", true, false}, {"density", "x", true, false}, {"ice", "1/4", false, true}, {"snow", "3", false, true},
		{"wet", "yes", false, true}, {"extra", "x", false, true}, {"balance", "46", false, true}, {"snow-kind", "late", false, true}, {"ice-area", "-", false, true},
	} {
		wood, onIt := opened(ada.post("/lifts/new", typing(redOakCant(), tc.field, tc.typed)).Body)
		assert.Equal(t, [2]bool{tc.wood, tc.onIt}, [2]bool{wood, onIt}, tc.field)
	}
	wood, onIt := opened(ada.get("/lifts/new").Body)
	assert.Equal(t, [2]bool{}, [2]bool{wood, onIt}, "the usual cant is quick")
}

// The form filled in again is the same piece, to the ten-thousandth it is
// typed to.
func TestLastPieceAgainIsTheSamePiece(t *testing.T) {
	forms := map[string]url.Values{
		"cant": redOakCant(), "all of a log": oakLog(), "middle alone": oakLog("small", "", "large", ""), "soaked": typing(redOakCant(), "condition", "soaked"), "all sapwood": typing(redOakCant(), "heart-share", "0"),
		"weighed, wetness left out": typing(redOakCant(), "condition", "", "density", "55"),
		"volume":                    typing(redOakCant(), "shape", "measured", "volume", "12", "ice", "1/4", "ice-area", "30", "balance", "40"),
		"squared":                   typing(redOakCant(), "shape", "squared", "width", "12", "height", "10", "condition", "measured", "moisture", "25%", "wet", "yes"),
	}
	for name, form := range forms {
		for _, units := range []checklists.Units{checklists.InchPound, checklists.Metric} {
			if units == checklists.Metric {
				form = metricForm(form)
			}
			want := typedIn(t, form, units)
			address, err := url.Parse(again("main-hoist", "carriage", &lift.Lift{Piece: want}, measures{units: units}))
			require.NoError(t, err)
			got := typedIn(t, address.Query(), units)
			samePiece(t, want, got, name)
		}
	}
}

// metricForm has what stands bare in inches with its unit, and the rest in the
// metric mill's.
func metricForm(form url.Values) url.Values {
	made := url.Values{}
	for field, typed := range form {
		text := typed[0]
		switch field {
		case "length", "small", "middle", "large", "slab-1", "slab-2", "width", "height", "ice", "snow", "balance", "span":
			if text != "" && strings.Trim(text, "0123456789./ ") == "" {
				text += " in"
			}
		case "density":
			text = strings.ReplaceAll(text, "55", "880")
		case "volume", "ice-area", "snow-area":
			text = strings.ReplaceAll(text, "12", "0.4")
		}
		made.Set(field, text)
	}
	return made
}

func samePiece(t *testing.T, want, got lift.Piece, about string) {
	t.Helper()
	a, b := numbersOf(&want), numbersOf(&got)
	for i := range a {
		assert.InDelta(t, *a[i], *b[i], 1e-4*math.Max(1, *a[i])*0.05, about)
		*a[i], *b[i] = 0, 0
	}
	assert.Equal(t, want, got, about)
}

func numbersOf(p *lift.Piece) []*float64 {
	w := &p.Weather
	return []*float64{&p.Length, &p.Small, &p.Middle, &p.Large, &p.Slabs[0], &p.Slabs[1], &p.Width, &p.Height, &p.Volume, &p.HeartShare, &p.Moisture, &p.Density, &p.Extra, &p.Balance,
		&w.Ice, &w.IceArea, &w.Snow, &w.SnowArea}
}

func TestKeptLiftTellsAllThatWasEntered(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	kept := m.as("ada").post("/lifts/new", oakLog("keep", "yes"))
	require.Equal(t, 200, kept.Status, kept.Body)
	for _, said := range []string{"<dt>Small end, round it</dt><dd>4 ft 8 in</dd>", "<dt>Middle, round it</dt><dd>4 ft 9 in</dd>", "<dt>Large end, round it</dt><dd>5 ft</dd>",
		"<dt>Density, weighed</dt><dd>60.0 lb/ft³</dd>", "<dt>Heartwood</dt><dd>40 %</dd>", "<dt>Ice</dt><dd>1/4 in on 12 ft²</dd>", "<dt>Snow</dt><dd>3 in on 8.5 ft²</dd>",
		"<dt>Kind of snow</dt><dd>settled</dd>", "<dt>Running wet</dt><dd>yes</dd>", "<dt>Snow, ice, water or mud</dt><dd>15 lb</dd>", "<dt>Balance point found by trial</dt><dd>3 ft 10 in</dd>",
		"weighed at 60.0 lb/ft³", "at the middle", "girths measured", "40 % heartwood", "1/4 in of ice", "3 in of snow", "running wet", "15 lb more on it"} {
		kept.says(t, said)
	}
	soaked := m.as("ada").post("/lifts/new", typing(redOakCant(), "condition", "soaked", "keep", "yes"))
	soaked.says(t, "Cant, northern red oak, soaked:")
	alone := m.as("ada").post("/lifts/new", oakLog("small", "", "large", "", "girths", "across", "middle", "18 in", "keep", "yes"))
	alone.says(t, "18 in through at the middle")
	assert.NotContains(t, alone.Body, "<dt>Small end")
	plainOne := m.as("ada").post("/lifts/new", typing(redOakCant(), "keep", "yes"))
	for _, rare := range []string{"<dt>Ice</dt>", "<dt>Snow</dt>", "<dt>Heartwood</dt>", "<dt>Middle", "heartwood;"} {
		assert.NotContains(t, plainOne.Body, rare)
	}
}

// The answer is the rules' own for every new field: what is typed on the page
// weighs what the rules say of the same piece.
func TestAnswerCountsWhatTheRareFieldsSay(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	oak, ok := lift.FindSpecies("northern red oak")
	require.True(t, ok)
	base := domainCant(t, m).Piece
	for name, tc := range map[string]struct {
		form   url.Values
		change func(*lift.Piece)
	}{
		"soaked":  {typing(redOakCant(), "condition", "soaked"), func(p *lift.Piece) { p.Condition = lift.Soaked }},
		"heart":   {typing(redOakCant(), "heart-share", "70"), func(p *lift.Piece) { p.HeartKnown, p.HeartShare = true, 0.7 }},
		"density": {typing(redOakCant(), "density", "60"), func(p *lift.Piece) { p.Density = 60 * 0.45359237 / (0.3048 * 0.3048 * 0.3048) }},
		"ice":     {typing(redOakCant(), "ice", "1/2"), func(p *lift.Piece) { p.Weather.Ice = 0.5 * 0.0254 }},
		"snow":    {typing(redOakCant(), "snow", "6"), func(p *lift.Piece) { p.Weather.Snow = 6 * 0.0254 }},
		"wet":     {typing(redOakCant(), "wet", "yes"), func(p *lift.Piece) { p.Weather.Wet = true }},
		"girths": {typing(redOakCant(), "girths", "tape", "small", "56.5 in", "large", "60 in"), func(p *lift.Piece) {
			p.Girths, p.Small, p.Large = true, 56.5*0.0254/math.Pi, 60*0.0254/math.Pi
		}},
		"middle": {typing(redOakCant(), "shape", "round", "small", "", "large", "", "middle", "18.5 in"), func(p *lift.Piece) {
			*p = lift.Piece{Shape: lift.Round, Length: p.Length, Middle: 18.5 * 0.0254, Species: oak, Condition: lift.Green}
		}},
	} {
		p := base
		tc.change(&p)
		w, err := lift.Weigh(p)
		require.NoError(t, err)
		plainWeight, err := lift.Weigh(base)
		require.NoError(t, err)
		require.NotEqual(t, plainWeight.Upper+plainWeight.Expected, w.Upper+w.Expected, "%s changes nothing", name)
		reply := m.as("ada").post("/lifts/new", tc.form)
		require.Equal(t, 200, reply.Status, reply.Body)
		f := &views.Frame{Units: checklists.InchPound}
		reply.says(t, f.T("reckoned no heavier than %s", w.Upper))
		reply.says(t, f.T("expected %s", w.Expected))
	}
}
