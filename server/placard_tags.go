package server

import (
	"strconv"

	"stillsaw/views/sheet"
)

// tagsFile is a tag for each isolator, to print on stout paper and cut out. The
// name is left to be written by hand unless the address asks for that of who is
// signed in. 29 CFR 1910.147(c)(5)(ii)(D), (c)(5)(iii).
func (s *Server) tagsFile(v *visit) error {
	c, err := v.placard()
	if err != nil {
		return err
	}
	const blank = "______________________"
	name, date := blank, blank
	if v.Query("name") == "mine" && v.person.Works() {
		name = v.person.Name
	}
	var tags []sheet.Tag
	for _, point := range c.Card.Points {
		where := point.Device.Label
		if point.Device.Place != "" {
			where = c.T("%[1]s, %[2]s", point.Device.Label, point.Device.Place)
		}
		tags = append(tags, sheet.Tag{Signal: sheet.Danger, Word: c.T("DANGER"), Legend: c.Say(point.Legend.Words()), Number: strconv.Itoa(point.Device.Number),
			Text:  point.Hazard,
			Lines: []string{where, c.T("Put on by: %s", name), c.T("Day and time: %s", date), c.T("Lock no. ________")},
			Small: c.T("Only the one whose name is on it takes it off. A tag holds nothing: where a lock fits, the lock is on as well.")})
	}
	about := sheet.About{Title: c.T("%[1]s: tags, version %[2]d", c.Card.Title, c.Card.Version), Mill: v.mill.Name, Lang: c.Lang(), Made: c.At,
		Foot: []string{c.Say(c.Cautions()[0]), c.T("Cut along the broken lines. Tie with a tie for one use that locks itself and holds 50 lb (222 N), 29 CFR 1910.147(c)(5)(ii)(C)(2).")}}
	return v.sendSheet(sheet.Tags(paper(v.mill.Units), about, tags), "tags-"+c.ID+".pdf")
}
