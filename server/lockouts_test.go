package server

import (
	"bytes"
	"image"
	"image/jpeg"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// lockout is one lockout walked over HTTP.
type lockout struct {
	m  *testMill
	id procedures.LockoutID
}

// beginLockout has Ada begin on the head saw's procedure.
func (m *testMill) beginLockout(p *phone, procedure string) lockout {
	m.t.Helper()
	form := p.get("/lockouts/new?procedure=" + procedure)
	reply := p.post("/lockouts/new", url.Values{"submission": {form.submission()}, "procedure": {procedure}, "task": {"change teeth"},
		"hours": {"2"}, "pin": {testSecrets["ada"]}})
	require.Equal(m.t, http.StatusOK, reply.Status, reply.Body)
	id, found := strings.CutPrefix(reply.URL.Path, "/lockouts/")
	require.True(m.t, found, reply.URL.Path)
	return lockout{m, procedures.LockoutID(id)}
}

func (l lockout) now() procedures.Lockout {
	l.m.t.Helper()
	now, err := l.m.desk().Lockout(l.m.t.Context(), l.id)
	require.NoError(l.m.t, err)
	return now
}

func (l lockout) page(p *phone) page { l.m.t.Helper(); return p.get("/lockouts/" + string(l.id)) }

// report sends one form as it stands on the page, with a PIN.
func (l lockout) report(p *phone, act, who string, form url.Values) page {
	l.m.t.Helper()
	form.Set("submission", l.page(p).submission())
	form.Set("pin", testSecrets[who])
	return p.post("/lockouts/"+string(l.id)+"/"+act, form)
}

// ticked is everything the present stage asks of a careful person.
func (l lockout) ticked() url.Values {
	now := l.now()
	form := url.Values{"tools": {"yes"}}
	for _, s := range now.Present() {
		id := string(s.ID)
		form.Set("step."+id, "yes")
		form.Set("offback."+id, "yes")
		form.Set("told."+id, "Bo, at the stand")
		if s.Stage == procedures.Apply {
			form.Set("lock."+string(s.Device), "A-"+string(s.Device))
		}
		if s.Stage == procedures.RemoveLocks {
			form.Set("off."+string(s.Device), "yes")
		}
	}
	return form
}

// to walks on until the stage, a minute a screen and the waits besides.
func (l lockout) to(p *phone, stage procedures.Stage) {
	l.m.t.Helper()
	for l.now().Stage < stage {
		was := l.now().Stage
		l.m.clock.Advance(time.Minute)
		l.m.clock.Advance(max(0, l.now().WaitLeft(l.m.clock.Now())))
		act := actSteps
		if was == procedures.Work {
			act = actEnd
		}
		reply := l.report(p, act, "ada", l.ticked())
		require.Equal(l.m.t, http.StatusOK, reply.Status, reply.Body)
		require.Greater(l.m.t, l.now().Stage, was)
	}
}

// heldOnTheFront: whatever else there is, the saw, the carriage it drives, the
// dogs on that and the hoist that lands on it are held, and lead here.
func (l lockout) heldOnTheFront(p *phone) {
	l.m.t.Helper()
	require.GreaterOrEqual(l.m.t, strings.Count(p.get("/").Body, `href="/lockouts/`+string(l.id)+`"`), 4, "saw, carriage, dogs and hoist each lead here")
	facts, err := l.m.desk().Facts(l.m.t.Context(), l.m.clock.Now())
	require.NoError(l.m.t, err)
	held := map[procedures.EquipmentID]bool{}
	for _, r := range checklists.Ready(facts, l.m.clock.Now()) {
		for _, h := range r.Holds {
			if h.Kind == checklists.HeldByLockout && h.Ref == string(l.id) {
				held[r.Equipment] = r.Status != checklists.MayRun
			}
		}
	}
	for _, id := range []procedures.EquipmentID{"head-saw", "carriage", "dogs-and-knees", "hoist"} {
		require.True(l.m.t, held[id], "%s held", id)
	}
}

func TestHeadSawIsHeldFromBeginningToEndOfALockout(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.heldOnTheFront(ada)
	l.page(ada).says(t, "A record is not a lock.")
	for stage := procedures.Prepare; stage < procedures.Work; stage++ {
		l.to(ada, stage)
		l.heldOnTheFront(ada)
		if stage <= procedures.Apply {
			l.page(ada).says(t, "No lock is reported on.")
		}
	}
	l.to(ada, procedures.Work)
	verified := l.page(ada)
	verified.says(t, "Locks reported on by Ada Rook.")
	require.Contains(t, verified.title(), "reported at zero, work not begun")
	require.Equal(t, http.StatusOK, l.report(ada, actWork, "ada", url.Values{}).Status)
	require.True(t, l.now().Working)
	l.heldOnTheFront(ada)
	l.to(ada, procedures.NotifyRestored)
	reply := l.report(ada, actRestore, "ada", l.ticked())
	require.Contains(t, reply.title(), "reported back in service")
	require.True(t, l.now().Closed)
	require.NotContains(t, strings.ToLower(reply.Body), "is safe")
	require.NotContains(t, reply.Body, "is locked out")
	require.NotContains(t, m.as("ada").get("/").Body, "/lockouts/"+string(l.id), "the lockout holds nothing any more")
	require.Contains(t, ada.get("/lockouts").Body, "change teeth")
}

func TestWorkBeforeZeroIsProvenIsRefusedWithStepAndClause(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Verify)
	early := ada.get("/lockouts/" + string(l.id) + "?act=work")
	early.says(t, "<strong>Begin the work</strong>: Not yet: every step up to zero comes first.")
	require.Equal(t, 1, strings.Count(early.Body, "See that nobody is near. Press"), "said once, at its step")
	require.NotContains(t, early.Body, `/work"`, "what would be refused has no button")
	require.NotContains(t, early.Body, "?act=work")
	m.storesNothing(func() {
		reply := l.report(ada, actWork, "ada", url.Values{"note": {"belt <b>off</b>"}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "Not yet. First: See that nobody is near.")
		reply.says(t, "29 CFR 1910.147(d)(6)")
		reply.says(t, `value="belt &lt;b&gt;off&lt;/b&gt;"`)
	})
	require.False(t, l.now().Working)
}

func TestARefusedScreenStoresNothingAndKeepsWhatWasTyped(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "dust-collection")
	l.to(ada, procedures.Apply)
	path := "/lockouts/" + string(l.id) + "/steps"
	for name, wrong := range map[string]struct {
		form  url.Values
		field string
		says  string
	}{
		"one number twice": {url.Values{"lock.fan-disconnect": {"14"}, "lock.rotary-disconnect": {" 14"}, "pin": {"4071"}}, "lock.rotary-disconnect", "Lock 14 is already on in this lockout."},
		"wrong PIN":        {url.Values{"lock.fan-disconnect": {"14"}, "pin": {"9999"}}, "pin", "that is not it"},
		"no PIN":           {url.Values{"lock.fan-disconnect": {"14"}}, "pin", "enter your PIN"},
		"nothing":          {url.Values{"lock.fan-disconnect": {"  "}, "pin": {"4071"}}, "", "tick what you have done"},
		"out of order":     {url.Values{"lock.fan-disconnect": {"14"}, "step.fan-try": {"yes"}, "pin": {"4071"}}, "", "Not yet. First:"},
		"yet to come":      {url.Values{"lock.fan-disconnect": {"14"}, "happened": {"2031-01-01T10:00"}, "pin": {"4071"}}, "happened", "a day and time that is past"},
		"no time at all":   {url.Values{"lock.fan-disconnect": {"14"}, "happened": {"NaN"}, "pin": {"4071"}}, "happened", "a day and time that is past"},
	} {
		m.storesNothing(func() {
			wrong.form.Set("note", "hasp on")
			reply := ada.post(path, wrong.form)
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, name)
			reply.says(t, wrong.says, name)
			reply.says(t, `value="hasp on"`, name)
			if name != "nothing" {
				reply.says(t, `value="14"`, name)
			}
			if wrong.field != "" {
				reply.says(t, `id="f-`+wrong.field+`-want"`, name)
			}
		})
	}
	require.Empty(t, l.now().LocksOn())
}

func TestSawMayNotBeSeenStillBeforeItsCoastTimeIsOver(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Relieve)
	m.clock.Advance(time.Second)
	left := l.now().WaitLeft(m.clock.Now())
	require.Positive(t, left)
	l.page(ada).says(t, "data-until=")
	m.storesNothing(func() {
		reply := l.report(ada, actSteps, "ada", url.Values{"step.saw-wait": {"yes"}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "It may still be turning.")
		reply.says(t, `id="f-step.saw-wait-want"`)
		reply.says(t, "29 CFR 1910.147(d)(5)")
	})
	m.clock.Advance(left)
	require.Equal(t, http.StatusOK, l.report(ada, actSteps, "ada", url.Values{"step.saw-wait": {"yes"}}).Status)
	require.NotContains(t, l.page(ada).Body, "data-until=", "the wait is over")
}

func TestSecondPersonsLockKeepsTheFirstFromGivingBack(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Work)
	l.report(ada, actWork, "ada", url.Values{})

	m.storesNothing(func() {
		reply := l.report(bo, actJoin, "bo", url.Values{"lock.saw-disconnect": {"A-saw-disconnect"}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "that number is Ada's")
		reply.says(t, `id="f-lock.saw-disconnect-want"`)
		require.Equal(t, http.StatusUnprocessableEntity, l.report(bo, actJoin, "bo", url.Values{}).Status)
	})
	require.Equal(t, http.StatusOK, l.report(bo, actJoin, "bo", url.Values{"lock.saw-disconnect": {"B-22"}}).Status)
	again := l.page(bo)
	again.says(t, `action="/lockouts/`+string(l.id)+`/verify"`)
	again.says(t, "Stay out: you have not proven zero yourself.")
	again.says(t, "May be in the machine: Ada Rook. Everybody out first")
	again.says(t, "Prove it at zero · now, again")
	require.NotContains(t, again.Body, "Work · now")
	l.page(ada).says(t, "Work · now")
	require.NotContains(t, l.page(ada).Body, "May be in the machine: ")
	require.NotContains(t, again.Body, "Work. When it is done")
	l.page(ada).says(t, "Work. When it is done")
	l.page(m.as("rita")).says(t, "Stay out: you are not signed on here with a lock of your own.")
	m.storesNothing(func() {
		reply := l.report(bo, actVerify, "bo", url.Values{"step.saw-try": {"yes"}, "offback.saw-try": {"yes"}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, `id="f-step.saw-still-want"`)
	})
	require.Equal(t, http.StatusOK, l.report(bo, actVerify, "bo", l.verified()).Status)
	require.True(t, l.now().VerifiedFor(m.people["bo"].ID, "head-saw", m.clock.Now()))

	l.to(ada, procedures.ClearPeople)
	m.storesNothing(func() {
		stuck := l.report(ada, actSteps, "ada", l.ticked())
		require.Equal(t, http.StatusUnprocessableEntity, stuck.Status)
		stuck.says(t, "Somebody is still signed on to this job.")
		stuck.says(t, "Bo Lind is still signed on: takes their own lock off")
		restore := l.report(ada, actRestore, "ada", url.Values{})
		require.Equal(t, http.StatusUnprocessableEntity, restore.Status)
		restore.says(t, "Not yet. First:")
		off := l.report(ada, actSteps, "ada", url.Values{"off.saw-disconnect": {"yes"}})
		require.Equal(t, http.StatusUnprocessableEntity, off.Status)
	})
	l.page(bo).says(t, `action="/lockouts/`+string(l.id)+`/leave"`)
	require.Equal(t, http.StatusOK, l.report(bo, actLeave, "bo", url.Values{}).Status)
	l.to(ada, procedures.NotifyRestored)
	require.Equal(t, http.StatusOK, l.report(ada, actRestore, "ada", l.ticked()).Status)
	require.True(t, l.now().Closed)
}

// verified is every verify step done again.
func (l lockout) verified() url.Values {
	form := url.Values{}
	for _, s := range l.now().Procedure.Steps {
		if s.Stage == procedures.Verify {
			form.Set("step."+string(s.ID), "yes")
			form.Set("offback."+string(s.ID), "yes")
		}
	}
	return form
}

func TestLockedOvernightIsProvenAgainInTheMorning(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Work)
	ada.get("/lockouts/"+string(l.id)+"?act=overnight").says(t, `value="2026-03-04T07:00"`)
	m.storesNothing(func() {
		for _, until := range []string{"", "soon", "2020-01-01T06:00"} {
			reply := l.report(ada, actOvernight, "ada", url.Values{"until": {until}})
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, until)
			reply.says(t, `id="f-until-want"`)
		}
	})
	require.Equal(t, http.StatusOK, l.report(ada, actOvernight, "ada", url.Values{"until": {"2026-03-04T07:00"}}).Status)
	require.True(t, l.now().Overnight)
	l.heldOnTheFront(ada)
	require.False(t, l.now().VerifiedFor(m.people["ada"].ID, "head-saw", m.clock.Now()))

	m.clock.Advance(23 * time.Hour)
	ada = m.as("ada")
	morning := l.page(ada)
	require.Contains(t, morning.title(), "prove zero again")
	morning.says(t, "Prove it at zero · now, again")
	require.NotContains(t, morning.Body, "Work · now")
	morning.says(t, `action="/lockouts/`+string(l.id)+`/verify"`)
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, l.report(ada, actWork, "ada", url.Values{}).Status)
	})
	require.Equal(t, http.StatusOK, l.report(ada, actVerify, "ada", l.verified()).Status)
	require.True(t, l.now().VerifiedFor(m.people["ada"].ID, "head-saw", m.clock.Now()))
	l.heldOnTheFront(ada)
}

func TestOnlyAuthorizedPeopleLockOut(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	bo := m.people["bo"]
	bo.Authorized = false
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), bo, "", m.people["sam"], m.clock.Now()))
	p := m.as("bo")
	m.storesNothing(func() {
		p.get("/lockouts/new?procedure=head-saw").says(t, "You are not recorded as authorized to lock out.")
		reply := p.post("/lockouts/new", url.Values{"procedure": {"head-saw"}, "task": {"grease"}, "hours": {"1"}, "pin": {"8265"}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "29 CFR 1910.147(c)(8)")
		reply.says(t, `value="grease"`)
		require.Equal(t, http.StatusForbidden, m.as("rita").get("/lockouts/new").Status)
		require.Equal(t, http.StatusForbidden, m.as("rita").post("/lockouts/new", url.Values{}).Status)
		require.Equal(t, "/sign-in", m.phone().get("/lockouts").URL.Path)
	})
}

func TestBadAnswersBeginNoLockout(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	good := url.Values{"procedure": {"head-saw"}, "task": {"change teeth"}, "hours": {"2"}, "pin": {"4071"}}
	for field, wrong := range map[string][]string{
		"hours": {"", "-1", "0", "NaN", "Inf", "1e300", "two"}, "expected": {"yesterday", "2020-01-01T06:00", "9999-01-01T06:00"},
		"task": {"", "   "}, "procedure": {""}, "happened": {"2031-01-01T06:00", "x"}, "pin": {"", "1111"},
	} {
		for _, value := range wrong {
			form := url.Values{}
			for name, values := range good {
				form[name] = values
			}
			form.Set(field, value)
			m.storesNothing(func() {
				reply := ada.post("/lockouts/new", form)
				require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%s %q", field, value)
				reply.says(t, `href="#f-`+field+`"`, field, value)
				if field != "task" {
					reply.says(t, `value="change teeth"`, field)
				}
			})
		}
		m.clock.Advance(time.Hour) // the wait after wrong PINs
	}
	m.storesNothing(func() {
		form := url.Values{"procedure": {"no-such"}, "task": {"x"}, "hours": {"2"}, "pin": {"4071"}}
		require.Equal(t, http.StatusUnprocessableEntity, ada.post("/lockouts/new", form).Status)
	})
}

func TestUnknownLockoutIsNotFound(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	for _, path := range []string{"/lockouts/no-such", "/lockouts/" + store.NewID(), "/lockouts/new?procedure=no-such", "/procedures/no-such", "/procedures/no-such/placard"} {
		require.Equal(t, http.StatusNotFound, ada.get(path).Status, path)
	}
	l := m.beginLockout(ada, "hoist")
	require.Equal(t, http.StatusNotFound, ada.post("/lockouts/"+string(l.id)+"/unlock-everything", url.Values{}).Status)
	require.Equal(t, http.StatusNotFound, ada.post("/lockouts/no-such/steps", url.Values{}).Status)
}

func TestALockoutFormSentTwiceDoesOneThing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	begin := url.Values{"submission": {store.NewID()}, "procedure": {"head-saw"}, "task": {"change teeth"}, "hours": {"2"}, "pin": {"4071"}}
	first := ada.post("/lockouts/new", begin)
	m.storesNothing(func() { require.Equal(t, first.URL.Path, ada.post("/lockouts/new", begin).URL.Path) })
	m.storesNothing(func() {
		begin.Set("submission", store.NewID())
		ada.post("/lockouts/new", begin).says(t, "under way already")
	})
	l := lockout{m, procedures.LockoutID(strings.TrimPrefix(first.URL.Path, "/lockouts/"))}
	l.to(ada, procedures.Apply)
	locks := url.Values{"submission": {store.NewID()}, "lock.saw-disconnect": {"14"}, "pin": {"4071"}}
	require.Equal(t, http.StatusOK, ada.post("/lockouts/"+string(l.id)+"/steps", locks).Status)
	m.storesNothing(func() {
		require.Equal(t, http.StatusOK, ada.post("/lockouts/"+string(l.id)+"/steps", locks).Status, "answered with the first result")
	})
	require.Len(t, l.now().LocksOn(), 1)
}

func TestLockoutDoneByThePlacardIsEnteredAfterwards(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	reply := ada.post("/lockouts/new", url.Values{"procedure": {"head-saw"}, "task": {"change teeth"}, "hours": {"2"}, "happened": {"2026-03-03T05:10"}, "pin": {"4071"}})
	l := lockout{m, procedures.LockoutID(strings.TrimPrefix(reply.URL.Path, "/lockouts/"))}
	require.Equal(t, time.Date(2026, 3, 3, 10, 10, 0, 0, time.UTC), l.now().Begun.UTC(), "the mill's clock")
	form := l.ticked()
	form.Set("happened", "2026-03-03T05:12")
	l.report(ada, actSteps, "ada", form).says(t, "entered afterwards")
	events := l.now().Events
	require.True(t, events[0].Late && events[1].Late)
	require.Equal(t, 10, events[1].At.UTC().Hour())
}

func TestPhotoOfARefusedScreenComesBack(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Apply)
	var picture bytes.Buffer
	require.NoError(t, jpeg.Encode(&picture, image.NewRGBA(image.Rect(0, 0, 8, 8)), nil))
	path := "/lockouts/" + string(l.id) + "/steps"
	refused := ada.postFiles(path, url.Values{"lock.saw-disconnect": {"14"}, "pin": {"9999"}}, map[string][]byte{"photo": picture.Bytes()})
	require.Equal(t, http.StatusUnprocessableEntity, refused.Status)
	_, after, found := strings.Cut(refused.Body, `name="photo_kept" value="`)
	require.True(t, found)
	digest, _, _ := strings.Cut(after, `"`)
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, ada.post(path, url.Values{"lock.saw-disconnect": {"14"}, "photo_kept": {"sha256:none"}, "pin": {"4071"}}).Status)
		require.Equal(t, http.StatusUnprocessableEntity, ada.postFiles(path, url.Values{"lock.saw-disconnect": {"14"}, "pin": {"4071"}}, map[string][]byte{"photo": []byte("no picture")}).Status)
	})
	require.Equal(t, http.StatusOK, ada.post(path, url.Values{"lock.saw-disconnect": {"14"}, "photo_kept": {digest}, "pin": {"4071"}}).Status)
	events := l.now().Events
	require.Equal(t, digest, events[len(events)-1].Photo)
}

func TestCancellingEndsOnlyWhatNoLockWasOn(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	m.storesNothing(func() {
		unsigned := ada.post("/lockouts/"+string(l.id)+"/"+actCancel, url.Values{"submission": {l.page(ada).submission()}})
		require.Equal(t, http.StatusUnprocessableEntity, unsigned.Status, "whoever picks up the phone must not let the machine go")
	})
	require.Equal(t, http.StatusOK, l.report(ada, actCancel, "ada", url.Values{}).Status)
	require.True(t, l.now().Cancelled)
	l = m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Relieve)
	require.NotContains(t, l.page(ada).Body, "?act=cancel")
	m.storesNothing(func() {
		l.report(ada, actCancel, "ada", url.Values{}).says(t, "A lock has been on.")
	})
	l.page(ada).says(t, "?act=call-off")
}

// What asks for a signature on the page is what the rules take one for.
func TestSignBoxStandsWhereTheActIsSigned(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	for l.now().Stage < procedures.NotifyRestored {
		stage := l.now().Stage
		act := actSteps
		if stage == procedures.Work {
			act = actEnd
		}
		signed := map[procedures.Stage]bool{procedures.Apply: true, procedures.Verify: true, procedures.Work: true, procedures.RemoveLocks: true}[stage]
		page := ada.get("/lockouts/" + string(l.id) + "?act=" + act)
		require.Equal(t, signed, strings.Contains(page.Body, `name="pin"`), stage.Words())
		m.clock.Advance(max(time.Minute, l.now().WaitLeft(m.clock.Now())))
		form := l.ticked()
		form.Set("submission", page.submission())
		if signed {
			m.storesNothing(func() {
				require.Equal(t, http.StatusUnprocessableEntity, ada.post("/lockouts/"+string(l.id)+"/"+act, form).Status, stage.Words())
			})
			form.Set("pin", "4071")
		}
		require.Equal(t, http.StatusOK, ada.post("/lockouts/"+string(l.id)+"/"+act, form).Status, stage.Words())
		require.Greater(t, l.now().Stage, stage)
	}
}
