package server

import (
	"testing"

	"stillsaw/checklists"
)

// What was refused is not answered, whatever stands in the form, and the page goes
// to what is wrong.
func TestACheckCountsNoAnswerThatWasRefused(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts browsers")
	}
	m := newMill(t)
	w := m.walk("ada")
	b := newBrowser(t, onTheNetwork(t, m.server), true)
	b.signIn(m, "ada")
	b.open(w.at + "?state=stopped")
	counted := func(of string) string {
		return `document.querySelector(".progress span").textContent.startsWith("` + of + ` of ")`
	}
	next := `section.station:last-of-type button[name="next"]`
	b.comes("the scripts and their words are there", `document.documentElement.hasAttribute("data-ready") && globalThis.walk?.pages.size >= 3 && !!words.step`)
	b.choose("A1", "defect")
	b.script(`document.querySelector('` + next + `').click()`)
	b.comes("it was refused, and the keyboard is there", `!!document.querySelector(".wrong") && document.activeElement.matches("h1")`)
	b.comes("it counts for nothing", counted("0"))
	b.write("A1.note", "ice before the stand")
	b.comes("answered otherwise it may be taken", counted("1"))
	b.choose("A1", "ok")
	b.script(`document.querySelector('` + next + `').click()`)
	b.comes("it went on", `!document.querySelector(".wrong") && document.activeElement.matches("h1") && !location.search.includes("`+string(checklists.Stopped)+`")`)
	b.comes("it is counted", counted("1"))
}
