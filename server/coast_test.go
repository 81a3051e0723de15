package server

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

const coastOfSaw = "/equipment/head-saw/coast"

func (m *testMill) sawCoast() time.Duration {
	m.t.Helper()
	saw, _ := m.plant().Find("head-saw")
	for _, e := range saw.Energies {
		if e.Kind == procedures.Rotation {
			return e.Coast
		}
	}
	return 0
}

// measure enters a coast time of the saw.
func (m *testMill) measure(sam *phone, seconds string) page {
	m.t.Helper()
	m.clock.Advance(time.Minute)
	return sam.post(coastOfSaw, with(sam.get(coastOfSaw).filled(m.t, coastOfSaw), "seconds", seconds, "how", "stopwatch from the stand", "pin", testSecrets["sam"]))
}

// Longest of the last three: common practice, no source. 29 CFR
// 1910.147(d)(5)(i): the procedures in force wait 180 s, enough for 144 s.
func TestACoastTimeIsMeasuredCountsAndTellsWhatWaitsTooShort(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	require.Contains(t, sam.get(coastOfSaw).title(), "not yet measured")
	reply := m.measure(sam, "160")
	require.Equal(t, coastOfSaw, reply.URL.Path, reply.Body)
	require.Contains(t, reply.title(), "is measured")
	require.Equal(t, 160*time.Second, m.sawCoast())
	reply.says(t, "Procedures that wait too short now")
	reply.says(t, "It waits 180 s and what is measured now asks for 200 s")
	reply.says(t, "Stands still after 160 s.")
	sam.get("/equipment/carriage").says(t, "renew the procedure")
	for _, tc := range []struct {
		seconds string
		counts  time.Duration
	}{{"90", 160}, {"95.5", 160}, {"92", 95500 * time.Millisecond / time.Second}} {
		m.measure(sam, tc.seconds)
		if tc.seconds == "92" {
			require.Equal(t, 95500*time.Millisecond, m.sawCoast(), "the 160 s are the fourth back")
			continue
		}
		require.Equal(t, tc.counts*time.Second, m.sawCoast(), tc.seconds)
	}
	page := m.as("rita").get(coastOfSaw)
	require.NotContains(t, page.Body, "Procedures that wait too short now")
	require.NotContains(t, page.Body, "Enter a measurement")
	page.says(t, "Sam Ordway")
	history, err := m.desk().Coasts(t.Context())
	require.NoError(t, err)
	require.Len(t, history, 4)
}

// Who locks out measures at the machine, and the record says who entered it.
func TestAnAuthorizedPersonEntersACoastTime(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	form := with(ada.get(coastOfSaw).filled(t, coastOfSaw), "seconds", "96", "how", "stopwatch", "pin", testSecrets["ada"])
	require.Equal(t, string(m.people["ada"].ID), form.Get("by"))
	reply := ada.post(coastOfSaw, form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	require.Equal(t, 96*time.Second, m.sawCoast())
	reply.says(t, "Ada Rook")
}

func TestACoastTimeNamesBadInputAtItsFieldAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := with(sam.get(coastOfSaw).filled(t, coastOfSaw), "seconds", "96", "how", "stopwatch", "pin", testSecrets["sam"])
	for _, tc := range [][2]string{{"energy", ""}, {"energy", "fan-rotation"}, {"energy", "saw-electric"}, {"seconds", ""}, {"seconds", "0"}, {"seconds", "NaN"}, {"seconds", "1e9"}, {"seconds", "3 min"},
		{"by", ""}, {"by", "nobody"}, {"at", ""}, {"at", "2027-01-01T00:00"}, {"how", " "}, {"pin", "wrong"}} {
		m.storesNothing(func() {
			reply := sam.post(coastOfSaw, with(form, tc[0], tc[1]))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc[0]+`"`, tc)
			if tc[0] != "how" {
				require.Equal(t, "stopwatch", reply.filled(t, coastOfSaw).Get("how"))
			}
		})
	}
	m.storesNothing(func() { require.Equal(t, http.StatusForbidden, m.as("rita").post(coastOfSaw, form).Status) })
	m.storesNothing(func() { m.as("ada").post(coastOfSaw, form).says(t, "that is not it") })
	require.Zero(t, m.sawCoast())
	require.Equal(t, http.StatusOK, sam.post(coastOfSaw, form).Status)
	size := m.size()
	sam.post(coastOfSaw, form)
	require.Equal(t, size, m.size(), "sent twice it is one measurement")
	require.NotContains(t, sam.get("/equipment/hoist/coast").Body, `name="seconds"`, "nothing of it turns")
}
