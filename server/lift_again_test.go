package server

import (
	"html"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func TestLastPieceIsTwoTapsAway(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	assert.NotContains(t, m.as("ada").get("/lifts/new").Body, "Last piece again")
	keepCant(t, m)
	page := m.as("ada").get("/lifts/new")
	page.says(t, "Last piece again")
	kept, err := m.desk().Lifts(t.Context(), 1)
	require.NoError(t, err)
	j, err := readLift(kept[0])
	require.NoError(t, err)
	address := again("main-hoist", "carriage", &j.Lift, measures{units: checklists.InchPound})
	require.Contains(t, html.UnescapeString(page.Body), address)
	m.as("ada").get(address).says(t, `name="length" value="90 in"`)
}

func TestRemediesStandUnderANoGo(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	l := domainCant(t, m)
	l.Piece.Extra = 1400 * float64(plain.Pound)
	want := lift.Remedies(l)
	require.NotEmpty(t, want)
	reply := m.as("ada").post("/lifts/new", typing(redOakCant(), "extra", "1400 lb"))
	reply.says(t, `class="badge no-go"`)
	f := &views.Frame{Units: checklists.InchPound}
	for _, one := range want {
		reply.says(t, html.EscapeString(f.Say(one.Said())))
	}
	assert.NotContains(t, m.as("ada").post("/lifts/new", redOakCant()).Body, "What would make it a GO")
}

// "For 11 reasons" counted five questions nobody had come to yet.
func TestQuestionsStillOpenAreOneLine(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	open := []string{}
	for _, field := range []string{"landing-clear", "nobody-under", "latch-closed", "free", "trial-lift"} {
		open = append(open, field, "")
	}
	const line = "5 questions at the hook still to be answered with yes"
	only := ada.post("/lifts/new", typing(redOakCant(), open...))
	require.Equal(t, "NO-GO: "+line, only.title())
	require.Equal(t, 1, strings.Count(only.Body, `<p class="reason">`+line))
	assert.NotContains(t, only.Body, "not answered:")
	only.says(t, "At the hook: "+line)
	only.says(t, "Weight and rigging stand in no way")

	heavy := ada.post("/lifts/new", typing(redOakCant(), append(open, "extra", "1400 lb")...))
	require.Contains(t, heavy.title(), "; "+line)
	require.Equal(t, 1, strings.Count(heavy.Body, `<p class="reason">`+line))
	heavy.says(t, "At the hook besides: "+line)
	assert.NotContains(t, heavy.Body, "; "+line+"</li>", "rigging apart from answers")

	no := ada.post("/lifts/new", typing(redOakCant(), "free", "no", "seated", ""))
	require.Equal(t, "NO-GO: answered no: the piece is free on all sides: not frozen down, dogged or caught; one question at the hook still to be answered with yes", no.title())
}

// At 390 px the answer comes far down, after all questions.
func TestVerdictAndWeightStandUnderTheTitleToo(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	upper := (&views.Frame{Units: checklists.InchPound}).T("%s, reckoned", lift.Check(domainCant(t, m)).Weight.Upper)
	m.as("ada").get("/lifts/new").says(t, `<div class="brief" id="brief" data-with="#answer"></div>`)
	for badge, form := range map[string]url.Values{"go": redOakCant(), "no-go": typing(redOakCant(), "free", "no")} {
		page := m.as("ada").post("/lifts/new", form)
		require.Regexp(t, `<div class="brief" id="brief" data-with="#answer"><strong class="badge `+badge+` small">[^<]+</strong><p>`+upper, page.Body)
		require.Less(t, strings.Index(page.Body, `id="brief"`), strings.Index(page.Body, `id="lift"`))
	}
}
