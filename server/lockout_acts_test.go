package server

import (
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// atWork is a lockout of the head saw by Ada, who has begun the work.
func (m *testMill) atWork(ada *phone) lockout {
	m.t.Helper()
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Work)
	require.Equal(m.t, http.StatusOK, l.report(ada, actWork, "ada", url.Values{}).Status)
	return l
}

// refuses requires a refusal of act with that text at that field and nothing kept;
// what was typed stands there again.
func (l lockout) refuses(p *phone, act, who string, form url.Values, field, says string) {
	l.m.t.Helper()
	l.m.storesNothing(func() {
		reply := l.report(p, act, who, form)
		require.Equal(l.m.t, http.StatusUnprocessableEntity, reply.Status, act)
		reply.says(l.m.t, says, act)
		if field != "" {
			reply.says(l.m.t, `href="#f-`+field+`"`, act)
			reply.says(l.m.t, `id="f-`+field+`-want"`, act)
		}
	})
}

func (l lockout) does(p *phone, act, who string, form url.Values) page {
	l.m.t.Helper()
	reply := l.report(p, act, who, form)
	require.Equal(l.m.t, http.StatusOK, reply.Status, "%s: %s", act, reply.Body)
	return reply
}

// 29 CFR 1910.147(f)(4): the one coming on locks, proves and is told first; the
// one going off takes the own lock off last.
func TestLockoutChangesHandsWithoutAGap(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.atWork(ada)
	told := url.Values{"told": {"Half the teeth are in; wrench set is out."}, "from": {string(m.people["ada"].ID)}}
	l.refuses(bo, actHandOver, "bo", told, "", "(f)(3)(ii)(D)")
	l.does(bo, actJoin, "bo", url.Values{"box": {"B-1"}, "keys": {"yes"}, "craft": {"electrician"}})
	l.page(bo).says(t, "electrician")
	l.refuses(bo, actHandOver, "bo", told, "", "(f)(4)")
	l.page(bo).says(t, "?act=locks")
	l.does(bo, actLocks, "bo", url.Values{"lock.saw-disconnect": {"B-2"}})
	l.does(bo, actVerify, "bo", l.verified())
	bo.get("/lockouts/"+string(l.id)+"?act=hand-over").says(t, "What you were told")
	l.refuses(bo, actHandOver, "bo", told, "keys", "(f)(4)")
	told.Set("keys", "yes")
	silent := url.Values{"keys": {"yes"}, "from": told["from"]}
	l.refuses(bo, actHandOver, "bo", silent, "told", "Say what you were told")
	nobody := url.Values{"keys": {"yes"}, "told": told["told"]}
	l.refuses(bo, actHandOver, "bo", nobody, "from", "Say who told you")
	reply := l.does(bo, actHandOver, "bo", told)
	reply.says(t, "Bo Lind took it over and answers for it.")
	reply.says(t, "Told by Ada Rook: Half the teeth are in")
	require.Equal(t, m.people["bo"].ID, l.now().Primary)
	l.heldOnTheFront(ada)
	l.does(ada, actLeave, "ada", url.Values{})
	l.does(bo, actEnd, "bo", url.Values{})
	l.page(ada).says(t, "Bo Lind answers for this lockout and gives the machine back.") // and did not begin it
	require.NotEmpty(t, l.now().LocksOn())
	l.heldOnTheFront(ada)
}

// 29 CFR 1910.147(f)(1): everything out, locks off, power, control off, and all
// of isolation again; loud while it is on.
func TestTestOrPositioningIsLoudAndEndsInIsolation(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Work)
	l.does(ada, actWork, "ada", url.Values{"tools_in": {"7"}})
	l.refuses(ada, actTest, "ada", url.Values{}, "tools", "(f)(1)(i)")
	l.refuses(ada, actTest, "ada", url.Values{"tools": {"yes"}, "tools_out": {"6"}}, "tools_out", "7 tools and parts were counted in")
	l.refuses(ada, actTest, "ada", url.Values{"tools": {"yes"}, "tools_out": {"all"}}, "tools_out", "a whole number")
	l.does(bo, actJoin, "bo", url.Values{"lock.saw-disconnect": {"B-2"}})
	out := url.Values{"tools": {"yes"}, "tools_out": {"7"}}
	l.refuses(ada, actTest, "ada", out, "", "(f)(1)(ii)")
	l.does(bo, actLeave, "bo", url.Values{})
	l.does(ada, actTest, "ada", out).says(t, `action="/lockouts/`+string(l.id)+`/off"`)
	l.refuses(bo, actJoin, "bo", url.Values{"lock.saw-disconnect": {"B-2"}}, "lock.saw-disconnect", "(f)(1)")

	run := url.Values{"where": {"the stand"}, "moves": {"the saw"}, "clear": {"yes"}}
	l.refuses(ada, actEnergize, "ada", run, "", "(f)(1)(iii)")
	l.refuses(ada, actOff, "ada", url.Values{}, "", "tick each lock you took off")
	l.does(ada, actOff, "ada", url.Values{"off.saw-disconnect": {"yes"}})
	l.page(ada).says(t, "NOBODY IS PROTECTED")
	for field, says := range map[string]string{"where": "Say where you run it from.", "moves": "Say what is going to move.", "clear": "(f)(1)(ii)"} {
		less := url.Values{"where": run["where"], "moves": run["moves"], "clear": run["clear"]}
		less.Del(field)
		l.refuses(ada, actEnergize, "ada", less, field, says)
	}
	on := l.does(ada, actEnergize, "ada", run)
	on.says(t, `class="hazard danger"`)
	on.says(t, "What moves: the saw")
	require.Contains(t, on.title(), "nobody is protected")
	m.phone().get("/").says(t, "NOBODY IS PROTECTED")
	m.phone().get("/?wall").says(t, "NOBODY IS PROTECTED")
	m.phone().get("/").says(t, "Reported under power for a test by Ada Rook")
	ada.get("/lockouts").says(t, "NOBODY IS PROTECTED")
	l.heldOnTheFront(ada)
	l.refuses(ada, actTestEnd, "ada", url.Values{}, "offback", "(f)(1)(v)")
	l.does(ada, actTestEnd, "ada", url.Values{"offback": {"yes"}})
	require.Equal(t, procedures.ShutDown, l.now().Stage, "all of isolation again")
	l.heldOnTheFront(ada)
	require.NotContains(t, l.page(ada).Body, "NOBODY IS PROTECTED")
	l.to(ada, procedures.Work)
	l.does(ada, actWork, "ada", url.Values{})
	require.True(t, l.now().Working)

	l.does(ada, actEnd, "ada", url.Values{})
	l.page(ada).says(t, "Back to work: something is left to do")
	l.does(ada, actBack, "ada", url.Values{})
	require.Equal(t, procedures.Work, l.now().Stage)
	l.page(ada).says(t, "Nobody may reach in before proving zero again under their own lock.")
	l.refuses(ada, actWork, "ada", url.Values{}, "", "(d)(6)")
	l.does(ada, actVerify, "ada", l.verified())
	l.does(ada, actTest, "ada", url.Values{"tools": {"yes"}})
	l.does(ada, actOff, "ada", url.Values{"off.saw-disconnect": {"yes"}})
	l.does(ada, actEnergize, "ada", run)
	l.refuses(ada, actDone, "ada", url.Values{"offback": {"yes"}}, "clear", "(e)(2)(i)")
	l.does(ada, actDone, "ada", url.Values{"offback": {"yes"}, "clear": {"yes"}})
	require.Equal(t, procedures.InspectArea, l.now().Stage)
	l.page(ada).says(t, "NOBODY REACHES IN")
	m.phone().get("/").says(t, "NOBODY REACHES IN")
	l.heldOnTheFront(ada)
	l.does(ada, actBack, "ada", url.Values{})
	require.Equal(t, procedures.ShutDown, l.now().Stage, "all of isolation before work again")
}

// 29 CFR 1910.147(e)(3): the three conditions, a supervisor's signature, and the
// owner told before work.
func TestAbsentPersonsLockComesOffByTheThreeConditionsOnly(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo, sam := m.as("ada"), m.as("bo"), m.as("sam")
	l := m.atWork(ada)
	l.does(bo, actJoin, "bo", url.Values{"lock.saw-disconnect": {"B-2"}})
	form := func(change ...string) url.Values {
		f := url.Values{"lock": {"B-2"}, "not_here": {"Sam looked in the yard and the canteen; truck gone"}, "rows": {"2"},
			"try_at.0": {"2026-03-03T06:10"}, "try_way.0": {"phone"}, "try_result.0": {"no answer"}, "try_at.1": {""}, "try_way.1": {""}, "try_result.1": {""}}
		for i := 0; i < len(change); i += 2 {
			f.Set(change[i], change[i+1])
		}
		return f
	}
	sam.get("/lockouts/"+string(l.id)+"?act=absent").says(t, "isn&#39;t written in this mill&#39;s program")
	m.clock.Advance(5 * time.Hour) // past the end that was expected: signed on counts as here till then
	ada, bo, sam = m.as("ada"), m.as("bo"), m.as("sam")
	l.refuses(sam, actAbsent, "sam", form(), "lock", "isn&#39;t written in this mill&#39;s program")
	std := procedures.Program{Purpose: "nobody is hurt while mending", Duty: "everybody keeps to it", InCharge: m.people["sam"].ID, Scope: "all of the mill",
		Enforcement: "a talk, then home", Law: procedures.LawUSFederal, AbsentOwner: "Ask at the house, call twice, two people look round the mill.",
		LockColour: "red", TagStandard: "red and white, printed"}
	require.NoError(t, m.desk().KeepProgram(t.Context(), store.NewID(), std, m.people["sam"], m.clock.Now()))
	l.refuses(ada, actAbsent, "ada", form(), "lock", "(e)(3)")
	l.refuses(sam, actAbsent, "sam", form("lock", "Z"), "lock", "No such lock is on.")
	l.refuses(sam, actAbsent, "sam", form("not_here", ""), "not_here", "(e)(3)(i)")
	l.refuses(sam, actAbsent, "sam", form("try_way.0", "", "try_result.0", ""), "try_way.0", "(e)(3)(ii)")
	l.refuses(sam, actAbsent, "sam", form("try_result.0", ""), "try_way.0", "(e)(3)(ii)")
	l.refuses(sam, actAbsent, "sam", form("try_at.0", "yesterday"), "try_at.0", "when you tried")
	m.storesNothing(func() { // one row more, with what was typed in the others
		more := sam.post("/lockouts/"+string(l.id)+"/absent", form("more", "yes"))
		require.Equal(t, http.StatusOK, more.Status)
		more.says(t, `name="try_way.2"`)
		more.says(t, `value="no answer"`)
	})
	taken := l.does(sam, actAbsent, "sam", form())
	taken.says(t, "for its owner, who is not here")
	taken.says(t, "no answer")
	require.Len(t, l.now().LocksOn(), 1)

	// Nothing else before the owner knows, on whatever page.
	bo.get("/").says(t, "Your lock B-2 was taken off while you were away.")
	bo.get("/lockouts").says(t, "/lockouts/"+string(l.id))
	m.storesNothing(func() {
		reply := bo.post("/lockouts/new", url.Values{"submission": {store.NewID()}, "procedure": {"hoist"}, "task": {"grease"}, "hours": {"1"}, "pin": {testSecrets["bo"]}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "(e)(3)(iii)")
	})
	bo.get("/lockouts/new?procedure=hoist").says(t, "What stands in the way")
	l.refuses(bo, actJoin, "bo", url.Values{"lock.saw-disconnect": {"B-3"}}, "lock.saw-disconnect", "(e)(3)(iii)")
	asked := l.page(bo)
	asked.says(t, `action="/lockouts/`+string(l.id)+`/told"`)
	asked.says(t, "Sam Ordway reported taking your lock B-2 off")
	l.refuses(ada, actTold, "ada", url.Values{}, "", "(e)(3)(iii)")
	l.does(bo, actTold, "bo", url.Values{}).says(t, "Before you work, put your own lock on again")
	require.NotContains(t, bo.get("/").Body, "was taken off while you were away")
	require.Empty(t, l.now().Untold())
}

// Who says only after the end that they know is not sent to put a lock on again.
func TestWhoIsToldAfterTheEndIsNotSentToLockAgain(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	require.Equal(t, "told", doneWord(procedures.Lockout{}, actTold))
	require.Equal(t, "told-over", doneWord(procedures.Lockout{Closed: true}, actTold))
	require.NotContains(t, flash("told-over").String(), "put your own lock on")
	ada, bo := m.as("ada"), m.as("bo")
	l := m.atWork(ada)
	l.does(bo, actJoin, "bo", url.Values{"lock.saw-disconnect": {"B-2"}})
	m.clock.Advance(5 * time.Hour)
	std := procedures.Program{Purpose: "nobody is hurt while mending", Duty: "everybody keeps to it", InCharge: m.people["sam"].ID, Scope: "all of the mill",
		Enforcement: "a talk, then home", Law: procedures.LawUSFederal, AbsentOwner: "Ask at the house, call twice.", LockColour: "red", TagStandard: "red and white, printed"}
	require.NoError(t, m.desk().KeepProgram(t.Context(), store.NewID(), std, m.people["sam"], m.clock.Now()))
	ada, sam := m.as("ada"), m.as("sam")
	nothing := l.report(sam, actAbsent, "sam", url.Values{"lock": {""}, "rows": {"1"}})
	require.Equal(t, http.StatusUnprocessableEntity, nothing.Status)
	for _, said := range []string{"Choose the lock that comes off.", `id="f-lock-want"`, "who looked where", `id="f-not_here-want"`, "enter each try", `id="f-try_way.0-want"`} {
		nothing.says(t, said)
	}
	require.NotContains(t, nothing.Body, "Give the number on the lock.")
	l.does(sam, actAbsent, "sam", url.Values{"lock": {"B-2"}, "not_here": {"looked everywhere"}, "rows": {"1"}, "try_at.0": {"2026-03-03T06:10"}, "try_way.0": {"phone"}, "try_result.0": {"no answer"}})
	l.to(ada, procedures.NotifyRestored)
	l.does(ada, actRestore, "ada", l.ticked())
	l.does(m.as("bo"), actTold, "bo", url.Values{}).says(t, "This lockout is over.")
}

// Somebody who went home in the middle leaves nothing that nobody can end.
func TestSupervisorTakesALockoutToItsEnd(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.atWork(ada)
	end := url.Values{"not_here": {"Sam looked everywhere"}, "told": {"Teeth in, guard off"}}
	sam := m.as("sam")
	l.refuses(sam, actToEnd, "sam", end, "", "(e)(3)(i)")
	m.clock.Advance(5 * time.Hour)
	sam = m.as("sam")
	sam.get("/lockouts/"+string(l.id)+"?act=to-end").says(t, "no work, only the release")
	l.refuses(sam, actToEnd, "sam", url.Values{"told": end["told"]}, "not_here", "(e)(3)(i)")
	l.refuses(m.as("bo"), actToEnd, "bo", end, "", "(f)(3)(ii)(A)")
	l.does(sam, actToEnd, "sam", end).says(t, "How it stood: Teeth in, guard off")
	require.Equal(t, procedures.InspectArea, l.now().Stage)
	l.heldOnTheFront(sam)
}

// buildsUpAgain puts a procedure of the head saw in force whose proof at zero is
// given again every half hour, and has the crew trained on it.
func (m *testMill) buildsUpAgain() procedures.ProcedureID {
	m.t.Helper()
	p, err := m.desk().Procedure(m.t.Context(), "head-saw", 0)
	require.NoError(m.t, err)
	p.ID, p.Title, p.Version = "head-saw-air", "Head saw with an air brake", 0
	p.Steps = slices.Clone(p.Steps)
	for i := range p.Steps {
		if p.Steps[i].Stage == procedures.Verify {
			p.Steps[i].Recheck = 30 * time.Minute
		}
	}
	photo, err := m.desk().KeepPhoto(m.t.Context(), store.Photo{Bytes: picture(m.t, 40, 30), Width: 40, Height: 30}, m.clock.Now())
	require.NoError(m.t, err)
	p.Devices = slices.Clone(p.Devices)
	p.Devices[0].Photo, p.Devices[0].Point, p.Devices[0].Adapter = photo, procedures.Point{X: 0.5, Y: 0.5}, true
	doc, err := json.Marshal(p)
	require.NoError(m.t, err)
	require.NoError(m.t, m.desk().KeepDraft(m.t.Context(), store.Draft{Sort: store.Procedures, ID: string(p.ID), Title: p.Title, Doc: string(doc)}, m.clock.Now()))
	m.publish(store.Procedures, string(p.ID), nil)
	m.trained("ada", "bo")
	return p.ID
}

// 29 CFR 1910.147(d)(5)(ii): what can build up again is proven again in time,
// raised when late.
func TestLateRecheckIsRaisedEverywhereAndStopsTheWork(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	id := m.buildsUpAgain()
	ada := m.as("ada")
	l := m.beginLockout(ada, string(id))
	l.to(ada, procedures.Work)
	l.does(ada, actWork, "ada", url.Values{})
	now := l.now()
	require.NotEmpty(t, now.BuildingUp())
	l.page(ada).says(t, "Something here can build up again.")
	l.page(ada).says(t, "data-until=")
	m.clock.Advance(now.RecheckNext().Sub(m.clock.Now()) + time.Minute)
	ada = m.as("ada")
	l.page(ada).says(t, "Hands out.")
	l.page(ada).says(t, `action="/lockouts/`+string(l.id)+`/recheck"`)
	m.phone().get("/").says(t, "Hands out.")
	bo := m.as("bo")
	l.refuses(bo, actJoin, "bo", url.Values{"box": {"B-1"}, "keys": {"yes"}}, "box", "(d)(5)(ii)")
	l.refuses(ada, actRecheck, "ada", url.Values{}, "", "nothing was reported yet")
	again := url.Values{}
	for _, s := range now.BuildingUp() {
		again.Set("step."+string(s.ID), "yes")
		again.Set("offback."+string(s.ID), "yes")
	}
	l.does(ada, actRecheck, "ada", again)
	require.NotContains(t, l.page(ada).Body, "Hands out.")
}

// A lock on past the shift without being meant to is raised; one left on on
// purpose is not.
func TestLockForgottenAtTheShiftsEndIsRaised(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	form := url.Values{"submission": {store.NewID()}, "procedure": {"head-saw"}, "task": {"change teeth"}, "hours": {"24"}, "pin": {testSecrets["ada"]}}
	reply := ada.post("/lockouts/new", form)
	l := lockout{m, procedures.LockoutID(reply.URL.Path[len("/lockouts/"):])}
	l.to(ada, procedures.Work)
	raised := "nobody left it on for the night on purpose"
	require.NotContains(t, m.phone().get("/").Body, raised)
	m.clock.Advance(10 * time.Hour) // 16:00, the shift ended at 15:30
	m.phone().get("/").says(t, raised)
	m.phone().get("/?wall").says(t, raised)
	ada = m.as("ada")
	l.page(ada).says(t, raised)
	l.does(ada, actVerify, "ada", l.verified())
	l.does(ada, actOvernight, "ada", url.Values{"until": {"2026-03-04T07:00"}})
	require.NotContains(t, m.phone().get("/").Body, raised)
	front := m.phone().get("/")
	front.says(t, "Left locked on purpose until")
	front.says(t, "Signed on: Ada Rook.")
}

// 29 CFR 1910.147(f)(3)(ii)(C): two lockouts of one machine have one over both.
func TestOverlappingLockoutNamesACoordinator(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	l := m.atWork(ada)
	form := url.Values{"submission": {store.NewID()}, "procedure": {"head-rig"}, "task": {"align the track"}, "hours": {"2"}, "pin": {testSecrets["bo"]}}
	m.storesNothing(func() {
		reply := bo.post("/lockouts/new", form)
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, `href="#f-coordinator"`)
		reply.says(t, "(f)(3)(ii)(C)")
	})
	bo.get("/lockouts/new?procedure=head-rig").says(t, "Ada Rook, who answers for: ")
	form.Set("coordinator", string(m.people["ada"].ID))
	form.Set("submission", store.NewID())
	reply := bo.post("/lockouts/new", form)
	require.Equal(t, http.StatusOK, reply.Status)
	reply.says(t, "Ada Rook coordinates the crafts at this equipment.")
	away := "signed on to no lockout under way any more"
	require.NotContains(t, reply.Body, away)
	l.to(ada, procedures.NotifyRestored)
	l.does(ada, actSteps, "ada", l.ticked())
	l.does(ada, actRestore, "ada", url.Values{})
	bo.get(reply.URL.Path).says(t, away)
}

// 29 CFR 1910.147(f)(1)(ii): the hoist lands on the carriage; while it has power
// for a test nobody begins at the saw.
func TestNobodyBeginsALockoutThatAnotherOnesTestReaches(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, bo := m.as("ada"), m.as("bo")
	hoist := m.beginLockout(ada, "hoist")
	hoist.to(ada, procedures.Work)
	hoist.does(ada, actTest, "ada", url.Values{"tools": {"yes"}})
	hoist.does(ada, actOff, "ada", url.Values{"off.hoist-disconnect": {"yes"}})
	hoist.does(ada, actEnergize, "ada", url.Values{"clear": {"yes"}, "where": {"the stand"}, "moves": {"the hook"}})
	page := bo.get("/lockouts/new?procedure=head-saw")
	page.says(t, "power for a test that reaches here")
	page.says(t, "29 CFR 1910.147(f)(1)(ii)")
	m.storesNothing(func() {
		reply := bo.post("/lockouts/new", url.Values{"submission": {store.NewID()}, "procedure": {"head-saw"}, "task": {"teeth"}, "hours": {"2"}, "pin": {testSecrets["bo"]}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "(f)(1)(ii)")
	})
	hoist.does(ada, actTestEnd, "ada", url.Values{"offback": {"yes"}})
	require.NotContains(t, bo.get("/lockouts/new?procedure=head-saw").Body, "power for a test that reaches here")
}

// All of it typed as done earlier, the page asks the gate before it says to work.
func TestALockoutWrittenUpDoesNotTellTheUntrainedToWork(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.atWork(ada)
	cal := procedures.Person{ID: procedures.PersonID(store.NewID()), Name: "Cal Weir", Role: procedures.Operator, Authorized: true}
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), cal, testDigests()["ada"], m.people["sam"], m.clock.Now()))
	p := m.phone()
	p.post("/sign-in", url.Values{"person": {string(cal.ID)}, "pin": {testSecrets["ada"]}})
	at := m.clock.Now()
	require.NoError(t, m.desk().LockoutEvents(t.Context(), store.NewID(), l.id, []procedures.Event{{Kind: procedures.Joined, Lock: "C-1", KeysInBox: true, Late: true, At: at},
		{Kind: procedures.Reverified, Proof: procedures.TryStart, OffBack: true, Late: true, At: at}}, cal, at))
	require.True(t, l.now().VerifiedFor(cal.ID, "head-saw", m.clock.Now()))
	page := l.page(p)
	page.says(t, "You may not work here yet, whatever was reported.")
	page.says(t, "29 CFR 1910.147(c)(7)(i)(A)")
	require.NotContains(t, page.Body, "Work. When it is done")
	l.page(ada).says(t, "Work. When it is done")
}

// What the gate has against somebody stands there before they try.
func TestWhatStandsInTheWayIsShownBeforeALockoutBegins(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	cal := procedures.Person{ID: procedures.PersonID(store.NewID()), Name: "Cal Weir", Role: procedures.Operator, Authorized: true}
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), cal, testDigests()["ada"], m.people["sam"], m.clock.Now()))
	p := m.phone()
	p.post("/sign-in", url.Values{"person": {string(cal.ID)}, "pin": {testSecrets["ada"]}})
	page := p.get("/lockouts/new?procedure=head-saw")
	page.says(t, "never trained on this procedure")
	page.says(t, "29 CFR 1910.147(c)(7)(i)(A)")
	page.says(t, `href="/training"`)
	require.NotContains(t, m.as("ada").get("/lockouts/new?procedure=head-saw").Body, "What stands in the way")
}

// An own registered lock is offered; nobody else's, and none that is on already.
func TestOwnRegisteredLocksAreOffered(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Work) // registers A-saw-disconnect at its first use
	again := m.beginLockout(ada, "hoist")
	again.to(ada, procedures.Apply)
	again.page(ada).says(t, `<option value="A-saw-disconnect">`)
	require.NotContains(t, l.page(m.as("bo")).Body, "<option value=")
}

// What happened against the order is entered with its lockout and shows on it.
func TestDepartureEnteredFromALockoutShowsOnIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.atWork(ada)
	address := "/departures/new?equipment=head-saw&lockout=" + string(l.id)
	form := ada.get(address)
	form.says(t, `name="lockout" value="`+string(l.id)+`"`)
	reply := ada.post("/departures/new", url.Values{"submission": {form.submission()}, "what": {"the splitter was reached behind before the lock was on"},
		"equipment": {"head-saw"}, "lockout": {string(l.id)}, "happened": {"2026-03-03"}, "time": {"05:30"}, "pin": {testSecrets["ada"]}})
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	page := l.page(ada)
	page.says(t, "Against the order")
	page.says(t, "the splitter was reached behind")
	m.phone().get("/").says(t, "One departure open in it")
	require.Equal(t, http.StatusNotFound, ada.get("/departures/new?lockout=no-such").Status)
}

// Tools that went in come out before it is given back.
func TestToolsCountedInAreCountedOut(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Work)
	l.does(ada, actWork, "ada", url.Values{"tools_in": {"3"}})
	l.does(ada, actEnd, "ada", url.Values{})
	l.page(ada).says(t, "3 were counted in: Ada Rook 3.")
	short := l.ticked()
	short.Set("tools_out", "2")
	l.refuses(ada, actSteps, "ada", short, "tools_out", "3 tools and parts were counted in, 2 out")
	all := l.ticked()
	all.Set("tools_out", "3")
	l.does(ada, actSteps, "ada", all).says(t, "3 tools and parts counted out.")
}

// Where a device is stands at the steps that set and lock it.
func TestPhotoOfADeviceStandsAtTheStepsThatSetAndLockIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.as("ada")
	l := m.beginLockout(ada, string(m.buildsUpAgain()))
	require.NotContains(t, l.page(ada).Body, `class="marked"`)
	l.to(ada, procedures.Apply)
	page := l.page(ada)
	page.says(t, `class="marked"`)
	page.says(t, `class="ring"`)
	page.says(t, "With its adapter. It holds the device off.")
}
