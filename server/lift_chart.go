package server

import (
	"bytes"
	"fmt"
	"net/url"
	"slices"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) chartRoutes() {
	s.get("/lifts/chart", signedIn, s.showChart)
	s.get("/lifts/chart/file", signedIn, s.chartFile)
	s.get("/lifts/chart/pdf", signedIn, s.chartPDF)
}

type chartPage struct {
	*views.Frame
	Form       chartForm
	Chart      *liftChart // nil: no rig is in force, or the form has problems
	Rigs       []views.Choice
	Shapes     []views.Choice
	Conditions []views.Choice
	Kinds      []kindTick
	Lately     string // address of the chart of the kinds lifted lately, "" for none
	Sawn       string // address of that of the mill's own list, "" for none
	Every      string // address of that of all kinds, "" where it is that
	Grips      bool
	Length     string // unit of a bare number
	InForce    bool   // there is a rig
}

// chart works out what the address asks for. Without a rig in force it holds
// none.
func (v *visit) chart() (chartPage, plain.Problems, error) {
	query, err := url.ParseQuery(string(v.Request().URI().QueryString()))
	if err != nil {
		return chartPage{}, nil, fiber.ErrBadRequest
	}
	form := typedChart(query)
	r, err := v.rigOf(form.Rig)
	if err != nil {
		return chartPage{}, nil, err
	}
	form.Rig = r.id
	page := chartPage{Frame: v.frame("Chart: no rig is in force"), Form: form, InForce: r.version > 0,
		Grips: grips(&r.rig), Length: newReader(v.typedIn).length.String()}
	if r.version == 0 {
		return page, nil, nil
	}
	kinds := form.ofSawn(v.mill.SawnHere())
	page.Form = form
	of, problems := form.of(&r.rig, v.typedIn)
	page.choices(r)
	if len(problems) > 0 {
		page.Title = plain.Say("Chart of %s", r.rig.Name)
		return page, problems, nil
	}
	facts, err := v.desk.LiftFacts(v.ctx(), r.id, v.now)
	if err != nil {
		return page, nil, err
	}
	of.Now = v.now
	if of, err = asItStands(of, r.rig, facts); err != nil {
		return page, nil, err
	}
	page.Chart = chartOf(page.Frame, of, r.id, r.version)
	page.Chart.Facts = append(page.Chart.Facts, fact{page.T("Kinds of wood"), page.Say(kinds)})
	page.Title = page.Chart.title()
	page.Chart.Frame = page.Frame
	return page, nil, nil
}

// At is the address of the same chart as another kind of file.
func (p chartPage) At(kind string) string { return "/lifts/chart/" + kind + "?" + p.Form.query() }

// asItStands puts in the rig with what is registered of its parts, what the scale
// has shown, both as judge does for a lift, and shock loads not yet dealt with.
func asItStands(of lift.ChartOf, rig lift.Rig, facts store.LiftFacts) (lift.ChartOf, error) {
	of.Rig = registered(rig, facts.Gear, of.Now)
	of.Holds = checklists.ShocksStanding(facts.Facts)
	weighings, err := weighingsOf(facts.Weighed)
	if err != nil {
		return of, err
	}
	for _, kind := range of.Kinds {
		if learned := learnedOf(weighings, facts, kind, of.Condition); learned.N > 0 {
			of.Learned = append(of.Learned, learned.SignedFor(lighterAllowed(facts.Lighter, kind.Scientific, of.Condition)))
		}
	}
	return of, nil
}

func (p *chartPage) choices(r rigInForce) {
	p.Rigs = []views.Choice{{Value: r.id, Text: r.rig.Name}}
	for _, other := range r.others {
		p.Rigs = append(p.Rigs, views.Choice{Value: other.ID, Text: other.Title})
	}
	p.Shapes = []views.Choice{{Value: lift.Round.String(), Text: p.T("Logs")}, {Value: lift.Squared.String(), Text: p.T("Squared, as wide as high")}}
	for _, c := range chartConditions() {
		p.Conditions = append(p.Conditions, views.Choice{Value: c.String(), Text: wetness(p.Frame, c)})
	}
	p.Kinds = kindTicks(p.Frame, p.Form.Kinds)
}

func wetness(f *views.Frame, c lift.Condition) string {
	switch c {
	case lift.PartDry:
		return f.T("Part dry")
	case lift.AirDry:
		return f.T("Air-dry")
	case lift.Soaked:
		return f.T("Soaked, as out of a pond")
	}
	return f.T("Green")
}

// howWet is the condition within a line.
func howWet(f *views.Frame, c lift.Condition) string {
	if c == lift.Soaked {
		return f.T("soaked")
	}
	return conditionText(f, c)
}

func (s *Server) showChart(v *visit) error {
	page, problems, err := v.chart()
	if err != nil {
		return err
	}
	page.Problems = problems
	if page.Lately, err = v.chartOfLately(page.Form); err != nil {
		return err
	}
	page.Sawn = chartOfSawn(page.Form, v.mill.SawnHere())
	if len(page.Form.Kinds) > 0 {
		all := page.Form
		all.Kinds, all.All = nil, true
		page.Every = "/lifts/chart?" + all.query()
	}
	return v.show("chart", page, problems)
}

// chartOfLately is the address of the same chart for the kinds of wood that
// were lifted lately, "" where nobody knew any, or where it is that chart.
func (v *visit) chartOfLately(form chartForm) (string, error) {
	kept, err := v.desk.Lifts(v.ctx(), liftsShown)
	if err != nil {
		return "", err
	}
	var kinds []string
	for _, l := range kept {
		j, err := readLift(l)
		if err != nil {
			return "", err
		}
		name := j.Lift.Piece.Species.Common
		if _, known := lift.FindSpecies(name); known && name != "" && !slices.Contains(kinds, name) {
			kinds = append(kinds, name)
		}
	}
	slices.Sort(kinds)
	if len(kinds) == 0 || slices.Equal(kinds, form.Kinds) {
		return "", nil
	}
	form.Kinds, form.All = kinds, false
	return "/lifts/chart?" + form.query(), nil
}

// wholeChart is the chart for a file, which has no place for a form to be put
// right: what is wrong with the address is an error.
func (v *visit) wholeChart() (chartPage, error) {
	page, problems, err := v.chart()
	switch {
	case err != nil:
		return page, err
	case len(problems) > 0:
		return page, fiber.NewError(fiber.StatusUnprocessableEntity, page.T("This address asks for a chart that can't be made. Choose again on the page of the chart."))
	case page.Chart == nil:
		return page, store.ErrNotFound
	}
	return page, nil
}

// chartFile is the chart as one file that asks nothing of any server.
func (s *Server) chartFile(v *visit) error {
	page, err := v.wholeChart()
	if err != nil {
		return err
	}
	page.Alone, page.Person, page.Places, page.StopIt = true, procedures.Person{}, nil, ""
	v.Attachment(page.Chart.fileName("html"))
	return v.show("chart-file", page, nil)
}

// chartPDF is the chart on one sheet, Letter where the mill counts in inches.
func (s *Server) chartPDF(v *visit) error {
	page, err := v.wholeChart()
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := page.Chart.sheet(v.mill).Write(&out); err != nil {
		return err
	}
	v.Attachment(page.Chart.fileName("pdf"))
	v.Set(fiber.HeaderContentType, "application/pdf")
	return v.Send(out.Bytes())
}

// fileName tells rig, version and day: kept copies are told apart by it.
func (c *liftChart) fileName(kind string) string {
	return fmt.Sprintf("chart-%s-v%d-%s.%s", c.RigID, c.Version, c.made.In(c.zone()).Format("2006-01-02"), kind)
}

// inches tells whether the mill's tapes and paper are in inches.
func inches(units checklists.Units) bool { return units == checklists.InchPound }
