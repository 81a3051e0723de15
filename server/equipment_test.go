package server

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func (m *testMill) plant() procedures.Plant {
	m.t.Helper()
	plant, err := m.desk().Plant(m.t.Context())
	require.NoError(m.t, err)
	return plant
}

const sawPage = "/equipment/head-saw/edit"

func TestEquipmentSaysWhatHoldsTravelWhere(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	page := m.as("rita").get("/equipment")
	require.Contains(t, page.title(), "not yet measured")
	page.says(t, "drives Carriage: moving one moves the other, even by hand")
	page.says(t, "sets loads down on Carriage")
	_, saw, _ := strings.Cut(page.Body, `id="e-head-saw"`)
	saw, _, _ = strings.Cut(saw, "</section>")
	require.Contains(t, saw, "Carriage, Dogs and knees")
	require.NotContains(t, page.Body, `/edit"`, "only a supervisor edits")
}

func TestMeasuredSizesAreKept(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	saw, _ := m.plant().Find("head-saw")
	var turning procedures.Energy
	for _, e := range saw.Energies {
		if e.Kind == procedures.Rotation {
			turning = e
		}
	}
	require.NotEmpty(t, turning.ID)
	form := with(sam.get(sawPage).filled(t, sawPage), "name", "Saw", "size."+string(turning.ID), "600 rpm", "pin", testSecrets["sam"])
	reply := sam.post(sawPage, form)
	require.Equal(t, "/equipment/head-saw", reply.URL.Path, reply.Body)
	reply.says(t, "600 rpm")
	changed, _ := m.plant().Find("head-saw")
	require.Equal(t, "Saw", changed.Name)
	require.Equal(t, saw.Links, changed.Links)
	require.Equal(t, saw.Devices, changed.Devices)
	size := m.size()
	require.Equal(t, "/equipment/head-saw", sam.post(sawPage, form).URL.Path)
	require.Equal(t, size, m.size(), "sent twice it is one change")
}

func TestEquipmentNamesBadInputAtItsFieldAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := with(sam.get(sawPage).filled(t, sawPage), "pin", testSecrets["sam"])
	saw, _ := m.plant().Find("head-saw")
	device, size := string(saw.Devices[0].ID), "size."+string(saw.Energies[0].ID)
	for _, tc := range [][2]string{{"name", ""}, {"size." + string(saw.Energies[1].ID), strings.Repeat("x", 300)}, {"label." + device, ""}, {"place." + device, strings.Repeat("x", 300)},
		{"number." + device, "0"}, {"number." + device, "100"}, {"number." + device, "one"}, {"pin", "wrong"}} {
		m.storesNothing(func() {
			reply := sam.post(sawPage, with(form, size, "600 <rpm>", tc[0], tc[1]))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc[0]+`"`, tc)
			reply.says(t, "600 &lt;rpm&gt;")
			if tc[0] != "pin" {
				require.Equal(t, tc[1], reply.filled(t, sawPage).Get(tc[0]))
			}
		})
	}
	carriage := "/equipment/carriage/edit"
	m.storesNothing(func() {
		reply := sam.post(carriage, with(sam.get(carriage).filled(t, carriage), "link.drives.head-saw", "yes", "pin", testSecrets["sam"]))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, `href="#f-links"`)
		require.Equal(t, "yes", reply.filled(t, carriage).Get("link.drives.head-saw"))
	})
}

func TestAChangeToAPieceMadeMeanwhileIsToldAndToAnotherIsNot(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	mine, theirs, hoist := sam.get(sawPage).filled(t, sawPage), sam.get(sawPage).filled(t, sawPage), sam.get("/equipment/hoist/edit").filled(t, "/equipment/hoist/edit")
	require.Equal(t, "/equipment/head-saw", sam.post(sawPage, with(theirs, "name", "Theirs", "pin", testSecrets["sam"])).URL.Path)
	m.storesNothing(func() {
		reply := sam.post(sawPage, with(mine, "name", "Mine", "pin", testSecrets["sam"]))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "Somebody changed this meanwhile")
		reply.says(t, `value="Mine"`)
	})
	require.Equal(t, "/equipment/hoist", sam.post("/equipment/hoist/edit", with(hoist, "name", "Old hoist", "pin", testSecrets["sam"])).URL.Path)
	saw, _ := m.plant().Find("head-saw")
	require.Equal(t, "Theirs", saw.Name)
}

func TestAPieceIsAddedHeldAndMayBeRemovedWhileNothingSpeaksOfIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := with(sam.get("/equipment/new").filled(t, "/equipment/new"), "name", "Slab conveyor", "kind", "off-bearing", "pin", testSecrets["sam"])
	for _, tc := range [][2]string{{"name", ""}, {"kind", "dragon"}, {"kind", "site"}, {"part_of", "nowhere"}, {"pin", ""}} {
		m.storesNothing(func() {
			reply := sam.post("/equipment/new", with(form, tc[0], tc[1]))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc[0]+`"`, tc)
		})
	}
	require.Equal(t, "/equipment", sam.post("/equipment/new", form).URL.Path)
	plant := m.plant()
	added := plant[len(plant)-1]
	require.Equal(t, "Slab conveyor", added.Name)
	front := sam.get("/")
	_, section, _ := strings.Cut(front.Body, "<h2>Slab conveyor</h2>")
	section, _, _ = strings.Cut(section, "</section>")
	require.Contains(t, section, "No list in force checks this")

	remove := "/equipment/" + string(added.ID)
	require.Equal(t, "/equipment", sam.post(remove+"/remove", with(sam.get(remove+"/edit").filled(t, remove+"/remove"), "pin", testSecrets["sam"])).URL.Path)
	require.Len(t, m.plant(), len(plant)-1)
	for _, id := range []string{"hoist", "carriage", "site"} {
		m.storesNothing(func() {
			reply := sam.post("/equipment/"+id+"/remove", with(form, "pin", testSecrets["sam"], "submission", "remove-"+id))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, id)
		})
	}
}

func TestTheMillKeepsSeveralShiftsOverMidnight(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := with(sam.get("/mill").filled(t, "/mill"), "shifts.2.name", "Night", "shifts.2.start", "22:00", "shifts.2.end", "06:00", "shifts.2.day1", "yes", "pin", testSecrets["sam"])
	reply := sam.post("/mill", form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	require.Contains(t, reply.title(), "2 shifts")
	mill, err := m.store.TheMill(t.Context())
	require.NoError(t, err)
	require.Equal(t, m.mill.SetUp, mill.SetUp)
	require.Equal(t, checklists.Shift{Name: "Night", Start: 22 * 60, End: 6 * 60, Days: []time.Weekday{time.Monday}}, mill.Shifts[1])
	// The first taken off: the second is the first now.
	form = with(sam.get("/mill").filled(t, "/mill"), "shifts.1.name", "", "shifts.1.start", "", "shifts.1.end", "", "pin", testSecrets["sam"])
	for _, day := range "0123456" {
		form.Del("shifts.1.day" + string(day))
	}
	m.storesNothing(func() {
		reply := sam.post("/mill", with(form, "shifts.2.end", "noon"))
		reply.says(t, `href="#f-shifts.2.end"`, "the problem stands at the place it was typed in")
	})
	require.Equal(t, http.StatusOK, sam.post("/mill", form).Status)
	mill, err = m.store.TheMill(t.Context())
	require.NoError(t, err)
	require.Len(t, mill.Shifts, 1)
	require.Equal(t, "Night", mill.Shifts[0].Name)
}

func TestTheMillNamesBadInputAtItsFieldAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := with(sam.get("/mill").filled(t, "/mill"), "pin", testSecrets["sam"])
	for _, tc := range [][2]string{{"name", ""}, {"zone", "Mars/Olympus"}, {"zone", "Local"}, {"units", "cubits"}, {"shifts.1.name", ""}, {"shifts.1.start", "25:00"}, {"shifts.1.end", "-1"}, {"pin", "wrong"}} {
		m.storesNothing(func() {
			reply := sam.post("/mill", with(form, "single_handed", "yes", tc[0], tc[1]))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc[0]+`"`, tc)
			require.Equal(t, "yes", reply.filled(t, "/mill").Get("single_handed"))
		})
	}
	for _, day := range "12345" {
		form.Del("shifts.1.day" + string(day))
	}
	m.storesNothing(func() { sam.post("/mill", form).says(t, `href="#f-shifts.1.days"`) })
	mine := with(sam.get("/mill").filled(t, "/mill"), "pin", testSecrets["sam"])
	require.Equal(t, http.StatusOK, sam.post("/mill", with(mine, "name", "Theirs")).Status)
	m.storesNothing(func() {
		sam.post("/mill", with(mine, "name", "Mine", "submission", "another")).says(t, "Somebody changed this meanwhile")
	})
}
