package server

import (
	"math"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// coastPage is the coast times measured at one piece, and the form for one more.
type coastPage struct {
	*views.Frame
	Back       string
	Turning    []turningLine
	Written    []writtenLine // whose waits are too short now
	Enter      bool
	Fields     []views.Field
	Submission string
	Cautions   []plain.Sentence
}

// turningLine is one thing that turns, with its measurements, the newest first.
type turningLine struct {
	Source  string
	Coast   time.Duration // that counts; 0: not yet measured
	Wait    time.Duration // what follows from it
	History []coastLine
}

type coastLine struct {
	At      time.Time
	Seconds float64
	By      string
	How     string
	Count   bool // among those that count
}

func (s *Server) showCoast(v *visit) error {
	form := map[string]string{"by": string(v.person.ID), "at": v.now.In(v.zone).Format(momentLayout), "energy": v.Query("energy")}
	return v.coastPage(func(field string) string { return form[field] }, store.NewID(), nil)
}

func (v *visit) coastPage(typed func(string) string, submission string, problems plain.Problems) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	history, err := v.desk.Coasts(v.ctx())
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := coastPage{Frame: v.frame("%s: nothing of it is registered to turn", e.Name), Back: machinePath(e.ID), Enter: v.person.Supervises() || v.person.Works() && v.person.Authorized, Submission: submission, Cautions: procedures.Cautions()}
	page.Problems = problems
	var turning []views.Choice
	for _, energy := range e.Energies {
		if energy.Kind != procedures.Rotation {
			continue
		}
		turning = append(turning, views.Choice{Value: string(energy.ID), Text: energy.Source})
		page.Turning = append(page.Turning, turningOf(energy, history, names))
	}
	if page.Enter = page.Enter && len(turning) > 0; page.Enter {
		if page.Fields, err = v.coastFields(page.Frame, turning, typed); err != nil {
			return err
		}
	}
	if len(turning) > 0 {
		page.Title = plain.Say("%[1]s: %[2]s", e.Name, coastsMeasured(page.Turning))
	}
	written, err := v.registerProcedures()
	if err != nil {
		return err
	}
	for _, p := range written {
		if short := shortWaits(plant, p); len(short) > 0 {
			line := v.writtenLine(page.Frame, p)
			line.Wrong = short
			page.Written = append(page.Written, line)
		}
	}
	return v.show("coast", page, problems)
}

// coastsMeasured says how much is still to be measured.
func coastsMeasured(turning []turningLine) plain.Sentence {
	missing := 0
	for _, one := range turning {
		if one.Coast == 0 {
			missing++
		}
	}
	if missing == 0 {
		return plain.Say("how long it coasts is measured")
	}
	return plain.Say("how long it coasts is not yet measured")
}

func (v *visit) coastFields(f *views.Frame, turning []views.Choice, typed func(string) string) ([]views.Field, error) {
	crew, err := v.desk.People(v.ctx())
	if err != nil {
		return nil, err
	}
	var people []views.Choice
	for _, p := range crew {
		if p.Works() {
			people = append(people, views.Choice{Value: string(p.ID), Text: p.Name})
		}
	}
	which := typed("energy")
	if which == "" && len(turning) == 1 {
		which = turning[0].Value
	}
	return []views.Field{
		f.ChoiceField("energy", f.T("What turns"), which, turning),
		f.NumberField("seconds", f.T("From the stop to the mark seen still"), typed("seconds")).WithUnit(f.T("seconds")),
		f.ChoiceField("by", f.T("Who measured it"), typed("by"), people),
		f.MomentField("at", f.T("When"), typed("at")),
		f.TextField("how", f.T("How"), typed("how")).WithHint(f.T("As: stopwatch from the stand, blade on, no cant.")),
	}, nil
}

// turningOf is one thing that turns with its history, newest first.
func turningOf(e procedures.Energy, history []store.Coast, names map[procedures.PersonID]string) turningLine {
	line := turningLine{Source: e.Source, Coast: e.Coast, Wait: procedures.CoastWait(e.Coast, 0)}
	var own []store.Coast
	for _, m := range history {
		if m.Energy == e.ID {
			own = append(own, m)
		}
	}
	for i := len(own) - 1; i >= 0; i-- {
		m := own[i]
		line.History = append(line.History, coastLine{At: m.At, Seconds: m.Seconds, By: names[m.By], How: m.How, Count: i >= len(own)-procedures.MeasurementsCounted})
	}
	return line
}

func (s *Server) keepCoast(v *visit) error {
	_, e, err := v.piece()
	if err != nil {
		return err
	}
	m := procedures.CoastMeasured{Energy: procedures.EnergyID(v.typed("energy")), By: procedures.PersonID(v.typed("by")), How: v.typed("how")}
	var unread plain.Problems
	seconds, err := checklists.ParseNumber(v.typedIn.pointed("seconds", v.typed("seconds"), &unread))
	if err != nil || math.IsNaN(seconds) {
		seconds = 0 // the rule says what is wanted
	}
	m.Seconds = seconds
	if m.At, err = v.moment(v.typed("at")); err != nil {
		m.At = time.Time{}
	}
	problems, err := v.checkCoast(e.ID, m)
	if err != nil {
		return err
	}
	unsigned, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(append(unread, problems...), unsigned...); len(problems) == 0 {
		err := v.desk.KeepCoast(v.ctx(), v.submission(), e.ID, m, v.person, v.now)
		if err == nil {
			return v.moveOn(machinePath(e.ID)+"/coast", "coast")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.coastPage(v.typed, v.submission(), problems)
}

// checkCoast is what the rule finds with m before anything is kept, so that it
// shows together with a wrong password.
func (v *visit) checkCoast(at procedures.EquipmentID, m procedures.CoastMeasured) (plain.Problems, error) {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return nil, err
	}
	crew, err := v.desk.People(v.ctx())
	if err != nil {
		return nil, err
	}
	_, wrong := m.Enter(v.person, plant, crew, v.now)
	problems, err := problemsOf(wrong)
	if m.Energy != "" && problems.For("energy") == nil {
		problems.Unless(plant.Holds(at, m.Energy), "energy", "something of this machine that turns")
	}
	return problems, err
}
