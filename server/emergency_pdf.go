package server

import (
	"strings"

	"stillsaw/views/sheet"
)

// bigNumbers is how many numbers stand in the largest letters.
const bigNumbers = 3

// emergencyPDF is the card on one sheet to hang up, the numbers largest.
func (s *Server) emergencyPDF(v *visit) error {
	page, err := v.emergencyCard()
	if err != nil {
		return err
	}
	return v.sendSheet(page.sheet(paper(v.mill.Units)), "emergency.pdf")
}

func (p *emergencyPage) sheet(on sheet.Paper) *sheet.Sheet {
	foot := p.T("No card of this mill is signed yet: what stands here is general.")
	if p.Card.Made() {
		foot = p.Signed()
	}
	s := sheet.New(on, sheet.About{Title: p.T("Emergency"), Mill: p.Mill, Lang: p.Lang(), Made: p.Now, Foot: []string{foot, p.T("Printed %s. Take it down when a newer one is signed.", p.Day(p.Now))}})
	first := p.First()
	s.Hazard(sheet.Danger, first.Word(), first.Text)
	numbers := p.Card.Numbers
	for _, one := range numbers[:min(bigNumbers, len(numbers))] {
		s.Big(one.Who + ": " + one.Number)
	}
	if len(numbers) > 0 {
		s.Space(6)
	}
	var items []sheet.Item
	add := func(name, text string) {
		items = append(items, sheet.Item{Text: name}, sheet.Item{Lead: "•", Text: text})
	}
	for _, one := range p.Facts {
		add(one.Name, one.Value)
	}
	if len(numbers) > bigNumbers {
		add(p.T("More numbers"), callsIn(callLines(numbers[bigNumbers:])))
	}
	if len(p.Card.Contacts) > 0 {
		add(p.T("Whom of the mill to tell"), callsIn(callLines(p.Card.Contacts)))
	}
	if len(p.Lacks) > 0 {
		add(p.T("This card does not say"), strings.Join(p.Lacks, "; "))
	}
	for _, act := range p.Acts() {
		items = append(items, sheet.Item{Text: act.Name})
		for _, step := range act.Steps {
			items = append(items, sheet.Item{Lead: "•", Text: step})
		}
	}
	s.Large(items)
	return s
}

// callsIn puts lines into one paragraph.
func callsIn(lines string) string { return strings.ReplaceAll(lines, "\n", "; ") }
