package server_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/sample"
	"stillsaw/server/store"
)

// yard is the invented mill in the middle of a shift, with lockouts begun there.
type yard struct {
	t    *testing.T
	desk *store.Mill
	crew map[string]procedures.Person
	at   time.Time
}

// begin starts a lockout and takes it up to a stage, each step done as its
// procedure says.
func (y *yard) begin(by string, id procedures.ProcedureID, to procedures.Stage) procedures.LockoutID {
	y.t.Helper()
	y.at = y.at.Add(time.Minute)
	lockout, err := y.desk.BeginLockoutWith(y.t.Context(), store.NewID(), id, procedures.Beginning{Task: "Look it over", By: y.crew[by], At: y.at,
		Expected: y.at.Add(3 * time.Hour), Craft: "millwrights", Coordinator: y.crew["Marta Ostrow"].ID}, y.at)
	require.NoError(y.t, err, id)
	y.reach(by, lockout, to)
	return lockout
}

// reach takes a lockout on up to a stage.
func (y *yard) reach(by string, id procedures.LockoutID, to procedures.Stage) {
	y.t.Helper()
	for {
		l, err := y.desk.Lockout(y.t.Context(), id)
		require.NoError(y.t, err)
		if l.Stage >= to {
			return
		}
		y.at = y.at.Add(10*time.Second + l.WaitLeft(y.at.Add(10*time.Second)))
		var events []procedures.Event
		if l.Stage == procedures.Work {
			events = []procedures.Event{{Kind: procedures.WorkEnded}}
		}
		for _, s := range l.Present() {
			if _, done := l.Done[s.ID]; !done {
				events = append(events, y.step(l, s))
			}
		}
		y.does(by, id, events...)
	}
}

func (y *yard) step(l procedures.Lockout, s procedures.Step) procedures.Event {
	for _, d := range l.Procedure.Devices {
		switch number := "Y-" + string(d.ID); {
		case d.ID != s.Device || !d.Lockable:
		case s.Stage == procedures.Apply:
			return procedures.Event{Kind: procedures.LockApplied, Device: d.ID, Lock: number, Position: d.Kind.Position()}
		case s.Stage == procedures.RemoveLocks:
			return procedures.Event{Kind: procedures.LockRemoved, Device: d.ID, Lock: number}
		}
	}
	return procedures.Event{Kind: procedures.StepDone, Step: s.ID, Proof: s.Proof, OffBack: true, Tools: true, Told: "Everybody on the floor"}
}

func (y *yard) does(who string, id procedures.LockoutID, events ...procedures.Event) {
	y.t.Helper()
	require.NoError(y.t, y.desk.LockoutEvents(y.t.Context(), store.NewID(), id, events, y.crew[who], y.at), "%s at %s", who, y.at)
}

// The forms of a lockout, in its stages and to everybody with something to
// report, fit a phone and a desktop too.
func TestEveryFormOfALockoutFitsPhoneAndDesk(t *testing.T) {
	if testing.Short() || !sample.Whole() {
		t.Skip("long, and without a race to find: CI runs it")
	}
	t.Parallel()
	s, st, people := demoServer(t)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	y := &yard{t: t, desk: st.Of(mill.ID), crew: map[string]procedures.Person{}, at: demoNow.Add(-time.Hour / 2)}
	crew, err := y.desk.People(t.Context())
	require.NoError(t, err)
	for _, p := range crew {
		y.crew[p.Name] = p
	}
	const marta, oren, delphine, imre, hollis = "Marta Ostrow", "Oren Tolliver", "Delphine Roux", "Imre Calloway", "Hollis Quade"
	proven := procedures.Event{Kind: procedures.Reverified, Proof: procedures.TryStart, OffBack: true}

	group := y.begin(oren, "head-saw", procedures.Work)
	y.does(oren, group, procedures.Event{Kind: procedures.WorkBegan})
	y.does(delphine, group, procedures.Event{Kind: procedures.Joined, Lock: "R-9", KeysInBox: true, Craft: "electricians"}, proven)
	y.does(hollis, group, procedures.Event{Kind: procedures.Joined, Lock: "Q-9", KeysInBox: true})
	waiting := y.begin(imre, "dust-collection", procedures.Relieve)
	given := y.begin(marta, "hoist", procedures.InspectArea)
	tried := y.begin(delphine, "off-bearing", procedures.Work)
	y.does(delphine, tried, procedures.Event{Kind: procedures.TestAsked, Tools: true})

	shown := map[string][]server.Screen{}
	show := func(who, name string, id procedures.LockoutID, acts ...string) {
		for _, act := range acts {
			shown[who] = append(shown[who], server.Screen{Name: "lockout-" + name + "-" + act, Path: "/lockouts/" + string(id) + "?act=" + act})
		}
	}
	show(oren, "primary", group, "end", "verify", "overnight", "test", "later")
	show(delphine, "member", group, "leave", "hand-over", "locks", "overnight")
	show(hollis, "unproven", group, "verify", "work")
	show(delphine, "test", tried, "off", "energize", "test-end")
	show(imre, "waits", waiting, "steps", "work", "call-off")
	show(imre, "stranger", group, "join")
	show(marta, "supervisor", group, "join", "absent", "to-end")
	show(marta, "given-back", given, "steps", "restore")
	shown[marta] = append(shown[marta], server.Screen{Name: "lockouts-open", Path: "/lockouts"}, server.Screen{Name: "front-locked", Path: "/"}, server.Screen{Name: "wall-locked", Path: "/?wall"},
		server.Screen{Name: "lockout-new-over", Path: "/lockouts/new?procedure=carriage"})
	url := server.NewServerAt(t, s)
	for _, p := range people {
		if len(shown[p.Name]) > 0 {
			server.LookAtScreens(t, url, p.Name, p.Secret, shown[p.Name])
		}
	}
}
