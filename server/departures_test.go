package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/views"
)

func cutLock() url.Values {
	return url.Values{"what": {"lock cut off the saw disconnect"}, "equipment": {"head-saw"}, "happened": {"2026-03-03"}, "time": {"05:40"}}
}

func TestDepartureIsEnteredHoldsAndIsClosedByASupervisor(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	form := ada.get("/departures/new?equipment=head-saw")
	form.says(t, `value="2026-03-03"`)
	form.says(t, `value="06:00"`)
	reply := ada.postFiles("/departures/new", signed("ada", cutLock()), map[string][]byte{"photo": picture(t, 60, 60)})
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Equal(t, "lock cut off the saw disconnect: open, holds Head saw", reply.title())
	reply.says(t, "Tue 3 Mar 2026, 05:40:00 -05:00")
	reply.says(t, "The supervisor or the deputy closes it")
	at := reply.URL.Path
	require.Equal(t, "Departures: 1 open", ada.get("/departures").title())
	ada.get("/").says(t, `href="`+at+`"`)
	m.storesNothing(func() {
		require.Equal(t, http.StatusForbidden, ada.post(at+"/close", signed("ada", url.Values{"reason": {"never mind"}})).Status)
	})
	sam := m.as("sam")
	m.storesNothing(func() {
		reply := sam.post(at+"/close", signed("sam", nil))
		require.Equal(t, 422, reply.Status)
		reply.says(t, `href="#f-reason"`)
		reply = sam.post(at+"/close", signed("sam", url.Values{"reason": {"owner rang, lock was lost"}, "pin": {"no"}}))
		require.Equal(t, 422, reply.Status)
		reply.says(t, "owner rang, lock was lost</textarea>")
	})
	reply = sam.post(at+"/close", signed("sam", url.Values{"reason": {"owner rang, lock was lost"}}))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Contains(t, reply.title(), "closed with a reason")
	m.as("rita").get(at).says(t, "owner rang, lock was lost")
	require.Equal(t, 422, sam.post(at+"/close", signed("sam", url.Values{"reason": {"again"}})).Status, "closed once")
}

func TestDepartureFormNamesWhatIsWrongAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	for _, bad := range []struct{ field, value, marked string }{
		{"what", "", "what"}, {"what", strings.Repeat("x", 2001), "what"}, {"equipment", "", "equipment"}, {"equipment", "rocket", "equipment"},
		{"happened", "", "happened"}, {"happened", "2026-13-40", "happened"}, {"happened", "2027-01-01", "happened"}, {"time", "25:00", "happened"}, {"time", "NaN", "happened"},
		{"pin", "", "pin"}, {"pin", "0000", "pin"},
	} {
		form := signed("ada", cutLock())
		form.Set(bad.field, bad.value)
		m.storesNothing(func() {
			reply := ada.postFiles("/departures/new", form, map[string][]byte{"photo": picture(t, 60, 60)})
			require.Equal(t, 422, reply.Status, bad)
			reply.says(t, `href="#f-`+bad.marked+`"`, bad)
			reply.says(t, `name="photo_kept" value="`, bad)
			if bad.field != "what" {
				reply.says(t, "lock cut off the saw disconnect</textarea>", bad)
			}
		})
		m.clock.Advance(checklists.RunCheckLasts) // so that wrong PINs cost no wait
	}
	m.storesNothing(func() {
		reply := ada.postFiles("/departures/new", signed("ada", cutLock()), map[string][]byte{"photo": make([]byte, photoMost+1)})
		require.Equal(t, 422, reply.Status)
		reply.says(t, `href="#f-photo"`)
	})
}

func TestDepartureAddressesRefuseStrangersAndWrongRoles(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	rita, nobody := m.as("rita"), m.phone()
	require.Equal(t, 200, rita.get("/departures").Status)
	asked := nobody.post("/departures/new", cutLock())
	require.Equal(t, http.StatusUnauthorized, asked.Status)
	asked.says(t, "lock cut off the saw disconnect")
	require.Equal(t, "/sign-in", nobody.get("/departures").URL.Path)
	require.Equal(t, http.StatusNotFound, rita.get("/departures/none").Status)
	require.Equal(t, http.StatusNotFound, m.as("sam").post("/departures/none/close", signed("sam", nil)).Status)
}

func TestAFactIsRefusedToNobodyOfTheMill(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	rita := m.as("rita")
	rita.get("/departures").says(t, `href="/departures/new"`)
	require.Equal(t, 200, rita.get("/departures/new").Status)
	m.storesNothing(func() { require.Equal(t, 422, rita.post("/departures/new", cutLock()).Status, "signed all the same") })
	reply := rita.post("/departures/new", signed("rita", cutLock()))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	reply.says(t, "Rita Vance")
	m.storesNothing(func() {
		require.Equal(t, http.StatusForbidden, rita.post(reply.URL.Path+"/close", signed("rita", url.Values{"reason": {"x"}})).Status)
	})
}

// Every page of these screens stands up with nothing in it.
func TestChecksPagesRenderEmpty(t *testing.T) {
	s, _, _ := newServer(t, "")
	engine, err := views.NewEngine(s.assets)
	require.NoError(t, err)
	f := &views.Frame{}
	for name, page := range map[string]any{
		"inspection-new": newInspectionPage{Frame: f}, "inspection-walk": walkPage{Frame: f}, "inspection": signedPage{Frame: f},
		"defects": defectsPage{Frame: f}, "defect": defectPage{Frame: f},
		"departures": departuresPage{Frame: f}, "departure-new": newDeparturePage{Frame: f}, "departure": departurePage{Frame: f},
	} {
		var out strings.Builder
		require.NoError(t, engine.Render(&out, name, page), name)
		require.NotContains(t, out.String(), "%!", name)
	}
}
