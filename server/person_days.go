package server

import (
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// personDays are the days of a person as they are typed.
type personDays struct {
	DeputyFrom, DeputyUntil, ElectricalUntil, LiftingUntil, MinorUntil string
}

// daysOf are the days kept of a person, as a form takes them.
func (v *visit) daysOf(p procedures.Person) personDays {
	return personDays{v.dayText(p.DeputyFrom), v.dayText(p.DeputyUntil), v.dayText(p.ElectricalUntil), v.dayText(p.LiftingUntil), v.dayText(p.MinorUntil)}
}

// typedDays puts into p what holds for a while only, with what it rests on. What
// isn't ticked keeps no days and no evidence.
func (v *visit) typedDays(p *procedures.Person) (personDays, plain.Problems) {
	days := personDays{v.typed("deputy_from"), v.typed("deputy_until"), v.typed("electrical_until"), v.typed("lifting_until"), v.typed("minor_until")}
	var problems plain.Problems
	if p.Deputy {
		p.DeputyFrom, p.DeputyUntil = v.dayTyped("deputy_from", &problems), v.dayTyped("deputy_until", &problems)
	}
	if p.QualifiedElectrical {
		p.ElectricalUntil, p.ElectricalNote = v.dayTyped("electrical_until", &problems), v.typed("electrical_note")
	}
	if p.QualifiedLifting {
		p.LiftingUntil, p.LiftingNote = v.dayTyped("lifting_until", &problems), v.typed("lifting_note")
	}
	if p.Minor = v.typed("minor") == "yes"; p.Minor {
		p.MinorUntil = v.dayTyped("minor_until", &problems)
	}
	return days, problems
}

// locksOnOf are the locks of one person that are reported on, wherever.
func (v *visit) locksOnOf(who procedures.PersonID) ([]lockLine, error) {
	open, err := v.desk.OpenLockouts(v.ctx())
	if err != nil {
		return nil, err
	}
	var on []lockLine
	for _, l := range open {
		for _, lock := range l.LocksOn() {
			if lock.Owner == who {
				on = append(on, lockLine{Number: lock.Number, Device: deviceLabel(l.Procedure, lock.Device), On: lock.On})
			}
		}
	}
	return on, nil
}
