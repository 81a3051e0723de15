package server

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/sample"
	"stillsaw/server/store"
)

// shortList is a check of two states, with a number, a photo and an item that is
// asked only where the first is a defect.
func shortList() checklists.List {
	low, high := 1.0, 9.0
	item := func(id, station, prompt string, state checklists.MachineState) checklists.Item {
		return checklists.Item{ID: checklists.ItemID(id), Station: station, Equipment: "head-saw", Prompt: prompt, How: "Look and push.", State: state, Kind: checklists.Choice, Severity: checklists.Stop, Source: "common practice, no source"}
	}
	list := checklists.List{ID: "short", Title: "Short check", Schedule: checklists.Schedule{Every: checklists.EachDay}}
	gap, tag, tool := item("S2", "Saw", "Gap of the guide", checklists.Stopped), item("S3", "Saw", "The tag", checklists.Stopped), item("S4", "Saw", "What came loose is laid aside", checklists.Stopped)
	gap.Kind, gap.Limits = checklists.Number, checklists.Limits{Unit: "mm", Low: &low, High: &high, Most: 100}
	tag.AlwaysPhoto = true
	tool.When = checklists.Condition{Item: "S1", Result: checklists.Found}
	list.Items = []checklists.Item{item("S1", "Saw", "The guard is tight", checklists.Stopped), gap, tag, tool,
		item("R1", "Stand", "It runs true", checklists.Running), item("R2", "Stand", "No new noise", checklists.Running)}
	return list
}

func (m *testMill) shortList() {
	m.t.Helper()
	draft, err := store.DraftOf(store.Lists, "short", "Short check", shortList())
	require.NoError(m.t, err)
	require.NoError(m.t, m.desk().ReleaseList(m.t.Context(), store.NewID(), store.Release{Draft: draft}, m.people["sam"], m.clock.Now().Add(-24*time.Hour)))
}

// cutRun is one way through the short list. Acts are numbered as in acts().
type cutRun struct {
	seed    uint64
	defect  bool
	how     cut
	cutAt   int // before which act the way is cut
	healAt  int // before which act it heals; after the last: once all is finished
	killAt  int // before which act the browser is killed and opened again; 0 never
	colours map[string]color.RGBA
}

func draw1(seed uint64, kills bool) cutRun {
	r := rand.New(rand.NewPCG(seed, 8))
	d := cutRun{seed: seed, defect: r.IntN(2) == 0, how: cut(1 + r.IntN(4)), colours: map[string]color.RGBA{}}
	last := len(d.acts())
	d.cutAt = r.IntN(last)
	d.healAt = d.cutAt + 1 + r.IntN(last-d.cutAt)
	if kills && r.IntN(3) > 0 {
		d.killAt = 1 + r.IntN(last)
	}
	for _, item := range []string{"S1", "S3"} {
		d.colours[item] = color.RGBA{uint8(40 + r.IntN(170)), uint8(40 + r.IntN(170)), uint8(40 + r.IntN(170)), 255}
	}
	return d
}

func (d cutRun) String() string {
	return fmt.Sprintf("seed %d: defect %v, %s before act %d, heals before %d, killed before %d of %v", d.seed, d.defect, d.how, d.cutAt, d.healAt, d.killAt, d.acts())
}

// acts are what the person does, in order.
func (d cutRun) acts() []string {
	acts := []string{"begin", "S1", "S2", "S3"}
	if d.defect {
		acts = append(acts, "S4")
	}
	return append(acts, "go on", "R1", "R2", "go on to sign", "finish")
}

// runner goes the cutRun ways through one mill.
type runner struct {
	*testMill
	way   *faultyWay
	flags []chromedp.ExecAllocatorOption
	b     *browser
	at    string // address of the check under way
	dir   string

	secured bool
}

// is waits until a condition holds in the page, asked as script.
func (r *runner) is(what, condition string) {
	r.t.Helper()
	deadline := time.Now().Add(40 * time.Second)
	for {
		ctx, cancel := context.WithTimeout(r.b.ctx, 10*time.Second)
		yes, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("Promise.resolve("+condition+").then(Boolean, () => false)", chromedp.EvalAwaitPromise))
		cancel()
		if err == nil && yes {
			return
		}
		if time.Now().After(deadline) {
			ctx, cancel := context.WithTimeout(r.b.ctx, 5*time.Second)
			defer cancel()
			scripts, _ := chromedp.Run(ctx, chromedp.Evaluate[string](`JSON.stringify([document.readyState, document.documentElement.hasAttribute("data-ready"), typeof outbox, Object.keys(globalThis.words || {}).length, performance.getEntriesByType("resource").map((e) => [e.name, e.responseStatus, Math.round(e.responseEnd)])])`))
			waits, _ := chromedp.Run(ctx, chromedp.Evaluate[string]("outbox.waits().then((w) => JSON.stringify([outbox.contact, w]))", chromedp.EvalAwaitPromise))
			require.Fail(r.t, "not so: "+what, "%v, %s\non %s:\n%s\nscripts: %s\nwaits: %s", err, condition, r.b.where(), r.b.text(), scripts, waits)
		}
		time.Sleep(30 * time.Millisecond)
	}
}

func (r *runner) script(code string) {
	r.t.Helper()
	r.b.within(code, chromedp.Evaluate[chromedp.Void](code))
}

// ready waits until the page has what it needs to go on without contact.
func (r *runner) ready() {
	r.t.Helper()
	r.is("the scripts are there", "document.readyState === 'complete' && globalThis.walk && words.step && drafts.ready.then(() => true)")
	if r.secured {
		r.is("the worker is there", "navigator.serviceWorker.ready.then(() => true)")
	}
	r.is("the other steps are there", "!outbox.contact || walk.pages.size >= 3")
}

// kept waits until the phone has what was entered.
func (r *runner) kept(name string) {
	r.t.Helper()
	r.is(name+" is kept on the phone", fmt.Sprintf(`outbox.get("drafts", drafts.key(document.querySelector("form[data-draft]"))).then((d) => d && d.fields.some(([n, v]) => n === %q && v))`, name))
}

func (r *runner) tap(name, value string) {
	r.t.Helper()
	r.script(fmt.Sprintf(`document.querySelector('input[name="%s"][value="%s"]').click()`, name, value))
}

func (r *runner) type1(name, text string) {
	r.t.Helper()
	r.script(fmt.Sprintf(`{ const i = document.querySelector('[name="%s"]'); i.value = %q; i.dispatchEvent(new Event("input", { bubbles: true })); i.dispatchEvent(new Event("change", { bubbles: true })) }`, name, text))
}

func (r *runner) photograph(item string, c color.RGBA) {
	r.t.Helper()
	picture := image.NewRGBA(image.Rect(0, 0, 320, 240))
	draw.Draw(picture, picture.Bounds(), image.NewUniform(c), image.Point{}, draw.Src)
	var out bytes.Buffer
	require.NoError(r.t, jpeg.Encode(&out, picture, nil))
	file := filepath.Join(r.dir, item+".jpg")
	require.NoError(r.t, os.WriteFile(file, out.Bytes(), 0o600))
	r.b.within("photograph "+item, chromedp.SetUploadFiles(fmt.Sprintf(`input[name="%s.photo"]`, item), []string{file}))
	r.is("the photo of "+item+" is kept on the phone", fmt.Sprintf(`outbox.get("drafts", drafts.key(document.querySelector("form[data-draft]"))).then((d) => d && d.files.some((f) => f.name === "%s.photo"))`, item))
}

func (r *runner) do(d cutRun, act string) {
	r.t.Helper()
	switch act {
	case "begin":
		r.script(`document.querySelector("form[data-begins] button").click()`)
		r.is("the check is begun", `document.querySelector('#f-S1')`)
		r.ready()
		r.at = r.b.path()
	case "S1":
		if d.defect {
			r.tap("S1", "defect")
			r.type1("S1.note", "guard loose "+strconv.FormatUint(d.seed, 10))
			r.photograph("S1", d.colours["S1"])
			r.is("what it asks more is there", `document.querySelector('#f-S4:not([hidden])')`)
		} else {
			r.tap("S1", "ok")
		}
		r.kept("S1")
	case "S2":
		r.type1("S2.number", "4."+strconv.FormatUint(d.seed%10, 10))
		r.tap("S2", "ok")
		r.kept("S2.number")
	case "S3":
		r.tap("S3", "ok")
		r.photograph("S3", d.colours["S3"])
		r.kept("S3")
	case "S4":
		r.tap("S4", "ok")
		r.kept("S4")
	case "go on": // a page opened anew stands where answers are missing already
		r.script(`document.querySelector('#f-S1')?.closest("form").querySelector('button[name="next"]').click()`)
		r.is("the next step is there", `document.querySelector('#f-R1')`)
		r.ready()
	case "R1", "R2":
		r.tap(act, "not-checked")
		r.type1(act+".note", act+" waits for the run check")
		r.kept(act + ".note")
	case "go on to sign":
		r.script(`document.querySelector('#f-R1')?.closest("form").querySelector('button[name="next"]').click()`)
		r.is("the last step is there", `document.querySelector('form[data-offline-only], form[action$="/sign"]')`)
	case "finish":
		if r.way.is() != heals {
			r.script(`dispatchEvent(new Event("offline"))`) // as the phone itself notices
			r.is("it can be finished", `!document.querySelector('form[data-offline-only]').hidden`)
			r.script(`document.querySelector('form[data-offline-only] button').click()`)
			r.is("it is finished", `outbox.waits().then((w) => w.some((t) => t.action.endsWith("/finish")))`)
		}
	}
}

func (r *runner) reopen() {
	r.t.Helper()
	where := r.b.where()
	require.NoError(r.t, chromedp.FromContext(r.b.ctx).Browser.Process().Kill())
	r.b = newBrowser(r.t, r.way.url, true, r.flags...)
	r.b.open(strings.TrimPrefix(where, r.way.url))
	r.signInAgain()
	r.ready()
}

// signInAgain is needed where the phone lost its session, as when it was killed
// before it wrote that down.
func (r *runner) signInAgain() {
	r.t.Helper()
	if r.b.path() == "/sign-in" {
		r.b.choose("person", string(r.people["ada"].ID))
		r.b.write("pin", testSecrets["ada"])
		r.b.press(`form[action="/sign-in"] button`)
	}
}

func (r *runner) heal() {
	r.t.Helper()
	r.way.set(heals)
	r.script(`dispatchEvent(new Event("online"))`)
	r.is("there is contact", "outbox.contact")
}

// goes is one cutRun way from the start to the signature, and what the server has
// then.
func (r *runner) goes(d cutRun) {
	r.t.Helper()
	before := r.inspections()
	r.b.open("/inspections/new?list=short")
	r.signInAgain() // the session lasts 14 hours of the mill's clock, 28 ways
	r.ready()
	for n, act := range d.acts() {
		if n == d.cutAt {
			r.way.set(d.how)
		}
		if n == d.healAt {
			r.heal()
			if d.killAt > 0 && d.killAt < n {
				r.b.open(strings.TrimPrefix(r.b.where(), r.way.url))
				r.signInAgain()
				r.ready()
			}
		}
		if n > 0 && n == d.killAt {
			r.reopen()
		}
		r.do(d, act)
	}
	if r.way.is() != heals {
		r.heal()
	}
	if d.killAt == len(d.acts()) {
		r.reopen()
	}
	if d.killAt > 0 {
		r.b.open("/sign-in")
		r.signInAgain()
		r.is("the scripts are there", "globalThis.walk && words.step")
	}
	r.is("nothing waits", "(outbox.send(), outbox.waits().then((w) => w.length === 0))")
	r.b.open(r.at + "?state=sign")
	r.b.write("pin", testSecrets["ada"])
	r.b.press(`form[action$="/sign"] button.main`)

	after := r.inspections()
	require.Len(r.t, after, len(before)+1, "one inspection, once signed")
	r.holds(d, after[len(after)-1])
}

func (r *runner) inspections() []checklists.Inspection {
	r.t.Helper()
	all, err := r.desk().InspectionsSince(r.t.Context(), r.clock.Now().Add(-240*time.Hour))
	require.NoError(r.t, err)
	return all
}

// holds requires every answer and every photo of the way in the inspection.
func (r *runner) holds(d cutRun, in checklists.Inspection) {
	r.t.Helper()
	given := byItem(in.Answers)
	want := []string{"S1", "S2", "S3", "R1", "R2"}
	if d.defect {
		want = append(want, "S4")
	}
	require.Len(r.t, in.Answers, len(want))
	for _, id := range want {
		require.Contains(r.t, given, checklists.ItemID(id))
	}
	if d.defect {
		require.Equal(r.t, checklists.Found, given["S1"].Result)
		require.Equal(r.t, "guard loose "+strconv.FormatUint(d.seed, 10), given["S1"].Note)
		r.pictured(given["S1"].Photo, d.colours["S1"])
	} else {
		require.Equal(r.t, checklists.OK, given["S1"].Result)
	}
	require.InDelta(r.t, 4+float64(d.seed%10)/10, *given["S2"].Number, 1e-9)
	r.pictured(given["S3"].Photo, d.colours["S3"])
	require.Equal(r.t, "R2 waits for the run check", given["R2"].Note)
}

func (r *runner) pictured(digest string, c color.RGBA) {
	r.t.Helper()
	photo, err := r.desk().Photo(r.t.Context(), digest)
	require.NoError(r.t, err)
	picture, _, err := image.Decode(bytes.NewReader(photo.Bytes))
	require.NoError(r.t, err)
	red, green, blue, _ := picture.At(160, 120).RGBA()
	for i, pair := range [][2]uint32{{red >> 8, uint32(c.R)}, {green >> 8, uint32(c.G)}, {blue >> 8, uint32(c.B)}} {
		require.InDelta(r.t, pair[1], pair[0], 6, "colour %d", i)
	}
}

// runs are how many ways are gone: a handful, or as many as are asked for.
func runs(few int) int {
	if os.Getenv("STILLSAW_LONG") == "" {
		return few
	}
	if n, err := strconv.Atoi(os.Getenv("STILLSAW_RUNS")); err == nil {
		return n
	}
	return 100
}

func TestACheckCutOffAnywhereIsThereOnceAndWhole(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts browsers")
	}
	for name, secured := range map[string]bool{"https": true, "plain": false} {
		t.Run(name, func(t *testing.T) {
			m := newMill(t)
			m.shortList()
			r := onAPhone(t, m, secured, "ada")
			first, _ := strconv.ParseUint(os.Getenv("STILLSAW_SEED"), 10, 64)
			kills, most := 0, runs(map[bool]int{true: 3, false: 1}[sample.Whole()])
			for i := range most {
				d := draw1(first+uint64(i), secured)
				if d.killAt > 0 {
					kills++
				}
				t.Log(d)
				r.goes(d)
				m.clock.Advance(30 * time.Minute)
			}
			t.Logf("%d of %d ways came through, %d with the browser killed", most, most, kills)
		})
	}
}
