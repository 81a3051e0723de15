package server

import (
	"math"
	"strconv"
	"time"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// liftChart is a chart as page, file and paper show it, so that all three say
// the same.
type liftChart struct {
	*views.Frame
	RigID, RigName string
	Version        int
	Grips          bool
	Facts          []fact
	Faults         []findingLine // what makes every lift with this rig a NO-GO
	Notes          []string      // what it counts and what it doesn't know
	Corner         string
	Heads          []string // thicknesses
	Shortest       []string // a thickness each; none where it differs between the kinds
	Rows           []chartRow
	made, until    time.Time
}

// chartRow is one kind of wood: its longest piece by thickness, with the
// shortest where that differs between the kinds, and the same for the phone.
type chartRow struct {
	Name   string
	Limits []string
	Lines  []chartLine // thicknesses of which a piece may be lifted
}

type chartLine struct {
	Thick, Shortest, Longest plain.Metres
}

// noPiece stands where no piece of any length may be lifted.
const noPiece = "–"

// chartOf works the chart out and puts it in words.
func chartOf(f *views.Frame, of lift.ChartOf, rig string, version int) *liftChart {
	chart := of.Chart()
	c := &liftChart{Frame: f, RigID: rig, RigName: of.Rig.Name, Version: version, Grips: grips(&of.Rig), made: of.Now, until: firstDue(&of.Rig)}
	for _, fault := range chart.Faults {
		c.Faults = append(c.Faults, findingLine{Said: fault.Said, Source: fault.Source, Blocks: fault.Blocks})
	}
	c.Facts = c.facts(&of)
	c.Notes = c.notes(&of)
	c.Corner = f.T("Thickness, cm")
	if inches(f.Units) {
		c.Corner = f.T("Thickness, inches")
	}
	if shortest, alike := shortestOf(chart); alike {
		for _, least := range shortest {
			c.Shortest = append(c.Shortest, steps(least, of.Step))
		}
	} else { // both limits stand in each cell, which leaves room for half as many
		thin(&of, &chart)
	}
	for _, thick := range of.Diameters {
		c.Heads = append(c.Heads, steps(plain.Metres(thick), of.Step))
	}
	for k, kind := range of.Kinds {
		c.Rows = append(c.Rows, c.row(&of, woodIn(f, kind), chart.Cells[k]))
	}
	return c
}

func (c *liftChart) row(of *lift.ChartOf, kind string, cells []lift.Limits) chartRow {
	row := chartRow{Name: kind}
	for d, cell := range cells {
		text := steps(cell.Longest, of.Step)
		if cell != (lift.Limits{}) {
			row.Lines = append(row.Lines, chartLine{plain.Metres(of.Diameters[d]), cell.Shortest, cell.Longest})
			if c.Shortest == nil {
				text = c.T("%[1]s–%[2]s", steps(cell.Shortest, of.Step), text)
			}
		}
		row.Limits = append(row.Limits, text)
	}
	return row
}

// shortestOf is the shortest piece of each thickness, 0 where there is none, and
// whether all kinds agree on it.
func shortestOf(chart lift.Chart) (shortest []plain.Metres, alike bool) {
	for k := range chart.Cells {
		for d, cell := range chart.Cells[k] {
			switch {
			case k == 0:
				shortest = append(shortest, cell.Shortest)
			case shortest[d] == 0:
				shortest[d] = cell.Shortest
			case cell.Shortest != 0 && cell.Shortest != shortest[d]:
				return nil, false
			}
		}
	}
	return shortest, true
}

// thin leaves every second thickness out, none of the ends of an odd number.
func thin(of *lift.ChartOf, chart *lift.Chart) {
	of.Diameters = everySecond(of.Diameters)
	for k := range chart.Cells {
		chart.Cells[k] = everySecond(chart.Cells[k])
	}
}

func everySecond[T any](all []T) (some []T) {
	for i := 0; i < len(all); i += 2 {
		some = append(some, all[i])
	}
	return some
}

// steps is a whole number of steps of the ruler, or that there is none; what a
// chart prints is nothing else, so nothing is rounded.
func steps(x plain.Metres, step float64) string {
	if x == 0 {
		return noPiece
	}
	return strconv.Itoa(int(math.Round(float64(x) / step)))
}

// firstDue is when the first inspection of a part falls due, the zero time
// where that is not known of some part.
func firstDue(rig *lift.Rig) time.Time {
	var first time.Time
	for _, l := range rig.Links {
		if l.InspectionDue.IsZero() {
			return time.Time{}
		}
		if first.IsZero() || l.InspectionDue.Before(first) {
			first = l.InspectionDue
		}
	}
	return first
}

func (c *liftChart) zone() *time.Location {
	if c.Zone == nil {
		return time.UTC
	}
	return c.Zone
}

// title is the answer in a line.
func (c *liftChart) title() plain.Sentence {
	if len(c.Faults) > 0 {
		return plain.Say("Chart: no lift may be made with %s", c.RigName)
	}
	return plain.Say("Chart: shortest and longest piece for %s", c.RigName)
}

// day is a moment in full: a copy that is kept must not say "today".
func (c *liftChart) day(t time.Time) string {
	if t.IsZero() {
		return c.T("not known")
	}
	return c.T("%[1]s, %[2]s", c.Day(t), c.Clock(t))
}

func (c *liftChart) facts(of *lift.ChartOf) []fact {
	pieces := c.T("Squared, as wide as high")
	if of.Shape == lift.Round {
		pieces = c.T("Logs, bark on")
		if !of.Bark {
			pieces = c.T("Logs, all bark off")
		}
	}
	hooks := c.T("%s apart, as far on one side of the balance point as on the other", plain.Metres(of.Span))
	if c.Grips {
		hooks = c.T("in the ends, %s less apart than the piece is long", plain.Metres(of.Span))
	}
	return []fact{
		{c.T("Mill"), c.Mill},
		{c.T("Rig"), c.T("%[1]s, version %[2]d", c.RigName, c.Version)},
		{c.T("Pieces"), c.T("%[1]s, %[2]s", pieces, howWet(c.Frame, of.Condition))},
		{c.T("Hook points"), hooks},
		{c.T("As set"), asSet(c.Frame, &of.Rig)},
		{c.T("Made"), c.day(c.made)},
		{c.T("Void after"), c.day(c.until)},
	}
}

// notes is what a reader of a chart has to know, the gravest first.
func (c *liftChart) notes(of *lift.ChartOf) []string {
	margin := plain.Fraction(lift.DefaultMargin)
	if of.Rig.HouseMargin > 0 {
		margin = plain.Fraction(of.Rig.HouseMargin)
	}
	signs := c.T("Above %s of what a part may bear a supervisor signs, also for lengths printed here.", margin)
	if of.Unsigned {
		signs = c.T("Lengths stop at %s of what a part may bear. Above that a supervisor signs.", margin)
	}
	notes := []string{
		c.T("These lengths hold for the rig as it is set here and for no other setting: %s. Set otherwise, ask for the chart anew.", asSet(c.Frame, &of.Rig)),
		c.T("A change of the gear or a shock load voids this chart at once. So do a month in which the gear hangs idle, and the first inspection of a part that falls due: %s.", c.day(c.until)),
		c.T("It takes the place of no check. It doesn't know the questions at the hook, what holds the hoist or the place of landing, nor whether the check before the shift was done. Any of these forbids the lift."),
		signs,
		c.T("Worked out for pieces as thick at one end as at the other. Measure the thicker end; between two thicknesses take the larger. A piece with taper hangs out of level: check that lift itself."),
		c.T("Snow, ice, water and mud are not counted."),
	}
	if len(of.Learned) > 0 {
		return append(notes, c.T("What this mill's own scale has shown is counted for %d of the kinds.", len(of.Learned)))
	}
	return append(notes, c.T("No reading of a scale is counted; weights are reckoned from the published ones; about one piece in twenty is denser."))
}

// How is how to read the table.
func (c *liftChart) How() string {
	unit := c.T("centimetres")
	if inches(c.Units) {
		unit = c.T("inches")
	}
	if c.Shortest == nil {
		return c.T("Shortest and longest piece, in whole %s. A dash alone: no piece of that thickness.", unit)
	}
	return c.T("Longest piece in whole %s, and above it the shortest of each thickness. A dash: no piece of that thickness.", unit)
}

// Blocks are the rows as they stand side by side on paper.
func (c *liftChart) Blocks() [][]chartRow {
	if len(c.Rows) <= fewKinds {
		return [][]chartRow{c.Rows}
	}
	half := (len(c.Rows) + 1) / 2
	return [][]chartRow{c.Rows[:half], c.Rows[half:]}
}

// Dense tells whether the rows stand side by side, in small letters.
func (c *liftChart) Dense() bool { return len(c.Blocks()) > 1 }

// Dangers are the cautions that stand on every copy.
func (c *liftChart) Dangers() []views.Caution {
	all := []views.Caution{c.Danger(c.T("A falling or swinging load kills. Nobody under it or beside it, nor between it and anything it could swing against. Lift a few inches, stop, look at hooks and level, try the brake; then go on."))}
	if c.Grips {
		all = append(all, c.Warning(c.T("End hooks hold only by being driven into the wood, and no published rating covers that. Frost, bark, rot, checks or a shallow bite let go without a sign. In doubt use a sling.")))
	}
	return append(all, c.Notice(c.T("Stillsaw compares the numbers people entered. It does not certify rigging and has seen neither the wood nor the steel: the tag, the maker's instructions, the local code and a qualified person come first.")))
}
