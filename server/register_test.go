package server

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func TestAMachineShowsItsRegisterToEverybodyAndItsFormsToSupervisors(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	page := m.as("rita").get("/equipment/head-saw")
	require.Equal(t, http.StatusOK, page.Status)
	saw, _ := m.plant().Find("head-saw")
	for _, e := range saw.Energies {
		page.says(t, html.EscapeString(e.Zero))
	}
	for _, d := range saw.Devices {
		page.says(t, html.EscapeString(d.Label))
	}
	page.says(t, "A record is not a lock.")
	page.says(t, "To be made lockable")
	page.says(t, "Doesn&#39;t hold:")
	page.says(t, "Nobody is named yet.")
	page.says(t, "A pulled plug isn&#39;t enough")
	for _, form := range []string{"/edit", "/energy/", "/device/", "/declare", "/affected"} {
		require.NotContains(t, page.Body, `="/equipment/head-saw`+form)
	}
	for _, path := range []string{"/edit", "/affected", "/energy/new", "/device/new", "/device/saw-disconnect/point"} {
		require.Equal(t, http.StatusForbidden, m.as("ada").get("/equipment/head-saw"+path).Status, path)
	}
	sam := m.as("sam")
	for _, path := range []string{"/equipment/nothing", "/equipment/head-saw/energy/nothing", "/equipment/head-saw/device/nothing", "/equipment/head-saw/device/saw-disconnect/point", "/equipment/site/energy/new", "/equipment/site/device/new", "/equipment/site/affected"} {
		require.Equal(t, http.StatusNotFound, sam.get(path).Status, path)
	}
	require.Equal(t, http.StatusOK, sam.get("/equipment/site").Status)
}

const newEnergy = "/equipment/hoist/energy/new"

// 29 CFR 1910.147(c)(4)(ii): a procedure controls all there is; one registered
// since leaves it out, and the page says so.
func TestAnEnergyIsAddedChangedAndRemovedAndProceduresThatLeaveItOutAreNamed(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := with(sam.get(newEnergy).filled(t, newEnergy), "kind", "pneumatic", "source", "air balancer", "size", "90 psi", "hazard", "Lets the hook go up.", "stored", "yes",
		"relief", "Vent it.", "zero", "The gauge reads zero.", "recheck", "30", "pin", testSecrets["sam"])
	for _, tc := range [][2]string{{"kind", ""}, {"kind", "magic"}, {"source", ""}, {"hazard", ""}, {"relief", ""}, {"zero", ""}, {"size", strings.Repeat("9", 300)}, {"recheck", "-1"}, {"recheck", "NaN"}, {"recheck", "0.2"}, {"pin", "wrong"}} {
		m.storesNothing(func() {
			reply := sam.post(newEnergy, with(form, tc[0], tc[1]))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc[0]+`"`, tc)
			require.Equal(t, "air balancer", with(reply.filled(t, newEnergy), "source", "air balancer").Get("source"))
			if tc[0] != "hazard" {
				require.Equal(t, "Lets the hook go up.", reply.filled(t, newEnergy).Get("hazard"))
			}
		})
	}
	reply := sam.post(newEnergy, form)
	require.Equal(t, "/equipment/hoist", reply.URL.Path, reply.Body)
	reply.says(t, "It leaves out air balancer, which the register has")
	reply.says(t, `href="/procedures/new?equipment=hoist"`)
	reply.says(t, `href="/procedures/hoist/edit"`)
	require.NotContains(t, m.as("ada").get("/equipment/hoist").Body, `href="/procedures/hoist/edit"`)
	hoist, _ := m.plant().Find("hoist")
	added := hoist.Energies[len(hoist.Energies)-1]
	require.Equal(t, procedures.Energy{ID: added.ID, Kind: procedures.Pneumatic, Source: "air balancer", Magnitude: "90 psi", Hazard: "Lets the hook go up.", Stored: true, Relief: "Vent it.", Zero: "The gauge reads zero.", Recheck: 30 * time.Minute}, added)

	size := m.size()
	sam.post(newEnergy, form)
	require.Equal(t, size, m.size(), "sent twice it is one change")

	own := "/equipment/hoist/energy/" + string(added.ID)
	stale := sam.get(own).filled(t, own)
	require.Equal(t, "/equipment/hoist", sam.post(own, with(sam.get(own).filled(t, own), "size", "95 psi", "pin", testSecrets["sam"])).URL.Path)
	m.storesNothing(func() {
		sam.post(own, with(stale, "size", "1 psi", "pin", testSecrets["sam"])).says(t, "Somebody changed this meanwhile")
	})
	remove := func() page {
		return sam.post(own+"/remove", with(sam.get(own).filled(t, own+"/remove"), "pin", testSecrets["sam"]))
	}
	valve := with(sam.get(newDevice).filled(t, newDevice), "kind", "valve", "label", "Balancer valve", "lock", "yes", "cuts."+string(added.ID), "yes", "pin", testSecrets["sam"])
	require.Equal(t, "/equipment/hoist", sam.post(newDevice, valve).URL.Path)
	m.storesNothing(func() {
		reply := remove()
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "Balancer valve keeps only this away; remove that first")
	})
	with1, _ := m.plant().Find("hoist")
	off := "/equipment/hoist/device/" + string(with1.Devices[len(with1.Devices)-1].ID)
	require.Equal(t, "/equipment/hoist", sam.post(off+"/remove", with(sam.get(off).filled(t, off+"/remove"), "pin", testSecrets["sam"])).URL.Path)
	require.Equal(t, "/equipment/hoist", remove().URL.Path)
	again, _ := m.plant().Find("hoist")
	require.Len(t, again.Energies, len(hoist.Energies)-1)
}

const newDevice = "/equipment/hoist/device/new"

// 29 CFR 1910.147(b) "energy isolating device": push buttons, selector switches
// and other control circuit devices are none.
func TestADeviceOfControlIsRefusedWithTheReasonAndAnIsolatorIsKept(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := with(sam.get(newDevice).filled(t, newDevice), "kind", "disconnect", "label", "Second switch", "place", "east wall", "number", "9", "lock", "adapter", "cuts.hoist-electric", "yes", "pin", testSecrets["sam"])
	for _, control := range []string{"stop-button", "push-button", "pendant", "selector", "key", "clutch-lever"} {
		sam.get(newDevice).says(t, `value="`+control+`"`)
		m.storesNothing(func() {
			reply := sam.post(newDevice, with(form, "kind", control))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
			reply.says(t, `href="#f-kind"`)
			reply.says(t, "isn&#39;t an isolator")
			require.Equal(t, control, reply.filled(t, newDevice).Get("kind"))
			require.Equal(t, "east wall", reply.filled(t, newDevice).Get("place"))
		})
	}
	for _, tc := range [][2]string{{"kind", ""}, {"label", ""}, {"number", "0"}, {"number", "x"}, {"lock", ""}, {"cuts.hoist-electric", ""}, {"pin", ""}} {
		m.storesNothing(func() {
			reply := sam.post(newDevice, with(form, tc[0], tc[1]))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			field, _, _ := strings.Cut(tc[0], ".")
			reply.says(t, `href="#f-`+field+`"`, tc)
		})
	}
	require.Equal(t, "/equipment/hoist", sam.post(newDevice, form).URL.Path)
	hoist, _ := m.plant().Find("hoist")
	added := hoist.Devices[len(hoist.Devices)-1]
	require.Equal(t, procedures.Device{ID: added.ID, Kind: procedures.Disconnect, Label: "Second switch", Place: "east wall", Number: 9, Lockable: true, Adapter: true, Cuts: []procedures.EnergyID{"hoist-electric"}}, added)
	sam.get("/equipment/hoist").says(t, "takes a lock with an adapter")
	own := "/equipment/hoist/device/" + string(added.ID)
	require.Equal(t, "/equipment/hoist", sam.post(own+"/remove", with(sam.get(own).filled(t, own+"/remove"), "pin", testSecrets["sam"])).URL.Path)
	again, _ := m.plant().Find("hoist")
	require.Len(t, again.Devices, len(hoist.Devices)-1)
}

func TestATapOnThePhotoMarksThePointAndASignatureKeepsIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	own := "/equipment/hoist/device/hoist-disconnect"
	form := with(sam.get(own).filled(t, own), "pin", testSecrets["sam"])
	m.storesNothing(func() {
		reply := sam.postFiles(own, form, map[string][]byte{"photo": []byte("no picture")})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, `href="#f-photo"`)
	})
	m.storesNothing(func() {
		reply := sam.postFiles(own, with(form, "pin", "wrong"), map[string][]byte{"photo": picture(t, 40, 20)})
		reply.says(t, `name="photo_kept" value="`) // kept for the second try
	})
	point := own + "/point"
	reply := sam.postFiles(own, form, map[string][]byte{"photo": picture(t, 400, 200)})
	require.Equal(t, point, reply.URL.Path, reply.Body)
	reply.says(t, `type="image" name="tap"`)
	require.NotContains(t, reply.Body, `class="ring"`, "nothing is marked yet")

	var tapped page
	m.storesNothing(func() {
		tapped = sam.post(point, url.Values{"wide": {"288"}, "high": {"144"}, "tap.x": {"72"}, "tap.y": {"108"}})
		require.Equal(t, http.StatusOK, tapped.Status)
	})
	tapped.says(t, `cx="100" cy="150"`) // a quarter and three quarters of 400 by 200
	signed := tapped.lastForm(t)
	require.Equal(t, "25", signed.Get("left"))
	require.Equal(t, "75", signed.Get("top"))
	for _, tc := range [][2]string{{"left", ""}, {"left", "101"}, {"top", "-1"}, {"top", "NaN"}, {"pin", "wrong"}} {
		m.storesNothing(func() {
			reply := sam.post(point, with(with(signed, "pin", testSecrets["sam"]), tc[0], tc[1]))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc[0]+`"`, tc)
		})
	}
	kept := sam.post(point, with(signed, "pin", testSecrets["sam"]))
	require.Equal(t, "/equipment/hoist", kept.URL.Path, kept.Body)
	kept.says(t, `cx="100" cy="150"`)
	hoist, _ := m.plant().Find("hoist")
	require.Equal(t, procedures.Point{X: .25, Y: .75}, hoist.Devices[0].Point)

	away := sam.post(own, with(sam.get(own).filled(t, own), "no_photo", "yes", "photo_kept", "", "pin", testSecrets["sam"]))
	require.Equal(t, "/equipment/hoist", away.URL.Path, away.Body)
	hoist, _ = m.plant().Find("hoist")
	require.Empty(t, hoist.Devices[0].Photo)
	require.Zero(t, hoist.Devices[0].Point)
}

// lastForm is the fields of the last form of the page that has any filled in.
func (p page) lastForm(t *testing.T) url.Values {
	t.Helper()
	_, form, found := strings.Cut(p.Body[strings.LastIndex(p.Body, `name="submission"`)-200:], "<form")
	require.True(t, found)
	return page{Body: "<form" + form, URL: p.URL}.filled(t, p.URL.Path)
}

func TestAMarkAndItsNumberStayWithinThePicture(t *testing.T) {
	for _, at := range []procedures.Point{{X: 0.001, Y: 0.001}, {X: 1, Y: 0}, {X: 1, Y: 1}, {X: 0, Y: 1}, {X: .5, Y: .5}} {
		p := markedPhoto{Width: 1600, Height: 900}
		p.mark(at)
		require.True(t, p.Marked)
		require.GreaterOrEqual(t, p.NX-p.NR, 0, "%v", at)
		require.LessOrEqual(t, p.NX+p.NR, 1600, "%v", at)
		require.GreaterOrEqual(t, p.NY-p.NR, 0, "%v", at)
		require.LessOrEqual(t, p.NY+p.NR, 900+p.NR, "%v", at)
	}
	none := markedPhoto{Width: 10, Height: 10}
	none.mark(procedures.Point{})
	require.False(t, none.Marked)
	require.Empty(t, tapped("12", "0"))
	require.Equal(t, "100", tapped("1e9", "288"))
}

// 29 CFR 1910.147(c)(7)(i)(B): who works where it is locked out is told what a
// lockout is for; (c)(9): and each time.
func TestWhoWorksThereIsNamedAndWhatTheyWereNeverToldIsShown(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	path := "/equipment/hoist/affected"
	rita, ada := string(m.people["rita"].ID), string(m.people["ada"].ID)
	form := with(sam.get(path).filled(t, path), "affected."+rita, "yes", "affected."+ada, "yes", "pin", testSecrets["sam"])
	m.storesNothing(func() {
		reply := sam.post(path, with(form, "pin", "wrong"))
		require.Equal(t, "yes", reply.filled(t, path).Get("affected."+rita))
	})
	reply := sam.post(path, form)
	require.Equal(t, "/equipment/hoist", reply.URL.Path, reply.Body)
	reply.says(t, "Rita Vance — <strong>works at this equipment and wasn&#39;t told")
	require.NotContains(t, reply.Body, "Ada Rook — <strong>", "she is trained to lock it out")
	affected, err := m.desk().Affected(t.Context())
	require.NoError(t, err)
	require.Len(t, affected, 1)
	p, err := m.desk().Procedure(t.Context(), "hoist", 0)
	require.NoError(t, err)
	require.Equal(t, []procedures.PersonID{m.people["rita"].ID}, procedures.WhoToTell(p, affected, m.people["ada"].ID))

	nobody := with(sam.get(path).filled(t, path), "affected."+rita, "", "affected."+ada, "", "pin", testSecrets["sam"])
	require.Equal(t, "/equipment/hoist", sam.post(path, nobody).URL.Path)
	affected, err = m.desk().Affected(t.Context())
	require.NoError(t, err)
	require.Empty(t, affected)
}

// 29 CFR 1910.147(c)(4)(i), exception: parts 3 and 7 hold on a supervisor's word
// alone, and part 8 only while nothing was reported to have started unexpectedly.
func TestPartsOfTheExceptionAreDeclaredBySignatureAndNeverTicked(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	path := "/equipment/hoist/declare"
	form := with(sam.get("/equipment/hoist").filled(t, path), "fully_dead", "yes", "pin", testSecrets["sam"])
	m.storesNothing(func() {
		require.Equal(t, http.StatusForbidden, m.as("ada").post(path, form).Status)
		reply := sam.post(path, with(form, "pin", "wrong"))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		require.Equal(t, "yes", reply.filled(t, path).Get("fully_dead"))
	})
	holds := func() map[int]bool {
		parts, _, err := m.desk().Exception(t.Context(), "hoist")
		require.NoError(t, err)
		all := map[int]bool{}
		for _, part := range parts {
			all[part.Number] = part.Holds
		}
		return all
	}
	require.False(t, holds()[3])
	require.Equal(t, "/equipment/hoist", sam.post(path, form).URL.Path)
	require.True(t, holds()[3])
	require.False(t, holds()[7])
	require.True(t, holds()[8])
	sam.get("/equipment/hoist").says(t, "Last said by Sam Ordway")

	happened := with(sam.get("/departures/new").filled(t, "/departures/new"), "what", "the hook went up by itself", "equipment", "hoist", "unexpected", "yes", "pin", testSecrets["sam"])
	require.Equal(t, http.StatusOK, sam.post("/departures/new", happened).Status)
	require.False(t, holds()[8])
	departures, err := m.desk().Departures(t.Context(), true, 5)
	require.NoError(t, err)
	require.True(t, departures[0].Unexpected)
	closed, err := checklists.CloseDeparture(departures[0], m.people["sam"], "new pendant", m.clock.Now().Add(time.Hour))
	require.NoError(t, err)
	require.True(t, closed.Unexpected, "it stays so for good")
	m.storesNothing(func() { sam.post(path, with(form, "pin", "")) })
	require.NotContains(t, sam.get("/equipment/hoist").Body, "The law would let it")
}

func TestEveryLockoutByAnyVersionCountsForTheException(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	id := m.lockOut("ada", "hoist")
	m.unlock("ada", id)
	parts, _, err := m.desk().Exception(t.Context(), "hoist")
	require.NoError(t, err)
	require.True(t, parts[3].Holds, "it was locked: %s", parts[3].Why)
	require.True(t, parts[5].Holds, "by one person: %s", parts[5].Why)
}
