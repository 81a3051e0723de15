package server

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/sample"
	"stillsaw/server/store"
)

// send fills in what an act asks beside ticks and PIN, and sends it.
func (b *browser) send(page, act, who string, typed map[string]string) {
	b.t.Helper()
	b.open(page + "?act=" + act)
	b.shot(act)
	for name, text := range typed {
		b.write(name, text)
	}
	b.fillAct(testSecrets[who], "AA")
	b.sees("What was reported")
}

// A day of one group lockout on phones, scripts on: two at work, a hand-over, a
// test and back to work, a lock left by somebody who went home, the release.
func TestGroupLockoutFromHandOverToReleaseOnPhones(t *testing.T) {
	t.Parallel()
	if !sample.Whole() {
		t.Skip("in CI, and with STILLSAW_LONG=1: three phones for a quarter of a minute")
	}
	m := newMill(t)
	id := m.workUnderWay() // by bo
	std := procedures.Program{Purpose: "nobody is hurt while mending", Duty: "everybody keeps to it", InCharge: m.people["sam"].ID, Scope: "all of the mill",
		Enforcement: "a talk, then home", Law: procedures.LawUSFederal, AbsentOwner: "Call twice, look round the mill.", LockColour: "red", TagStandard: "red and white, printed"}
	require.NoError(t, m.desk().KeepProgram(t.Context(), store.NewID(), std, m.people["sam"], m.clock.Now()))
	page := "/lockouts/" + string(id)
	url := onTheNetwork(t, m.server)
	now := func() procedures.Lockout {
		l, err := m.desk().Lockout(t.Context(), id)
		require.NoError(t, err)
		return l
	}
	ada, bo := newBrowser(t, url, true), newBrowser(t, url, true)
	ada.signIn(m, "ada")
	bo.signIn(m, "bo")

	ada.send(page, actJoin, "ada", map[string]string{"box": ""})
	ada.send(page, actVerify, "ada", nil)
	ada.send(page, actHandOver, "ada", map[string]string{"told": "Half the teeth are in, everything is out of the pit."})
	require.Equal(t, m.people["ada"].ID, now().Primary)
	ada.sees("Ada Rook took it over")
	bo.send(page, actLeave, "bo", nil)
	require.Len(t, now().LocksOn(), 1)

	ada.send(page, actTest, "ada", nil)
	ada.send(page, actOff, "ada", nil)
	ada.sees("NOBODY IS PROTECTED")
	ada.send(page, actEnergize, "ada", map[string]string{"moves": "the saw", "where": "the stand"})
	ada.shot("test-on")
	ada.sees("DANGER", "NOBODY IS PROTECTED")
	bo.open("/")
	bo.sees("NOBODY IS PROTECTED")
	ada.send(page, actTestEnd, "ada", nil)
	for range 12 {
		if now().Stage == procedures.Work {
			break
		}
		m.clock.Advance(6 * time.Minute)
		ada.open(page)
		ada.fillAct(testSecrets["ada"], "AA")
	}
	ada.send(page, actWork, "ada", nil)
	require.True(t, now().Working)

	bo.open(page + "?act=join")
	bo.write("box", "B-9")
	bo.tickOnce("keys")
	bo.write("pin", testSecrets["bo"])
	bo.press(`#act form button.main`)
	require.Len(t, now().LocksOn(), 2)
	sam := newBrowser(t, url, true)
	sam.signIn(m, "sam")
	sam.open(page + "?act=absent")
	sam.choose("lock", "B-9")
	sam.write("not_here", "Looked in the yard; the truck is gone")
	sam.write("try_way.0", "phone")
	sam.write("try_result.0", "no answer")
	sam.press(`button[name="more"]`)
	sam.write("try_way.1", "went to the house")
	sam.write("try_result.1", "nobody there")
	sam.write("pin", testSecrets["sam"])
	sam.shot("absent")
	sam.press(`#act form button.main`)
	require.Len(t, now().LocksOn(), 1, sam.text())
	bo.open("/")
	bo.shot("told-on-every-page")
	bo.sees("Your lock B-9 was taken off while you were away")
	bo.open(page)
	bo.shot("told")
	bo.fillAct(testSecrets["bo"], "")
	bo.doesNotSee("was taken off while you were away")
	require.Empty(t, now().Untold())

	ada.release(m, id, "ada")
	require.True(t, now().Closed)
}
