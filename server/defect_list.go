package server

import (
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// defectFilter is which defects a page shows, by the words of its address.
type defectFilter struct {
	Show      string // "" open, "mine", "overdue", "back"
	Equipment string
}

func (f defectFilter) has(d checklists.Defect, person procedures.PersonID, now time.Time) bool {
	if f.Equipment != "" && string(d.Equipment) != f.Equipment {
		return false
	}
	switch f.Show {
	case "mine":
		return d.Open() && d.Assigned == person && person != ""
	case "overdue":
		return d.Overdue(now)
	case "back":
		return !d.Open()
	}
	return d.Open()
}

type defectsPage struct {
	*views.Frame
	Filter               defectFilter
	Shows, Machines      []views.Choice
	Stops, Mends, Closed []defectLine
	Ages                 []ageLine
	Bounds               []plain.Sentence // headings of the ages
	Patterns             []patternLine
	None                 views.Empty
}

// ageLine is how long the open defects of one severity have been open.
type ageLine struct {
	Name   plain.Sentence
	Counts []int
	Oldest string
}

// patternLine is an item found wrong again and again.
type patternLine struct {
	Href, Machine, Item string
	Said                plain.Sentence
}

// Lines is the part that lists defects.
func (p defectsPage) Lines(lines []defectLine) defectLines { return defectLines{p.Frame, lines} }

func (s *Server) showDefects(v *visit) error {
	all, err := v.desk.DefectsSince(v.ctx(), v.now.Add(-checklists.PatternWithin))
	if err != nil {
		return err
	}
	plant, names, err := v.plantAndNames()
	if err != nil {
		return err
	}
	page := defectsPage{Frame: v.frame("No defects open"), Filter: defectFilter{Show: v.Query("show"), Equipment: v.Query("equipment")}}
	page.choices(plant)
	var open []checklists.Defect
	holding := 0
	for _, d := range all { // the oldest first
		if d.Open() {
			open = append(open, d)
		}
		if d.StopsNow(v.now) {
			holding++
		}
		if !page.Filter.has(d, v.person.ID, v.now) {
			continue
		}
		switch line := defectOf(page.Frame, d, plant, names); {
		case !d.Open():
			page.Closed = append(page.Closed, line)
		case line.Stops:
			page.Stops = append(page.Stops, line)
		default:
			page.Mends = append(page.Mends, line)
		}
	}
	if page.Filter == (defectFilter{}) {
		closed, err := v.desk.Defects(v.ctx(), false, mostClosed)
		if err != nil {
			return err
		}
		for _, d := range closed {
			page.Closed = append(page.Closed, defectOf(page.Frame, d, plant, names))
		}
	} else {
		slices.Reverse(page.Closed) // what is over, the newest first
	}
	if len(open) > 0 {
		page.Title = plain.Say("Defects: %[1]d open, %[2]d hold a machine", len(open), holding)
		page.ages(open)
	}
	if err := page.patterns(v, all, plant); err != nil {
		return err
	}
	page.None = page.EmptyList(page.T("Nothing is reported wrong. If you see something, stop it."), "/stop-it", page.T("Stop it"))
	if page.Filter != (defectFilter{}) {
		page.None = page.EmptyList(page.T("None of that kind."), "/defects", page.T("All defects"))
	}
	return v.show("defects", page, nil)
}

func (p *defectsPage) choices(plant procedures.Plant) {
	p.Shows = []views.Choice{{Text: p.T("All that are open")}, {Value: "mine", Text: p.T("Given to me")}, {Value: "overdue", Text: p.T("Overdue")}, {Value: "back", Text: p.T("Back in service")}}
	p.Machines = []views.Choice{{Text: p.T("Every machine")}}
	for _, e := range plant {
		p.Machines = append(p.Machines, views.Choice{Value: string(e.ID), Text: e.Name})
	}
}

// ages are the rows of the table of ages, for what is open.
func (p *defectsPage) ages(open []checklists.Defect) {
	p.Bounds = []plain.Sentence{plain.Say("under a day"), plain.Say("1 to 7 days"), plain.Say("7 to 30 days"), plain.Say("over 30 days")}
	for _, a := range checklists.Ages(open, p.Now) {
		line := ageLine{Name: plain.Say("stops its machine"), Counts: a.Counts, Oldest: "–"}
		if a.Severity == checklists.Mend {
			line.Name = plain.Say("may run with a stop-gap")
		}
		if a.Open > 0 {
			line.Oldest = p.Span(a.Oldest)
		}
		p.Ages = append(p.Ages, line)
	}
}

func (p *defectsPage) patterns(v *visit, all []checklists.Defect, plant procedures.Plant) error {
	signed, err := v.desk.InspectionsSince(v.ctx(), v.now.Add(-checklists.PatternWithin))
	if err != nil {
		return err
	}
	for _, pattern := range checklists.Patterns(all, signed, v.now) {
		list, err := v.desk.List(v.ctx(), pattern.List, 0)
		if err != nil {
			return err
		}
		item := string(pattern.Item)
		if i, known := list.Item(pattern.Item); known {
			item += " · " + i.Prompt
		}
		p.Patterns = append(p.Patterns, patternLine{Href: "/defects/" + string(pattern.Newest), Machine: nameIn(plant, pattern.Equipment), Item: item,
			Said: plain.Say("%[1]d times since %[2]s, the last %[3]s. Found wrong in %[4]d of the %[5]d checks that looked at it.", pattern.Times, p.Day(pattern.First), p.Day(pattern.Last), pattern.Found, pattern.Walked)})
	}
	return nil
}
