package main

import (
	"encoding/json"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/sample"
	"stillsaw/server/store"
)

// tap is one form of a lockout as somebody sends it.
type tap struct {
	who  procedures.PersonID
	act  string
	form url.Values
}

// afterSteps is what is reported once all steps of the stage are done: a
// second person comes and goes, a test, a night, a hand-over, the work and its
// end.
func afterSteps(l procedures.Lockout, done int) tap {
	morning := l.Begun.Add(14 * time.Hour).Local().Format("2006-01-02T15:04")
	again := url.Values{}
	for _, s := range l.Procedure.Steps {
		if s.Stage == procedures.Verify {
			again.Set("step."+string(s.ID), "yes")
			again.Set("offback."+string(s.ID), "yes")
		}
	}
	locks := url.Values{}
	for _, d := range l.Procedure.Devices {
		if d.Lockable {
			locks.Set("lock."+string(d.ID), "B."+string(d.ID))
		}
	}
	off := url.Values{}
	for _, lock := range l.LocksOn() {
		off.Set("off."+string(lock.Device), "yes")
	}
	return []tap{
		{"ada", "work", url.Values{"tools_in": {"4"}}},
		{"ben", "join", url.Values{"box": {"B-9"}, "keys": {"yes"}}},
		{"ben", "leave", url.Values{}},
		{"ada", "test", url.Values{"tools": {"yes"}, "tools_out": {"4"}}},
		{"ada", "off", off},
		{"ada", "energize", url.Values{"where": {"the stand"}, "moves": {"the hook"}, "clear": {"yes"}}},
		{"ada", "test-end", url.Values{"offback": {"yes"}}}, // all of isolation comes again
		{"ada", "overnight", url.Values{"until": {morning}}},
		{"ada", "verify", again},
		{"ben", "join", locks},
		{"ben", "verify", again},
		{"ben", "hand-over", url.Values{"from": {"ada"}, "told": {"The chain is new; the hook is to be hung."}}},
		{"ada", "leave", url.Values{}},
		{"ben", "work", url.Values{}},
		{"ben", "end", url.Values{}},
	}[done]
}

// stepsOf ticks every present step as it asks to be done.
func stepsOf(l procedures.Lockout) tap {
	form := url.Values{"tools": {"yes"}}
	for _, s := range l.Present() {
		device := "." + string(s.Device)
		switch takesLock := lockableIn(l.Procedure, s.Device); {
		case takesLock && s.Stage == procedures.Apply:
			form.Set("lock"+device, strings.ToUpper(string(l.Primary[:1]))+device)
		case takesLock && s.Stage == procedures.RemoveLocks:
			form.Set("off"+device, "yes")
		default:
			id := "." + string(s.ID)
			form.Set("step"+id, "yes")
			form.Set("offback"+id, "yes")
			form.Set("told"+id, "everybody, by word")
		}
	}
	if l.Stage == procedures.NotifyRestored {
		return tap{l.Primary, "restore", form}
	}
	return tap{l.Primary, "steps", form}
}

func lockableIn(p procedures.Procedure, id procedures.DeviceID) bool {
	for _, d := range p.Devices {
		if d.ID == id {
			return d.Lockable
		}
	}
	return false
}

// The server is killed in every stage of a lockout, at any moment around the
// answer. Started again it stands where it stood, the form sent once more is
// answered and done once, and a replay of the record gives the same state. Outside
// CI it is killed at every other form, the odd or the even ones by chance.
func TestLockoutSurvivesBeingKilledInEveryStage(t *testing.T) {
	if testing.Short() {
		t.Skip("kills the server in every stage")
	}
	binary, dir := built(t), preparedMill(t)
	chance := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 0))
	phones := map[procedures.PersonID]*browser{}
	serve := func() *process {
		p := start(t, binary, dir)
		for _, who := range []procedures.PersonID{"ada", "ben"} {
			if phones[who] == nil {
				phones[who] = newBrowser(t, p.addr)
				require.NotEmpty(t, phones[who].signIn(who, crewsPIN))
			}
			phones[who].addr = p.addr
		}
		return p
	}
	p := serve()
	status, to, page, err := phones["ada"].post(t.Context(), "/lockouts/new", url.Values{"submission": {store.NewID()}, "procedure": {"hoist"},
		"task": {"New chain"}, "hours": {"2"}, "pin": {crewsPIN}})
	require.NoError(t, err)
	require.Equal(t, http.StatusSeeOther, status, page)
	to, _, _ = strings.Cut(to, "?")
	id := procedures.LockoutID(strings.TrimPrefix(to, "/lockouts/"))

	turn, said := chance.IntN(2), 0
	l, killed, acts := lockoutIn(t, dir, id), 0, 0
	for l.Open() {
		next := tap{}
		if l.Stage == procedures.Work {
			next = afterSteps(l, acts)
			acts++
		} else {
			next = stepsOf(l)
		}
		next.form.Set("submission", store.NewID())
		next.form.Set("pin", crewsPIN)
		send := func() (int, string, string, error) {
			return phones[next.who].post(t.Context(), to+"/"+next.act, next.form)
		}
		kept := l
		if said++; sample.Whole() || said%2 == turn {
			answered := make(chan bool, 1)
			go func() {
				status, _, _, err := send()
				answered <- err == nil && status == http.StatusSeeOther
			}()
			<-time.After(time.Duration(chance.IntN(60)) * time.Millisecond)
			require.NoError(t, p.command.Process.Kill())
			require.Error(t, p.command.Wait(), "killed, not ended")
			acknowledged := <-answered
			killed++

			kept = lockoutIn(t, dir, id)
			if acknowledged {
				require.Greater(t, len(kept.Events), len(l.Events), "%s was acknowledged before the kill", next.act)
			}
			p = serve()
		}
		status, _, page, err := send()
		require.NoError(t, err)
		require.Equal(t, http.StatusSeeOther, status, "%s at %s\n%s", next.act, l.Stage.Clause(), page)
		now := lockoutIn(t, dir, id)
		require.Greater(t, len(now.Events), len(l.Events))
		if len(kept.Events) > len(l.Events) {
			require.Equal(t, asJSON(t, kept), asJSON(t, now), "%s was kept before the kill and again after it", next.act)
		}
		again, err := procedures.Replay(id, now.Procedure, now.Events)
		require.NoError(t, err)
		require.Equal(t, asJSON(t, now), asJSON(t, again))
		l = now
	}
	require.True(t, l.Closed)
	require.NoError(t, p.command.Process.Kill())
	p.command.Wait()
	out, err := exec.CommandContext(t.Context(), binary, "verify", "-data", dir).CombinedOutput()
	require.NoError(t, err, string(out))
	t.Logf("killed %d times, %d events", killed, len(l.Events))
}

func asJSON(t *testing.T, l procedures.Lockout) string {
	t.Helper()
	text, err := json.Marshal(l)
	require.NoError(t, err)
	return string(text)
}

// lockoutIn reads a lockout beside the server, if one runs.
func lockoutIn(t *testing.T, dir string, id procedures.LockoutID) procedures.Lockout {
	t.Helper()
	st, err := store.Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	l, err := st.Of(mill.ID).Lockout(t.Context(), id)
	require.NoError(t, err)
	return l
}
