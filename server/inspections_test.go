package server

import (
	"bytes"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

func TestWalkGoesFromLockedOutToASignedInspection(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	new := m.as("ada").get("/inspections/new?list=pre-shift")
	new.says(t, "Pre-shift check: due")
	new.says(t, "Locked out: 15 items")
	w := m.preShift("ada", nil, everyMachine...)
	signed := w.get(w.at)
	require.Equal(t, 200, signed.Status)
	require.Equal(t, "Pre-shift check: signed, nothing found wrong", signed.title())
	signed.says(t, "Ada Rook")
	signed.says(t, "Entry ")
	signed.says(t, "under this lockout")
	require.NotContains(t, signed.Body, "late: the shift had started")
	require.Contains(t, m.as("rita").get(w.at).title(), "nothing found wrong", "a reader reads it")
	in, seq, err := m.desk().Inspection(t.Context(), w.inspection())
	require.NoError(t, err)
	require.Equal(t, m.people["ada"].ID, in.Signer)
	require.Positive(t, seq)
	facts, err := m.desk().Facts(t.Context(), m.clock.Now())
	require.NoError(t, err)
	for _, r := range checklists.Ready(facts, m.clock.Now()) {
		require.Equal(t, checklists.MayRun, r.Status, "%s: %v", r.Equipment, r.Holds)
	}
}

func TestItemsUnderLockAreRefusedWithoutAVerifiedLockAndTypedStays(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	shown := w.get(w.at + "?state=locked-out")
	shown.says(t, "/lockouts/new?procedure=head-rig")
	shown.says(t, "A record is not a lock")
	form := url.Values{"state": {"locked-out"}, "S7": {"defect"}, "S7.note": {"splitter wobbles"}, "S4": {"not-checked"}, "S4.note": {"no spanner"}}
	m.storesNothing(func() {
		reply := w.post(w.at+"/answers", form)
		require.Equal(t, 422, reply.Status)
		reply.says(t, "splitter wobbles")
		reply.says(t, "checked under lock")
		reply.says(t, `name="S7" value="defect" checked`)
	})
	kept := w.answers()
	require.NotContains(t, kept, checklists.ItemID("S7"))
	require.Equal(t, checklists.NotChecked, kept["S4"].Result, "what holds is kept beside what doesn't")

	m.lockOut("ada", "head-rig")
	w.get(w.at+"?state=locked-out").says(t, "You reported your own lock on and zero proven")
	reply := w.post(w.at+"/answers", form)
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Equal(t, checklists.Stop, w.answers()["S7"].Severity)

	bo := m.as("bo") // another person's lock is not Bo's
	require.Equal(t, 422, bo.post(w.at+"/answers", url.Values{"state": {"locked-out"}, "S2": {"ok"}}).Status)
}

func TestUnchangedAnswersKeepTheTimeTheyWereSeen(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	lockout := m.lockOut("ada", "head-rig")
	w.keep(checklists.LockedOut)
	before := w.answers()
	m.unlock("ada", lockout)
	m.clock.Advance(time.Minute)
	form, files := w.good(checklists.LockedOut)
	form.Set("S3", "") // the number alone says it
	require.Equal(t, 200, w.postFiles(w.at+"/answers", form, files).Status, "nothing changed, so no lock is asked for")
	require.Equal(t, before, w.answers())
	form.Set("S3.number", "0.9")
	require.Equal(t, 422, w.postFiles(w.at+"/answers", form, files).Status, "a changed number is a new look")
	require.Equal(t, before, w.answers())
}

func TestNumbersThatAreNoneAreShownAtTheirFieldAndNotKept(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	for _, typed := range []string{"-1", "NaN", "Inf", "1e99", "99999", "3 mm", "a lot", "1,000.5", "1/0", strings.Repeat("9", 400)} {
		m.storesNothing(func() {
			reply := w.post(w.at+"/answers", url.Values{"state": {"stopped"}, "X3": {"ok"}, "X3.number": {typed}})
			require.Equal(t, 422, reply.Status, typed)
			reply.says(t, `href="#f-X3.number"`, typed)
			reply.says(t, `id="f-X3.number-want"`, typed)
			reply.says(t, `value="`+typed+`"`, typed)
		})
		require.Empty(t, w.answers(), typed)
	}
	beyond := w.post(w.at+"/answers", url.Values{"state": {"stopped"}, "X3": {"ok"}, "X3.number": {"1/4 in"}})
	require.Equal(t, 422, beyond.Status, "a defect is described")
	beyond.says(t, `name="X3" value="defect" checked`, "what the number says is what stands there")
	beyond.says(t, "OK: at most 1/8 in.")
	reply := w.post(w.at+"/answers", url.Values{"state": {"stopped"}, "X3.number": {"1/32 in"}})
	require.Equal(t, 200, reply.Status, "with the item's own unit: %s", firstProblem(reply))
	require.Equal(t, checklists.OK, w.answers()["X3"].Result, "a number within the limits is OK")
	w.get(w.at+"?state=stopped").says(t, `value="0.03125"`)
}

func TestDefectAsksForWhatItNeedsAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	send := func(form url.Values, files map[string][]byte) page {
		form.Set("state", "stopped")
		return w.postFiles(w.at+"/answers", form, files)
	}
	reply := send(url.Values{"S10": {"defect"}}, map[string][]byte{"S10.photo": picture(t, 50, 50)})
	require.Equal(t, 422, reply.Status)
	reply.says(t, `href="#f-S10.note"`)
	reply.says(t, `src="/photos/`)
	_, after, _ := strings.Cut(reply.Body, `name="S10.kept" value="`)
	digest, _, _ := strings.Cut(after, `"`)
	require.Len(t, digest, 64, "the photo comes back with the form")
	reply = send(url.Values{"S10": {"defect"}, "S10.note": {"belt guard gone"}, "S10.kept": {digest}}, nil)
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Equal(t, digest, w.answers()["S10"].Photo)

	reply = send(url.Values{"S8": {"defect"}, "S8.note": {"hood loose"}, "S8.severity": {"mend"}, "S8.stop_gap": {"rope"}, "S8.mend_by": {"2026-03-09"}}, nil)
	require.Equal(t, 422, reply.Status, "nobody loosens what the list's author set")
	require.NotContains(t, w.answers(), checklists.ItemID("S8"))

	mend := url.Values{"C4": {"defect"}, "C4.note": {"sweep worn"}, "C4.severity": {"mend"}, "C4.stop_gap": {"swept by hand"}}
	for _, day := range []string{"", "soon", "2026-02-30", "2026-03-01", "2036-01-01"} {
		mend.Set("C4.mend_by", day)
		reply := send(mend, nil)
		require.Equal(t, 422, reply.Status, day)
		reply.says(t, `href="#f-C4.mend_by"`, day)
		reply.says(t, "swept by hand", day)
	}
	mend.Set("C4.mend_by", "2026-03-09")
	require.Equal(t, 200, send(mend, nil).Status)
	require.Equal(t, "2026-03-10T03:59:00Z", w.answers()["C4"].MendBy.Format(time.RFC3339), "the end of that day at the mill")

	reply = send(url.Values{"X1": {"ok"}, "A1": {"ok"}}, map[string][]byte{"X1.photo": bytes.Repeat([]byte("x"), photoMost+1)})
	require.Equal(t, 422, reply.Status)
	reply.says(t, `href="#f-X1.photo"`)
	require.Contains(t, w.answers(), checklists.ItemID("A1"), "the others are kept")
	require.Equal(t, 422, send(url.Values{"X1": {"ok"}}, map[string][]byte{"X1.photo": []byte("GIF89a")}).Status)
	require.Equal(t, 422, send(url.Values{"X1": {"ok"}, "X1.kept": {strings.Repeat("0", 64)}}, nil).Status, "a photo nobody sent is none")
}

func TestAutosaveKeepsQuietlyAndOverwritesNothingWithNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	require.Equal(t, 204, w.post(w.at+"/autosave", url.Values{"A1": {"ok"}}).Status)
	require.Equal(t, 204, w.post(w.at+"/autosave", url.Values{}).Status)
	require.Equal(t, 422, w.post(w.at+"/autosave", url.Values{"A2": {"defect"}, "E3": {"ok"}}).Status, "the phone keeps its copy")
	require.Len(t, w.answers(), 2)
	require.Equal(t, "/sign-in", m.phone().get(w.at).URL.Path)
}

func TestNothingIsSignedWithAnAnswerMissing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	w.post(w.at+"/answers", url.Values{"A1": {"ok"}})
	ending := w.get(w.at + "?state=sign")
	require.Contains(t, ending.title(), "still to answer")
	ending.says(t, w.at+"?state=running#f-S12")
	require.NotContains(t, ending.Body, `name="pin"`)
	m.storesNothing(func() {
		reply := w.sign()
		require.Equal(t, 422, reply.Status)
		reply.says(t, `href="#f-S12"`)
		reply.says(t, `id="f-S12"`)
		require.Equal(t, 422, w.post(w.at+"/sign", url.Values{"submission": {store.NewID()}, "pin": {"0000"}}).Status)
		require.Equal(t, 422, w.post(w.at+"/sign", url.Values{"submission": {store.NewID()}}).Status)
	})
}

func TestRunCheckIsRefusedWithWhatIsMissing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	asks := w.get(w.at + "?state=running")
	asks.says(t, `name="turn.head-saw"`)
	require.NotRegexp(t, `name="turn\.[^>]* checked`, asks.Body, "whoever turns one ticks it")
	m.storesNothing(func() {
		reply := w.runCheck("head-saw")
		require.Equal(t, 422, reply.Status)
		reply.says(t, "answered OK first")
		reply.says(t, "S10")
		require.Equal(t, 422, w.runCheck().Status, "which machine?")
		reply = w.post(w.at+"/run-check", url.Values{"submission": {store.NewID()}, "turn.hoist": {"yes"}, "pin": {"0000"}})
		require.Equal(t, 422, reply.Status)
		reply.says(t, `name="turn.hoist" value="yes" checked`)
		require.NotContains(t, reply.Body, `name="turn.head-saw" value="yes" checked`, "what was not ticked comes back so")
	})
	require.Equal(t, 422, w.post(w.at+"/answers", url.Values{"state": {"running"}, "S12": {"ok"}}).Status, "no running item without a run check")
	w.keep(checklists.Stopped)
	reply := w.runCheck("hoist")
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	reply.says(t, "RUN CHECK ONLY")
	reply.says(t, "WARNING")
	require.Equal(t, 200, w.post(w.at+"/answers", url.Values{"state": {"running"}, "H8": {"ok"}}).Status)
	require.Equal(t, 422, w.post(w.at+"/answers", url.Values{"state": {"running"}, "S12": {"ok"}}).Status)
	m.clock.Advance(checklists.RunCheckLasts)
	require.Equal(t, 422, w.post(w.at+"/answers", url.Values{"state": {"running"}, "H7": {"ok"}}).Status, "it is over")
}

func TestWhatWasLeftUncheckedIsAnsweredByAFurtherSignedEntry(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.preShift("ada", nil, "hoist", "dust-collection")
	signed := w.get(w.at)
	require.Equal(t, "Pre-shift check: signed, 2 not checked", signed.title())
	signed.says(t, "Ask for a run check first")
	pin := testSecrets["ada"]
	m.storesNothing(func() {
		require.Equal(t, 422, w.post(w.at+"/amend", url.Values{"submission": {store.NewID()}, "pin": {pin}}).Status, "nothing answered")
		reply := w.post(w.at+"/amend", url.Values{"submission": {store.NewID()}, "S12": {"ok"}, "pin": {pin}})
		require.Equal(t, 422, reply.Status, "no run check")
		reply.says(t, `href="#f-S12.result"`)
		reply.says(t, `name="S12" value="ok" checked`)
		require.Equal(t, 422, w.runCheck().Status)
	})
	reply := w.runCheck("head-saw", "carriage")
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	m.storesNothing(func() {
		require.Equal(t, 422, w.post(w.at+"/amend", url.Values{"submission": {store.NewID()}, "S12": {"ok"}, "pin": {"1"}}).Status)
	})
	reply = w.post(w.at+"/amend", url.Values{"submission": {store.NewID()}, "S12": {"ok"}, "C8": {"defect"}, "C8.note": {"creeps"}, "pin": {pin}})
	require.Equal(t, 200, reply.Status, firstProblem(reply))
	require.Equal(t, "Pre-shift check: signed, one defect", reply.title())
	reply.says(t, "Answered again")
	reply.says(t, "creeps")
	in, _, err := m.desk().Inspection(t.Context(), w.inspection())
	require.NoError(t, err)
	require.Equal(t, checklists.NotChecked, byItem(in.Answers)["S12"].Result, "what was signed stays")
}

func TestSecondSendingOfASignatureIsAnsweredWithTheFirst(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.preShift("ada", nil, everyMachine...)
	m.storesNothing(func() {
		reply := w.sign()
		require.Equal(t, 200, reply.Status)
		require.Equal(t, w.at, reply.URL.Path)
		require.Equal(t, 200, w.post(w.at+"/answers", url.Values{"A1": {"defect"}, "A1.note": {"x"}}).Status, "shows what was signed")
		require.Equal(t, 409, w.post(w.at+"/autosave", url.Values{"A1": {"ok"}}).Status)
	})
}

func TestWalkIsContinuedNotBegunTwice(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	again := w.post("/inspections/new", url.Values{"submission": {store.NewID()}, "list": {"pre-shift"}})
	require.Equal(t, w.at, again.URL.Path)
	w.get("/inspections/new?list=pre-shift").says(t, `href="`+w.at+`"`)
	m.as("bo").get("/inspections/new?list=pre-shift").says(t, "Go on with the check Ada Rook began")
}

func TestInspectionAddressesRefuseStrangersAndWrongRoles(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.walk("ada")
	rita, nobody := m.as("rita"), m.phone()
	for _, address := range []string{"/inspections/new", w.at + "/answers", w.at + "/autosave", w.at + "/sign", w.at + "/run-check", w.at + "/amend"} {
		require.Equal(t, 403, rita.post(address, url.Values{}).Status, address)
		asked := nobody.post(address, url.Values{"A1.note": {"typed before"}})
		require.Equal(t, 401, asked.Status, address)
		asked.says(t, "typed before", address)
	}
	require.Equal(t, 403, rita.get("/inspections/new?list=pre-shift").Status)
	reading := rita.get(w.at)
	require.Equal(t, 200, reading.Status)
	require.NotContains(t, reading.Body, `type="radio"`, "a reader sees how far it has come, no form")
	for _, address := range []string{"/inspections/none", "/inspections/new?list=none"} {
		require.Equal(t, 404, w.get(address).Status, address)
	}
	for _, address := range []string{"/inspections/none/answers", "/inspections/none/autosave", "/inspections/none/run-check", "/inspections/none/amend"} {
		require.Equal(t, 404, w.post(address, url.Values{"pin": {testSecrets["ada"]}}).Status, address)
	}
	require.Equal(t, 404, w.post("/inspections/none/sign", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["ada"]}}).Status)
	require.Equal(t, 404, w.post("/inspections/new", url.Values{"submission": {store.NewID()}, "list": {"none"}}).Status)
}

func TestPhoneClockIsReadWithItsOffsetOrNotAtAll(t *testing.T) {
	now := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	require.Equal(t, "2026-03-03T06:01:00-05:00", phoneTime("1772535660000 -300", now).Format(time.RFC3339))
	for _, typed := range []string{"", "x", "1772535660000", "1772535660000 9999", "0 0", "9999999999999999 0", "1772535660000 -300 1"} {
		require.True(t, phoneTime(typed, now).IsZero(), typed)
	}
}

// A check that finds a known defect worse and signs an earlier date stops the
// machine from that day on; one that signs a later date puts nothing off.
// Seen to fail while any mend found again was passed over.
func TestAnEarlierDateSignedForAKnownDefectCounts(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	w := m.preShift("ada", nil, everyMachine...)
	found := func(note, day string) url.Values {
		return url.Values{"C4": {"defect"}, "C4.note": {note}, "C4.severity": {"mend"}, "C4.stop_gap": {"swept by hand"}, "C4.mend_by": {day}}
	}
	amend := func(form url.Values) {
		form.Set("submission", store.NewID())
		form.Set("pin", testSecrets["ada"])
		reply := w.post(w.at+"/amend", form)
		require.Equal(t, 200, reply.Status, firstProblem(reply))
	}
	open := func() []checklists.Defect {
		facts, err := m.desk().Facts(t.Context(), m.clock.Now())
		require.NoError(t, err)
		return facts.Defects
	}
	amend(found("sweep worn", "2026-06-01"))
	require.Len(t, open(), 1)
	amend(found("sweep worn", "2026-06-02"))
	require.Len(t, open(), 1, "a later date")

	again := m.walk("ada")
	again.get(again.at+"?state=stopped").says(t, "An earlier date counts and makes another defect; a later one puts nothing off.")
	later := found("sweep worn", "2026-06-02")
	later.Set("state", "stopped")
	require.Equal(t, 200, again.post(again.at+"/answers", later).Status)
	again.get(again.at+"?state="+toSign).says(t, "The earlier date stays.")
	sooner := found("sweep nearly off", "2026-03-04")
	sooner.Set("state", "stopped")
	require.Equal(t, 200, again.post(again.at+"/answers", sooner).Status)
	require.NotContains(t, again.get(again.at+"?state="+toSign).Body, "The earlier date stays.")

	amend(found("sweep nearly off", "2026-03-04"))
	both := open()
	require.Len(t, both, 2)
	m.clock.Advance(48 * time.Hour)
	stops := 0
	for _, d := range both {
		if d.StopsNow(m.clock.Now()) {
			stops++
			require.Equal(t, "sweep nearly off", d.What)
		}
	}
	require.Equal(t, 1, stops)
	m.as("ada").get(again.at+"?state=stopped").says(t, "Answered Defect, it stays the one defect.</a>", "it stops, so no date counts")
	_, built, err := m.store.Rebuild(t.Context(), store.Rebuilding{Scratch: t.TempDir()})
	require.NoError(t, err)
	require.True(t, built.OK(), "%+v", built.Differences)
}
