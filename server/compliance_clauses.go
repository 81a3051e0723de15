package server

import (
	"net/url"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// clauseCard is one clause with what stands for it.
type clauseCard struct {
	Clause             string
	Asks, Often, Basis plain.Sentence
	NotHere            plain.Sentence
	Gaps               []clauseGapLine
	Evidence           []evidenceLine
	Due                time.Time
	Over               bool // that day is past
	First              bool // what falls due then was never done before
	NotYet             bool // something was never done and is not yet due
}

type clauseGapLine struct {
	Said plain.Sentence
	Who  string
	Href string // where it is mended
}

type evidenceLine struct {
	Href string
	What plain.Sentence
	On   time.Time
	Who  string
	Due  time.Time

	InForce bool // a procedure, whose being in force is the evidence
}

func (v *visit) clausesPage(page compliancePage) error {
	facts, err := v.desk.ClauseFacts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	rows, err := checklists.Clauses(facts, v.now)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	gaps := 0
	for _, r := range rows {
		card := clauseCard{Clause: r.Clause, Asks: r.Asks, Often: r.Often, Basis: r.Basis, NotHere: r.NotHere, Due: r.Due()}
		card.Over = !card.Due.IsZero() && card.Due.Before(v.now)
		for _, gap := range r.Gaps {
			card.Gaps = append(card.Gaps, clauseGapLine{gap.Said, names[gap.Person], v.gapHref(gap)})
		}
		if len(r.Gaps) > 0 {
			gaps++
		} else {
			card.NotYet = r.NotYet()
		}
		for _, e := range r.Evidence {
			card.First = card.First || !card.Due.IsZero() && e.Due.Equal(card.Due) && e.On.IsZero()
		}
		for _, e := range r.Evidence {
			line := evidenceLine{Href: v.evidenceHref(e), What: e.What, On: e.On, Who: e.Who, Due: e.Due, InForce: e.Kind == checklists.ByProcedure && e.Due.IsZero()}
			if line.Who == "" && !e.On.IsZero() {
				line.Who = names[e.By]
			}
			card.Evidence = append(card.Evidence, line)
		}
		if len(card.Gaps) > 0 {
			page.Clauses = append(page.Clauses, card)
		} else {
			page.Whole = append(page.Whole, card)
		}
	}
	page.AsOf = v.now
	page.Periods, page.Earlier, page.Later = nil, switchLink{}, switchLink{}
	page.Title = plain.Say("What the rules ask: nothing is missing on the record")
	if gaps > 0 {
		page.Title = plain.Say("What the rules ask: gaps at %d clauses", gaps)
	}
	return v.show("compliance", page, nil)
}

// gapHref is where a gap is looked into: what nothing on record answers, a list
// would have to ask for.
func (v *visit) gapHref(gap checklists.ClauseGap) string {
	switch {
	case gap.Kind == "":
		return "/lists"
	case gap.Kind == checklists.ByTraining && gap.Ref == "":
		return "/training"
	}
	return v.evidenceHref(checklists.Evidence{Kind: gap.Kind, Ref: gap.Ref, Part: gap.Part})
}

// evidenceHref is where a piece of evidence is read.
func (v *visit) evidenceHref(e checklists.Evidence) string {
	ref := url.PathEscape(e.Ref)
	switch e.Kind {
	case checklists.ByInspection:
		if e.Ref != "" {
			return "/inspections/" + ref
		}
		return "/due"
	case checklists.ByGear:
		if e.Part == "" {
			return "/rigs/" + ref
		}
		return gearPath(e.Ref, e.Part)
	case checklists.BySafetyItem:
		return "/safety/" + ref
	case checklists.ByProcedure:
		return "/procedures/" + ref
	case checklists.ByProcedureInspection:
		return "/procedure-inspections/" + ref
	case checklists.ByTraining:
		if !v.readsAll() && e.Ref != string(v.person.ID) {
			return "/training" // that of others isn't theirs to read
		}
		return "/people/" + ref + "/training"
	case checklists.ByProgram:
		return "/program"
	}
	return "/record"
}
