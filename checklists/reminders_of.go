package checklists

import (
	"fmt"
	"strconv"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func (r Remindable) lists(now time.Time) []Reminder {
	var all []Reminder
	for _, l := range r.Facts.Lists {
		if !l.inForce(now) {
			continue
		}
		state, next := r.Facts.Due(l, now), r.Facts.Next(l, now)
		one := Reminder{Kind: AboutList, Subject: string(l.ID), What: next.Said, From: next.Opens, Due: next.Ends, State: ReminderLater, People: next.People, Role: next.Role}
		switch state.Status {
		case IsDue:
			one.State = ReminderDue
		case IsLate, DueUnknown:
			one.State = ReminderOverdue
		case IsExcused:
			if state.Excuse != nil && (l.Schedule.Every.sinceDone() || l.Schedule.Every == OnEvent) && state.holds(l.Schedule) {
				one.State = ReminderDue // no machine is checked by an excuse
			}
		}
		if one.State == ReminderLater {
			all = append(all, r.unchecked(l, state, now)...)
			if one.From.IsZero() && one.Due.IsZero() {
				continue // by hours run or on event: no time is known, and nothing is due
			}
		}
		if starts := state.Starts; one.State != ReminderLater && !starts.IsZero() {
			one.Part = strconv.FormatInt(starts.Unix(), 10)
		} else if !one.From.IsZero() {
			one.Part = strconv.FormatInt(one.From.Unix(), 10)
		}
		all = append(all, one)
	}
	return all
}

// unsigned reminds whoever finished a check without contact of their signature.
func (r Remindable) unsigned(now time.Time) []Reminder {
	var all []Reminder
	for _, u := range r.Facts.Waiting(now) {
		if u.IsAside() {
			continue // there is nothing to sign; that its list is to be gone through, the hold says
		}
		all = append(all, Reminder{Kind: AboutList, Subject: string(u.List), Part: "unsigned-" + string(u.Inspection), State: ReminderDue, From: u.At, People: []procedures.PersonID{u.By},
			What: plain.Say("%s: finished without contact, waits for a signature", u.Title)})
	}
	return all
}

// unchecked reminds of the stop items that still hold, of a list that is not due.
func (r Remindable) unchecked(l List, state DueState, now time.Time) []Reminder {
	given, last := r.Facts.lastGone(l, state, now)
	if last == nil || !l.Schedule.Holds && !l.Schedule.HoldsLate {
		return nil
	}
	left := unchecked(l, given)
	if len(left) == 0 {
		return nil
	}
	said := left[0].uncheckedSaid(given[left[0].ID])
	if len(left) > 1 {
		said = plain.Say("%[1]s: %[2]d stop items were not checked.", l.Title, len(left))
	}
	return []Reminder{{Kind: AboutList, Subject: string(l.ID), Part: "unchecked", State: ReminderDue, From: last.At, What: said}}
}

func (r Remindable) defects(now time.Time) []Reminder {
	var all []Reminder
	for _, d := range r.Facts.Defects {
		if !d.Open() {
			continue
		}
		one := Reminder{Kind: AboutDefect, Subject: string(d.ID), AllDay: true}
		if d.Assigned != "" {
			one.People = []procedures.PersonID{d.Assigned}
		}
		what := plain.Say("%s", d.What)
		if d.What == "" {
			what = plain.Say("%s, stopped, with nothing more said", r.Facts.nameOf(d.Equipment))
		}
		if d.AwaitsReturn() {
			one.Part, one.State, one.People, one.From = "return", ReminderDue, nil, d.MendedAt
			one.What = plain.Say("Mended, not yet returned to service: %s", what)
			all = append(all, one)
			continue
		}
		by := d.Due
		if d.Severity == Mend && (by.IsZero() || d.MendBy.Before(by)) {
			by = d.MendBy
		}
		one.State, one.What = ReminderDue, plain.Say("Stopped until it is mended: %s", what)
		if !by.IsZero() {
			one.Due, one.What = lastDay(by), plain.Say("To mend by %[1]s: %[2]s", plain.Day(lastDay(by)), what)
			switch {
			case d.Overdue(now):
				one.State = ReminderOverdue
			case d.Severity == Mend && now.Add(spokenOfDefects).Before(by):
				one.State = ReminderLater
			}
		}
		all = append(all, one)
	}
	return all
}

func (r Remindable) actions(now time.Time) []Reminder {
	var all []Reminder
	for _, a := range r.Actions {
		if !a.Open() {
			continue
		}
		one := Reminder{Kind: AboutAction, Subject: string(a.Incident), Part: string(a.ID), Due: lastDay(a.Due), AllDay: true, State: ReminderDue, People: []procedures.PersonID{a.Person},
			What: plain.Say("After an incident, by %[1]s: %[2]s", plain.Day(lastDay(a.Due)), a.What)}
		if a.Overdue(now) {
			one.State = ReminderOverdue
		}
		all = append(all, one)
	}
	return all
}

func (r Remindable) safety(now time.Time) []Reminder {
	loc, err := r.Facts.Mill.LocationAt(now)
	if err != nil {
		loc = time.UTC
	}
	var all []Reminder
	for _, i := range r.Safety {
		if wrong, is := i.Wrong(r.Looks); is && i.Retired.IsZero() {
			all = append(all, Reminder{Kind: AboutSafety, Subject: string(i.ID), Part: "wrong", State: ReminderOverdue, From: wrong.On, Role: procedures.Supervisor,
				What: plain.Say("%[1]s, %[2]s: not right", i.Place, i.Kind.Words())})
		}
		for _, d := range i.Due(r.Looks, now, loc) {
			one := Reminder{Kind: AboutSafety, Subject: string(i.ID), Part: string(d.Work), Due: d.By, AllDay: true, Role: procedures.Supervisor, State: ReminderLater,
				What: plain.Say("%[1]s, %[2]s: %[3]s", i.Place, i.Kind.Words(), d.Work.Words())}
			if !d.By.IsZero() {
				one.What = plain.Say("%[1]s, %[2]s: %[3]s, by %[4]s", i.Place, i.Kind.Words(), d.Work.Words(), plain.Day(d.By))
			}
			switch {
			case d.Over:
				one.State = ReminderOverdue
			case d.Soon:
				one.State = ReminderLapsing
			}
			all = append(all, one)
		}
	}
	return all
}

func (r Remindable) gear(now time.Time) []Reminder {
	var qualified []procedures.PersonID
	for _, p := range r.Facts.People {
		if p.Works() && p.LiftingAt(now) {
			qualified = append(qualified, p.ID)
		}
	}
	var all []Reminder
	for _, g := range r.Gear {
		one := Reminder{Kind: AboutGear, Subject: g.Rig, Part: g.Link, Due: g.Due, AllDay: true, People: qualified, Role: procedures.Supervisor, What: plain.Say("%[1]s, %[2]s: it is not known when it was inspected", g.RigName, g.LinkName)}
		if !g.Due.IsZero() {
			one.State, one.What = lapsing(g.Due, now), plain.Say("%[1]s, %[2]s: inspection due on %[3]s", g.RigName, g.LinkName, plain.Day(g.Due))
		}
		all = append(all, one)
	}
	return all
}

func (r Remindable) procedures(now time.Time) []Reminder {
	states := map[procedures.DueState]ReminderState{procedures.DueAtNextUse: ReminderDue, procedures.DueSoon: ReminderLapsing, procedures.DueLater: ReminderLater}
	var all []Reminder
	for _, p := range r.Procedures {
		all = append(all, Reminder{Kind: AboutProcedure, Subject: string(p.ID), Due: lastDay(p.Due.By), AllDay: true, Role: procedures.Supervisor, State: states[p.Due.State],
			What: plain.Say("Lockout procedure %[1]s: %[2]s", p.Title, p.Due.Words())})
	}
	return all
}

// trainings are those that end and that no later one takes the place of: of the
// same person and level, and going through the same procedures or more.
func (r Remindable) trainings(now time.Time) []Reminder {
	at := map[procedures.PersonID]procedures.Person{}
	for _, p := range r.Facts.People {
		at[p.ID] = p
	}
	var all []Reminder
	for i, t := range r.Trainings {
		person, known := at[t.Person]
		if t.Expires.IsZero() || !known || person.Left || r.replaced(i) {
			continue
		}
		one := Reminder{Kind: AboutTraining, Subject: string(t.Person), Part: string(t.ID), Due: lastDay(t.Expires), AllDay: true, State: lapsing(t.Expires, now), Private: true,
			People: []procedures.PersonID{t.Person}, Role: procedures.Supervisor, What: plain.Say("Training of %[1]s for lockout: until %[2]s", person.Name, plain.Day(lastDay(t.Expires)))}
		all = append(all, one)
	}
	return all
}

func (r Remindable) replaced(i int) bool {
	old := r.Trainings[i]
	for j, t := range r.Trainings {
		newer := t.On.After(old.On) || t.On.Equal(old.On) && j > i
		if newer && t.Person == old.Person && t.Level == old.Level && goesThrough(t, old) {
			return true
		}
	}
	return false
}

func goesThrough(t, old procedures.Training) bool {
	through := map[procedures.ProcedureID]bool{}
	for _, p := range t.Procedures {
		through[p.Procedure] = true
	}
	for _, p := range old.Procedures {
		if !through[p.Procedure] {
			return false
		}
	}
	return true
}

func (r Remindable) people(now time.Time) []Reminder {
	var all []Reminder
	for _, p := range r.Facts.People {
		for _, q := range []struct {
			part  string
			has   bool
			until time.Time
			said  plain.Sentence
		}{
			{"electrical", p.QualifiedElectrical, p.ElectricalUntil, plain.Say("%[1]s: qualified to test for voltage until %[2]s", p.Name, plain.Day(lastDay(p.ElectricalUntil)))},
			{"lifting", p.QualifiedLifting, p.LiftingUntil, plain.Say("%[1]s: qualified for lifting gear until %[2]s", p.Name, plain.Day(lastDay(p.LiftingUntil)))},
			{"deputy", p.Deputy, p.DeputyUntil, plain.Say("%[1]s: deputy of the supervisor until %[2]s", p.Name, plain.Day(lastDay(p.DeputyUntil)))},
		} {
			if !q.has || q.until.IsZero() || p.Left {
				continue
			}
			all = append(all, Reminder{Kind: AboutPerson, Subject: string(p.ID), Part: q.part, What: q.said, Due: lastDay(q.until), AllDay: true, State: lapsing(q.until, now), Private: true,
				People: []procedures.PersonID{p.ID}, Role: procedures.Supervisor})
		}
	}
	return all
}

// card asks for an emergency card, and to read it through after a year.
func (r Remindable) card(now time.Time) []Reminder {
	one := Reminder{Kind: AboutCard, Role: procedures.Supervisor, What: plain.Say("The mill has no emergency card of its own yet")}
	if r.Card.Made() {
		again := r.Card.At.Add(CardYear)
		one.Part, one.Due, one.AllDay, one.State = fmt.Sprint(r.Card.At.Unix()), again, true, ReminderLater
		one.What = plain.Say("Read the emergency card through: it is signed %s", plain.Day(r.Card.At))
		if r.Card.Old(now) {
			one.State = ReminderDue
		}
	}
	return []Reminder{one}
}
