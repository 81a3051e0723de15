package checklists

import (
	"cmp"
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Tally is how often each thing happened: counts, and never a score.
type Tally struct {
	Done, Late, Missed, Excused, Held, Closed, NotYet, Unknown int
	Overdue                                                    int      // still to be done now
	Stands                                                     Standing // the worst of them
}

// add counts one check; overdue is counted on the day looked at alone, since a
// list stays overdue day after day.
func (t *Tally) add(s Standing, today bool) {
	if t.Stands == "" && *t == (Tally{}) || s.worse(t.Stands) {
		t.Stands = s
	}
	switch s {
	case StandsDone:
		t.Done++
	case StandsLate:
		t.Late++
	case StandsMissed:
		t.Missed++
	case StandsExcused:
		t.Excused++
	case StandsHeld:
		t.Held++
	case StandsClosed:
		t.Closed++
	case StandsNotYet:
		t.NotYet++
	case StandsUnknown:
		t.Unknown++
	case StandsOverdue:
		if today {
			t.Overdue++
		}
	}
}

// Gaps is how much a supervisor looks at first.
func (t Tally) Gaps() int { return t.Missed + t.Overdue + t.Unknown }

// Words says the counts that are not nought, the gaps first.
func (t Tally) Words() plain.Sentence {
	var parts []plain.Sentence
	for _, one := range []struct {
		n    int
		said plain.Sentence
	}{
		{t.Missed, plain.Say("%d missed", t.Missed)}, {t.Overdue, plain.Say("%d overdue", t.Overdue)}, {t.Unknown, plain.Say("%d not known", t.Unknown)},
		{t.Late, plain.Say("%d late", t.Late)}, {t.Held, plain.Say("%d held", t.Held)}, {t.Excused, plain.Say("%d excused", t.Excused)}, {t.Done, plain.Say("%d done", t.Done)},
	} {
		if one.n > 0 {
			parts = append(parts, one.said)
		}
	}
	if len(parts) == 0 && t.NotYet > 0 {
		return plain.Say("%d still to come", t.NotYet)
	}
	if len(parts) == 0 {
		return plain.Say("nothing asked")
	}
	return plain.Say("%s", parts)
}

// CalendarRow is one list, or one piece of equipment with all that is asked
// about it, over some days; a day on which no list was in force stands as not due.
type CalendarRow struct {
	List      ListID
	Equipment procedures.EquipmentID
	Title     string
	Days      []ListDay
	Tally     Tally
	today     int
}

// Over counts the days from one place to another, the second not included.
func (r CalendarRow) Over(from, until int) Tally {
	var t Tally
	for i := from; i < until; i++ {
		for _, check := range r.Days[i].Checks {
			t.add(check.Stands, i == r.today)
		}
		if len(r.Days[i].Checks) == 0 && r.Days[i].Stands == StandsClosed && t.Stands == "" {
			t.Stands = StandsClosed
		}
	}
	if t == (Tally{}) {
		t.Stands = StandsNotDue
	}
	return t
}

// Pages are the days and what stood on them, reckoned once.
type Pages struct {
	Days []time.Time
	each [][]ListDay
	now  time.Time
	c    *Calendar
}

// Read reckons those days ([Calendar.Days]), looked at now.
func (c *Calendar) Read(days []time.Time, now time.Time) Pages {
	p := Pages{Days: days, now: now, c: c}
	for _, day := range days {
		p.each = append(p.each, c.Day(day, now))
	}
	return p
}

// today is the place of the day that holds now, -1 where none does.
func (p Pages) today() int {
	at := -1
	for i, day := range p.Days {
		if !day.After(p.now) {
			at = i
		}
	}
	if at == len(p.Days)-1 && at >= 0 {
		y, m, d := p.c.w.date(p.Days[at])
		if !p.now.Before(p.c.w.midnight(y, m, d+1)) {
			return -1
		}
	}
	return at
}

// ByList is a row for each list in force on one of the days, those with gaps first.
func (p Pages) ByList() []CalendarRow {
	var rows []CalendarRow
	for _, k := range p.c.lists {
		row, known := CalendarRow{List: k.id, Title: k.title, today: p.today()}, false
		for i := range p.Days {
			one := ListDay{List: k.id, Stands: StandsNotDue}
			if at := slices.IndexFunc(p.each[i], func(l ListDay) bool { return l.List == k.id }); at >= 0 {
				one, known = p.each[i][at], true
			}
			row.Days = append(row.Days, one)
		}
		if known {
			rows = append(rows, row)
		}
	}
	return tallied(rows)
}

// ByEquipment is a row for each machine that a list in force on one of the days
// asks about, with what all such lists asked, those with gaps first.
func (p Pages) ByEquipment(plant procedures.Plant) []CalendarRow {
	var rows []CalendarRow
	for _, e := range plant {
		row, known := CalendarRow{Equipment: e.ID, Title: e.Name, today: p.today()}, false
		for i := range p.Days {
			one := ListDay{Stands: StandsNotDue}
			for _, l := range p.each[i] {
				if !slices.Contains(l.Covers, e.ID) {
					continue
				}
				known = true
				one.Checks = append(one.Checks, l.Checks...)
				if l.Stands.worse(one.Stands) {
					one.Stands = l.Stands
				}
			}
			row.Days = append(row.Days, one)
		}
		if known {
			rows = append(rows, row)
		}
	}
	return tallied(rows)
}

func tallied(rows []CalendarRow) []CalendarRow {
	for i := range rows {
		rows[i].Tally = rows[i].Over(0, len(rows[i].Days))
	}
	slices.SortStableFunc(rows, func(a, b CalendarRow) int {
		return cmp.Or(b.Tally.Gaps()-a.Tally.Gaps(), a.Tally.quiet()-b.Tally.quiet())
	})
	return rows
}

// quiet is 1 where nothing was asked at all.
func (t Tally) quiet() int {
	if t == (Tally{Stands: StandsNotDue}) {
		return 1
	}
	return 0
}

// PersonRow is what one person signed on each of the days.
type PersonRow struct {
	Person procedures.Person
	Days   []PersonDay
	Signed int
	Late   int
	Lapsed []Lapse
}

// PersonDay is what one person signed on one day, by when.
type PersonDay struct {
	Signed []*Inspection
	Late   int
}

// Lapse is a qualification that a person no longer holds, since when.
type Lapse struct {
	What  plain.Sentence
	Since time.Time
}

// ByPerson is a row for each of the people who signed a check on one of the days,
// or of whom something lapsed; whoever has a lapse first.
func (p Pages) ByPerson(people []procedures.Person, trainings []procedures.Training) []PersonRow {
	if len(p.Days) == 0 {
		return nil
	}
	var rows []PersonRow
	for _, who := range people {
		row := PersonRow{Person: who, Days: make([]PersonDay, len(p.Days)), Lapsed: lapses(who, trainings, p.now)}
		for _, k := range p.c.lists {
			for _, in := range k.signed {
				at, exact := slices.BinarySearchFunc(p.Days, in.At, func(day, at time.Time) int { return day.Compare(at) })
				if !exact {
					at--
				}
				if in.Signer != who.ID || in.At.After(p.now) || at < 0 || !p.holds(at, in.At) {
					continue
				}
				day := &row.Days[at]
				day.Signed = append(day.Signed, in)
				row.Signed++
				if in.Late {
					day.Late++
					row.Late++
				}
			}
		}
		for i := range row.Days {
			slices.SortStableFunc(row.Days[i].Signed, func(a, b *Inspection) int { return a.At.Compare(b.At) })
		}
		if row.Signed > 0 || len(row.Lapsed) > 0 {
			rows = append(rows, row)
		}
	}
	slices.SortStableFunc(rows, func(a, b PersonRow) int { return len(b.Lapsed) - len(a.Lapsed) })
	return rows
}

// holds tells whether that moment is on the day at that place.
func (p Pages) holds(at int, t time.Time) bool {
	y, m, d := p.c.w.date(p.Days[at])
	return p.c.w.days(y, m, d, 1).holds(t)
}

// lapses are what somebody of the crew was qualified or trained for and is no
// longer, since the day was reached that was set for it.
func lapses(who procedures.Person, trainings []procedures.Training, now time.Time) []Lapse {
	if !who.Works() {
		return nil
	}
	var all []Lapse
	add := func(held bool, until time.Time, what plain.Sentence) {
		if held && !until.IsZero() && !until.After(now) {
			all = append(all, Lapse{what, until})
		}
	}
	add(who.QualifiedLifting, who.LiftingUntil, plain.Say("qualified for lifting gear"))
	add(who.QualifiedElectrical, who.ElectricalUntil, plain.Say("qualified to prove absence of voltage"))
	var last procedures.Training
	for _, t := range trainings {
		if t.Person != who.ID || t.Level != procedures.AuthorizedLevel || t.On.After(now) {
			continue
		}
		if t.Expires.IsZero() || !last.Expires.IsZero() && t.Expires.After(last.Expires) || last.ID == "" {
			last = t
		}
		if t.Expires.IsZero() {
			break
		}
	}
	add(last.ID != "", last.Expires, plain.Say("trained to lock out"))
	return all
}
