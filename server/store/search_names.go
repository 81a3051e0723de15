package store

import (
	"slices"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/search"
)

// What an entry is about often has its name in another entry: the part of a rig
// that was inspected, the step of a procedure that was done. So the entry that
// gives the name is kept with the words of it and what they call, and the entry
// about it with that. Each is of its own entry alone, as everything it is found by.
const (
	wordOfTitle   = "=d" // "=dchain=gear/west/leg": an entry that calls a part by a name with the word chain
	wordOfAbout   = "=o" // "=ogear/west/leg": an entry about it
	wordOfOutcome = "=r" // how it came out, see [Outcomes]
)

// How an entry came out, as the line of the record tells it in words.
const (
	OutcomeGo       = "go"
	OutcomeNoGo     = "no-go"
	OutcomeFit      = "fit"
	OutcomeNotFit   = "not-fit"
	OutcomeAllOK    = "all-ok"
	OutcomeFound    = "found"
	OutcomeNoDefect = "no-defect"
	OutcomeSkipped  = "skipped"
)

// Outcomes are all ways an entry may have come out: those above, what was put in
// force ("lists") and what an event of a lockout reported ("lockout/work-began").
func Outcomes() []string {
	all := []string{OutcomeGo, OutcomeNoGo, OutcomeFit, OutcomeNotFit, OutcomeAllOK, OutcomeFound, OutcomeNoDefect, OutcomeSkipped, string(Lists), string(Procedures), string(Rigs)}
	for _, kind := range procedures.EventKinds() {
		all = append(all, OutcomeOfLockout(kind))
	}
	return all
}

// OutcomeOfLockout is the outcome of one event of a lockout.
func OutcomeOfLockout(kind procedures.EventKind) string { return "lockout/" + string(kind) }

// titledIn tells what b calls what: each word of the name with the thing.
func titledIn(b body) (words []string) {
	p, ok := b.(*publishedBody)
	if !ok {
		return nil
	}
	call := func(name string, parts ...string) {
		for _, word := range search.Words(name) {
			words = append(words, wordOfTitle+word+"="+strings.Join(parts, "/"))
		}
	}
	doc, err := p.doc()
	if err != nil {
		return nil
	}
	switch p.Sort {
	case Rigs:
		rig, err := ReadRig(doc)
		if err != nil {
			return nil
		}
		for i := range rig.Links {
			call(rig.Links[i].Name+" "+rig.Name, "gear", p.ID, rig.Links[i].ID)
		}
	case Procedures:
		procedure, err := read[procedures.Procedure](doc)
		if err != nil {
			return nil
		}
		call(p.Title, "procedure", p.ID)
		for _, step := range procedure.Steps {
			call(step.Text, "step", p.ID, string(step.ID))
		}
		for _, device := range procedure.Devices {
			call(device.Label, "device", p.ID, string(device.ID))
		}
	case Lists:
		call(p.Title, "list", p.ID)
	}
	return words
}

// aboutOf tells what b is about that has its name elsewhere.
func aboutOf(b body) (words []string) {
	about := func(parts ...string) { words = append(words, wordOfAbout+strings.Join(parts, "/")) }
	switch b := b.(type) {
	case *gearInspectedBody:
		about("gear", b.Rig, b.Link)
	case *gearMeasuredBody:
		about("gear", b.Rig, b.Link)
	case *lockoutBody:
		about("procedure", string(b.Procedure))
		if b.Event.Step != "" {
			about("step", string(b.Procedure), string(b.Event.Step))
		}
		if b.Event.Device != "" {
			about("device", string(b.Procedure), string(b.Event.Device))
		}
	case *amendmentBody:
		about("list", string(b.List))
	}
	return words
}

// outcomesOf tells how what b says came out.
func outcomesOf(b body) []string {
	either := func(first bool, yes, no string) []string {
		if first {
			return []string{wordOfOutcome + yes}
		}
		return []string{wordOfOutcome + no}
	}
	switch b := b.(type) {
	case *liftBody:
		return either(b.Go, OutcomeGo, OutcomeNoGo)
	case *gearInspectedBody:
		return either(b.Fit, OutcomeFit, OutcomeNotFit)
	case *inspectionBody:
		answered := func(r checklists.Result) bool {
			return slices.ContainsFunc(b.Answers, func(a answerPart) bool { return a.Result == r })
		}
		found, skipped := answered(checklists.Found), answered(checklists.NotChecked)
		switch {
		case found && skipped:
			return []string{wordOfOutcome + OutcomeFound, wordOfOutcome + OutcomeSkipped}
		case found:
			return []string{wordOfOutcome + OutcomeFound}
		case skipped:
			return []string{wordOfOutcome + OutcomeNoDefect, wordOfOutcome + OutcomeSkipped}
		}
		return []string{wordOfOutcome + OutcomeAllOK}
	case *publishedBody:
		return []string{wordOfOutcome + string(b.Sort)}
	case *lockoutBody:
		return []string{wordOfOutcome + OutcomeOfLockout(b.Event.Kind)}
	}
	return nil
}
