package server

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/sample"
	"stillsaw/server/store"
)

// A shift as the crew works it, in a real browser at phone size against the
// real server and database: the saw locked overnight, the checks, a stop, a
// lift, a lockout by two, the return to service.
func TestAShiftWithScripts(t *testing.T) { walkAShift(t, true, false) }

// Without scripts it is the same forms, which every other test of a screen sends.
func TestAShiftWithoutScripts(t *testing.T) {
	if !sample.Whole() {
		t.Skip("in CI, and with STILLSAW_LONG=1: as long as the one with scripts")
	}
	walkAShift(t, false, false)
}

func walkAShift(t *testing.T, scripts, keys bool) {
	t.Parallel()
	m := newMill(t)
	m.rigOut()
	m.lockOvernight("ada", "head-rig", m.clock.Now().Add(-14*time.Hour))
	url := onTheNetwork(t, m.server)
	ada := newBrowser(t, url, scripts)
	ada.keys = keys

	// 1. Before the shift the wall says HELD, and why.
	ada.open("/?wall")
	ada.sees("HELD", "pre-shift", "Locks reported on", "Ada Rook")
	ada.doesNotSee("MAY RUN")
	ada.shot("wall-before")

	// 2. The operator proves the lock again, walks the items under it, takes it
	// off, walks the stopped ones, asks for a run check, walks the running ones.
	ada.signIn(m, "ada")
	lockout := m.openLockout("head-rig")
	ada.open("/lockouts/" + string(lockout.ID) + "?act=verify")
	ada.fillAct(testSecrets["ada"], "")
	ada.shot("reverified")
	ada.open("/inspections/new?list=pre-shift")
	ada.shot("inspection-new")
	ada.press(`main form button`)
	walk := ada.path()
	m.clock.Advance(5 * time.Minute)
	ada.answerAll(m, walk, checklists.LockedOut)
	m.clock.Advance(10 * time.Minute)
	ada.release(m, lockout.ID, "ada")
	ada.answerAll(m, walk, checklists.Stopped)
	ada.open(walk + "?state=running")
	ada.shot("run-check-ask")
	for _, e := range []string{"head-saw", "carriage", "hoist", "dust-collection"} {
		ada.tickOnce("turn." + e)
	}
	ada.write("pin", testSecrets["ada"])
	ada.press(`form[action$="/run-check"] button.main`)
	ada.sees("RUN CHECK ONLY", "Ada Rook only")
	ada.open("/")
	ada.sees("RUN CHECK ONLY")
	ada.answerAll(m, walk, checklists.Running)
	ada.open("/stop-it")
	ada.shot("stop-it")
	ada.press(`button[value="head-saw"]`)
	defect := ada.path()
	ada.write("what", "Splitter loose, moves when pushed")
	ada.press(`form[action$="/describe"] button`)
	ada.sees("Splitter loose")
	ada.open(walk + "?state=sign")
	ada.shot("sign")
	ada.write("pin", testSecrets["ada"])
	ada.press(`form[action$="/sign"] button.main`)
	ada.sees("Ada Rook")
	ada.shot("inspection-signed")
	m.clock.Advance(time.Hour) // the run check is over
	ada.open("/")
	ada.shot("front-held")
	require.Equal(t, checklists.Held, m.status("head-saw"))
	require.Equal(t, checklists.Held, m.status("carriage"), "the saw drives it")
	require.Equal(t, checklists.MayRun, m.status("hoist"))
	ada.sees("Splitter loose", "MAY RUN", "look at the isolators")

	// 3. A green red oak cant, 18 in at the small end, 7 ft 6 in.
	ada.open("/lifts/new")
	ada.choose("shape", "slabbed")
	ada.write("length", "7 ft 6 in")
	ada.write("small", "18 in")
	ada.write("large", "18 1/2 in")
	ada.write("slab-1", "3 in")
	ada.pick("species", "northern red oak")
	ada.choose("condition", "green")
	ada.write("span", "7 ft 6 in")
	ada.choose("lands", "carriage")
	ada.answerHook()
	ada.shot("lift-form")
	ada.pressInto(`button[name="keep"][value=""]`, "#answer")
	ada.sees("Weakest", "half-length mark", "expected")
	require.True(t, strings.HasPrefix(ada.heading(), "GO: "), ada.heading())
	ada.shot("lift-go")
	ada.choose("unreadable-legs", "yes")
	ada.pressInto(`button[name="keep"][value=""]`, "#answer")
	ada.sees("can't be read")
	require.True(t, strings.HasPrefix(ada.heading(), "NO-GO"), ada.heading())
	ada.shot("lift-no-go")

	// 4. A mender locks the head saw out; too early to begin, the page says why.
	bo := newBrowser(t, url, scripts)
	bo.keys = keys
	bo.signIn(m, "bo")
	bo.open("/lockouts/new?procedure=head-saw")
	bo.write("task", "Tighten the splitter")
	bo.write("hours", "2")
	bo.write("pin", testSecrets["bo"])
	bo.press(`form[action="/lockouts/new"] button.main`)
	saw := m.openLockout("head-saw")
	before := m.size()
	bo.open("/lockouts/" + string(saw.ID) + "?act=work")
	bo.sees("Begin the work")
	bo.sees("1910.147")
	require.Equal(t, before, m.size(), "nothing is stored by asking for it")
	bo.shot("work-refused")
	for range 40 {
		if m.openLockout("head-saw").Stage == procedures.Work {
			break
		}
		m.clock.Advance(6 * time.Minute) // longer than it coasts
		bo.open("/lockouts/" + string(saw.ID))
		bo.fillAct(testSecrets["bo"], "B")
	}
	require.Equal(t, procedures.Work, m.openLockout("head-saw").Stage)
	bo.shot("lockout-verified")
	bo.open("/lockouts/" + string(saw.ID) + "?act=work")
	bo.fillAct(testSecrets["bo"], "B")
	require.True(t, m.openLockout("head-saw").Working)
	ada.open("/lockouts/" + string(saw.ID) + "?act=join")
	ada.write("box", "A-77")
	ada.tickOnce("keys")
	ada.write("pin", testSecrets["ada"])
	ada.press(`#act form button.main`)
	ada.sees("A-77")
	bo.open("/lockouts/" + string(saw.ID) + "?act=end")
	bo.fillAct(testSecrets["bo"], "B")
	for range 4 {
		bo.open("/lockouts/" + string(saw.ID))
		bo.fillAct(testSecrets["bo"], "B")
	}
	require.True(t, m.openLockout("head-saw").Open(), "not while the other's lock is on")
	bo.sees("Ada Rook")
	bo.shot("other-lock-on")
	require.Equal(t, checklists.Held, m.status("hoist"), "it would land on a carriage somebody is at")
	ada.open("/lockouts/" + string(saw.ID) + "?act=leave")
	ada.fillAct(testSecrets["ada"], "A")
	bo.release(m, saw.ID, "bo")

	// 5. Mended and photographed; another person returns it to service.
	bo.open(defect)
	bo.write("note", "Two bolts replaced, splitter tight and in line")
	bo.photograph("photo")
	bo.write("pin", testSecrets["bo"])
	bo.press(`form[action$="/mend"] button.main`)
	bo.shot("mended")
	require.Equal(t, checklists.Held, m.status("head-saw"), "mended is not returned")
	ada.open(defect)
	ada.shot("return")
	ada.write("pin", testSecrets["ada"])
	ada.press(`form[action$="/return"] button.main`)
	ada.open("/")
	ada.sees("MAY RUN")
	ada.shot("front-may-run")
	require.Equal(t, checklists.MayRun, m.status("head-saw"))
	require.Equal(t, checklists.MayRun, m.status("carriage"))
	ada.open("/record")
	ada.shot("record")
	reports, err := m.store.Verify(t.Context())
	require.NoError(t, err)
	for _, report := range reports {
		require.True(t, report.OK(), report.Faults)
	}
}

// A browser allows six connections to a server; each page that listens for
// changes must let go of its own when it is left.
func TestPagesOneAfterAnotherDoNotRunOutOfConnections(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	for range 16 {
		b.open("/")
		b.sees("HELD")
	}
}

// status is whether a piece of equipment may run now.
func (m *testMill) status(id procedures.EquipmentID) checklists.Status {
	m.t.Helper()
	facts, err := m.desk().Facts(m.t.Context(), m.clock.Now())
	require.NoError(m.t, err)
	for _, r := range checklists.Ready(facts, m.clock.Now()) {
		if r.Equipment == id {
			return r.Status
		}
	}
	m.t.Fatalf("no equipment %s", id)
	return checklists.NotKnown
}

func (m *testMill) openLockout(id procedures.ProcedureID) procedures.Lockout {
	m.t.Helper()
	open, err := m.desk().OpenLockouts(m.t.Context())
	require.NoError(m.t, err)
	for _, l := range open {
		if l.Procedure.ID == id {
			return l
		}
	}
	m.t.Fatalf("no lockout by %s is open", id)
	return procedures.Lockout{}
}

// lockOvernight carries a lockout through to verified and leaves it locked.
func (m *testMill) lockOvernight(who string, procedure procedures.ProcedureID, at time.Time) {
	m.t.Helper()
	by := m.people[who]
	id, err := m.desk().BeginLockout(m.t.Context(), store.NewID(), procedure, "Locked for the night", at.Add(14*time.Hour), by, at)
	require.NoError(m.t, err)
	for range 40 {
		l, err := m.desk().Lockout(m.t.Context(), id)
		require.NoError(m.t, err)
		if l.Stage == procedures.Work {
			break
		}
		at = at.Add(6 * time.Minute)
		require.NoError(m.t, m.desk().LockoutEvents(m.t.Context(), store.NewID(), id, presentEvents(l), by, at))
	}
	overnight := procedures.Event{Kind: procedures.LeftOvernight, Until: at.Add(13 * time.Hour)}
	require.NoError(m.t, m.desk().LockoutEvents(m.t.Context(), store.NewID(), id, []procedures.Event{overnight}, by, at.Add(time.Minute)))
}

// presentEvents does every present step as it asks to be done.
func presentEvents(l procedures.Lockout) []procedures.Event {
	var events []procedures.Event
	for i, s := range l.Present() {
		if _, done := l.Done[s.ID]; done {
			continue
		}
		if s.Stage == procedures.Apply && lockable(l.Procedure, s.Device) {
			events = append(events, procedures.Event{Kind: procedures.LockApplied, Device: s.Device, Lock: fmt.Sprintf("R-%d", i+1), Position: positionOf(l.Procedure, s.Device)})
			continue
		}
		events = append(events, procedures.Event{Kind: procedures.StepDone, Step: s.ID, Proof: s.Proof, OffBack: true, Told: "everybody, by word", Tools: true})
	}
	return events
}

// rigOut puts a rig in force whose every mark is known and in date.
func (m *testMill) rigOut() {
	m.t.Helper()
	rig := lift.StarterRig()
	rig.YokeWidth, rig.LegLength = 36*float64(plain.Inch), 36*float64(plain.Inch)
	rig.EndHookBand = lift.Band{Low: 40, High: 65, Source: "maker's sheet, invented for this test"}
	rated := map[lift.Kind]float64{lift.Beam: 1500, lift.Trolley: 1000, lift.Hoist: 1000, lift.HoistHook: 1000, lift.Yoke: 1000, lift.EndHook: 900}
	for i := range rig.Links {
		l := &rig.Links[i]
		l.RatedLoad, l.OwnMass, l.Tag, l.TagReadable, l.State = rated[l.Kind], 12, fmt.Sprintf("T-%d", i+1), true, lift.InService
		l.Inspected, l.InspectionDue = m.clock.Now().Add(-20*24*time.Hour), m.clock.Now().Add(300*24*time.Hour)
		if l.Kind == lift.Leg {
			l.Grade, l.Size, l.MarkedFor = lift.Grade80, lift.Chain3_8, lift.OneLeg
			l.RatedLoad, _ = lift.ChainRating(l.Grade, l.Size, lift.OneLeg)
		}
	}
	draft, err := store.DraftOf(store.Rigs, rig.ID, rig.Name, rig)
	require.NoError(m.t, err)
	require.NoError(m.t, m.desk().KeepDraft(m.t.Context(), draft, m.clock.Now()))
	require.NoError(m.t, m.desk().Publish(m.t.Context(), store.NewID(), store.Rigs, rig.ID, 1, m.people["sam"], m.clock.Now().Add(-20*time.Hour), store.NumberRig))
}

func (b *browser) path() string {
	return strings.TrimPrefix(strings.SplitN(b.where(), "?", 2)[0], b.url)
}

// heading is what the page answers; an answer swapped in may stand in the
// window's title first.
func (b *browser) heading() string {
	b.t.Helper()
	title, err := chromedp.Run(b.ctx, chromedp.Title())
	require.NoError(b.t, err)
	return title
}

func (b *browser) doesNotSee(text string) {
	b.t.Helper()
	require.NotContains(b.t, b.text(), text)
}

// pressOn activates a control after which another page comes, or its main part
// is put in the place of the one there.
func (b *browser) pressOn(selector string) {
	b.t.Helper()
	if !b.scripts {
		b.press(selector)
		return
	}
	b.within("press "+selector, chromedp.Evaluate[chromedp.Void](`document.getElementById("main").was = true`))
	b.keyed(selector, "\r")
	require.Eventually(b.t, func() bool {
		ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
		defer cancel()
		other, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`document.readyState === "complete" && !!document.getElementById("main") && !document.getElementById("main").was`))
		return err == nil && other
	}, 20*time.Second, 50*time.Millisecond, "a page after %s:\n%s", selector, b.text())
}

// pressInto activates a control whose answer may be swapped into the page
// instead of loading another.
func (b *browser) pressInto(selector, part string) {
	b.t.Helper()
	if !b.scripts {
		b.press(selector)
		return
	}
	before := b.html(`input[name="submission"]`)
	b.keyed(selector, "\r")
	require.Eventually(b.t, func() bool { return b.html(`input[name="submission"]`) != before }, 10*time.Second, 50*time.Millisecond,
		"%s is swapped in:\n%s", part, b.text())
}

func (b *browser) html(selector string) string {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 10*time.Second)
	defer cancel()
	html, err := chromedp.Run(ctx, chromedp.OuterHTML(selector))
	b.well(err, selector)
	return html
}

var (
	inputTag  = regexp.MustCompile(`<input\b[^>]*>`)
	attribute = regexp.MustCompile(`\b(name|type|value|checked)(?:="([^"]*)")?`)
)

// inputs lists the inputs within selector as they stand in the page.
func (b *browser) inputs(selector string) []map[string]string {
	var found []map[string]string
	for _, tag := range inputTag.FindAllString(b.html(selector), -1) {
		input := map[string]string{}
		for _, a := range attribute.FindAllStringSubmatch(tag, -1) {
			input[a[1]] = a[2]
		}
		found = append(found, input)
	}
	return found
}

// fillAct fills in whatever the present act of a lockout asks and sends it.
// Locks are numbered with the prefix.
func (b *browser) fillAct(pin, prefix string) {
	b.t.Helper()
	locks := 0
	for _, input := range b.inputs("#act form") {
		name := input["name"]
		switch {
		case input["type"] == "checkbox":
			b.tickOnce(name)
		case strings.HasPrefix(name, "lock."):
			locks++
			b.write(name, fmt.Sprintf("%s-%d", prefix, locks))
		case strings.HasPrefix(name, "told."):
			b.write(name, "the whole crew, by word")
		case name == "pin":
			b.write(name, pin)
		}
	}
	b.press(`#act form button.main`)
}

func (b *browser) tickOnce(name string) {
	b.t.Helper()
	for _, input := range b.inputs("main") {
		if _, ticked := input["checked"]; input["name"] == name && ticked {
			return
		}
	}
	b.choose(name, "yes")
}

// release goes from work to back in service.
func (b *browser) release(m *testMill, id procedures.LockoutID, who string) {
	b.t.Helper()
	page := "/lockouts/" + string(id)
	for range 12 {
		l, err := m.desk().Lockout(b.t.Context(), id)
		require.NoError(b.t, err)
		if !l.Open() {
			return
		}
		act := ""
		if l.Stage == procedures.Work {
			act = "?act=end"
		}
		b.open(page + act)
		b.fillAct(testSecrets[who], "")
	}
	b.t.Fatal("the lockout did not come to its end: " + b.text())
}

// answerAll answers every item of a state as found in order and sends them.
func (b *browser) answerAll(m *testMill, walk string, state checklists.MachineState) {
	b.t.Helper()
	list, err := m.desk().List(b.t.Context(), "pre-shift", 0)
	require.NoError(b.t, err)
	b.open(walk + "?state=" + string(state))
	for _, item := range list.Items {
		if item.State != state || item.NotFitted {
			continue
		}
		name := string(item.ID)
		switch item.Kind {
		case checklists.Number:
			b.write(name+".number", strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.4f", within(item.Limits)), "0"), "."))
		case checklists.Text:
			b.write(name+".text", "seen, 4471")
		}
		if item.AlwaysPhoto {
			b.photograph(name + ".photo")
		}
		b.choose(name, "ok")
	}
	b.shot("inspection-" + string(state))
	b.pressOn(`section.station:last-of-type button[name="next"]`)
	w, err := m.desk().Walk(b.t.Context(), checklists.InspectionID(strings.TrimPrefix(walk, "/inspections/")))
	require.NoError(b.t, err)
	answered := map[checklists.ItemID]bool{}
	for _, a := range w.Answers {
		answered[a.Item] = true
	}
	for _, item := range list.Items {
		require.True(b.t, item.State != state || item.NotFitted || answered[item.ID], "%s is kept; the page says\n%s", item.ID, b.text())
	}
}

// within is a number the limits take.
func within(l checklists.Limits) float64 {
	switch {
	case l.Low != nil && l.High != nil:
		return (*l.Low + *l.High) / 2
	case l.Low != nil:
		return *l.Low
	case l.High != nil:
		return *l.High / 2
	}
	return 0
}

// answerHook says yes to every question at the hook.
func (b *browser) answerHook() {
	b.t.Helper()
	asked := map[string]bool{}
	for _, input := range b.inputs("form#lift") {
		if input["type"] == "radio" && input["value"] == "yes" && !asked[input["name"]] {
			asked[input["name"]] = true
			b.choose(input["name"], "yes")
		}
	}
	require.NotEmpty(b.t, asked)
}
