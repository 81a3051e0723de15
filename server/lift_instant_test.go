package server

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/require"
)

// waitsFor waits on the page until it answers to selector; the page asks the
// server by itself, which takes its time on a busy machine.
func (b *browser) waitsFor(what, selector string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, time.Minute)
	defer cancel()
	require.NoError(b.t, chromedp.Do(ctx, chromedp.WaitReady(selector)), "%s\non %s:\n%s", what, b.where(), b.text())
}

// retype takes back what was typed by hand and types anew.
func (b *browser) retype(name, typed, text string) {
	b.t.Helper()
	b.within("retype "+name, chromedp.SendKeys(fmt.Sprintf(`[name="%s"]`, name), kb.End+strings.Repeat(kb.Backspace, len(typed))+text))
}

// shown is what stands in the part of the page, as a person reads it.
func (b *browser) shown(selector string) string {
	b.t.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.Text(selector))
	require.NoError(b.t, err)
	return strings.Join(strings.Fields(text), " ")
}

// enterCant types a cant that is a GO at 7 ft 6 in, looks at the hook, and
// presses nothing.
func (b *browser) enterCant(length string) {
	b.t.Helper()
	b.open("/lifts/new")
	b.choose("shape", "slabbed")
	b.write("small", "18 in")
	b.write("large", "19 in")
	b.write("slab-1", "3 1/2 in")
	b.write("slab-2", "3 1/2 in")
	b.pick("species", "northern red oak")
	b.choose("bark-off", "yes")
	b.choose("lands", "carriage")
	b.write("span", "7 ft 4 in")
	b.answerHook()
	b.write("length", length)
}

// instantLength is of a cant that this rig lifts; tooShort of one too short for
// where its hooks sit.
const instantLength, tooShort = "7 ft 6 in", "7 ft"

// The answer comes in place as a number changes, with no press, and is word for
// word what the form says when it is sent with scripts off.
func TestAnswerFollowsTheNumbersAndSaysWhatTheSentFormSays(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	url := onTheNetwork(t, m.server)
	quick, slow := newBrowser(t, url, true), newBrowser(t, url, false)
	quick.signIn(m, "ada")
	slow.signIn(m, "ada")
	before := m.size()
	quick.enterCant(instantLength)
	quick.waitsFor("a GO without a press", "#answer .badge.go")
	require.True(t, strings.HasPrefix(quick.heading(), "GO: "), quick.heading())
	quick.shot("instant-go")
	quick.waitsFor("the verdict under the title too", "#brief .badge.go")
	went := quick.shown("#answer")
	require.NotContains(t, quick.html("#answer"), `class="old"`)

	quick.retype("length", instantLength, tooShort)
	quick.waitsFor("NO-GO without a press", "#answer .badge.no-go")
	quick.waitsFor("there too", "#brief .badge.no-go")
	require.True(t, strings.HasPrefix(quick.heading(), "NO-GO"), quick.heading())
	refused := quick.shown("#answer")

	slow.enterCant(instantLength)
	slow.press(`button[name="keep"][value=""]`)
	require.Equal(t, slow.shown("#answer"), went, "scripts off says the same")
	slow.retype("length", instantLength, tooShort)
	slow.press(`button[name="keep"][value=""]`)
	require.Equal(t, slow.shown("#answer"), refused)
	require.Equal(t, before, m.size(), "looking keeps nothing")
}

// What can't be meant leaves the last answer standing, marked as old; the
// answer comes back when the number does.
func TestAnswerIsMarkedOldWhileANumberCantBeRead(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := newBrowser(t, onTheNetwork(t, m.server), true)
	ada.signIn(m, "ada")
	ada.enterCant(instantLength)
	ada.waitsFor("a GO", "#answer .badge.go")
	ada.retype("length", instantLength, "long")
	ada.waitsFor("marked as old", "#answer.old .badge.go")
	ada.waitsFor("the verdict under the title too", "#brief.old .badge.go")
	require.Equal(t, "You changed something: this answer is old. Check again.", ada.heading())
	ada.retype("length", "long", instantLength)
	ada.waitsFor("the answer again", "#answer:not(.old) .badge.go")
}

// Only the inputs of the chosen shape are shown, and a girth's choice stands
// with a log's.
func TestFormShowsWhatItsShapeAsks(t *testing.T) {
	t.Parallel()
	m := liftingMill(t)
	ada := newBrowser(t, onTheNetwork(t, m.server), true)
	ada.signIn(m, "ada")
	ada.open("/lifts/new")
	all := []string{"girths", "small", "large", "middle", "slab-1", "width", "volume"}
	for shape, shown := range map[string]string{"slabbed": "girths small large slab-1", "round": "girths small large middle", "squared": "width", "measured": "volume"} {
		ada.choose("shape", shape)
		for _, name := range all {
			selector := fmt.Sprintf(`#lift [name="%s"]`, name)
			if strings.Contains(" "+shown+" ", " "+name+" ") {
				ada.within(shape+" shows "+name, chromedp.WaitVisible(selector))
			} else {
				ada.within(shape+" hides "+name, chromedp.WaitNotVisible(selector))
			}
		}
		ada.within("the rare ones are closed", chromedp.WaitReady(`#lift details:not([open]) [name="ice"]`), chromedp.WaitReady(`#lift details:not([open]) [name="density"]`))
	}
}
