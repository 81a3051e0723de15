package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

// ToolsOf is how many tools and parts one person counted in that aren't counted
// out yet.
type ToolsOf struct {
	Person PersonID
	Tools  int
}

// ToolsInBy returns whose tools and parts are still in, as each counted them, in
// the order they first came in. What somebody counted in twice adds up; what
// somebody left behind who signed off, or whose lock was taken off, stays in
// until the whole is counted out, for a test or for the release.
func (l Lockout) ToolsInBy() []ToolsOf {
	var in []ToolsOf
	for _, e := range l.Events {
		if e.Kind == TestAsked || l.countsAllOut(e) && e.Tools {
			in = nil
			continue
		}
		at := slices.IndexFunc(in, func(t ToolsOf) bool { return t.Person == e.Person })
		if at < 0 && e.ToolsIn > 0 {
			in, at = append(in, ToolsOf{Person: e.Person}), len(in)
		}
		if at >= 0 {
			in[at].Tools += e.ToolsIn - e.ToolsOut
		}
	}
	return slices.DeleteFunc(in, func(t ToolsOf) bool { return t.Tools <= 0 })
}

// countsAllOut tells whether with e everybody's tools and parts are counted out.
func (l Lockout) countsAllOut(e Event) bool {
	step, _ := l.Procedure.step(e.Step)
	return e.Kind == TestAsked || e.Kind == StepDone && step.Stage == InspectArea
}

// ToolsIn is how many tools and parts were counted in, by everybody together, and
// are still in; 0 when they weren't counted, or all are out again.
func (l Lockout) ToolsIn() int {
	all := 0
	for _, t := range l.ToolsInBy() {
		all += t.Tools
	}
	return all
}

// countRules compare what is counted out with what was counted in, where it was.
// They are asked when an act is entered: an earlier Stillsaw took a second count
// for the first one anew. What is entered late is taken, and what is missing by it
// a departure: see [Broken].
func countRules() []rule[asked, error] {
	return []rule[asked, error]{
		{"(e)(1) as many out as in", func(a asked) error {
			if a.e.Kind != StepDone || a.s.Stage != InspectArea {
				return nil
			}
			return asManyOut(a)
		}},
		{"(f)(1)(i) as many out as in", func(a asked) error {
			if a.e.Kind != TestAsked {
				return nil
			}
			return asManyOut(a)
		}},
	}
}

// ownCount holds what somebody who leaves counts out against what they counted in.
func ownCount() rule[asked, error] {
	return rule[asked, error]{"(e)(1) no more out than in", func(a asked) error {
		if a.e.Kind != LeftJob {
			return nil
		}
		for _, t := range a.l.ToolsInBy() {
			if t.Person == a.e.Person && a.e.ToolsOut > t.Tools {
				return plain.Refuse(Clause("(e)(1)"), "You counted %[1]d tools and parts in, and %[2]d out. Count your own again; what else came out belongs to somebody, or to the machine.", t.Tools, a.e.ToolsOut)
			}
		}
		return nil
	}}
}

func asManyOut(a asked) error {
	in := a.l.ToolsIn()
	if !a.e.Tools || in == 0 || in == a.e.ToolsOut {
		return nil
	}
	if people := len(a.l.ToolsInBy()); people > 1 {
		return plain.Refuse(Clause("(e)(1)"), "%[1]d tools and parts were counted in by %[2]d people, %[3]d out. Find what is missing of each before anybody goes on.", in, people, a.e.ToolsOut)
	}
	return plain.Refuse(Clause("(e)(1)"), "%[1]d tools and parts were counted in, %[2]d out. Find what is missing before anybody goes on.", in, a.e.ToolsOut)
}
