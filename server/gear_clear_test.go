package server

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

const goBadge, noGoBadge = `class="badge go"`, `class="badge no-go"`

// lifts asks for the usual cant on a version of a rig.
func (m *testMill) lifts(badge, rig, version string) {
	m.t.Helper()
	m.as("ada").post("/lifts/new", typing(redOakCant(), "rig", rig, "rig-version", version)).says(m.t, badge)
}

// Least link of 3/8 in chain: 0.342 in, ASME B30.9.
func TestWornPartIsNotBackOnOneMeasurementByAnybody(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada, sam := m.as("ada"), m.as("sam")
	sam.post(chainLegs+"/measured", sizeOf("sam", "value", "0.33 in")).says(t, "measured past its limit on")
	m.clock.Advance(time.Minute)
	ada.post(chainLegs+"/measured", sizeOf("ada", "value", "0.36 in")).says(t, "not to be used")
	m.lifts(noGoBadge, "main-hoist", "2")
	sam.post(chainLegs+"/inspected", lookOver("sam", "every", "month"))
	m.lifts(noGoBadge, "main-hoist", "2")
	m.clock.Advance(time.Minute)
	sam.post(chainLegs+"/measured", sizeOf("sam", "value", "0.36 in")).says(t, "nothing entered stands against it")
	m.lifts(goBadge, "main-hoist", "2")
}

// Throat at most 5 % over its size as new, ASME B30.10.
func TestSizeAsNewOfAHookIsNotTypedAnew(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada, sam := m.as("ada"), m.as("sam")
	hook := "/gear/main-hoist/hoist-hook"
	throat := func(who, value, asNew string) url.Values {
		return sizeOf(who, "what", "throat", "value", value, "new", asNew)
	}
	ada.post(hook+"/measured", throat("ada", "1.02 in", "1 in")).says(t, "nothing entered stands against it")
	m.clock.Advance(time.Minute)
	m.storesNothing(func() {
		reply := ada.post(hook+"/measured", throat("ada", "1.1 in", "1.2 in"))
		require.Equal(t, 422, reply.Status)
		require.Contains(t, reply.Body, `id="f-new"`)
		reply.says(t, "qualified for lifting gear changes the size as new")
	})
	ada.post(hook+"/measured", throat("ada", "1.1 in", "")).says(t, "not to be used")
	m.lifts(noGoBadge, "main-hoist", "2")
	m.clock.Advance(time.Minute)
	sam.post(hook+"/measured", throat("sam", "1.1 in", "1.2 in")).says(t, "nothing entered stands against it")
}

func TestCrackOfTheYearlyInspectionIsNotClearedByAWeeklyPass(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	sam := m.as("sam")
	sam.post(chainLegs+"/inspected", lookOver("sam", "every", "year", "fit", "no", "gear-note", "a crack"))
	for _, every := range []string{"shift", "week", "month"} {
		m.clock.Advance(time.Minute)
		sam.post(chainLegs+"/inspected", lookOver("sam", "every", every)).says(t, "until a person qualified for lifting gear passes it at a yearly inspection")
		m.lifts(noGoBadge, "main-hoist", "2")
	}
	m.clock.Advance(time.Minute)
	sam.post(chainLegs+"/inspected", lookOver("sam", "every", "year"))
	m.lifts(goBadge, "main-hoist", "2")
}

// The hoist is looked over each month from the first version on, entered before
// or not: 29 CFR 1910.179(j)(2).
func TestHoistNobodyLookedOverForAMonthIsNoGo(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	m.later(15)
	m.lifts(goBadge, "main-hoist", "2")
	m.later(14)
	m.as("ada").post("/lifts/new", redOakCant()).says(t, "Hoist: its inspection was due")
	gear := m.as("rita").get("/gear")
	gear.says(t, "4 parts not to be used")
	gear.says(t, "none owed: looked at before each shift, inspected each year")
	m.as("sam").post("/gear/main-hoist", roundOf("sam"))
	m.lifts(goBadge, "main-hoist", "2")
}

// yardCrane is another rig in force, its legs with that tag, begun from nothing.
func (m *testMill) yardCrane(tag string) lift.Rig {
	m.t.Helper()
	rig := lift.BeginRig(store.NewID(), "Yard crane", lift.Rig{})
	from := testRig(m.clock.Now())
	from.ID, from.Name = rig.ID, rig.Name
	for i := range from.Links {
		from.Links[i].ID, from.Links[i].Tag = rig.Links[i].ID, "yard "+rig.Links[i].ID
	}
	from.Links[5].Tag = tag
	m.useRig(from)
	return from
}

func TestSteelOutOfUseInOneRigIsOutInTheOther(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	yard := m.yardCrane(" PLATE ")
	m.lifts(goBadge, yard.ID, "1")
	m.as("rita").get("/gear").says(t, "also in Yard crane")
	m.as("ada").post(chainLegs+"/inspected", lookOver("ada", "every", "shift", "fit", "no", "gear-note", "a nick"))
	m.lifts(noGoBadge, "main-hoist", "2")
	m.lifts(noGoBadge, yard.ID, "1")
	m.as("rita").get("/gear/"+yard.ID+"/"+yard.Links[5].ID).says(t, "a nick")

	m = liftingMill(t)
	yard = m.yardCrane("plate")
	m.as("ada").post(chainLegs+"/measured", sizeOf("ada", "value", "0.33 in"))
	m.lifts(noGoBadge, yard.ID, "1")

	m = liftingMill(t)
	yard = m.yardCrane("plate")
	rig := testRig(m.clock.Now())
	rig.Links[5].State = lift.Destroyed
	m.useRig(rig)
	m.lifts(noGoBadge, yard.ID, "1")
	m.storesNothing(func() {
		d, err := store.DraftOf(store.Rigs, yard.ID, yard.Name, yard)
		require.NoError(t, err)
		require.Error(t, m.desk().PublishDraft(t.Context(), store.NewID(), d, m.people["sam"], m.clock.Now(), store.NumberRig))
	})
}

func TestPartThatHungIdleIsIdleInARigPutInForceToday(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	m.clock.Advance(40 * 24 * time.Hour)
	yard := m.yardCrane("plate")
	m.preShift("ada", nil, everyMachine...)
	reply := m.as("ada").post("/lifts/new", typing(redOakCant(), "rig", yard.ID, "rig-version", "1"))
	reply.says(t, noGoBadge)
	reply.says(t, "Chain legs: idle since")
}

func TestNewRigKeepsTheHoistOnPurposeOrNothing(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	sam := m.as("sam")
	begin := func(from string) lift.Rig {
		t.Helper()
		id := store.NewID()
		reply := sam.post("/rigs/new", url.Values{"submission": {id}, "name": {"Yard crane"}, "from": {from}})
		require.Regexp(t, "^/rigs/"+id+".*/edit$", reply.URL.Path, firstProblem(reply))
		id = strings.Split(reply.URL.Path, "/")[2]
		d, err := m.desk().Draft(t.Context(), store.Rigs, id)
		require.NoError(t, err)
		return documentOf[lift.Rig](t, d.Doc)
	}
	alone, shared := begin("none"), begin("main-hoist")
	require.Empty(t, alone.Begun)
	require.Equal(t, "main-hoist", shared.Begun)
	for i, l := range lift.StarterRig().Links {
		require.NotEqual(t, l.ID, alone.Links[i].ID)
		require.Equal(t, i < 4, l.ID == shared.Links[i].ID, l.ID)
	}
	form := typing(formOn(sam.get("/rigs/"+shared.ID+"/edit")), "pin", testSecrets["sam"])
	require.Equal(t, "/rigs/"+shared.ID, sam.post("/rigs/"+shared.ID+"/edit", form).URL.Path)
	now, _, err := m.desk().Rig(t.Context(), shared.ID, 0)
	require.NoError(t, err)
	require.Equal(t, "main-hoist", now.Begun, "the form keeps it")
	m.as("rita").get("/gear").says(t, "also in Yard crane")
	m.storesNothing(func() {
		require.Equal(t, 422, sam.post("/rigs/new", url.Values{"submission": {store.NewID()}, "name": {"X"}, "from": {"no-such"}}).Status)
	})
}

// unqualify makes sam a supervisor who is not recorded as qualified.
func (m *testMill) unqualify() {
	m.t.Helper()
	sam := m.people["sam"]
	sam.QualifiedLifting = false
	require.NoError(m.t, m.desk().KeepPerson(m.t.Context(), store.NewID(), sam, "", m.people["sam"], m.clock.Now()))
	m.people["sam"] = sam
}

func TestDayOfInspectionNeedsAQualifiedSigner(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	zone, err := m.mill.Location()
	require.NoError(t, err)
	rig := testRig(m.clock.Now())
	for i := range rig.Links { // days, as the form has them
		rig.Links[i].Inspected = time.Date(2026, 2, 28, 0, 0, 0, 0, zone)
		rig.Links[i].InspectionDue = time.Date(2026, 12, 31, 23, 59, 59, 0, zone)
	}
	m.useRig(rig)
	m.unqualify()
	sam := m.as("sam")
	edit := func(pairs ...string) page {
		return sam.post("/rigs/main-hoist/edit", typing(formOn(sam.get("/rigs/main-hoist/edit")), append(pairs, "pin", testSecrets["sam"])...))
	}
	m.storesNothing(func() {
		for _, tc := range [][]string{{"link-6-inspected", "2026-03-02"}, {"link-6-due", "2027-01-05"}} {
			reply := edit(tc...)
			require.Equal(t, 422, reply.Status)
			require.Contains(t, reply.Body, `href="#f-`+tc[0]+`"`)
			reply.says(t, "qualified for lifting gear")
		}
	})
	require.Equal(t, "/rigs/main-hoist", edit("setting", "fourth hole").URL.Path, "the rest is a supervisor's")
}

func TestFirstRigOfAMillIsDatedByNamingWhoInspected(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.unqualify()
	sam := m.as("sam")
	form := formOn(sam.get("/rigs/main-hoist/edit"))
	for i := range 7 {
		field := func(name string) string { return linkField(i, name) }
		form = typing(form, field("inspected"), "2026-02-20", field("due"), "2027-02-20")
	}
	form.Set("pin", testSecrets["sam"])
	m.storesNothing(func() {
		reply := sam.post("/rigs/main-hoist/edit", form)
		require.Equal(t, 422, reply.Status)
		require.Contains(t, reply.Body, `href="#f-link-1-inspected-by"`)
	})
	for i := range 7 {
		form.Set(linkField(i, "inspected-by"), "Kettle Hoist Service, report 12")
	}
	reply := sam.post("/rigs/main-hoist/edit", form)
	require.Equal(t, "/rigs/main-hoist", reply.URL.Path, firstProblem(reply))
	reply.says(t, "by Kettle Hoist Service, report 12, as entered")
}

func TestPartFoundUnfitDoesNotComeBackUnderANewId(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	ada.post(chainLegs+"/inspected", lookOver("ada", "every", "shift", "fit", "no", "gear-note", "a nick"))
	m.clock.Advance(time.Minute)
	swap := func(why string) page {
		sam := m.as("sam")
		form := formOn(sam.get("/rigs/main-hoist/edit"))
		kept := url.Values{}
		for name, values := range form {
			if strings.HasPrefix(name, "link-6-") {
				kept[name] = values
			}
		}
		kept.Set("link-6-id", store.NewID())
		for name, values := range kept {
			form[name] = values
		}
		return sam.post("/rigs/main-hoist/edit", typing(form, "why", why, "pin", testSecrets["sam"]))
	}
	m.storesNothing(func() {
		reply := swap("")
		require.Equal(t, 422, reply.Status)
		require.Contains(t, reply.Body, `href="#f-why"`)
	})
	reply := swap("the chain was cut up")
	require.Equal(t, "/rigs/main-hoist", reply.URL.Path, firstProblem(reply))
	reply.says(t, "the chain was cut up")
	m.lifts(noGoBadge, "main-hoist", "3")
	m.unqualify()
	m.storesNothing(func() {
		reply := swap("the chain was cut up")
		require.Equal(t, 422, reply.Status)
		reply.says(t, "qualified for lifting gear")
	})
}

func TestGearSaysForWhatALoadIsMarked(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	rig := testRig(m.clock.Now())
	rig.Links[5].MarkedFor = lift.TwoLegs60
	m.useRig(rig)
	for _, path := range []string{"/gear", chainLegs} {
		m.as("rita").get(path).says(t, "2,000 lb, two legs at 60°")
	}
}

func TestOlderMeasurementsAreFoldedAway(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	for _, size := range []string{"0.37 in", "0.365 in", "0.36 in"} {
		m.as("ada").post(chainLegs+"/measured", sizeOf("ada", "value", size))
		m.clock.Advance(time.Minute)
	}
	page := m.as("rita").get(chainLegs)
	page.says(t, "Older ones: 2")
	before, folded, _ := strings.Cut(page.Body, `<details class="more-of"`)
	require.Contains(t, before, "0.360 in")
	require.Contains(t, folded, "0.370 in")
}
