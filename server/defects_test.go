package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// stopped raises a defect on a machine and returns its address.
func (m *testMill) stopped(p *phone, machine, what string) string {
	m.t.Helper()
	reply := p.post("/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {machine}, "what": {what}})
	require.Equal(m.t, 200, reply.Status)
	open, err := m.desk().Defects(m.t.Context(), true, 1)
	require.NoError(m.t, err)
	require.NotEmpty(m.t, open)
	return "/defects/" + string(open[0].ID)
}

func (m *testMill) defect(address string) checklists.Defect {
	m.t.Helper()
	d, err := m.desk().Defect(m.t.Context(), checklists.DefectID(strings.TrimPrefix(address, "/defects/")))
	require.NoError(m.t, err)
	return d
}

// signed is a form with a new submission and the person's PIN.
func signed(who string, more url.Values) url.Values {
	form := url.Values{"submission": {store.NewID()}, "pin": {testSecrets[who]}}
	for name, values := range more {
		form[name] = values
	}
	return form
}

func TestDefectIsDescribedMendedAndReturnedByASecondPerson(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	at := m.stopped(m.phone(), "head-saw", "")
	shown := ada.get(at)
	require.Equal(t, "Stopped, not said why: open, holds Head saw", shown.title())
	shown.says(t, "somebody not signed in")
	require.Equal(t, 422, ada.post(at+"/describe", url.Values{"submission": {store.NewID()}, "what": {" "}}).Status)
	reply := ada.postFiles(at+"/describe", url.Values{"submission": {store.NewID()}, "what": {"splitter loose"}}, map[string][]byte{"what_photo": picture(t, 90, 60)})
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Equal(t, "splitter loose: open, holds Head saw", reply.title())
	reply.says(t, `src="/photos/`)
	m.storesNothing(func() {
		require.Equal(t, 422, ada.post(at+"/describe", url.Values{"submission": {store.NewID()}, "what": {"all well"}}).Status, "what was said stands")
		require.Equal(t, 422, ada.post(at+"/return", signed("ada", nil)).Status, "not mended yet")
		reply := ada.postFiles(at+"/mend", signed("ada", url.Values{"note": {"new bolts"}, "pin": {"0000"}}), map[string][]byte{"photo": picture(t, 33, 33)})
		require.Equal(t, 422, reply.Status)
		reply.says(t, "new bolts</textarea>")
		reply.says(t, `name="photo_kept" value="`)
		reply.says(t, `href="#f-pin"`)
		for note, why := range map[string]string{"": "nothing said", strings.Repeat("x", 2001): "too long"} {
			reply = ada.post(at+"/mend", signed("ada", url.Values{"note": {note}}))
			require.Equal(t, 422, reply.Status, why)
			reply.says(t, `href="#f-note"`, why)
		}
		reply = ada.postFiles(at+"/mend", signed("ada", url.Values{"note": {"new bolts"}}), map[string][]byte{"photo": make([]byte, photoMost+1)})
		require.Equal(t, 422, reply.Status)
		reply.says(t, `href="#f-photo"`)
	})
	reply = ada.postFiles(at+"/mend", signed("ada", url.Values{"note": {"new bolts"}, "pin": {""}}), map[string][]byte{"photo": picture(t, 34, 33)})
	_, after, _ := strings.Cut(reply.Body, `name="photo_kept" value="`)
	digest, _, _ := strings.Cut(after, `"`)
	reply = ada.post(at+"/mend", signed("ada", url.Values{"note": {"new bolts"}, "photo_kept": {digest}}))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Len(t, m.defect(at).MendPhoto, 64, "the photo sent with a wrong PIN is not asked for again")
	require.Equal(t, "splitter loose: mended, waits for return to service", reply.title())
	reply.says(t, "somebody else returns it to service")
	require.NotContains(t, reply.Body, "Sign it back into service", "not by the mender")
	m.storesNothing(func() {
		require.Equal(t, 422, ada.post(at+"/return", signed("ada", nil)).Status, "another person, not another role")
		require.Equal(t, 422, bo.post(at+"/return", url.Values{"submission": {store.NewID()}}).Status, "the PIN again")
	})
	reply = bo.post(at+"/return", signed("bo", url.Values{"note": {"shook it, tight"}}))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Equal(t, "splitter loose: back in service", reply.title())
	for _, said := range []string{"Said what is wrong", "Reported as mended", "Returned to service", "Ada Rook", "Bo Lind", "shook it, tight"} {
		reply.says(t, said)
	}
	require.False(t, m.defect(at).NoSecond)
	bo.get("/defects").says(t, "Back in service lately")
	require.Equal(t, "No defects open", bo.get("/defects").title())
}

func TestDefectsStandByWhatTheyHoldThenByAge(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	m.stopped(ada, "carriage", "rope frayed")
	m.clock.Advance(checklists.RunCheckLasts)
	m.stopped(ada, "hoist", "hook bent")
	list := m.as("rita").get("/defects")
	require.Equal(t, "Defects: 2 open, 2 hold a machine", list.title())
	require.Less(t, strings.Index(list.Body, "rope frayed"), strings.Index(list.Body, "hook bent"), "the oldest first")
}

func TestHoistIsReturnedOnlyByAQualifiedPerson(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	at := m.stopped(ada, "hoist", "hook bent")
	require.Equal(t, 200, ada.post(at+"/mend", signed("ada", url.Values{"note": {"new hook"}})).Status)
	bo := m.as("bo")
	bo.get(at).says(t, "29 CFR 1910.265(c)(24)(iii)")
	require.Equal(t, 422, bo.post(at+"/return", signed("bo", nil)).Status)
	require.Equal(t, 200, m.as("sam").post(at+"/return", signed("sam", nil)).Status)
}

func TestSingleHandedMillReturnsItsOwnMendOnlyAfterAnsweringAgainAndTurningIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.mill.SingleHanded = true
	require.NoError(t, m.desk().ChangeMill(t.Context(), store.NewID(), m.mill, m.people["sam"], m.clock.Now()))
	w := m.preShift("ada", func(form url.Values, files map[string][]byte) {
		form.Set("S7", "defect")
		form.Set("S7.note", "splitter loose")
	}, "hoist", "dust-collection")
	list := w.get("/defects")
	_, after, _ := strings.Cut(list.Body, `href="/defects/`)
	id, _, _ := strings.Cut(after, `"`)
	at := "/defects/" + id
	shown := w.get(at)
	shown.says(t, "S7 · Splitter or spreader wheel")
	shown.says(t, `href="`+w.at+`"`)

	lockout := m.lockOut("ada", "head-rig")
	reply := w.postFiles(at+"/mend", signed("ada", url.Values{"note": {"new bolts"}}), map[string][]byte{"photo": picture(t, 60, 60)})
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	reply.says(t, "Working alone")
	m.storesNothing(func() {
		require.Equal(t, 422, w.post(at+"/return", signed("ada", nil)).Status)
		require.Equal(t, 422, w.post(at+"/recheck", signed("ada", nil)).Status, "no answer")
		require.Equal(t, 422, w.post(at+"/recheck", signed("ada", url.Values{"S7": {"ok"}})).Status, "no photo")
		reply := w.postFiles(at+"/recheck", signed("ada", url.Values{"S7": {"ok"}, "pin": {"0000"}}), map[string][]byte{"S7.photo": picture(t, 61, 60)})
		require.Equal(t, 422, reply.Status)
		reply.says(t, `name="S7" value="ok" checked`)
	})
	w.get(at+"?act=recheck").says(t, "You reported your own lock on and zero proven")
	reply = w.postFiles(at+"/recheck", signed("ada", url.Values{"S7": {"ok"}}), map[string][]byte{"S7.photo": picture(t, 61, 60)})
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	m.storesNothing(func() {
		require.Equal(t, 422, w.post(at+"/run-check", signed("ada", nil)).Status, "not under lock")
		require.Equal(t, 422, w.post(at+"/return", signed("ada", nil)).Status, "not turned yet")
	})
	m.unlock("ada", lockout)
	reply = w.post(at+"/run-check", signed("ada", nil))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Contains(t, reply.Body, "Sign it back into service")
	reply = w.post(at+"/return", signed("ada", nil))
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	reply.says(t, "no second person")
	require.True(t, m.defect(at).NoSecond)
}

func TestSingleHandedReturnOfAStopWithoutItemTakesOKAndAPhoto(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.mill.SingleHanded = true
	require.NoError(t, m.desk().ChangeMill(t.Context(), store.NewID(), m.mill, m.people["sam"], m.clock.Now()))
	m.preShift("ada", nil, everyMachine...)
	ada := m.as("ada")
	m.clock.Advance(time.Minute)
	at := m.stopped(ada, "dust-collection", "fan rattles")
	reply := ada.postFiles(at+"/mend", signed("ada", url.Values{"note": {"tightened"}}), map[string][]byte{"photo": picture(t, 60, 60)})
	require.Equal(t, 200, reply.Status)
	reply.says(t, "Machine turned in a run check after mending: <a", "the run check of before does not count")
	require.Equal(t, 200, ada.post(at+"/run-check", signed("ada", nil)).Status)
	m.storesNothing(func() {
		reply := ada.post(at+"/return", signed("ada", url.Values{"ok": {"yes"}, "note": {"quiet now"}}))
		require.Equal(t, 422, reply.Status, "a photo of the check")
		reply.says(t, "quiet now</textarea>")
		require.Equal(t, 422, ada.postFiles(at+"/return", signed("ada", nil), map[string][]byte{"photo": picture(t, 61, 60)}).Status, "not said to be OK")
	})
	require.Equal(t, 200, ada.postFiles(at+"/return", signed("ada", url.Values{"ok": {"yes"}}), map[string][]byte{"photo": picture(t, 61, 60)}).Status)
	require.True(t, m.defect(at).NoSecond)
}

func TestDefectAddressesRefuseStrangersAndWrongRoles(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, rita, nobody := m.as("ada"), m.as("rita"), m.phone()
	at := m.stopped(ada, "hoist", "hook bent")
	require.Equal(t, 200, rita.get(at).Status)
	require.NotContains(t, rita.get(at).Body, `name="pin"`)
	require.Equal(t, "/sign-in", nobody.get(at).URL.Path)
	for _, act := range []string{"/describe", "/mend", "/run-check", "/recheck", "/return"} {
		require.Equal(t, http.StatusForbidden, rita.post(at+act, url.Values{}).Status, act)
		require.Equal(t, http.StatusUnauthorized, nobody.post(at+act, url.Values{}).Status, act)
		require.Equal(t, http.StatusNotFound, ada.post("/defects/none"+act, signed("ada", nil)).Status, act)
	}
	require.Equal(t, http.StatusNotFound, ada.get("/defects/none").Status)
}
