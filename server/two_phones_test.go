package server

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// workUnderWay is a lockout of the head saw by bo, who has begun the work.
func (m *testMill) workUnderWay() procedures.LockoutID {
	m.t.Helper()
	m.lockOvernight("bo", "head-saw", m.clock.Now().Add(-14*time.Hour))
	l := m.openLockout("head-saw")
	again, err := l.Reverification(verifySteps(l), verifySteps(l))
	require.NoError(m.t, err)
	require.NoError(m.t, m.desk().LockoutEvents(m.t.Context(), store.NewID(), l.ID, []procedures.Event{again, {Kind: procedures.WorkBegan}}, m.people["bo"], m.clock.Now()))
	return l.ID
}

func verifySteps(l procedures.Lockout) []procedures.StepID {
	var ids []procedures.StepID
	for _, s := range l.Procedure.Steps {
		if s.Stage == procedures.Verify {
			ids = append(ids, s.ID)
		}
	}
	return ids
}

// shows waits until the page in front says text, without being loaded anew, and
// tells how long that took.
func (b *browser) shows(text string) time.Duration {
	b.t.Helper()
	since := time.Now()
	for time.Since(since) < 20*time.Second {
		if strings.Contains(b.text(), text) {
			return time.Since(since)
		}
	}
	b.t.Fatalf("the page at %s does not come to say %q:\n%s", b.where(), text, b.text())
	return 0
}

// Two phones stand open on one group lockout. What one reports shows on the
// other by itself, and of what both send at the same moment nothing is lost.
func TestTwoPhonesOnOneGroupLockout(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	id := m.workUnderWay()
	page := "/lockouts/" + string(id)
	url := onTheNetwork(t, m.server)
	ada, sam := newBrowser(t, url, true), newBrowser(t, url, true)
	ada.signIn(m, "ada")
	sam.signIn(m, "sam")

	var delays []time.Duration
	join := func(b *browser, who, number string) {
		b.open(page + "?act=join")
		b.write("box", number)
		b.tickOnce("keys")
		b.write("pin", testSecrets[who])
		b.press(`#act form button.main`)
	}
	leave := func(b *browser, who string) {
		b.open(page + "?act=leave")
		b.fillAct(testSecrets[who], "")
	}
	for i, number := range []string{"A-1", "A-2", "A-3"} {
		sam.open(page)
		sam.doesNotSee("Lock " + number)
		join(ada, "ada", number)
		delays = append(delays, sam.shows("Lock "+number))
		if i < 2 {
			leave(ada, "ada")
		}
	}
	leave(ada, "ada")
	t.Logf("a lock reported on one phone showed on the other after %v", delays)
	require.Less(t, max(delays[0], delays[1], delays[2]), 2*time.Second)

	// At the same moment, each with an own lock: both land.
	both := func(adas, sams string) {
		ada.open(page + "?act=join")
		sam.open(page + "?act=join")
		ada.write("box", adas)
		sam.write("box", sams)
		ada.tickOnce("keys")
		sam.tickOnce("keys")
		ada.write("pin", testSecrets["ada"])
		sam.write("pin", testSecrets["sam"])
		done := make(chan struct{})
		go func() {
			defer close(done)
			ada.press(`#act form button.main`)
		}()
		sam.press(`#act form button.main`)
		<-done
	}
	both("A-4", "S-4")
	require.ElementsMatch(t, []string{"A-4", "S-4"}, m.boxLocks(id))
	ada.shows("Lock S-4")
	sam.shows("Lock A-4")
	leave(ada, "ada")
	leave(sam, "sam")

	// At the same moment with the same number: one lands, the other is told why
	// and has what was typed before them.
	both("X-9", "X-9")
	require.Equal(t, []string{"X-9"}, m.boxLocks(id))
	refused := ada
	if strings.Contains(sam.text(), "already on") {
		refused = sam
	}
	refused.sees("already on in this lockout")
	kept := ""
	for _, input := range refused.inputs("main") {
		if input["name"] == "box" {
			kept = input["value"]
		}
	}
	require.Equal(t, "X-9", kept)
}

// boxLocks are the numbers of the locks reported on the box of a lockout.
func (m *testMill) boxLocks(id procedures.LockoutID) (numbers []string) {
	m.t.Helper()
	l, err := m.desk().Lockout(m.t.Context(), id)
	require.NoError(m.t, err)
	for _, lock := range l.LocksOn() {
		if lock.Device == "" {
			numbers = append(numbers, lock.Number)
		}
	}
	return numbers
}
