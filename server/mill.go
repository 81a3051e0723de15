package server

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) millRoutes() {
	s.get("/mill", supervisors, s.showMill)
	s.post("/mill", supervisors, s.changeMill)
}

// spareShifts is how many empty shifts, closures and changes of zone the form
// offers beside those there are.
const spareShifts = 1

// mostShifts bounds the shifts, closures and changes of zone a form is read for.
const mostShifts = 24

type millPage struct {
	*views.Frame
	Submission string
	Seen       string
	Fields     []views.Field
	Shifts     []shiftPart
	Closed     []millPart
	Zones      []millPart
	Kinds      []kindTick
	Sawn       string // the kinds that are ticked, "" for none
}

type shiftPart struct {
	Heading string
	Fields  []views.Field
	Days    []shiftDay
	Name    string // of the field with the days
	Wrong   string
	People  views.TickGroup // expected to do its checks
}

type shiftDay struct {
	Name, Text string
	Ticked     bool
}

// millForm is what was typed.
type millForm struct {
	Name, Zone, Units string
	SingleHanded      bool
	Shifts            []shiftForm
	Closed            []closedForm
	Zones             []zoneForm
	Kinds             []string // common names
}

type shiftForm struct {
	Name, Start, End string
	Days, People     []string
}

func (f shiftForm) empty() bool {
	return f.Name == "" && f.Start == "" && f.End == "" && len(f.Days) == 0 && len(f.People) == 0
}

func (s *Server) showMill(v *visit) error {
	form := millForm{Name: v.mill.Name, Zone: v.mill.Zone, Units: string(v.mill.Units), SingleHanded: v.mill.SingleHanded}
	for _, kind := range v.mill.SawnHere() {
		form.Kinds = append(form.Kinds, kind.Common)
	}
	for _, shift := range v.mill.Shifts {
		one := shiftForm{Name: shift.Name, Start: timeOfDay(shift.Start), End: timeOfDay(shift.End)}
		for _, day := range shift.Days {
			one.Days = append(one.Days, strconv.Itoa(int(day)))
		}
		for _, person := range shift.People {
			one.People = append(one.People, string(person))
		}
		form.Shifts = append(form.Shifts, one)
	}
	form.Closed, form.Zones = v.closedForms(), v.zoneForms()
	return v.millPage(form, store.NewID(), nil)
}

func timeOfDay(minutes int) string { return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60) }

func (v *visit) millPage(form millForm, submission string, problems plain.Problems) error {
	page := millPage{Frame: v.frame("The mill"), Submission: submission, Seen: v.opened(store.Mark(v.mill))}
	page.Problems = problems
	page.Title = plain.Say("%[1]s: %[2]d shifts, time zone %[3]s", v.mill.Name, len(v.mill.Shifts), strings.ReplaceAll(v.zone.String(), "_", " "))
	page.Fields = []views.Field{
		page.TextField("name", page.T("Name of the mill"), form.Name),
		page.TextField("zone", page.T("Time zone"), form.Zone).WithHint(page.T("Its IANA name, such as America/New_York, as it was when the mill was set up. What is on the record keeps the time it was entered with. If the mill moves, or its law changes, enter that as a change below.")),
		page.ChoiceField("units", page.T("Units on the screens"), form.Units, []views.Choice{{Value: string(checklists.InchPound), Text: page.T("Inches and pounds")}, {Value: string(checklists.Metric), Text: page.T("Millimetres and kilograms")}}),
		page.TickField("single_handed", page.T("One person works here alone"), form.SingleHanded).WithHint(page.T("The one who mended may then return it to service, after checking again with photos. The record marks it for good: no second person.")),
	}
	page.Kinds, page.Sawn = kindTicks(page.Frame, form.Kinds), strings.Join(woodsIn(page.Frame, form.Kinds), ", ")
	page.Note("kinds", page.T("Kinds of wood sawn here"), page.Sawn, page.Sawn)
	for len(form.Shifts) < len(v.mill.Shifts)+spareShifts {
		form.Shifts = append(form.Shifts, shiftForm{})
	}
	crew, err := v.desk.People(v.ctx())
	if err != nil {
		return err
	}
	for i, shift := range form.Shifts {
		page.Part = page.T("Shift %d", i+1)
		part := page.shift(i+1, shift)
		part.People = page.expectedOn(i+1, shift, crew)
		page.Shifts = append(page.Shifts, part)
	}
	page.Part = ""
	page.Closed, page.Zones = page.closures(form.Closed), page.zones(form.Zones)
	return v.show("mill", page, problems)
}

func (p *millPage) shift(n int, form shiftForm) shiftPart {
	name := fmt.Sprintf("shifts.%d.", n)
	part := shiftPart{Heading: p.T("Shift %d", n), Name: name + "days", Wrong: p.Problem(name + "days"), Fields: []views.Field{
		p.TextField(name+"name", p.T("What it is called"), form.Name),
		p.TextField(name+"start", p.T("Starts at"), form.Start).WithHint(p.T("Of 24 hours, such as 07:00")),
		p.TextField(name+"end", p.T("Ends at"), form.End).WithHint(p.T("An end before the start is on the next day: 22:00 to 06:00.")),
	}}
	if form.empty() {
		part.Heading = p.T("One more shift, if there is one")
	}
	var on []string
	for day := time.Sunday; day <= time.Saturday; day++ {
		value := strconv.Itoa(int(day))
		part.Days = append(part.Days, shiftDay{Name: name + "day" + value, Text: p.T(day.String()), Ticked: slices.Contains(form.Days, value)})
		if slices.Contains(form.Days, value) {
			on = append(on, p.T(day.String()))
		}
	}
	p.Note(part.Name, p.T("On these days"), strings.Join(on, ", "), strings.Join(on, ", "))
	return part
}

func (v *visit) typedMill() millForm {
	form := millForm{Name: v.typed("name"), Zone: v.typed("zone"), Units: v.typed("units"), SingleHanded: v.typed("single_handed") == "yes"}
	for n := 1; n <= mostShifts; n++ {
		name := fmt.Sprintf("shifts.%d.", n)
		if !v.Context().PostArgs().Has(name + "name") {
			break
		}
		shift := shiftForm{Name: v.typed(name + "name"), Start: v.typed(name + "start"), End: v.typed(name + "end")}
		for day := range 7 {
			if v.typed(name+"day"+strconv.Itoa(day)) == "yes" {
				shift.Days = append(shift.Days, strconv.Itoa(day))
			}
		}
		for _, person := range v.Context().PostArgs().PeekMulti(name + "people") {
			shift.People = append(shift.People, string(person))
		}
		form.Shifts = append(form.Shifts, shift)
	}
	form.Closed, form.Zones = v.typedClosures(), v.typedZones()
	for _, kind := range v.Context().PostArgs().PeekMulti("kind") {
		form.Kinds = append(form.Kinds, string(kind))
	}
	return form
}

// mill puts the form into what holds so far; a shift left empty is taken off.
// The problems go by the places of the form.
func (f millForm) mill(v *visit) (checklists.Mill, plain.Problems) {
	mill := v.mill
	mill.Name, mill.Zone, mill.Units, mill.SingleHanded, mill.Shifts = f.Name, f.Zone, checklists.Units(f.Units), f.SingleHanded, nil
	mill.Kinds = f.Kinds
	places := map[string]string{}
	for i, typed := range f.Shifts {
		if typed.empty() {
			continue
		}
		shift := checklists.Shift{Name: typed.Name, Start: minutes(typed.Start), End: minutes(typed.End)}
		for _, day := range typed.Days {
			shift.Days = append(shift.Days, time.Weekday(whole(day)))
		}
		for _, person := range typed.People {
			shift.People = append(shift.People, procedures.PersonID(person))
		}
		mill.Shifts = append(mill.Shifts, shift)
		for _, field := range []string{"name", "start", "end", "days"} {
			places[fmt.Sprintf("shifts.%d.%s", len(mill.Shifts), field)] = fmt.Sprintf("shifts.%d.%s", i+1, field)
		}
	}
	problems := f.closures(&mill, v, places)
	problems.Add("", mill.Validate())
	return mill, renamed(problems, places)
}

func (s *Server) changeMill(v *visit) error {
	form := v.typedMill()
	mill, problems := form.mill(v)
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, wrong...); len(problems) == 0 {
		err := v.desk.EditMill(v.ctx(), v.submission(), v.since(), mill, v.person, v.now)
		if err == nil {
			return v.moveOn("/mill", "mill")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.again(problems, stands{store.KindMill, string(v.mill.ID), store.Mark(v.mill), func() error { return s.showMill(v) }},
		func() error { return v.millPage(form, v.submission(), problems) })
}
