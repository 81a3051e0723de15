package server

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

var lookedMark = regexp.MustCompile(`name="looked" value="([0-9a-f]+)"`)

// Seen to fail where a form shown again carried the new mark by itself: the
// second press wrote over what had been changed.
func TestTwoPeopleOnOneFormNeitherWriteOverUnseenNorGetStuck(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.wroteProgram()
	sam, other := m.as("sam"), m.as("sam")
	pin := testSecrets["sam"]
	made := func(form url.Values, path string) string {
		reply := sam.post(path, with(form, "pin", pin))
		require.Equal(t, http.StatusOK, reply.Status, reply.Body)
		return reply.URL.Path
	}
	blade := made(with(sam.get("/blades/new").filled(t, "/blades/new"), "serial", "A-1", "diameter", "52", "gauge", "8", "marked", "590", "teeth", "40"), "/blades/new")
	safety := made(with(sam.get("/safety/new?kind=first-aid").filled(t, "/safety/new"), "place", "Office", "contents", "Tourniquet\nGauze"), "/safety/new")
	made(newLock(sam, pin), "/locks/new")
	made(with(sam.get("/contractors/new").filled(t, "/contractors/new"), "firm", "Tamarack Lane"), "/contractors/new")
	firms, err := m.desk().Contractors(t.Context())
	require.NoError(t, err)
	made(aTask(sam.get("/tasks/new")), "/tasks/new")
	tasks, err := m.desk().Tasks(t.Context())
	require.NoError(t, err)
	at := slices.IndexFunc(tasks, func(task procedures.Task) bool { return task.Title == "Brush the load chain" })
	hoist, _ := m.plant().Find("hoist")
	energy, device := "/equipment/hoist/energy/"+string(hoist.Energies[0].ID), "/equipment/hoist/device/"+string(hoist.Devices[0].ID)
	bo := string(m.people["bo"].ID)
	for name, tc := range map[string]struct {
		at           string
		mine, theirs []string // fields typed
		stored       string   // says what theirs made of it
		whole        bool     // said without who
	}{
		"person":     {at: "/people/" + bo, mine: []string{"name", "Bo Lindqvist"}, theirs: []string{"authorized", "yes", "name", "Bo <L.>"}, stored: "Bo &lt;L.&gt;"},
		"mill":       {at: "/mill", mine: []string{"name", "Mine"}, theirs: []string{"shifts.1.end", "16:45"}, stored: "16:45"},
		"emergency":  {at: "/help/emergency/edit", mine: []string{"address", "Here 1", "numbers", "All: 911"}, theirs: []string{"address", "There 2", "numbers", "All: 911"}, stored: "There 2"},
		"saw":        {at: blade + "/edit", mine: []string{"gauge", "9"}, theirs: []string{"marked", "640"}, stored: "640"},
		"safety":     {at: safety + "/edit", mine: []string{"place", "Shed"}, theirs: []string{"size", "twelve people"}, stored: "twelve people"},
		"lock":       {at: "/locks/edit?number=K-7", mine: []string{"colour", "red"}, theirs: []string{"condition", "bad"}, stored: "Not good: not to be used"},
		"contractor": {at: "/contractors/" + firms[0].ID, mine: []string{"theirs_seen", m.day(-1)}, theirs: []string{"restrictions", "Off the main first"}, stored: "Off the main first"},
		"program":    {at: "/program/edit", mine: []string{"scope", "Mine"}, theirs: []string{"scope", "Every saw"}, stored: "Every saw"},
		"task":       {at: "/tasks/" + string(tasks[at].ID), mine: []string{"note", "mine"}, theirs: []string{"note", "with the broom"}, stored: "with the broom"},
		"piece":      {at: "/equipment/carriage/edit", mine: []string{"name", "Mine"}, theirs: []string{"name", "Long carriage"}, stored: "Long carriage", whole: true},
		"energy":     {at: energy, mine: []string{"hazard", "mine"}, theirs: []string{"hazard", "It lowers."}, stored: "It lowers.", whole: true},
		"device":     {at: device, mine: []string{"place", "mine"}, theirs: []string{"place", "By the door"}, stored: "By the door", whole: true},
		"affected":   {at: "/equipment/hoist/affected", mine: []string{"affected." + bo, ""}, theirs: []string{"affected." + bo, "yes"}, stored: "ticked", whole: true},
	} {
		t.Run(name, func(t *testing.T) {
			fill := func(p *phone, typed []string) url.Values {
				return with(with(p.get(tc.at).filled(t, tc.at), typed...), "pin", pin)
			}
			mine, theirs := fill(sam, tc.mine), fill(other, tc.theirs)
			taken := other.post(tc.at, theirs)
			require.Equal(t, http.StatusOK, taken.Status, taken.Body)
			var reply page
			m.storesNothing(func() {
				for range 2 { // without the tick it is never taken, however often it is pressed
					reply = sam.post(tc.at, mine)
					require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
					reply.says(t, "Somebody changed this meanwhile")
					reply.says(t, "Stored now: <strong>"+tc.stored+"</strong>")
					if !tc.whole {
						reply.says(t, "Last changed by Sam Ordway")
					}
					mine = with(reply.filled(t, tc.at), "pin", pin)
					require.Equal(t, tc.mine[1], mine.Get(tc.mine[0]), "what was typed is kept")
					require.Empty(t, mine.Get("looked"))
				}
				reply = sam.post(tc.at, with(mine, "pin", "wrong")) // another problem brings no new mark either
				require.Equal(t, mine.Get("seen"), reply.filled(t, tc.at).Get("seen"))
			})
			mark := lookedMark.FindStringSubmatch(sam.post(tc.at, mine).Body)
			require.Len(t, mark, 2)
			size := m.size()
			kept := sam.post(tc.at, with(mine, "looked", mark[1]))
			require.Equal(t, http.StatusOK, kept.Status, kept.Body)
			require.Equal(t, size+1, m.size())
			m.storesNothing(func() {
				stale := sam.post(tc.at, with(mine, "looked", mark[1], "submission", store.NewID()))
				require.Equal(t, http.StatusUnprocessableEntity, stale.Status, "a tick is good for what it was shown with only")
			})
		})
	}
}
