package server

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

func (s *Server) trendRoutes() {
	s.get("/trends", signedIn, s.showTrends)
}

// trendsBack is how far back the page of trends looks, in whole months.
const trendsBack = 12

type trendsPage struct {
	*views.Frame
	Series []trendCard
	Months monthPlot
	Mends  []mendRow
	Since  time.Time
	None   views.Empty
}

// trendCard is one measured item with its plot and its table.
type trendCard struct {
	Name, Machine string
	Limits        plain.Sentence
	Said          plain.Sentence
	Bad           bool
	Plot          trendPlot
	Newest, Older []trendRow
	Earlier       int // readings of runs before the last return to service or change of saw

	outlook checklists.Outlook
	at      time.Time
}

type trendRow struct {
	At        time.Time
	Value, By string
	Href      string
	Out       bool
	Before    bool // before the last return to service or change of saw
}

// trendRows are readings as a table shows them.
type trendRows struct {
	*views.Frame
	Rows []trendRow
}

// Rows is a table of these readings.
func (p trendsPage) Rows(rows []trendRow) trendRows { return trendRows{p.Frame, rows} }

// mendRow is how long the defects of a machine took.
type mendRow struct {
	Name         string
	Defects      int
	Open         int
	Mended, Back string
}

func (s *Server) showTrends(v *visit) error {
	local := v.now.In(v.zone)
	since := time.Date(local.Year(), local.Month()-trendsBack+1, 1, 0, 0, 0, 0, v.zone)
	defects, err := v.desk.DefectsSince(v.ctx(), since)
	if err != nil {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := trendsPage{Frame: v.frame("Trends: nothing measured reaches its limit soon"), Since: since}
	if err := page.measured(v, since, defects, plant); err != nil {
		return err
	}
	starts, rows := checklists.ByMonth(defects, plant, trendsBack, v.zone, v.now)
	page.Months = plotMonths(page.Frame, starts, rows, plant)
	for _, t := range checklists.MendTimes(defects, plant, since, v.now) {
		page.Mends = append(page.Mends, page.mendRow(t, plant))
	}
	page.None = page.EmptyList(page.T("Nothing with a limit was measured in a signed check yet."), "/lists", page.T("All lists"))
	return v.show("trends", page, nil)
}

// measured makes a card of each series, what is out or will be first.
func (p *trendsPage) measured(v *visit, since time.Time, defects []checklists.Defect, plant procedures.Plant) error {
	inspections, err := v.desk.InspectionsSince(v.ctx(), since)
	if err != nil {
		return err
	}
	amendments, err := v.desk.AmendmentsSince(v.ctx(), since)
	if err != nil {
		return err
	}
	lists, err := v.desk.ListVersions(v.ctx())
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	blades, err := v.desk.Blades(v.ctx())
	if err != nil {
		return err
	}
	reaching, out := 0, 0
	for _, series := range checklists.Measured(lists, inspections, amendments, checklists.Renewed(plant, defects, blades), v.now) {
		card := p.card(series, plant, names)
		switch card.outlook {
		case checklists.Reaching:
			reaching++
		case checklists.IsOut:
			out++
		}
		p.Series = append(p.Series, card)
	}
	slices.SortStableFunc(p.Series, func(a, b trendCard) int {
		if a.outlook != b.outlook {
			return cmp.Compare(b.outlook, a.outlook)
		}
		return a.at.Compare(b.at)
	})
	switch {
	case out > 0:
		p.Title = plain.Say("Trends: %d outside their limit, %d moving toward it", out, reaching)
	case reaching > 0:
		p.Title = plain.Say("Trends: %d moving toward their limit", reaching)
	}
	return nil
}

// newestReadings is how many readings a card shows unfolded.
const newestReadings = 3

func (p *trendsPage) card(s checklists.Series, plant procedures.Plant, names map[procedures.PersonID]string) trendCard {
	forecast := s.Foresee()
	card := trendCard{Name: string(s.Item.ID) + " · " + s.Item.Prompt, Machine: nameIn(plant, s.Equipment), Limits: s.Item.Limits.Said(),
		Bad: forecast.Outlook == checklists.IsOut, Plot: plotTrend(p.Frame, s, forecast), outlook: forecast.Outlook, at: forecast.At}
	card.Said = p.foretold(s, forecast)
	row := func(m checklists.Measurement, before bool) trendRow {
		return trendRow{At: m.At, Value: amount(p.Frame, m.Value, s.Item.Limits.Unit), By: names[m.By], Href: "/inspections/" + string(m.Inspection), Out: m.Out, Before: before}
	}
	var rows []trendRow
	for _, m := range slices.Backward(s.Run) {
		rows = append(rows, row(m, false))
	}
	for _, run := range slices.Backward(s.Earlier) {
		card.Earlier += len(run)
		for _, m := range slices.Backward(run) {
			rows = append(rows, row(m, true))
		}
	}
	shown := min(newestReadings, len(rows))
	card.Newest, card.Older = rows[:shown], rows[shown:]
	return card
}

// amount is a measurement with its unit, to four figures.
func amount(f *views.Frame, x float64, unit string) string {
	if said, ok := checklists.InchFraction(x, unit); ok {
		return said + " " + unit
	}
	if short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 4, 64), 64); err == nil {
		x = short
	}
	return f.Number(x) + " " + unit
}

// foretold says what a series says of the days to come.
func (p *trendsPage) foretold(s checklists.Series, f checklists.Forecast) plain.Sentence {
	switch f.Outlook {
	case checklists.IsOut:
		return plain.Say("The last reading is outside its limit.")
	case checklists.Reaching:
		limit := amount(p.Frame, f.Limit, s.Item.Limits.Unit)
		if f.Latest.IsZero() {
			return plain.Say("If it goes on as it did it reaches %[1]s about %[2]s, perhaps as soon as %[3]s, perhaps much later. Check it all the same.", limit, p.Day(f.At), p.Day(f.Soonest))
		}
		return plain.Say("If it goes on as it did it reaches %[1]s about %[2]s, most likely between %[3]s and %[4]s. Check it all the same.", limit, p.Day(f.At), p.Day(f.Soonest), p.Day(f.Latest))
	case checklists.TooFar:
		return plain.Say("It moves toward its limit so slowly that no date can be told.")
	case checklists.Away:
		return plain.Say("It moves away from its limit.")
	case checklists.Unsteady:
		return plain.Say("The readings show no steady movement: no date can be told from them.")
	}
	return plain.Say("Not enough readings: a line needs three or more, on different days, since the last return to service or change of saw.")
}

func (p *trendsPage) mendRow(t checklists.MendTime, plant procedures.Plant) mendRow {
	row := mendRow{Name: p.T("All machines"), Defects: t.Defects, Open: t.Open, Mended: p.T("not yet half"), Back: p.T("not yet half")}
	if t.Equipment != "" {
		row.Name = nameIn(plant, t.Equipment)
	}
	if t.MendedOK {
		row.Mended = p.Span(t.Mended)
	}
	if t.BackOK {
		row.Back = p.Span(t.Back)
	}
	return row
}
