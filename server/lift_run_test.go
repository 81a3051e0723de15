package server

import (
	"html"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func runAnswers(pairs ...string) url.Values {
	form := url.Values{"submission": {store.NewID()}, "alike": {"yes"}, "as-set": {"yes"}}
	for _, field := range []string{"landing-clear", "nobody-under", "latch-closed", "free", "trial-lift", "seated"} {
		form.Set(field, "yes")
	}
	return typing(form, pairs...)
}

// lapsed requires that the kept lift at that address stands no more for that
// reason, on its page, on the list and for another of its run.
func (m *testMill) lapsed(at, why string) {
	m.t.Helper()
	ada := m.as("ada")
	page := ada.get(at)
	page.says(m.t, "It stands no more", why)
	page.says(m.t, html.EscapeString(why))
	assert.NotContains(m.t, page.Body, at+"/run", why)
	ada.get("/lifts").says(m.t, html.EscapeString(why))
	m.storesNothing(func() {
		reply := ada.post(at+"/run", runAnswers())
		assert.Equal(m.t, 409, reply.Status, why)
		reply.says(m.t, html.EscapeString(why))
		assert.NotContains(m.t, reply.Body, `name="alike"`, "no form to send again")
	})
}

func TestKeptGoSaysUntilWhenItStands(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	page := m.as("rita").get(at)
	page.says(t, "It still stands")
	page.says(t, "3:30\u00a0pm")
	page.says(t, "as long: 7 ft 6 in")
	assert.NotContains(t, page.Body, at+"/run", "somebody who reads lifts nothing")
	m.as("ada").get(at).says(t, at+"/run")
	m.as("ada").get("/lifts").says(t, "until today 3:30\u00a0pm")
	m.clock.Advance(9*time.Hour + 30*time.Minute)
	m.lapsed(at, "the shift it was given in is over")
}

func TestChangedRigEndsACheck(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	r := testRig(m.clock.Now())
	r.LegLength *= 1.1
	m.useRig(r)
	m.lapsed(at, "the gear was changed since")
}

func TestPartFoundNotFitEndsACheck(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	_, err := m.desk().KeepGearInspection(t.Context(), store.NewID(), store.GearInspection{Rig: "main-hoist", Link: "legs", Every: "shift", Note: "nick"}, false, m.people["ada"], m.clock.Now())
	require.NoError(t, err)
	m.lapsed(at, "was found not fit, or past its limit, after this check")
	m.clock.Advance(time.Minute) // repaired or swapped, nobody knows
	_, err = m.desk().KeepGearInspection(t.Context(), store.NewID(), store.GearInspection{Rig: "main-hoist", Link: "legs", Every: "year", Fit: true, Note: "passed"}, true, m.people["sam"], m.clock.Now())
	require.NoError(t, err)
	m.as("ada").post("/lifts/new", redOakCant()).says(t, `class="badge go"`)
	m.lapsed(at, "was found not fit, or past its limit, after this check")
}

func TestAPartMeasuredPastItsLimitEndsACheckForGood(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	for _, reach := range []float64{1.2, 1} {
		m.clock.Advance(time.Minute)
		_, err := m.desk().KeepGearMeasurement(t.Context(), store.NewID(), store.GearMeasurement{Rig: "main-hoist", Link: "legs", What: "reach", Value: reach, New: 1}, m.people["sam"], m.clock.Now())
		require.NoError(t, err)
	}
	m.lapsed(at, "was found not fit, or past its limit, after this check")
}

// The page said GO, it still stands, another of this run, beside a scale that
// showed more than the rigging was judged for.
func TestAScaleThatShowedMoreEndsTheCheck(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	l := domainCant(t, m)
	f := &views.Frame{Units: checklists.InchPound}
	require.Equal(t, 200, m.as("ada").post(at+"/weighed", reading("scale", "920 lb")).Status)
	why := f.T("the scale showed %[1]s for this piece, more than the %[2]s it was reckoned with", 900*plain.Pound, lift.Check(l).Weight.Upper)
	m.lapsed(at, why)
	page := m.as("ada").get(at)
	require.Equal(t, f.T("Over: it was a GO, reckoned no heavier than %s", lift.Check(l).Weight.Upper), page.title())
	page.says(t, `<p class="problem">`+html.EscapeString(why))
	page.says(t, `class="badge was-go"`)
	assert.NotContains(t, page.Body, `class="badge go"`)
	m.as("ada").get("/lifts").says(t, `class="badge was-go small"`)

	// A second reading doesn't undo it.
	require.Equal(t, 200, m.as("ada").post(at+"/weighed", reading("scale", "600 lb")).Status)
	m.lapsed(at, why)
	lighter := keepCant(t, m)
	require.Equal(t, 200, m.as("ada").post(lighter+"/weighed", reading("scale", "500 lb")).Status)
	m.as("ada").get(lighter).says(t, "It still stands")
}

// A reading of another piece says such wood is heavier than the check counted.
func TestWhatTheScaleTeachesIsAskedBeforeTheNextPieceOfARun(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	at := ada.post("/lifts/new", typing(redOakCant(), "extra", "650 lb", "keep", "yes")).URL.Path
	ada.get(at).says(t, "Another of this run")
	other := ada.post("/lifts/new", typing(redOakCant(), "length", "4 ft", "span", "3 ft 9 in", "keep", "yes")).URL.Path
	require.Equal(t, 200, ada.post(other+"/weighed", reading("scale", "510 lb")).Status)
	m.lapsed(at, "by what is known today it is no GO")
}

func TestAYokeThatWasPinnedAnewIsAskedAbout(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	bo := m.as("bo")
	l := domainCant(t, m)
	set := asSet(&views.Frame{Units: checklists.InchPound}, &l.Rig)
	require.Contains(t, set, "yoke ")
	bo.get(at).says(t, html.EscapeString(set))
	bo.get(at+"/run").says(t, html.EscapeString("The yoke is set as said here: "+set))
	m.storesNothing(func() { require.Equal(t, 422, bo.post(at+"/run", runAnswers("as-set", "")).Status) })
	refused := bo.post(at+"/run", runAnswers("as-set", "no"))
	refused.says(t, "answered no: the yoke is set as said here")
	refused.says(t, "Further pieces on this check: 0 lifted")
}

func TestARunGoesOnNoSupervisorsSignatureButItsOwn(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	form := typing(redOakCant(), "extra", "720 lb", "keep", "yes", "signer", string(m.people["sam"].ID), "pin", testSecrets["sam"])
	kept := m.as("ada").post("/lifts/new", form)
	require.Contains(t, kept.Body, "signed for it", kept.title())
	at := kept.URL.Path
	why := "and a supervisor signed for that one piece"
	kept.says(t, why)
	assert.NotContains(t, kept.Body, at+"/run")
	m.storesNothing(func() {
		reply := m.as("bo").post(at+"/run", runAnswers())
		require.Equal(t, 409, reply.Status)
		reply.says(t, why)
		assert.NotContains(t, reply.Body, `name="alike"`)
	})
	assert.NotContains(t, m.as("bo").post("/lifts/new", typing(redOakCant(), "extra", "720 lb")).Body, "no need to keep it again")
}

func TestLockoutOfTheLandingEndsACheckWhileItLasts(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	m.lockOut("bo", "carriage")
	m.lapsed(at, "Reported locked out since")
}

func TestShockLoadIsTwoTapsAndHoldsTheHoist(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	ada := m.as("ada")
	for _, from := range []string{at, "/lifts"} {
		ada.get(from).says(t, `href="/lifts/shock-load"`)
	}
	page := ada.get("/lifts/shock-load") // the first tap
	page.says(t, `value="hoist"`)
	m.storesNothing(func() {
		assert.Equal(t, 422, ada.post("/lifts/shock-load", url.Values{"submission": {store.NewID()}, "equipment": {"carriage"}}).Status)
		assert.Equal(t, 403, m.as("rita").post("/lifts/shock-load", url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}}).Status)
	})
	form := url.Values{"submission": {page.submission()}, "equipment": {"hoist"}}
	before := m.size()
	held := ada.post("/lifts/shock-load", form) // the second
	require.True(t, strings.HasPrefix(held.URL.Path, "/defects/"), held.URL.Path)
	held.says(t, "Shock load: dropped, snatched or bumped.")
	ada.post("/lifts/shock-load", form) // a phone that heard no answer
	require.Equal(t, before+1, m.size())
	require.Equal(t, checklists.Held, m.status("hoist"))
	ada.post("/lifts/new", redOakCant()).says(t, `class="badge no-go"`)
	m.lapsed(at, "a shock load was reported since: the gear is inspected before it lifts again")

	// Back in service by somebody qualified, the hoist lifts, on a new check only.
	d := m.defect(held.URL.Path)
	later := m.clock.Now().Add(time.Minute)
	require.NoError(t, m.desk().MendDefect(t.Context(), store.NewID(), d.ID, "inspected from beam to hooks", "", m.people["ada"], later))
	require.NoError(t, m.desk().ReturnDefect(t.Context(), store.NewID(), d.ID, checklists.Recheck{}, m.people["sam"], later.Add(time.Minute)))
	m.clock.Advance(5 * time.Minute)
	again := ada.post("/lifts/new", redOakCant())
	again.says(t, `class="badge go"`)
	assert.NotContains(t, again.Body, "no need to keep it again")
	m.lapsed(at, "a shock load was reported since: the gear is inspected before it lifts again")
}

func TestLikePieceIsCoveredByTheCheckBefore(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	assert.NotContains(t, ada.post("/lifts/new", redOakCant()).Body, "no need to keep it again")
	at := keepCant(t, m)
	unanswered := typing(redOakCant(), "seated", "")
	for name, form := range map[string]url.Values{"the same": redOakCant(), "thinner": typing(redOakCant(), "small", "17", "large", "18"), "questions still to be asked": unanswered} {
		reply := bo.post("/lifts/new", form)
		reply.says(t, "by Ada Rook: covered, no need to keep it again", name)
		reply.says(t, at+"/run", name)
	}
	for name, form := range map[string]url.Values{
		"heavier": typing(redOakCant(), "large", "20"), "longer": typing(redOakCant(), "length", "7 ft 8 in"), "other wood": typing(redOakCant(), "species", "red maple"),
		"other hook span": typing(redOakCant(), "span", "7 ft"), "elsewhere": typing(redOakCant(), "lands", "dust-collection"), "a tag that can't be read": typing(redOakCant(), "unreadable-legs", "yes"),
	} {
		assert.NotContains(t, bo.post("/lifts/new", form).Body, "no need to keep it again", name)
	}
	m.clock.Advance(10 * time.Hour)
	assert.NotContains(t, bo.post("/lifts/new", redOakCant()).Body, "no need to keep it again", "the shift is over")
}

func TestFurtherPiecesOfARunAreKeptWithWhoLiftedThem(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	at := keepCant(t, m)
	bo := m.as("bo")
	ask := bo.get(at + "/run")
	ask.says(t, "It is a piece the check covers")
	assert.NotContains(t, ask.Body, `value="yes" checked`)
	m.storesNothing(func() {
		for _, field := range []string{"alike", "seated", "nobody-under"} {
			reply := bo.post(at+"/run", runAnswers(field, ""))
			require.Equal(t, 422, reply.Status, field)
			assert.Contains(t, reply.Body, `href="#f-`+field+`"`)
			assert.Contains(t, reply.Body, `name="free" value="yes" checked`, "what was answered stays")
		}
		assert.Equal(t, 403, m.as("rita").post(at+"/run", runAnswers()).Status)
		assert.Equal(t, 404, bo.post("/lifts/none/run", runAnswers()).Status)
	})
	before := m.size()
	form := runAnswers()
	reply := bo.post(at+"/run", form)
	require.Equal(t, 200, reply.Status, reply.Body)
	require.Equal(t, at, reply.URL.Path)
	reply.says(t, "Further pieces on this check: 1 lifted")
	reply.says(t, "Bo Lind")
	bo.post(at+"/run", form)
	require.Equal(t, before+1, m.size(), "the same submission is one piece")

	for field, why := range map[string]string{"seated": "answered no: both points are in", "alike": "answered no: it is a piece the check covers"} {
		refused := m.as("ada").post(at+"/run", runAnswers(field, "no"))
		require.Equal(t, at, refused.URL.Path)
		refused.says(t, "NO-GO: not every question was answered with yes")
		refused.says(t, why)
		refused.says(t, "Further pieces on this check: 1 lifted")
	}
	require.Equal(t, before+3, m.size(), "a no is kept")

	refused := m.as("ada").post("/lifts/new", typing(redOakCant(), "unreadable-legs", "yes", "keep", "yes")).URL.Path
	m.storesNothing(func() { assert.Equal(t, 409, bo.post(refused+"/run", runAnswers()).Status, "a NO-GO has no run") })
}

func TestKeptNoGoSaysWhatWouldHaveMadeItAGo(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := m.as("ada")
	kept := ada.post("/lifts/new", typing(redOakCant(), "extra", "1400 lb", "keep", "yes"))
	l := domainCant(t, m)
	l.Piece.Extra = 1400 * float64(plain.Pound)
	want := lift.Remedies(l)
	require.NotEmpty(t, want)
	kept.says(t, "What would have made it a GO")
	for _, one := range want {
		kept.says(t, html.EscapeString((&views.Frame{Units: checklists.InchPound}).Say(one.Said())))
	}
	assert.NotContains(t, ada.get(keepCant(t, m)).Body, "What would have made it a GO")
	m.lockOut("bo", "carriage")
	held := ada.post("/lifts/new", typing(redOakCant(), "extra", "1400 lb", "keep", "yes"))
	assert.NotContains(t, held.Body, "What would have made it a GO", "what held it from elsewhere is not the form's to mend")
}
