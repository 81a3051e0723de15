package server

import (
	"stillsaw/checklists"
	"stillsaw/views/sheet"
)

// sheet is the chart on one sheet of paper.
func (c *liftChart) sheet(mill checklists.Mill) *sheet.Sheet {
	paper := sheet.A4
	if inches(mill.Units) {
		paper = sheet.Letter
	}
	foot := c.T("%[1]s, version %[2]d. Made %[3]s, void after %[4]s.", c.RigName, c.Version, c.day(c.made), c.day(c.until))
	s := sheet.New(paper, sheet.About{Title: c.Say(c.title()), Mill: mill.Name, Lang: c.Lang(), Made: c.made, Foot: []string{foot}})
	s.Facts(c.paired())
	s.Space(3)
	c.faultsOn(s)
	signals := map[string]sheet.Signal{"danger": sheet.Danger, "warning": sheet.Warning, "caution": sheet.Caution, "notice": sheet.Notice}
	for _, one := range c.Dangers() {
		s.Hazard(signals[one.Class()], one.Word(), one.Text)
	}
	s.List(c.Notes)
	s.Space(3)
	s.Strong(c.How())
	s.Space(2)
	table := sheet.Table{Corner: c.Corner, Heads: c.Heads}
	if c.Shortest != nil {
		table.Lead = []sheet.Row{{Name: c.T("Shortest"), Cells: c.Shortest}}
	}
	for _, row := range c.Rows {
		table.Rows = append(table.Rows, sheet.Row{Name: row.Name, Cells: row.Limits})
	}
	s.Fill(table)
	return s
}

// paired are the facts as the sheet takes them.
func (c *liftChart) paired() [][2]string {
	var all [][2]string
	for _, one := range c.Facts {
		all = append(all, [2]string{one.Name, one.Value})
	}
	return all
}

// faultsPrinted is how many faults of a rig have room on the sheet; one alone
// forbids every lift.
const faultsPrinted = 8

func (c *liftChart) faultsOn(s *sheet.Sheet) {
	if len(c.Faults) == 0 {
		return
	}
	s.Strong(c.T("As this rig stands, every lift with it is a NO-GO:"))
	var said []string
	for _, fault := range c.Faults[:min(len(c.Faults), faultsPrinted)] {
		said = append(said, c.Say(fault.Said))
	}
	if more := len(c.Faults) - len(said); more > 0 {
		said = append(said, c.T("and %d more, on the page of the rig", more))
	}
	s.List(said)
	s.Space(3)
}
