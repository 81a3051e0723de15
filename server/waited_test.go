package server

import (
	"io"
	"maps"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// given is what the server answers to what a phone kept.
type given struct {
	Status     int
	Said, GoOn string
}

// gives sends what a phone kept for that long, as the one it was kept for.
func (p *phone) gives(path string, form url.Values, files map[string][]byte, as procedures.PersonID, age time.Duration) given {
	p.t.Helper()
	fields := maps.Clone(form)
	if fields == nil {
		fields = url.Values{}
	}
	fields.Add("person", string(as))
	request := p.withFiles(path, fields, files)
	request.Header.Set(waitedHeader, strconv.FormatInt(max(1, age.Milliseconds()), 10))
	for _, cookie := range p.jar.Cookies(request.URL) {
		request.AddCookie(cookie)
	}
	reply, err := p.server.app.Test(request, 60_000)
	require.NoError(p.t, err)
	said, err := io.ReadAll(reply.Body)
	require.NoError(p.t, err)
	require.NoError(p.t, reply.Body.Close())
	if reply.StatusCode != http.StatusNoContent {
		require.Contains(p.t, reply.Header.Get("Content-Type"), "text/html")
	}
	return given{reply.StatusCode, string(said), reply.Header.Get(goOnHeader)}
}

// hidden are the values of a page's hidden fields.
func (p page) hidden(name string) string {
	_, after, found := strings.Cut(p.Body, `name="`+name+`" value="`)
	if !found {
		return ""
	}
	value, _, _ := strings.Cut(after, `"`)
	return value
}

func TestACheckBegunWalkedAndFinishedWithoutContactWaitsAndHolds(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	lockout := m.lockOut("ada", "head-rig")
	hoist := m.lockOut("ada", "hoist")
	ada, id := m.as("ada"), m.people["ada"].ID
	start := ada.get("/inspections/new?list=pre-shift")
	walk := start.hidden("walk")
	start.says(t, `data-begins="/inspections/`+walk+`"`)
	start.says(t, `data-states="locked-out stopped running sign"`)
	to := "/inspections/" + walk
	require.Equal(t, http.StatusNotFound, ada.get(to).Status, "it is not begun")
	kept := ada.get(to + "?list=pre-shift&state=stopped")
	kept.says(t, `action="`+to+`/answers"`)
	kept.says(t, `data-outbox="Pre-shift check"`)
	end := ada.get(to + "?list=pre-shift&state=sign")
	end.says(t, `action="`+to+`/finish" data-outbox="Pre-shift check" data-offline-only hidden`)
	require.NotContains(t, end.Body, `name="pin"`)
	require.Equal(t, http.StatusNotFound, ada.get("/inspections/made-up?list=pre-shift").Status)

	form := url.Values{"submission": {start.submission()}, "list": {"pre-shift"}, "version": {start.hidden("version")}, "walk": {walk}}
	w := &walker{phone: ada, who: "ada", at: to}
	list, err := m.desk().List(t.Context(), checklists.PreShift, 0)
	require.NoError(t, err)
	w.list = list
	began := m.clock.Now()
	m.clock.Advance(20 * time.Minute)

	require.Equal(t, http.StatusConflict, ada.gives(to+"/answers", url.Values{"submission": {store.NewID()}, "state": {"stopped"}, "A1": {"ok"}}, nil, id, time.Minute).Status, "answers before the beginning are told, not lost")
	before := m.size()
	for range 3 {
		require.Equal(t, given{Status: 204}, ada.gives("/inspections/new", form, nil, id, 20*time.Minute))
	}
	under, err := m.desk().Walk(t.Context(), w.inspection())
	require.NoError(t, err)
	require.Equal(t, began, under.Began)
	saved := 0
	for _, state := range machineStates()[:2] {
		good, files := w.good(state)
		saved++
		good.Set("saved", strconv.Itoa(saved))
		good.Set("submission", store.NewID())
		for range 3 {
			require.Equal(t, given{Status: 204}, ada.gives(to+"/answers", good, files, id, 15*time.Minute))
		}
	}
	for _, a := range w.answers() {
		require.Equal(t, began.Add(5*time.Minute), a.At, "seen then, not when it came")
	}
	finish := url.Values{"submission": {store.NewID()}}
	refused := ada.gives(to+"/finish", finish, nil, id, time.Minute)
	require.Equal(t, http.StatusUnprocessableEntity, refused.Status)
	require.Contains(t, refused.Said, "S12: an answer")
	require.Equal(t, to+"?state=sign", refused.GoOn)

	m.unlock("ada", lockout)
	m.unlock("ada", hoist)
	running := url.Values{"submission": {store.NewID()}, "state": {"running"}, "saved": {"9"}}
	for _, item := range asked(w.list, checklists.Running, nil) {
		running.Set(string(item.ID), "not-checked")
		running.Set(string(item.ID)+".note", "nobody to turn it")
	}
	require.Equal(t, given{Status: 204}, ada.gives(to+"/answers", running, nil, id, time.Minute))
	for range 3 {
		require.Equal(t, given{Status: 204}, ada.gives(to+"/finish", finish, nil, id, time.Minute))
	}
	entries, _, err := m.desk().Entries(t.Context(), store.Filter{Kind: store.KindUnsigned, Limit: 9})
	require.NoError(t, err)
	require.Len(t, entries, 1)
	require.Greater(t, m.size(), before)

	front := ada.get("/")
	front.says(t, "Checked without contact by Ada Rook, not yet signed: Pre-shift check")
	front.says(t, "Waits for your signature")
	ada.get(to+"?state=sign").says(t, "It waits for your signature")
	waits := ada.get("/inspections/waiting")
	require.Equal(t, "Waits for your signature: 1", waits.title())
	bo := m.as("bo")
	require.NotContains(t, bo.get("/").Body, "Waits for your signature")
	bo.get("/inspections/waiting").says(t, "Waits for the signature of others")
	other := bo.get(to + "?state=sign")
	other.says(t, "It waits for the signature of Ada Rook, or of a supervisor")
	require.NotContains(t, other.Body, `name="pin"`)
	require.Equal(t, http.StatusUnprocessableEntity, bo.post(to+"/sign", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["bo"]}}).Status)

	signed := w.sign()
	require.Equal(t, 200, signed.Status, firstProblem(signed))
	require.NotContains(t, ada.get("/").Body, "not yet signed")
	require.Equal(t, given{Status: 204}, ada.gives(to+"/finish", url.Values{"submission": {store.NewID()}}, nil, id, time.Minute), "signed by the same: nothing waits")
	told := bo.gives(to+"/finish", url.Values{"submission": {store.NewID()}}, nil, m.people["bo"].ID, time.Minute)
	require.Equal(t, 204, told.Status, "nothing in it that is not signed")
}

func TestAnswersThatComeAfterTheSignatureAreTold(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.preShift("ada", nil, everyMachine...)
	ada, id := m.as("ada"), m.people["ada"].ID
	m.storesNothing(func() {
		same := ada.gives(w.at+"/answers", url.Values{"submission": {store.NewID()}, "state": {"stopped"}, "A1": {"ok"}}, nil, id, time.Minute)
		require.Equal(t, given{Status: 204}, same, "signed just so")
		told := ada.gives(w.at+"/answers", url.Values{"submission": {store.NewID()}, "state": {"stopped"}, "A1": {"defect"}, "A1.note": {"blocked"}, "A1.severity": {"stop"}}, nil, id, time.Minute)
		require.Equal(t, http.StatusConflict, told.Status)
		require.Contains(t, told.Said, "signed meanwhile, by Ada Rook")
		require.Equal(t, w.at, told.GoOn)
	})
}

func TestWhatAPhoneKeptWaitsForItsPerson(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	form := url.Values{"submission": {store.NewID()}, "state": {"stopped"}, "A1": {"ok"}}
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnauthorized, m.as("bo").gives(w.at+"/answers", form, nil, m.people["ada"].ID, time.Hour).Status, "somebody else is signed in")
		require.Equal(t, http.StatusUnauthorized, m.phone().gives(w.at+"/answers", form, nil, m.people["ada"].ID, time.Hour).Status, "nobody is")
		require.Equal(t, http.StatusForbidden, m.as("rita").gives(w.at+"/answers", form, nil, m.people["rita"].ID, time.Hour).Status, "not for the role")
	})
	require.Empty(t, w.answers())
	require.Equal(t, given{Status: 204}, m.as("ada").gives(w.at+"/answers", form, nil, m.people["ada"].ID, time.Hour))
	require.Len(t, w.answers(), 1)
}

func TestAStopWaitsForNobody(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	form := url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}}
	for range 2 {
		require.Equal(t, given{Status: 204}, m.phone().gives("/stop-it", form, nil, m.people["ada"].ID, time.Hour))
	}
	open, err := m.desk().Defects(t.Context(), true, 9)
	require.NoError(t, err)
	require.Len(t, open, 1)
	require.Empty(t, open[0].By, "who was not signed in is not named")
	require.Equal(t, given{Status: 204}, m.as("ada").gives("/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"carriage"}}, nil, m.people["ada"].ID, time.Hour))
	refused := m.as("ada").gives("/stop-it", url.Values{"submission": {store.NewID()}, "equipment": {"boiler"}}, nil, m.people["ada"].ID, time.Hour)
	require.Contains(t, []int{409, 422}, refused.Status)
	require.Contains(t, refused.Said, "<p>")
}

func TestTheSameFormComesOnceHoweverItComes(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, id := m.as("ada"), m.people["ada"].ID
	form := url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}, "what": {"lock cut"}, "happened": {"2026-03-03"}, "time": {"05:00"}, "pin": {testSecrets["ada"]}}
	first := ada.postFiles("/departures/new", form, nil)
	require.Equal(t, 200, first.Status, firstProblem(first))
	before := m.size()
	form.Del("pin") // no phone keeps it
	require.Equal(t, given{Status: 204}, ada.gives("/departures/new", form, nil, id, time.Hour), "the answer to the first got lost")
	require.Equal(t, before, m.size())
	form.Set("what", "guard off")
	require.Equal(t, given{Status: 204}, ada.gives("/departures/new", form, nil, id, time.Hour), "another act from the same page")
	require.Equal(t, before+1, m.size())
}

func TestAnItemThatNeedsALockIsTold(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	told := m.as("ada").gives(w.at+"/answers", url.Values{"submission": {store.NewID()}, "state": {"locked-out"}, "S7": {"ok"}, "S4": {"not-checked"}, "S4.note": {"no spanner"}}, nil, m.people["ada"].ID, time.Minute)
	require.Equal(t, http.StatusConflict, told.Status)
	require.Contains(t, told.Said, "S7: ")
	require.Contains(t, told.Said, "checked under lock")
	require.Equal(t, w.at+"?state=locked-out", told.GoOn)
	require.Contains(t, w.answers(), checklists.ItemID("S4"), "what holds of it is kept")
	told = m.as("ada").gives(w.at+"/autosave", url.Values{"state": {"stopped"}, "A2": {"defect"}}, nil, m.people["ada"].ID, time.Minute)
	require.Equal(t, http.StatusUnprocessableEntity, told.Status)
	require.Contains(t, told.Said, "A2: what is wrong")
}

func TestAnOldPhoneIsToldThatAnotherAnsweredSince(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	m.clock.Advance(time.Hour)
	require.Equal(t, 200, m.as("bo").post(w.at+"/answers", url.Values{"state": {"stopped"}, "A1": {"defect"}, "A1.note": {"blocked"}, "A1.severity": {"stop"}}).Status)
	told := m.as("ada").gives(w.at+"/answers", url.Values{"submission": {store.NewID()}, "state": {"stopped"}, "A1": {"ok"}}, nil, m.people["ada"].ID, 2*time.Hour)
	require.Equal(t, http.StatusConflict, told.Status)
	require.Contains(t, told.Said, "A1: Somebody else answered this after you")
	require.Equal(t, checklists.Found, w.answers()["A1"].Result)
}

func TestALiftTypedWithoutContactWaitsForALook(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, id := m.as("ada"), m.people["ada"].ID
	page := ada.get("/lifts/new")
	page.says(t, `data-outbox-to="/lifts/wait"`)
	form := redOakCant()
	form.Set("submission", page.submission())
	form.Set("rig", page.hidden("rig"))
	form.Set("rig-version", page.hidden("rig-version"))
	m.storesNothing(func() {
		for range 2 {
			require.Equal(t, given{Status: 204}, ada.gives("/lifts/wait", form, nil, id, 40*time.Minute))
		}
		bad := url.Values{"submission": {store.NewID()}, "rig": {page.hidden("rig")}, "shape": {"squared"}, "length": {"long"}}
		refused := ada.gives("/lifts/wait", bad, nil, id, time.Minute)
		require.Equal(t, http.StatusUnprocessableEntity, refused.Status)
		require.Contains(t, refused.GoOn, "/lifts/new?")
	})
	waits, err := m.desk().LiftWaits(t.Context(), id)
	require.NoError(t, err)
	require.Len(t, waits, 1)
	require.NotContains(t, waits[0].Fields, "submission")
	require.NotContains(t, waits[0].Fields, "pin")
	ada.get("/lifts").says(t, "Typed without contact, without an answer yet")
	ada.get("/").says(t, "A lift, typed without contact by Ada Rook")
	look := ada.get("/lifts/new?waiting=" + waits[0].ID)
	require.Equal(t, 200, look.Status, firstProblem(look))
	look.says(t, "The answer is of now, not of then")
	look.says(t, `name="waiting" value="`+waits[0].ID+`"`)
	look.says(t, `value="`+form.Get("length")+`"`)
	for _, question := range []string{"nobody-under", "landing-clear"} {
		require.NotContains(t, look.Body, `name="`+question+`" value="yes" checked`, "what was said at the hook then is asked again")
	}
	form.Set("submission", look.submission())
	form.Set("waiting", waits[0].ID)
	form.Set("keep", "yes")
	keptAt := ada.post("/lifts/new", form)
	require.Equal(t, 200, keptAt.Status, firstProblem(keptAt))
	waits, err = m.desk().LiftWaits(t.Context(), "")
	require.NoError(t, err)
	require.Empty(t, waits, "it was looked at")

	form.Set("submission", store.NewID())
	form.Del("waiting")
	require.Equal(t, given{Status: 204}, ada.gives("/lifts/wait", form, nil, id, time.Minute))
	waits, err = m.desk().LiftWaits(t.Context(), "")
	require.NoError(t, err)
	require.Equal(t, http.StatusConflict, m.as("bo").post("/lifts/wait/"+waits[0].ID+"/over", url.Values{}).Status, "it is ada's")
	require.Equal(t, 200, ada.post("/lifts/wait/"+waits[0].ID+"/over", url.Values{}).Status)
	waits, err = m.desk().LiftWaits(t.Context(), "")
	require.NoError(t, err)
	require.Empty(t, waits)
}
