package server

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// closedForm and zoneForm are what was typed of one closure and one change of zone.
type (
	closedForm struct{ From, Until, Reason string }
	zoneForm   struct{ Zone, From string }
)

// millPart is one closure or change of zone of the form.
type millPart struct {
	Heading string
	Fields  []views.Field
}

// closedShown is how long after its end a closure still stands on the form.
const closedShown = 31 * 24 * time.Hour

// over tells whether a closure is kept without being shown.
func (v *visit) over(c checklists.Closure) bool { return v.now.Sub(c.Until) > closedShown }

func (v *visit) closedForms() (forms []closedForm) {
	for _, c := range v.mill.Closed {
		if !v.over(c) {
			forms = append(forms, closedForm{v.asTyped(c.From), v.asTyped(c.Until), c.Reason})
		}
	}
	return forms
}

func (v *visit) zoneForms() (forms []zoneForm) {
	for _, z := range v.mill.Zones {
		forms = append(forms, zoneForm{z.Zone, v.asTyped(z.From)})
	}
	return forms
}

// asTyped is a moment as its input shows it, by the zone in use now.
func (v *visit) asTyped(t time.Time) string { return t.In(v.zone).Format(momentLayout) }

func (v *visit) typedClosures() (forms []closedForm) {
	for n := 1; n <= mostShifts && v.Context().PostArgs().Has(fmt.Sprintf("closed.%d.from", n)); n++ {
		name := fmt.Sprintf("closed.%d.", n)
		if form := (closedForm{v.typed(name + "from"), v.typed(name + "until"), v.typed(name + "reason")}); form != (closedForm{}) {
			forms = append(forms, form)
		}
	}
	return forms
}

func (v *visit) typedZones() (forms []zoneForm) {
	for n := 1; n <= mostShifts && v.Context().PostArgs().Has(fmt.Sprintf("zones.%d.from", n)); n++ {
		name := fmt.Sprintf("zones.%d.", n)
		if form := (zoneForm{v.typed(name + "zone"), v.typed(name + "from")}); form != (zoneForm{}) {
			forms = append(forms, form)
		}
	}
	return forms
}

// closures puts the closures and changes of zone of the form into the mill; those
// long over stay as they are. places tells which input a problem goes to.
func (f millForm) closures(mill *checklists.Mill, v *visit, places map[string]string) plain.Problems {
	var problems plain.Problems
	at := func(typed, field string) time.Time {
		t, err := v.moment(typed)
		problems.Unless(err == nil, field, "a day and time, as 2026-12-24T00:00")
		return t
	}
	before := mill.Closed
	mill.Closed, mill.Zones = nil, nil
	for _, c := range before {
		if v.over(c) {
			mill.Closed = append(mill.Closed, c)
		}
	}
	for i, typed := range f.Closed {
		name := fmt.Sprintf("closed.%d.", i+1)
		c := checklists.Closure{From: at(typed.From, name+"from"), Until: at(typed.Until, name+"until"), Reason: typed.Reason}
		problems.Unless(typed.Reason != "" || withheld(c, before), name+"reason", "why the mill is closed")
		mill.Closed = append(mill.Closed, c)
		places[fmt.Sprintf("closed.%d.until", len(mill.Closed))] = name + "until"
		places[fmt.Sprintf("closed.%d.reason", len(mill.Closed))] = name + "reason"
	}
	for i, typed := range f.Zones {
		name := fmt.Sprintf("zones.%d.", i+1)
		mill.Zones = append(mill.Zones, checklists.ZoneFrom{Zone: typed.Zone, From: at(typed.From, name+"from")})
		for _, field := range []string{"zone", "from"} {
			places[fmt.Sprintf("zones.%d.%s", len(mill.Zones), field)] = name + field
		}
	}
	return problems
}

// withheld tells whether c is one of those before whose words were withheld: it
// keeps none, while a new one says why.
func withheld(c checklists.Closure, before []checklists.Closure) bool {
	return slices.ContainsFunc(before, func(b checklists.Closure) bool {
		return b.From.Equal(c.From) && b.Until.Equal(c.Until) && b.Reason == ""
	})
}

func (p *millPage) closures(forms []closedForm) []millPart {
	var parts []millPart
	for i, form := range append(slices.Clip(forms), make([]closedForm, spareShifts)...) {
		name := fmt.Sprintf("closed.%d.", i+1)
		heading := form.Reason
		if form == (closedForm{}) {
			heading = p.T("One more closure, if there is one")
		}
		parts = append(parts, millPart{heading, []views.Field{
			p.MomentField(name+"from", p.T("Closed from"), form.From),
			p.MomentField(name+"until", p.T("Open again from"), form.Until),
			p.TextField(name+"reason", p.T("Why"), form.Reason),
		}})
	}
	return parts
}

func (p *millPage) zones(forms []zoneForm) []millPart {
	var parts []millPart
	for i, form := range append(slices.Clip(forms), make([]zoneForm, spareShifts)...) {
		name := fmt.Sprintf("zones.%d.", i+1)
		heading := strings.ReplaceAll(form.Zone, "_", " ")
		if form == (zoneForm{}) {
			heading = p.T("A change of zone, if there is one")
		}
		parts = append(parts, millPart{heading, []views.Field{
			p.TextField(name+"zone", p.T("New time zone"), form.Zone),
			p.MomentField(name+"from", p.T("From this day and time on, on the clock in use now"), form.From),
		}})
	}
	return parts
}

// expectedOn are the ticks of who is to do the checks of a shift.
func (p *millPage) expectedOn(n int, form shiftForm, crew []procedures.Person) views.TickGroup {
	var ticks []views.Tick
	for _, one := range crew {
		if one.Works() {
			ticks = append(ticks, views.Tick{Value: string(one.ID), Text: one.Name, Ticked: slices.Contains(form.People, string(one.ID))})
		}
	}
	return p.TicksField(fmt.Sprintf("shifts.%d.people", n), p.T("Expected to do its checks; none: anyone of the crew"), ticks)
}
