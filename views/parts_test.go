package views

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

var noon = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC) // 12:00 in Chicago

// full is a frame with everything set.
func full(t *testing.T) *Frame {
	t.Helper()
	catalogue, err := LoadCatalogue()
	require.NoError(t, err)
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	return &Frame{
		Title: plain.Say("Head saw: held, guard loose"), Words: catalogue.For("en-US"),
		Person: procedures.Person{ID: "p1", Name: "Ada Quill", Role: procedures.Operator},
		Mill:   "Alder Creek", Zone: zone, Units: checklists.InchPound, Now: noon,
		Path: "/record", Places: []Place{{"/", plain.Say("May it run?")}, {"/record", plain.Say("Record")}},
		StopIt: "/stop-it", Flash: plain.Say("Kept."), Sent: "lift:1",
		Problems: plain.Problems{{Field: "length", Want: plain.Say("more than 0, at most %s", plain.Metres(2.4384))},
			{Field: "pin", Want: plain.Say("your own PIN")}, {Field: "C1.note", Want: plain.Say("say what is wrong")}},
		Live: "/events", Seen: 41, Refresh: 60,
	}
}

func TestBadgeIsSafeUnlessTold(t *testing.T) {
	var f Frame
	assert.Equal(t, "NOT KNOWN", Badge{}.Word())
	assert.Equal(t, "NOT KNOWN", Badge{Kind: "ok"}.Word())
	assert.Equal(t, "not-known", Badge{Kind: "ok"}.Class())
	assert.Equal(t, "NOT KNOWN", f.StatusBadge(checklists.Status(99)).Word())
	assert.Equal(t, "NO-GO", f.LiftBadge(false).Word())
	assert.Equal(t, "WAS GO", f.WasGo().Word())
	assert.Equal(t, "was-go", f.WasGo().Class(), "no green square for a GO that is over")
	for _, status := range []checklists.Status{checklists.NotKnown, checklists.Held, checklists.RunCheckOnly, checklists.MayRun} {
		badge := f.StatusBadge(status)
		assert.Equal(t, status.String(), badge.Word())
		assert.True(t, badge.Live, "goes out of date")
		assert.Equal(t, status == checklists.MayRun, badge.Beside() != "", "isolators named beside %s", status)
	}
}

func TestMayRunNeverStandsAlone(t *testing.T) {
	out := render(t, `{{template "badge" (.StatusBadge 3).AsSmall}}`, samplePage{Frame: full(t)})
	assert.Contains(t, out, "Look at the isolators.")
	assert.Contains(t, out, "data-contact>MAY RUN<")
}

func TestProblemStandsBesideItsInput(t *testing.T) {
	out := render(t, `<form>{{template "field" ((.TextField "length" (.T "Length") "9 ft").WithHint (.T "As on the tape"))}}
		{{template "sign" (.SignBox (.T "I checked this.") (.T "Sign"))}}</form>`, samplePage{Frame: full(t)})
	assert.Contains(t, out, `<p class="problem" id="f-length-want">more than 0, at most 8 ft</p>`)
	assert.Contains(t, out, `aria-invalid="true" aria-describedby="f-length-hint f-length-want"`)
	assert.Contains(t, out, `value="9 ft"`)
	assert.Contains(t, out, `href="#f-length"`)
	assert.Contains(t, out, `3 things to put right`)
	assert.Contains(t, out, `Your PIN again, to sign`)
	assert.Contains(t, out, `id="f-pin-want">your own PIN`)
}

func TestAnswerKeepsWhatWasGiven(t *testing.T) {
	f := full(t)
	number := f.NumberField("C1.number", "Gap", "0.25").WithUnit("in")
	box := f.AnswerBox(Answer{Name: "C1", Prompt: "Splitter", How: "Push it", Source: "common practice, no source", Result: "defect",
		Severity: "mend", Note: "wobbles", StopGap: "clamp", MendBy: "2026-03-09", Number: &number, Photo: "/photos/a"})
	f.Problems = append(f.Problems, plain.Problem{Field: "C2.result", Want: plain.Say("an answer")})
	page := struct {
		*Frame
		Box, Stop, Zero Answer
	}{f, box, f.AnswerBox(Answer{Name: "C2", Stops: true, Severity: "mend"}), Answer{}}
	e := engine(t, map[string]string{"sample": `<form>{{template "answer" .Box}}{{template "answer" .Stop}}{{template "answer" .Zero}}</form>`})
	var out testWriter
	require.NoError(t, e.Render(&out, "sample", page))
	for _, want := range []string{`name="C1" value="defect" checked`, `value="mend" checked`, ">wobbles</textarea>", `value="clamp"`,
		`value="2026-03-09"`, `value="0.25"`, `src="/photos/a"`, "say what is wrong</p>", `<p class="problem">an answer</p>`, `href="#f-C2.result"`, `id="f-C2.result"`,
		`capture="environment"`} {
		assert.Contains(t, string(out), want)
	}
	assert.NotContains(t, string(out), `name="" value="ok" checked`, "nothing is answered beforehand")
	assert.NotContains(t, string(out), `name="C2.severity"`, "a stop item stays one; nothing is asked of it")
}

type testWriter []byte

func (w *testWriter) Write(p []byte) (int, error) { *w = append(*w, p...); return len(p), nil }

func TestPartsRenderEmptyAndFull(t *testing.T) {
	for name, f := range map[string]*Frame{"zero": {}, "full": full(t)} {
		holds := []Hold{{}, {Reason: plain.Say("the guard is loose"), Clears: plain.Say("a mender, then a second person"), Since: noon.Add(-time.Hour),
			By: "Ada Quill", From: "Carriage", Href: "/defects/1"}, {Reason: plain.Say("a check is due"), Since: noon}}
		page := struct {
			*Frame
			Holds   []Hold
			Choices []Choice
		}{f, holds, []Choice{{Value: "a", Text: "A"}, {Value: "b", Text: "B"}}}
		e := engine(t, map[string]string{"sample": `
			{{template "badge" (.LiftBadge true)}}{{template "holds" (.HoldList .Holds)}}{{template "holds" (.HoldList nil)}}
			{{template "caution" (.Danger (.T "Blade."))}}{{template "caution" (.Warning "w")}}{{template "caution" (.Caution "c")}}{{template "caution" (.Notice "n")}}
			{{template "field" (.ChoiceField "c" "C" "b" .Choices)}}{{template "field" (.TickField "t" "T" true).Required}}{{template "field" (.PhotoField "p" "P")}}
			{{template "field" (.SecretField "s" "S")}}{{template "submission" "id-1"}}{{template "progress" (.ProgressOf 2 5)}}
			{{template "pager" (.PagerFor "" "/record?older" 1 20)}}{{template "pager" (.PagerFor "" "" 0 0)}}{{template "empty" (.EmptyList "None." "/x" "Make one")}}`})
		var out testWriter
		require.NoError(t, e.Render(&out, "sample", page), name)
		assert.Contains(t, string(out), `value="b" checked`)
		assert.Contains(t, string(out), "2 of 5 answered")
		assert.NotContains(t, string(out), "%!")
	}
}

func TestNoticeCarriesNoAlertSymbol(t *testing.T) { // ANSI Z535.4-2007, 4.14.4, as quoted by Clarion Safety Systems
	body := `{{template "caution" (.Notice "n")}}`
	assert.NotContains(t, render(t, body, samplePage{}), `class="alert"`)
	assert.Contains(t, render(t, `{{template "caution" (.Danger "n")}}`, samplePage{}), `class="alert"`)
	assert.Equal(t, "WARNING", Caution{}.Word())
}

// A list that is folded up cuts off what is longer than the phone is wide.
func TestLongWordsAreChosenFromButtons(t *testing.T) {
	f := full(t)
	choices := make([]Choice, 13)
	for i := range choices {
		choices[i] = Choice{Value: string(rune('a' + i)), Text: "Whole head rig, overnight and before the shift"}
	}
	of := func(n int) Field { return f.ChoiceField("procedure", "What to lock out", "", choices[:n]) }
	assert.True(t, of(6).Buttons())
	assert.False(t, of(7).Buttons())
	assert.True(t, of(12).InFull().Buttons())
	assert.False(t, of(13).InFull().Buttons())
	assert.False(t, of(7).InFull().AsList().Buttons())
}
