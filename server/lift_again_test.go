package server

import (
	"html"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func TestLastPieceIsTwoTapsAway(t *testing.T) {
	m := liftingMill(t)
	assert.NotContains(t, m.as("ada").get("/lifts/new").Body, "Last piece again")
	keepCant(t, m)
	page := m.as("ada").get("/lifts/new")
	page.says(t, "Last piece again")
	kept, err := m.desk().Lifts(t.Context(), 1)
	require.NoError(t, err)
	j, err := readLift(kept[0])
	require.NoError(t, err)
	address := again("main-hoist", "carriage", &j.Lift, checklists.InchPound)
	require.Contains(t, html.UnescapeString(page.Body), address)
	m.as("ada").get(address).says(t, `name="length" value="90 in"`)
}

func TestRemediesStandUnderANoGo(t *testing.T) {
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
