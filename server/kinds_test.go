package server

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/server/store"
	"stillsaw/views"
)

// saws has the mill's list of kinds of wood be these.
func (m *testMill) saws(kinds ...string) {
	m.t.Helper()
	mill, err := m.store.TheMill(m.t.Context())
	require.NoError(m.t, err)
	seen := store.Mark(mill)
	mill.Kinds = kinds
	require.NoError(m.t, m.desk().EditMill(m.t.Context(), store.NewID(), seen, mill, m.people["sam"], m.clock.Now()))
}

func unknownCant(pairs ...string) url.Values {
	return typing(typing(redOakCant(), "species", unknownSpecies), pairs...)
}

func TestUnknownKindIsTheHeaviestOfTheMillsListAndSaysWhich(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	table := ada.post("/lifts/new", unknownCant())
	table.says(t, "kind of wood not known: taken as the heaviest in the published table")

	m.saws("white ash", "eastern hemlock")
	green := ada.post("/lifts/new", unknownCant())
	green.says(t, "kind of wood not known: taken as eastern hemlock, the heaviest this mill saws")
	l := domainCant(t, m)
	l.Piece.Species = lift.Species{}
	l.Piece.Fallback, _ = lift.FindSpecies("eastern hemlock")
	green.says(t, (&views.Frame{Units: checklists.InchPound}).T("reckoned no heavier than %s", lift.Check(l).Weight.Upper))
	dry := ada.post("/lifts/new", unknownCant("condition", "measured", "moisture", "12"))
	dry.says(t, "taken as white ash, the heaviest this mill saws")
	assert.NotContains(t, ada.post("/lifts/new", redOakCant()).Body, "kind of wood not known")
}

func TestWhatStoodInIsKeptAndCoversTheNextUntilTheListGetsHeavier(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	m.saws("white ash", "northern red oak")
	ada := m.as("ada")
	kept := ada.post("/lifts/new", unknownCant("keep", "yes"))
	require.Equal(t, http.StatusOK, kept.Status)
	kept.says(t, `class="badge go"`)
	kept.says(t, "taken as northern red oak, the heaviest this mill saws")
	lifts, err := m.desk().Lifts(t.Context(), 1)
	require.NoError(t, err)
	j, err := readLift(lifts[0])
	require.NoError(t, err)
	require.Equal(t, "northern red oak", j.Lift.Piece.Fallback.Common)
	require.Empty(t, j.Lift.Piece.Species)

	const covered = "no need to keep it again"
	ada.post("/lifts/new", unknownCant()).says(t, covered)
	m.saws("northern red oak")
	ada.post("/lifts/new", unknownCant()).says(t, covered)
	m.saws("northern red oak", "live oak")
	reply := ada.post("/lifts/new", unknownCant())
	reply.says(t, "taken as live oak")
	assert.NotContains(t, reply.Body, covered)
	m.lapsed(kept.URL.Path, "a heavier one since")
}

// A scale that shows the mill's oak to be heavier than published counts for a
// piece that may be such oak.
func TestScaleCountsForAKindNobodyKnows(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	m.saws("northern red oak", "eastern white pine")
	oak, _ := lift.FindSpecies("northern red oak")
	facts, err := m.desk().LiftFacts(t.Context(), "main-hoist", m.clock.Now())
	require.NoError(t, err)
	p := domainCant(t, m).Piece
	p.Species = lift.Species{}
	published := heaviestSawn(p, nil, facts)
	require.Equal(t, "northern red oak", published.Fallback.Common)
	require.Zero(t, published.Learned)
	heavy := []lift.Weighing{{Kind: oak.Scientific, Condition: lift.Green, Predicted: 100, Weighed: 118, Volume: .1, Lifted: true}, {Kind: oak.Scientific, Condition: lift.Green, Predicted: 100, Weighed: 122, Volume: .11, Lifted: true}}
	weighed := heaviestSawn(p, heavy, facts)
	require.Equal(t, 2, weighed.Learned.N)
	before, err := lift.Weigh(published)
	require.NoError(t, err)
	after, err := lift.Weigh(weighed)
	require.NoError(t, err)
	require.Greater(t, after.Upper, before.Upper)
}

func TestKindsSawnHereComeFirstOnTheForm(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	assert.NotContains(t, ada.get("/lifts/new").Body, "<optgroup")
	m.saws("white oak", "Tsuga canadensis")
	form := ada.get("/lifts/new")
	list := regexp.MustCompile(`(?s)<select id="f-species".*?</select>`).FindString(form.Body)
	require.Contains(t, list, `<optgroup label="Sawn here"><option>white oak</option><option>eastern hemlock</option></optgroup><optgroup label="Other kinds">`)
	require.Equal(t, 1, len(regexp.MustCompile(`<option[^>]*>white oak</option>`).FindAllString(list, -1)), "not once more among the others")
	require.NotContains(t, list, `value="white oak"`, "what an option says is what it sends")
	require.Equal(t, len(lift.AllSpecies()), strings.Count(list, "<option")-2, "all, nobody knows, and none chosen")
	require.Less(t, strings.Index(list, `value="`+unknownSpecies+`"`), strings.Index(list, "<optgroup"))

	chart := ada.get("/lifts/chart")
	require.Len(t, chartOnPage(t, chart.Body).limits, 2, "those sawn here, unless all are asked for")
	chart.says(t, "<dd>sawn here</dd>")
	_, onSheet, text := chartOnPaper(t, []byte(ada.get("/lifts/chart/pdf").Body), chartOnPage(t, chart.Body))
	require.Len(t, onSheet.limits, 2)
	require.Contains(t, text, "sawn here")
	assert.NotContains(t, chart.Body, "Only the kinds of wood sawn here")
	link := regexp.MustCompile(`href="([^"]+)">All kinds of wood`).FindStringSubmatch(chart.Body)
	require.NotNil(t, link)
	all := ada.get(html.UnescapeString(link[1]))
	require.Len(t, chartOnPage(t, all.Body).limits, len(lift.AllSpecies()))
	all.says(t, "<dd>all in the table</dd>")
	back := regexp.MustCompile(`href="([^"]+)">Only the kinds of wood sawn here`).FindStringSubmatch(all.Body)
	require.NotNil(t, back)
	require.Len(t, chartOnPage(t, ada.get(html.UnescapeString(back[1])).Body).limits, 2)
}

func TestSupervisorSetsTheKindsSawnHereAndTheRecordTellsThem(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	sam.get("/mill").says(t, "None ticked.")
	form := with(sam.get("/mill").filled(t, "/mill"), "pin", testSecrets["sam"])
	form["kind"] = []string{"eastern hemlock", "white oak"}
	reply := sam.post("/mill", form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	reply.says(t, "eastern hemlock, white oak")
	require.Equal(t, form["kind"], reply.filled(t, "/mill")["kind"])
	mill, err := m.store.TheMill(t.Context())
	require.NoError(t, err)
	require.Equal(t, form["kind"], mill.Kinds)
	sam.get("/record").says(t, "sawn here: eastern hemlock, white oak.")

	wrong := with(reply.filled(t, "/mill"), "pin", testSecrets["sam"])
	wrong["kind"] = []string{"white oak", "stone"}
	m.storesNothing(func() {
		refused := sam.post("/mill", wrong)
		refused.says(t, `href="#f-kinds"`)
		refused.says(t, "not stone")
	})
	none := with(reply.filled(t, "/mill"), "pin", testSecrets["sam"])
	none.Del("kind")
	require.Equal(t, http.StatusOK, sam.post("/mill", none).Status)
	mill, err = m.store.TheMill(t.Context())
	require.NoError(t, err)
	require.Empty(t, mill.Kinds)
}
