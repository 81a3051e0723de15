package server

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// walker is somebody walking the pre-shift list on a phone.
type walker struct {
	*phone
	who  string
	list checklists.List
	at   string // address of the walk
}

func (m *testMill) walk(who string) *walker {
	m.t.Helper()
	list, err := m.desk().List(m.t.Context(), checklists.PreShift, 0)
	require.NoError(m.t, err)
	w := &walker{phone: m.as(who), who: who, list: list}
	first := w.get("/inspections/new?list=pre-shift")
	require.Equal(m.t, 200, first.Status)
	begun := w.post("/inspections/new", url.Values{"submission": {first.submission()}, "list": {"pre-shift"}})
	require.Equal(m.t, 200, begun.Status, begun.Body)
	w.at = begun.URL.Path
	return w
}

// good is every item of a state answered well.
func (w *walker) good(state checklists.MachineState) (url.Values, map[string][]byte) {
	form, files := url.Values{"state": {string(state)}, "next": {string(state)}}, map[string][]byte{}
	for _, item := range asked(w.list, state, nil) {
		name := string(item.ID)
		form.Set(name, "ok")
		switch item.Kind {
		case checklists.Number:
			form.Set(name+".number", numeral(inside(item.Limits)))
		case checklists.Text:
			form.Set(name+".text", "as marked")
		}
		if item.AlwaysPhoto {
			files[name+".photo"] = picture(w.t, 40, 30)
		}
	}
	return form, files
}

// inside is a number within the limits.
func inside(l checklists.Limits) float64 {
	switch {
	case l.Low != nil:
		return *l.Low
	case l.HighOut:
		return *l.High / 2
	}
	return *l.High
}

func picture(t *testing.T, width, height int) []byte {
	t.Helper()
	im := image.NewGray(image.Rect(0, 0, width, height))
	im.Set(width/2, height/2, color.White)
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, im, nil))
	return out.Bytes()
}

// keep answers a whole state well.
func (w *walker) keep(state checklists.MachineState) page {
	w.t.Helper()
	form, files := w.good(state)
	reply := w.postFiles(w.at+"/answers", form, files)
	require.Equal(w.t, 200, reply.Status, "%s", firstProblem(reply))
	return reply
}

func firstProblem(p page) string {
	_, wrong, found := strings.Cut(p.Body, `<section class="wrong"`)
	if !found {
		return p.title()
	}
	wrong, _, _ = strings.Cut(wrong, "</section>")
	return wrong
}

func (w *walker) inspection() checklists.InspectionID {
	return checklists.InspectionID(strings.TrimPrefix(w.at, "/inspections/"))
}

func (w *walker) answers() map[checklists.ItemID]checklists.Answer {
	w.t.Helper()
	walk, err := w.m.desk().Walk(w.t.Context(), w.inspection())
	require.NoError(w.t, err)
	return byItem(walk.Answers)
}

func (w *walker) sign() page {
	w.t.Helper()
	return w.post(w.at+"/sign", url.Values{"submission": {store.NewID()}, "pin": {testSecrets[w.who]}})
}

func (w *walker) runCheck(machines ...string) page {
	w.t.Helper()
	form := url.Values{"submission": {store.NewID()}, "pin": {testSecrets[w.who]}}
	for _, machine := range machines {
		form.Set("turn."+machine, "yes")
	}
	return w.post(w.at+"/run-check", form)
}

// lockOut takes a lockout through to zero proven, or back out of it.
func (m *testMill) lockOut(who string, id procedures.ProcedureID) procedures.LockoutID {
	m.t.Helper()
	lockout, err := m.desk().BeginLockout(m.t.Context(), store.NewID(), id, "pre-shift check", m.clock.Now().Add(4*time.Hour), m.people[who], m.clock.Now())
	require.NoError(m.t, err)
	m.carryOn(who, lockout, procedures.Work)
	return lockout
}

func (m *testMill) unlock(who string, id procedures.LockoutID) {
	m.t.Helper()
	require.NoError(m.t, m.desk().LockoutEvents(m.t.Context(), store.NewID(), id, []procedures.Event{{Kind: procedures.WorkBegan}, {Kind: procedures.WorkEnded}}, m.people[who], m.clock.Now()))
	m.carryOn(who, id, procedures.NotifyRestored+1)
}

func (m *testMill) carryOn(who string, id procedures.LockoutID, until procedures.Stage) {
	m.t.Helper()
	for range 200 {
		l, err := m.desk().Lockout(m.t.Context(), id)
		require.NoError(m.t, err)
		if !l.Open() || l.Stage >= until {
			return
		}
		m.clock.Advance(l.WaitLeft(m.clock.Now()))
		var events []procedures.Event
		for _, step := range l.Present() {
			if _, done := l.Done[step.ID]; !done {
				events = append(events, eventFor(l, step))
			}
		}
		if len(events) == 0 {
			events = []procedures.Event{{Kind: procedures.Restored, Told: "the crew, by voice"}}
		}
		for i, event := range events {
			if event.Lock != "" && who != "ada" {
				events[i].Lock = who + "-" + string(event.Device) // the others are Ada's
			}
		}
		require.NoError(m.t, m.desk().LockoutEvents(m.t.Context(), store.NewID(), id, events, m.people[who], m.clock.Now()), "stage %d", l.Stage)
	}
	require.Fail(m.t, "the lockout did not get there")
}

func eventFor(l procedures.Lockout, step procedures.Step) procedures.Event {
	for _, d := range l.Procedure.Devices {
		if d.ID == step.Device && d.Lockable && step.Stage == procedures.Apply {
			return procedures.Event{Kind: procedures.LockApplied, Device: d.ID, Lock: "A-" + string(d.ID), Position: d.Kind.Position()}
		}
		if d.ID == step.Device && d.Lockable && step.Stage == procedures.RemoveLocks {
			return procedures.Event{Kind: procedures.LockRemoved, Device: d.ID, Lock: "A-" + string(d.ID)}
		}
	}
	return procedures.Event{Kind: procedures.StepDone, Step: step.ID, Proof: step.Proof, OffBack: true, Told: "the crew, by voice", Tools: true}
}

// preShift walks and signs the whole list with nothing wrong but what change
// alters of the answers to what is done under lock.
func (m *testMill) preShift(who string, change func(url.Values, map[string][]byte), turn ...string) *walker {
	m.t.Helper()
	w := m.walk(who)
	lockout := m.lockOut(who, "head-rig")
	form, files := w.good(checklists.LockedOut)
	if change != nil {
		change(form, files)
	}
	reply := w.postFiles(w.at+"/answers", form, files)
	require.Equal(m.t, 200, reply.Status, firstProblem(reply))
	m.unlock(who, lockout)
	w.keep(checklists.Stopped)
	reply = w.runCheck(turn...)
	require.Equal(m.t, 200, reply.Status, firstProblem(reply))
	form, files = w.good(checklists.Running)
	for _, item := range asked(w.list, checklists.Running, nil) {
		turned := item.Equipment == "site"
		for _, machine := range turn {
			turned = turned || machine == string(item.Equipment)
		}
		if !turned {
			form.Set(string(item.ID), "not-checked")
			form.Set(string(item.ID)+".note", "machine is held")
		}
	}
	reply = w.postFiles(w.at+"/answers", form, files)
	require.Equal(m.t, 200, reply.Status, firstProblem(reply))
	reply = w.sign()
	require.Equal(m.t, 200, reply.Status, firstProblem(reply))
	return w
}

var everyMachine = []string{"head-saw", "carriage", "hoist", "dust-collection"}
