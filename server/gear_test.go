package server

import (
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

const chainLegs = "/gear/main-hoist/legs"

func lookOver(who string, pairs ...string) url.Values {
	return typing(url.Values{"submission": {store.NewID()}, "every": {"month"}, "fit": {"yes"}, "pin": {testSecrets[who]}}, pairs...)
}

func sizeOf(who string, pairs ...string) url.Values {
	return typing(url.Values{"submission": {store.NewID()}, "what": {"link"}, "value": {"0.36 in"}, "pin": {testSecrets[who]}}, pairs...)
}

// Least link of 3/8 in chain: 0.342 in, ASME B30.9.
func TestChainMeasuredBelowItsLimitIsNoGoAtTheNextLift(t *testing.T) {
	m := liftingMill(t)
	ada := m.as("ada")
	ada.post(chainLegs+"/measured", sizeOf("ada")).says(t, "out of use below")
	ada.post("/lifts/new", redOakCant()).says(t, `class="badge go"`)
	reply := ada.post(chainLegs+"/measured", sizeOf("ada", "value", "0.34 in"))
	require.Equal(t, 200, reply.Status, reply.Body)
	reply.says(t, "not to be used")
	reply.says(t, "<polyline")
	ada.post("/lifts/new", redOakCant()).says(t, `class="badge no-go"`)
	ada.post("/lifts/new", typing(redOakCant(), "keep", "yes")).says(t, "Chain legs is out of service")
	m.as("rita").get("/gear").says(t, "out of service")
	m.as("rita").get("/rigs/main-hoist").says(t, "no lift may be made")
}

func TestInspectionOverdueInTheRegisterIsNoGo(t *testing.T) {
	m := liftingMill(t)
	m.as("sam").post(chainLegs+"/inspected", lookOver("sam")).says(t, "fit for use")
	m.as("ada").post("/lifts/new", redOakCant()).says(t, `class="badge go"`)
	rig := registered(testRig(m.clock.Now()), gearOf(t, m))
	at := m.clock.Now().AddDate(0, 1, 1)
	var late []lift.Finding
	for _, f := range rig.Faults(at) {
		if f.Rule == lift.InspectionRule {
			late = append(late, f)
		}
	}
	require.Len(t, late, 1, "the legs alone, a month later")
}

func gearOf(t *testing.T, m *testMill) store.Gear {
	t.Helper()
	g, err := m.desk().Gear(t.Context(), "main-hoist")
	require.NoError(t, err)
	return g
}

func TestUnfitPartIsOutUntilAQualifiedPersonPassesIt(t *testing.T) {
	m := liftingMill(t)
	ada := m.as("ada")
	ada.post(chainLegs+"/inspected", lookOver("ada", "every", "shift", "fit", "no", "gear-note", "a nick <deep>")).says(t, "a nick &lt;deep&gt;")
	ada.post("/lifts/new", redOakCant()).says(t, `class="badge no-go"`)
	m.storesNothing(func() {
		reply := ada.post(chainLegs+"/inspected", lookOver("ada"))
		require.Equal(t, 422, reply.Status)
		reply.says(t, "recorded as qualified for lifting gear")
	})
	m.as("sam").post(chainLegs+"/inspected", lookOver("sam")) // of the same moment: the worse counts
	ada.post("/lifts/new", redOakCant()).says(t, `class="badge no-go"`)
}

func TestWhatCannotBeMeantOfGearIsNotKept(t *testing.T) {
	m := liftingMill(t)
	ada := m.as("ada")
	m.storesNothing(func() {
		for _, tc := range []struct{ field, typed string }{{"what", ""}, {"what", "throat"}, {"what", "x"}, {"value", ""}, {"value", "-1"}, {"value", "NaN"}, {"value", "3 lb"},
			{"value", "0"}, {"value", "99999 ft"}, {"new", "x"}, {"pin", ""}, {"pin", "0000"}} {
			reply := ada.post(chainLegs+"/measured", sizeOf("ada", tc.field, tc.typed))
			require.Equal(t, 422, reply.Status, "%s=%q", tc.field, tc.typed)
			assert.Contains(t, reply.Body, `id="f-`+tc.field+`"`)
			if tc.field == "pin" {
				m.clock.Advance(1 << 36)
			}
		}
		for _, tc := range []struct{ field, typed string }{{"every", ""}, {"every", "decade"}, {"fit", ""}, {"fit", "maybe"}, {"gear-note", strings.Repeat("x", 600)}} {
			reply := ada.post(chainLegs+"/inspected", lookOver("ada", "every", "shift", tc.field, tc.typed))
			require.Equal(t, 422, reply.Status, "%s=%q", tc.field, tc.typed)
		}
		require.Equal(t, 422, ada.post(chainLegs+"/inspected", lookOver("ada", "every", "shift", "fit", "no")).Status, "not fit, without a word why")
		require.Equal(t, 404, ada.post("/gear/main-hoist/nothing/measured", sizeOf("ada")).Status)
		require.Equal(t, 404, ada.get("/gear/nothing/legs").Status)
		require.Equal(t, 403, m.as("rita").post(chainLegs+"/measured", sizeOf("rita")).Status)
	})
}

func TestSecondRigIsEnteredAndCanBeLiftedWith(t *testing.T) {
	m := liftingMill(t)
	sam := m.as("sam")
	first := sam.get("/rigs/new")
	m.storesNothing(func() {
		require.Equal(t, 422, sam.post("/rigs/new", url.Values{"submission": {first.submission()}, "name": {""}}).Status)
		require.Equal(t, 422, sam.post("/rigs/new", url.Values{"submission": {first.submission()}, "name": {strings.Repeat("x", 90)}}).Status)
		require.Equal(t, 403, m.as("ada").post("/rigs/new", url.Values{"name": {"Yard crane"}}).Status)
	})
	form := url.Values{"submission": {first.submission()}, "name": {"Yard crane"}}
	edit := sam.post("/rigs/new", form)
	require.Equal(t, 200, edit.Status, edit.Body)
	require.Equal(t, edit.URL.Path, sam.post("/rigs/new", form).URL.Path, "sent twice it is one rig")
	id := strings.Split(edit.URL.Path, "/")[2]
	rig := testRig(m.clock.Now())
	rig.ID, rig.Name = id, "Yard crane"
	d, err := store.DraftOf(store.Rigs, id, rig.Name, rig)
	require.NoError(t, err)
	d.Revision = 1
	require.NoError(t, m.desk().PublishDraft(t.Context(), store.NewID(), d, m.people["sam"], m.clock.Now(), store.NumberRig))
	m.as("ada").get("/lifts/new?rig=main-hoist").says(t, "Yard crane")
	m.as("ada").post("/lifts/new", typing(redOakCant(), "rig", id, "rig-version", "1")).says(t, `class="badge go"`)
	m.as("rita").get("/gear").says(t, "Yard crane")
}
