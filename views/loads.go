package views

import (
	"html/template"
	"slices"
	"strings"
	"text/template/parse"
)

// Three files are made of the scripts, and no page waits for any of them. start.js
// brings the others once all of the page is there: first form.js, where the page
// has a form that is kept or swapped, which takes up what was typed meanwhile;
// then rest.js. Each script finds its own work and leaves a page alone that has
// none.
const (
	startScript = "start.js"
	formScript  = "form.js"
	restScript  = "rest.js"
)

// bundles are the scripts of each file, in the order they run in.
func bundles() map[string][]string {
	return map[string][]string{
		startScript: {"begin.js", "phone.js"},
		formScript:  {"into.js", "instant.js"},
		restScript:  {"secret.js", "outbox.js", "draft.js", "live.js", "walk.js", "waiting.js", "shrink.js", "count.js", "sift.js", "drag.js", "asks.js", "witness.js", "turn.js", "hand.js", "hold.js", "scan.js"},
	}
}

// servedAlone tells whether a script of static/ is loaded by itself, by the pages
// that name it or, the worker, by the browser.
func servedAlone(name string) bool {
	return slices.Contains([]string{"merkle.js", "kept.js", "trust.js", "worker.js"}, name)
}

// formWork is what a page has that needs formScript.
func formWork() []string { return []string{"data-into"} }

// loads is what a page loads, by the names of the assets: the sheets at once, the
// others, style of what scripts make among them, when the page is there.
type loads struct{ Sheets, Then []string }

// loadsOf finds what a page loads from its templates, whatever its data will be,
// so that a part that comes in later finds its style there.
func (a *Assets) loadsOf(layout *template.Template) loads {
	text := textOf(layout)
	has := markupOf(text)
	var l loads
	for i, s := range a.sheets {
		if i == 0 || !onItsOwn(s.name) && has.wants(s) {
			l.Sheets = append(l.Sheets, s.name)
		}
	}
	if slices.ContainsFunc(formWork(), func(mark string) bool { return strings.Contains(text, mark) }) {
		l.Then = append(l.Then, formScript)
	}
	l.Then = append(l.Then, scriptsSheet, restScript)
	return l
}

// onItsOwn tells whether a sheet comes to a page in a way of its own, not with
// the others: when it is printed, wide or has its scripts.
func onItsOwn(sheet string) bool {
	return slices.Contains([]string{printSheet, deskSheet, scriptsSheet}, sheet)
}

// textOf is all that stands in a page, its layout and the parts it is put together
// from, with a blank for each action.
func textOf(layout *template.Template) string {
	var out strings.Builder
	seen := map[string]bool{}
	var visit func(node parse.Node)
	visit = func(node parse.Node) {
		switch node := node.(type) {
		case *parse.TextNode:
			out.Write(node.Text)
		case *parse.ActionNode:
			out.WriteByte(' ')
		case *parse.TemplateNode:
			if called := layout.Lookup(node.Name); called != nil && !seen[node.Name] {
				seen[node.Name] = true
				eachNode(called.Tree.Root, visit)
			}
		}
	}
	eachNode(layout.Tree.Root, visit)
	return out.String()
}
