package server

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
	"stillsaw/views"
)

func TestClockThatRanAheadIsConfirmedByASupervisorsSignature(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	_, err := m.desk().StopIt(t.Context(), store.NewID(), checklists.Defect{Equipment: "hoist", What: "creeps"}, m.people["bo"], m.clock.Now().Add(48*time.Hour))
	require.NoError(t, err)
	ada, sam, rita := m.as("ada"), m.as("sam"), m.as("rita")
	front := ada.get("/")
	front.says(t, `href="/clock"`)
	front.says(t, "signs that the clock is right now")
	require.Equal(t, "The clock stands before the newest entry: all held", rita.get("/clock").title())
	require.NotContains(t, ada.get("/clock").Body, `action="/clock"`)
	m.storesNothing(func() {
		require.Equal(t, http.StatusForbidden, ada.post("/clock", signed("ada", nil)).Status)
		require.Equal(t, http.StatusUnauthorized, m.phone().post("/clock", nil).Status)
		reply := sam.post("/clock", nil)
		require.Equal(t, 422, reply.Status)
		reply.says(t, `href="#f-pin"`)
	})
	sam.get("/clock").says(t, `action="/clock"`)
	reply := sam.post("/clock", signed("sam", nil))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	reply.says(t, "The clock is confirmed")
	require.NotContains(t, ada.get("/").Body, `href="/clock"`)
	require.Equal(t, "The clock: nothing to confirm", sam.get("/clock").title())
	m.storesNothing(func() {
		require.Equal(t, 422, sam.post("/clock", signed("sam", nil)).Status, "nothing more to confirm")
	})
	sam.get("/record").says(t, "Clock confirmed")
}

func TestClockPageRendersEmpty(t *testing.T) {
	s, _, _ := newServer(t, "")
	engine, err := views.NewEngine(s.assets)
	require.NoError(t, err)
	var out strings.Builder
	require.NoError(t, engine.Render(&out, "clock", clockPage{Frame: &views.Frame{}}))
	require.NotContains(t, out.String(), "%!")
}
