package server

import (
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (m *testMill) procedure(id procedures.ProcedureID) procedures.Procedure {
	m.t.Helper()
	p, err := m.desk().Procedure(m.t.Context(), id, 0)
	require.NoError(m.t, err)
	return p
}

func TestProcedureSaysEveryEnergyDeviceAndStep(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	reply := m.as("rita").get("/procedures/head-saw")
	require.Equal(t, "Head saw: procedure, version 1 in force", reply.title())
	p := m.procedure("head-saw")
	text := plainText(reply.Body)
	for _, e := range p.Energies {
		require.Contains(t, text, e.Source)
		require.Contains(t, text, e.Hazard)
		require.Contains(t, text, e.Zero)
	}
	for _, d := range p.Devices {
		require.Contains(t, text, strconv.Itoa(d.Number)+" · "+d.Label)
	}
	for _, s := range p.Steps {
		require.Contains(t, text, s.Text)
	}
	for stage := procedures.Prepare; stage <= procedures.NotifyRestored; stage++ {
		require.Contains(t, text, stage.Clause())
	}
	require.Contains(t, text, "not yet measured")
	require.Contains(t, text, "put in force by Sam Ordway")
	require.Contains(t, text, "A record is not a lock.")
	require.NotContains(t, reply.Body, "/lockouts/new", "a reader starts nothing")
}

// plainText is a page without tags and escapes.
func plainText(body string) string {
	text := regexp.MustCompile(`<[^>]*>`).ReplaceAllString(body, "")
	return strings.NewReplacer("&#39;", "'", "&amp;", "&", "&#34;", `"`, "&#43;", "+").Replace(text)
}

func TestPlacardHasVersionStepsCautionsAndCode(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	reply := m.as("ada").get("/procedures/head-saw/placard")
	text := plainText(reply.Body)
	require.Contains(t, text, "Version 1, put in force by Sam Ordway on Mon 2 Mar 2026.")
	require.Contains(t, text, "http://mill.test/procedures/head-saw")
	require.Contains(t, text, "A stop button, a key or a clutch lever is not an isolator.")
	for _, s := range m.procedure("head-saw").Steps {
		require.Contains(t, text, s.Text)
	}
	require.Contains(t, reply.Body, `shape-rendering="crispEdges"`)
	require.NotContains(t, reply.Body, "style=")
}

// Source: ISO/IEC 18004, from memory: a code of version v has 17 + 4v modules a
// side, and three corners hold a finder pattern of 7 × 7, a ring of dark, a ring
// of light and a dark square of 3 × 3; the fourth holds none.
func TestCodeHasFinderPatternsAtThreeCorners(t *testing.T) {
	code, err := qrOf("http://192.168.1.20:8080/procedures/head-saw")
	require.NoError(t, err)
	side := code.Size - 2*quietZone
	require.Zero(t, (side-17)%4)
	dark := func(x, y int) bool {
		return strings.Contains(code.Path, "M"+strconv.Itoa(x+quietZone)+" "+strconv.Itoa(y+quietZone)+"h1v1h-1z")
	}
	finder := func(left, top int) bool {
		for y := range 7 {
			for x := range 7 {
				ring := max(abs(x-3), abs(y-3))
				if dark(left+x, top+y) != (ring != 2) {
					return false
				}
			}
		}
		return true
	}
	require.True(t, finder(0, 0) && finder(side-7, 0) && finder(0, side-7))
	require.False(t, finder(side-7, side-7))
	_, err = qrOf(strings.Repeat("x", 5000))
	require.Error(t, err, "more than a code holds")
}

func abs(n int) int { return max(n, -n) }

// edited is the edit form of a procedure as it stands.
func (m *testMill) edited(p *phone, id string) url.Values {
	m.t.Helper()
	page := p.get("/procedures/" + id + "/edit")
	require.Equal(m.t, http.StatusOK, page.Status)
	form := url.Values{"submission": {page.submission()}}
	for _, found := range regexp.MustCompile(`(?s)<(?:input|textarea) id="f-([^"]+)" name="[^"]+"([^>]*)>([^<]*)`).FindAllStringSubmatch(page.Body, -1) {
		value := found[3]
		if in := regexp.MustCompile(`value="([^"]*)"`).FindStringSubmatch(found[2]); in != nil {
			value = in[1]
		}
		form.Set(found[1], plainText(value))
	}
	for _, found := range regexp.MustCompile(`(?s)<select id="f-([^"]+)".*?</select>`).FindAllStringSubmatch(page.Body, -1) {
		if chosen := regexp.MustCompile(`value="([^"]*)" selected`).FindStringSubmatch(found[0]); chosen != nil {
			form.Set(found[1], plainText(chosen[1]))
		}
	}
	for _, found := range regexp.MustCompile(`type="checkbox" id="f-([^"]+)" name="[^"]+" value="yes"( checked)?`).FindAllStringSubmatch(page.Body, -1) {
		if form.Del(found[1]); found[2] != "" {
			form.Set(found[1], "yes")
		}
	}
	for _, found := range regexp.MustCompile(`name="(waited\.[^"]+)" value="([^"]*)"`).FindAllStringSubmatch(page.Body, -1) {
		form.Set(found[1], found[2])
	}
	form.Set("do", "keep")
	form.Set("revision", regexp.MustCompile(`name="revision" value="(\d+)"`).FindStringSubmatch(page.Body)[1])
	form.Del("pin")
	return form
}

func TestMeasuredCoastTimeSetsTheWait(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := m.edited(sam, "head-saw")
	form.Set("coast.saw-rotation", "96")
	form.Set("size.saw-electric", "30 kW, 480 V")
	reply := sam.post("/procedures/head-saw/edit", form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	reply.says(t, "The draft is kept.")
	reply.says(t, "In force now: nothing")
	require.Equal(t, 1, m.procedure("head-saw").Version, "a draft is not in force")
	require.Equal(t, http.StatusOK, sam.post("/procedures/head-saw/edit", form).Status, "kept once, and no quarrel with itself")

	form = m.edited(sam, "head-saw")
	require.Equal(t, "96", form.Get("coast.saw-rotation"))
	require.Equal(t, "120", form.Get("wait.saw-wait"), "96 s and a quarter")
	reply = m.published(sam, "head-saw", procedures.Renewal{Said: true, Substance: true, Why: "Timed with a stopwatch."})
	require.Equal(t, "Head saw: procedure, version 2 in force", reply.title())
	p := m.procedure("head-saw")
	require.Equal(t, 2, p.Version)
	for _, s := range p.Steps {
		if s.ID == "saw-wait" {
			require.Equal(t, 2*time.Minute, s.Wait, "96 s and a quarter")
			require.Contains(t, s.Text, "measured coast time, 96 s")
			require.NotContains(t, s.Text, "not yet measured")
		}
	}
}

func with2(form url.Values, name, value string) url.Values {
	more := url.Values{}
	for n, values := range form {
		more[n] = values
	}
	more.Set(name, value)
	return more
}

func TestBadWordingIsNamedAtItsFieldAndKept(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := m.edited(sam, "head-saw")
	for field, values := range map[string][]string{
		"coast.saw-rotation": {"-1", "NaN", "1e300", "soon", "0", "99999"}, "number.saw-pin": {"", "-2", "1", "100", "one"},
		"label.saw-pin": {" "}, "step.saw-try": {""}, "wait.saw-wait": {"-1", "NaN", "1e300", "99999"}, "proof.saw-try": {"faith"}, "clause.saw-try": {""},
		"recheck.saw-try": {"1e9"}, "device.saw-try": {"no-such"}, "energy.saw-try": {"no-such"},
	} {
		for _, value := range values {
			m.storesNothing(func() {
				reply := sam.post("/procedures/head-saw/edit", with2(with2(form, field, value), "rules", "Our rule <1>."))
				require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%s %q", field, value)
				reply.says(t, `href="#f-`+field+`"`, field, value)
				reply.says(t, "Our rule &lt;1&gt;.", field)
			})
		}
	}
	require.Equal(t, 1, m.procedure("head-saw").Version)
}

func TestDraftOfAnotherIsNotWrittenOver(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	one, two := m.as("sam"), m.as("sam")
	first, second := m.edited(one, "hoist"), m.edited(two, "hoist")
	require.Equal(t, http.StatusOK, one.post("/procedures/hoist/edit", with2(first, "scope", "All of it.")).Status)
	reply := two.post("/procedures/hoist/edit", with2(second, "scope", "Less of it."))
	require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
	reply.says(t, "Somebody changed this meanwhile.")
	reply.says(t, "Less of it.")
	draft, err := m.desk().Draft(t.Context(), store.Procedures, "hoist")
	require.NoError(t, err)
	require.Equal(t, "All of it.", documentOf[procedures.Procedure](t, draft.Doc).Scope)
}

func TestOnlySupervisorsEditProcedures(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.storesNothing(func() {
		for _, who := range []string{"ada", "rita"} {
			require.Equal(t, http.StatusForbidden, m.as(who).get("/procedures/hoist/edit").Status)
			require.Equal(t, http.StatusForbidden, m.as(who).post("/procedures/hoist/edit", url.Values{}).Status)
		}
		require.Equal(t, "/sign-in", m.phone().get("/procedures/hoist").URL.Path)
		require.Equal(t, http.StatusNotFound, m.as("sam").get("/procedures/no-such/edit").Status)
		require.Equal(t, http.StatusNotFound, m.as("sam").post("/procedures/no-such/edit", url.Values{}).Status)
	})
}

func TestDraftThatWasNeverPublishedSaysSo(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.procedure("hoist")
	p.ID, p.Version, p.Title = "spare", 0, "Spare"
	draft, err := store.DraftOf(store.Procedures, "spare", "Spare", p)
	require.NoError(t, err)
	require.NoError(t, m.desk().KeepDraft(t.Context(), draft, m.clock.Now()))
	reply := m.as("ada").get("/procedures/spare")
	require.Equal(t, "Spare: a draft, not in force", reply.title())
	require.NotContains(t, reply.Body, "/lockouts/new")
	require.Equal(t, http.StatusNotFound, m.as("ada").get("/procedures/spare/placard").Status, "nobody works by a draft")
	require.Equal(t, http.StatusNotFound, m.as("ada").get("/lockouts/new?procedure=spare").Status)
}

// Every page of lockouts and procedures renders with nothing in it.
func TestPagesOfLockoutsRenderEmpty(t *testing.T) {
	assets, err := views.NewAssets()
	require.NoError(t, err)
	engine, err := views.NewEngine(assets)
	require.NoError(t, err)
	frame := &views.Frame{}
	for name, page := range map[string]any{
		"lockouts": lockoutsPage{Frame: frame}, "lockout-new": newLockoutPage{Frame: frame}, "lockout": lockoutPage{Frame: frame},
		"procedure": procedurePage{Frame: frame}, "placard": placardPage{&placard{Frame: frame}}, "procedure-edit": procedureEditPage{Frame: frame},
		"procedure-new": newProcedurePage{Frame: frame}, "procedure-compare": comparePage{Frame: frame}, "procedure-publish": publishPage{Frame: frame},
		"tasks": tasksPage{Frame: frame}, "task": taskPage{Frame: frame},
	} {
		var out bytes.Buffer
		require.NoError(t, engine.Render(&out, name, page), name)
		require.NotContains(t, out.String(), "%!", name)
	}
	var out bytes.Buffer
	require.NoError(t, engine.Render(&out, "lockouts", lockoutsPage{Frame: frame}))
	require.Contains(t, out.String(), "No procedure is in force")
}
