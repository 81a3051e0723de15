package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// 29 CFR 1910.147(f)(3)(ii)(D): a lock on the box protects by the keys in it.
func TestNobodyJoinsOnTheBoxWithoutHavingSeenTheKeys(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.atWork(ada)
	bo.get("/lockouts/"+string(l.id)+"?act=join").says(t, "I looked into the box")
	l.refuses(bo, actJoin, "bo", url.Values{"box": {"B-1"}}, "keys", "the key of every lock on a device has to be in it")
	l.does(bo, actJoin, "bo", url.Values{"box": {"B-1"}, "keys": {"yes"}}).says(t, "Keys of every lock reported seen in the box.")
}

// (e)(1): what each counted in stands by their name, and comes out.
func TestToolsOfEachPersonAreAskedForByName(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Work)
	l.does(ada, actWork, "ada", url.Values{"tools_in": {"3"}})
	l.does(bo, actJoin, "bo", url.Values{"box": {"B-1"}, "keys": {"yes"}, "tools_in": {"4"}})
	bo.get("/lockouts/"+string(l.id)+"?act=leave").says(t, "You counted 4 in.")
	l.refuses(bo, actLeave, "bo", url.Values{"tools_out": {"5"}}, "tools_out", "You counted 4 tools and parts in, and 5 out")
	l.does(bo, actLeave, "bo", url.Values{"tools_out": {"3"}})
	l.does(ada, actEnd, "ada", url.Values{})
	l.page(ada).says(t, "4 were counted in: Ada Rook 3, Bo Lind 1.")
	all := l.ticked()
	all.Set("tools_out", "3")
	l.refuses(ada, actSteps, "ada", all, "tools_out", "4 tools and parts were counted in by 2 people, 3 out")
	all.Set("tools_out", "4")
	l.does(ada, actSteps, "ada", all)
}

// (d), (e): a lockout called off before zero is proven lets nobody in, and its
// lock comes off in the order of the release.
func TestALockoutIsCalledOffBeforeWork(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Relieve)
	l.page(ada).says(t, "Call it off: locks off in order")
	ada.get("/lockouts/"+string(l.id)+"?act=call-off").says(t, "nobody reaches in")
	l.refuses(ada, actCallOff, "ada", url.Values{}, "clear", "nobody has reached into the machine")
	page := l.does(ada, actCallOff, "ada", url.Values{"clear": {"yes"}})
	page.says(t, "Called off before everything was locked and proven at zero: NOBODY REACHES IN.")
	page.says(t, "called off before any work, nobody reported in the machine")
	l.refuses(ada, actWork, "ada", url.Values{}, "", "no work any more")
	l.to(ada, procedures.Restore)
	l.page(ada).says(t, "It was not reported in. Take it out if it is in")
	l.to(ada, procedures.NotifyRestored)
	require.Empty(t, l.now().LocksOn())
}

// A job that takes longer is put off by who answers for it.
func TestTheExpectedEndIsPutOff(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.atWork(ada)
	l.does(bo, actJoin, "bo", url.Values{"box": {"B-1"}, "keys": {"yes"}})
	l.page(ada).says(t, "put the expected end off")
	zone, err := m.mill.Location()
	require.NoError(t, err)
	later := l.now().Expected.Add(2 * time.Hour)
	typed := func(at time.Time) url.Values {
		return url.Values{"until": {at.In(zone).Format(momentLayout)}, "note": {"a shank is bent"}}
	}
	l.refuses(ada, actLater, "ada", typed(m.clock.Now().Add(-time.Hour)), "until", "a day and time to come")
	l.refuses(ada, actLater, "ada", typed(l.now().Expected.Add(-2*time.Minute)), "until", "after the end that was expected")
	l.refuses(bo, actLater, "bo", typed(later), "", "(f)(3)(ii)(A)")
	page := l.does(ada, actLater, "ada", typed(later))
	page.says(t, "expected end put off to")
	page.says(t, "a shank is bent")
	require.WithinDuration(t, later, l.now().Expected, time.Minute)
}

// (e)(3): whoever is entered as having left the mill leaves their lock to the
// supervisor's eyes.
func TestWhoLeavesTheMillLeavesTheirLockToTheSupervisorsEyes(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.atWork(ada)
	l.does(bo, actJoin, "bo", url.Values{"box": {"B-1"}, "keys": {"yes"}})
	gone := m.people["bo"]
	gone.Left = true
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), gone, "", m.people["sam"], m.clock.Now()))
	page := l.page(ada)
	page.says(t, "left the mill with lock B-1 reported on")
	page.says(t, "Against the order")
}

// 29 CFR 1910.147(f)(3)(ii)(D): joining on the box a minute ago doesn't get round
// looking into it.
func TestTheKeysAreAskedForAfterALateJoining(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Work)
	zone, err := m.mill.Location()
	require.NoError(t, err)
	happened := m.clock.Now().In(zone).Format(momentLayout)
	m.clock.Advance(time.Minute)
	l.does(bo, actJoin, "bo", url.Values{"box": {"B-1"}, "happened": {happened}}).says(t, "Look into the box")
	again := url.Values{}
	for _, s := range l.now().Procedure.Steps {
		if s.Stage == procedures.Verify {
			again.Set("step."+string(s.ID), "yes")
			again.Set("offback."+string(s.ID), "yes")
		}
	}
	bo.get("/lockouts/"+string(l.id)+"?act=verify").says(t, "I looked into the box")
	l.refuses(bo, actVerify, "bo", again, "keys", "nobody said that the keys are in it")
	ada.get("/lockouts/"+string(l.id)+"?act=work").says(t, "I looked into the box")
	l.refuses(ada, actWork, "ada", url.Values{}, "keys", "nobody said that the keys are in it")
	again.Set("keys", "yes")
	l.does(bo, actVerify, "bo", again)
	require.NotContains(t, ada.get("/lockouts/"+string(l.id)+"?act=work").Body, "I looked into the box")
	l.does(ada, actWork, "ada", url.Values{})
}

// 29 CFR 1910.147(e)(3): who only reads from now on takes the own lock off, and
// does nothing else.
func TestWhoOnlyReadsByNowSignsOffWithTheirLock(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.atWork(ada)
	l.does(bo, actJoin, "bo", url.Values{"box": {"B-1"}, "keys": {"yes"}})
	reader := m.people["bo"]
	reader.Role, reader.Authorized = procedures.Reader, false
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), reader, "", m.people["sam"], m.clock.Now()))
	bo = m.as("bo") // another role ended the session
	m.storesNothing(func() {
		form := url.Values{"pin": {testSecrets["bo"]}}
		require.Equal(t, http.StatusForbidden, bo.post("/lockouts/"+string(l.id)+"/"+actWork, form).Status)
		require.Equal(t, http.StatusUnprocessableEntity, bo.post("/lockouts/"+string(l.id)+"/"+actOff, form).Status)
	})
	page := l.page(bo)
	page.says(t, `action="/lockouts/`+string(l.id)+`/leave"`)
	require.NotContains(t, page.Body, "?act=join")
	l.does(bo, actLeave, "bo", url.Values{})
	require.Len(t, l.now().SignedOn(), 1)
	l.page(bo).says(t, "You are signed in to read.")
}

// What stands in the way of several steps is said once, and each is marked.
func TestARefusalOfManyStepsIsSaidOnce(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Relieve)
	m.clock.Advance(max(0, l.now().WaitLeft(m.clock.Now())))
	form := l.ticked()
	steps := l.now().Present()
	require.Greater(t, len(steps), 2)
	form.Del("step." + string(steps[0].ID))
	reply := l.report(ada, actSteps, "ada", form)
	require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
	said := "Not yet. First: "
	require.Equal(t, 1, strings.Count(strings.ReplaceAll(reply.Body, "<strong>Begin the work</strong>: "+said, ""), said), "said once, besides why work may not begin")
	require.Equal(t, len(steps)-1, strings.Count(reply.Body, "Not taken yet: see the top of the page."))
}
