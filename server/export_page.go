package server

import (
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func (s *Server) exportRoutes() {
	s.get("/export", signedIn, s.showExport)
	s.get("/export.pdf", signedIn, s.sendPDF)
	s.get("/export.csv", signedIn, s.sendCSV)
	s.get("/export.json", signedIn, s.sendJSON)
	s.get("/export.zip", signedIn, s.sendZIP)
}

type exportPage struct {
	*views.Frame
	Asked   exportAsked
	What    plain.Sentence
	Count   int64
	People  []views.Choice
	Machine []views.Choice
	Most    int
}

// Fits tells whether it can be printed.
func (p exportPage) Fits() bool { return p.Count <= printedMost }

// Pick is a choice that may be left open.
func (p exportPage) Pick(name, label, value string, choices []views.Choice) views.Field {
	return p.ChoiceField(name, label, value, choices)
}

func (s *Server) showExport(v *visit) error {
	page, problems, err := v.exportPage()
	if err != nil {
		return err
	}
	return v.show("export", page, problems)
}

// exportPage is the page as asked, and what is wrong with that.
func (v *visit) exportPage() (page exportPage, problems plain.Problems, err error) {
	page = exportPage{Frame: v.frame("Export"), Asked: v.exportAsked(), Most: printedMost}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return page, nil, err
	}
	people, err := v.desk.People(v.ctx())
	if err != nil {
		return page, nil, err
	}
	names, err := v.names()
	if err != nil {
		return page, nil, err
	}
	for _, e := range plant {
		page.Machine = append(page.Machine, views.Choice{Value: string(e.ID), Text: e.Name})
	}
	for _, one := range people {
		page.People = append(page.People, views.Choice{Value: string(one.ID), Text: one.Name})
	}
	if problems = page.Asked.wrong(v.zone, page.Machine, page.People); len(problems) > 0 {
		page.Problems = problems
		return page, problems, nil
	}
	if page.Count, err = v.desk.ExportSize(v.ctx(), page.Asked.Selection); err != nil {
		return page, nil, err
	}
	if page.What, err = page.Asked.what(v, plant, unseen{Withhold: page.Asked.Withhold, word: page.T("withheld")}.names(names)); err != nil {
		return page, nil, err
	}
	page.Title = plain.Say("Export: %[1]s, %[2]d entries", page.What, page.Count)
	return page, nil, nil
}

// FromField asks for the first day.
func (p exportPage) FromField() views.Field { return p.day(askedFrom, p.T("From day"), p.Asked.From) }

// UntilField asks for the last day.
func (p exportPage) UntilField() views.Field {
	return p.day(askedUntil, p.T("To day"), p.Asked.Until)
}

func (p exportPage) day(name, label, value string) views.Field {
	field := p.TextField(name, label, value)
	field.Kind = "date"
	return field
}
