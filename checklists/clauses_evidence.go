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

// cited gathers from lists, gear and safety equipment. Any one of these that
// leaves no gap answers the clause.
func (g *gathering) cited(c clause, row *ClauseRow) {
	var open []ClauseGap
	answered := false
	for _, from := range []func(clause, *ClauseRow) (gaps []ClauseGap, any bool){g.fromLists, g.fromGear, g.fromSafety} {
		gaps, any := from(c, row)
		open = append(open, gaps...)
		answered = answered || any && len(gaps) == 0
	}
	if len(row.Evidence) > 0 {
		row.NotHere = plain.Sentence{}
	}
	switch {
	case answered:
	case len(row.Evidence) == 0 && len(open) == 0 && row.NotHere.Empty():
		row.Gaps = []ClauseGap{{Said: plain.Say("No list in force asks for this, and no register answers it.")}}
	default:
		row.Gaps = open
	}
}

// fromLists gathers the last signed check of each list in force with an item that
// cites the clause.
func (g *gathering) fromLists(c clause, row *ClauseRow) (gaps []ClauseGap, any bool) {
	notFitted, seldom := "", ""
	often := false
	for _, l := range g.Lists {
		asks := slices.DeleteFunc(l.Asks(), func(item Item) bool { return !c.citedBy(item.Source) })
		if len(asks) == 0 {
			if slices.ContainsFunc(l.Items, func(item Item) bool { return item.NotFitted && c.citedBy(item.Source) }) {
				notFitted = l.Title
			}
			continue
		}
		if l.Schedule.Every == OnEvent { // it says nothing of the times between
			continue
		}
		any = true
		if c.days > 0 && l.Schedule.longest() > c.days {
			seldom = l.Title
		} else {
			often = true
		}
		e, found := g.lastOf(l, asks)
		state := g.Due(l, g.now)
		if found {
			e.Due = state.Ends
			if c.days > 0 {
				if by := e.On.In(g.loc).AddDate(0, 0, c.days); e.Due.IsZero() || by.Before(e.Due) && l.Schedule.Every != EachShift {
					e.Due = by
				}
			}
			if c.days > 1 && g.now.After(e.On.In(g.loc).AddDate(0, 0, c.days+1)) {
				gaps = append(gaps, ClauseGap{Said: plain.Say("%[1]s: last done %[2]s, asked at least every %[3]d days.", l.Title, plain.Day(e.On), c.days)})
			} else if state.Status == IsLate || state.Status == IsMissed {
				gaps = append(gaps, ClauseGap{Said: state.Said})
			}
		} else {
			e = Evidence{Kind: ByInspection, What: plain.Say("%s", l.Title), Due: state.Ends}
			gaps = append(gaps, ClauseGap{Said: plain.Say("%s asks for it, and no signed check has answered it yet.", l.Title)})
		}
		row.Evidence = append(row.Evidence, e)
	}
	switch {
	case any && !often:
		gaps = append(gaps, ClauseGap{Said: plain.Say("%[1]s asks for it less often than every %[2]d days.", seldom, c.days)})
	case !any && notFitted != "":
		row.NotHere = plain.Say("Marked not fitted on the list %s.", notFitted)
	}
	return gaps, any
}

// lastOf is the newest check in which one of these items was answered.
func (g *gathering) lastOf(l List, asks []Item) (Evidence, bool) {
	var last *Inspection
	for i := range g.Inspections {
		in := &g.Inspections[i]
		answered := in.List == l.ID && !in.At.After(g.now) && (answers(in.Answers, asks) || slices.ContainsFunc(g.Amendments, func(a Amendment) bool { return a.Inspection == in.ID && answers(a.Answers, asks) }))
		if answered && (last == nil || in.At.After(last.At)) {
			last = in
		}
	}
	if last == nil {
		return Evidence{}, false
	}
	return Evidence{Kind: ByInspection, Ref: string(last.ID), What: plain.Say("%[1]s, points of it that ask for this: %[2]d", l.Title, len(asks)), On: last.At, By: last.Signer}, true
}

// answers tells whether one of the items was looked at.
func answers(given []Answer, asks []Item) bool {
	return slices.ContainsFunc(given, func(a Answer) bool {
		return (a.Result == OK || a.Result == Found) && slices.ContainsFunc(asks, func(item Item) bool { return item.ID == a.Item })
	})
}

// longest is the longest time in days from one check to the next by the schedule,
// of one that goes by running hours not known and without end.
func (s Schedule) longest() int {
	switch s.Every {
	case EachShift, EachDay:
		return 1
	case EachWeek:
		return 7
	case EachMonth:
		return 31
	case EachQuarter:
		return 92
	case EachYear:
		return 366
	case AfterDays:
		return s.Days + s.Grace
	}
	return mostDays
}

// fromGear gathers the inspections of parts in force that are owed by the clause.
func (g *gathering) fromGear(c clause, row *ClauseRow) (gaps []ClauseGap, any bool) {
	for _, part := range g.Gear {
		for _, one := range part.Rounds {
			if !one.Owed || !c.citedBy(one.Source) {
				continue
			}
			any = true
			row.Evidence = append(row.Evidence, Evidence{Kind: ByGear, Ref: part.Rig, Part: part.Link, What: plain.Say("%s inspected", part.Name), On: one.Last, By: part.By[one.Every], Due: one.Due})
			switch {
			case one.Due.IsZero():
				gaps = append(gaps, ClauseGap{Said: plain.Say("%s: nobody has entered when it was last inspected.", part.Name)})
			case g.now.After(one.Due):
				gaps = append(gaps, ClauseGap{Said: plain.Say("%[1]s: its inspection was due by %[2]s.", part.Name, plain.Day(one.Due))})
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
				gaps = append(gaps, ClauseGap{Said: plain.Say("%[1]s, %[2]s: nobody has entered its %[3]s.", item.Place, item.Kind.Words(), due.Work.Words())})
			case due.Over:
				gaps = append(gaps, ClauseGap{Said: plain.Say("%[1]s, %[2]s: its %[3]s was due by %[4]s.", item.Place, item.Kind.Words(), due.Work.Words(), plain.Day(due.By))})
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
