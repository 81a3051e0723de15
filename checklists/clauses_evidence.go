package checklists

import (
	"slices"
	"strings"
	"time"
	"unicode"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// GearPart is one part of a rig in force with the inspections it comes round to
// and who entered the last that passed, by how far it went.
type GearPart struct {
	Rig, Link, Name string
	Rounds          [3]lift.Owing
	By              map[lift.Every]procedures.PersonID
}

// ProcedureStanding is one procedure in force as [procedures.ProgramState] tells,
// with its inspections and when it was put in force.
type ProcedureStanding struct {
	Procedure procedures.Procedure
	Lights    procedures.Lights
	Due       procedures.InspectionDue
	Inspected []procedures.ProcedureInspection
}

// ClauseFacts is what the clauses are held against.
type ClauseFacts struct {
	Facts
	Gear         []GearPart
	Procedures   []ProcedureStanding
	Trainings    []procedures.Training
	Program      procedures.Program
	Safety       []SafetyItem
	SafetyChecks []SafetyCheck
}

// gathering is the evidence being gathered for one mill.
type gathering struct {
	ClauseFacts
	now time.Time
	loc *time.Location
}

// Clauses tells of each clause what stands for it on the record and what is
// missing, those with gaps first. What answers a clause cites it. Its error is
// that of [Mill.Location].
func Clauses(f ClauseFacts, now time.Time) ([]ClauseRow, error) {
	loc, err := f.Mill.LocationAt(now)
	if err != nil {
		return nil, err
	}
	g := &gathering{f, now, loc}
	var rows []ClauseRow
	for _, c := range clauses() {
		row := ClauseRow{Clause: c.clause, Asks: c.asks, Often: c.often, Basis: c.read.words()}
		switch {
		case c.needs != "" && !slices.ContainsFunc(f.Plant, func(e procedures.Equipment) bool { return e.Kind == c.needs }):
			row.NotHere = plain.Say("This mill has entered no equipment of that kind.")
		case c.gather != nil:
			c.gather(g, &row)
		default:
			g.cited(c, &row)
		}
		rows = append(rows, row)
	}
	slices.SortStableFunc(rows, func(a, b ClauseRow) int { return a.order() - b.order() })
	return rows, nil
}

func (r ClauseRow) order() int {
	switch {
	case len(r.Gaps) > 0:
		return 0
	case r.NotHere.Empty():
		return 1
	}
	return 2
}

// cites tells whether a source names that clause, or a paragraph within it.
func cites(source, clause string) bool {
	for rest := source; ; {
		at := strings.Index(rest, clause)
		if at < 0 {
			return false
		}
		rest = rest[at+len(clause):]
		if next := strings.TrimLeftFunc(rest, func(r rune) bool { return r == ' ' }); rest == "" || next != rest {
			return true
		}
		first := rune(rest[0])
		if !unicode.IsDigit(first) && !unicode.IsLetter(first) && !(first == '.' && len(rest) > 1 && unicode.IsDigit(rune(rest[1]))) {
			return true
		}
	}
}

func (c clause) citedBy(source string) bool {
	return slices.ContainsFunc(c.cites, func(one string) bool { return cites(source, one) })
}

// cited gathers from the registers and the lists. What a register lacks stands
// whatever a list says: one check of a list names no single sling, hook or
// extinguisher. Where no register has anything under the clause, the lists answer it.
func (g *gathering) cited(c clause, row *ClauseRow) {
	gear, anyGear := g.fromGear(c, row)
	safety, anySafety := g.fromSafety(c, row)
	lists := g.fromLists(c, anyGear || anySafety, row)
	if len(row.Evidence) > 0 {
		row.NotHere = plain.Sentence{}
	}
	row.Gaps = slices.Concat(gear, safety, lists)
	if len(row.Evidence) == 0 && len(row.Gaps) == 0 && row.NotHere.Empty() {
		row.Gaps = []ClauseGap{{Said: plain.Say("No list in force asks for this, and no register answers it.")}}
	}
}

// fromGear gathers the inspections of parts in force that are owed by the clause.
func (g *gathering) fromGear(c clause, row *ClauseRow) (gaps []ClauseGap, any bool) {
	for _, part := range g.Gear {
		for _, one := range part.Rounds {
			if !one.Owed || !c.citedBy(one.Source) {
				continue
			}
			any = true
			e := Evidence{Kind: ByGear, Ref: part.Rig, Part: part.Link, What: plain.Say("%s inspected", part.Name), On: one.Last, By: part.By[one.Every], Due: one.Due}
			row.Evidence = append(row.Evidence, e)
			switch {
			case one.Due.IsZero():
				gaps = append(gaps, gapAbout(e, plain.Say("%s: nobody has entered when it was last inspected.", part.Name)))
			case g.now.After(one.Due):
				gaps = append(gaps, gapAbout(e, plain.Say("%[1]s: its inspection was due by %[2]s.", part.Name, plain.Day(one.Due))))
			}
		}
	}
	return gaps, any
}

// fromSafety gathers what is done to safety equipment by the clause.
func (g *gathering) fromSafety(c clause, row *ClauseRow) (gaps []ClauseGap, any bool) {
	for _, item := range g.Safety {
		for _, due := range item.Due(g.SafetyChecks, g.now, g.loc) {
			if !c.citedBy(due.Clause) {
				continue
			}
			any = true
			e := Evidence{Kind: BySafetyItem, Ref: string(item.ID), What: plain.Say("%[1]s, %[2]s: %[3]s", item.Place, item.Kind.Words(), due.Work.Words()), On: due.Last, Due: due.By}
			for _, check := range item.History(g.SafetyChecks) {
				if check.On.Equal(due.Last) {
					e.By, e.Who = check.By, check.Who
					break
				}
			}
			row.Evidence = append(row.Evidence, e)
			switch {
			case due.Last.IsZero():
				gaps = append(gaps, gapAbout(e, plain.Say("%[1]s, %[2]s: nobody has entered its %[3]s.", item.Place, item.Kind.Words(), due.Work.Words())))
			case due.Over:
				gaps = append(gaps, gapAbout(e, plain.Say("%[1]s, %[2]s: its %[3]s was due by %[4]s.", item.Place, item.Kind.Words(), due.Work.Words(), plain.Day(due.By))))
			}
		}
	}
	return gaps, any
}

// eyewash asks nothing where none is in the register: whether anything corrosive
// is used nobody here knows.
func (g *gathering) eyewash(row *ClauseRow) {
	if !slices.ContainsFunc(g.Safety, func(i SafetyItem) bool { return i.Kind == EyewashKind && i.Retired.IsZero() }) {
		row.NotHere = plain.Say("No eyewash is in the register. Where anything corrosive is used, one must be.")
		return
	}
	gaps, _ := g.fromSafety(clause{cites: []string{"29 CFR 1910.151(c)"}}, row)
	row.Gaps = gaps
}
