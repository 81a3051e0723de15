package demo

import "time"

// day is one working day of the mill.
type day struct {
	n     int // how many days came before it
	date  time.Time
	zone  *time.Location
	next  time.Time // when work goes on after it
	final bool      // the last day whose check is signed by now

	shift  int   // hours from the first shift of its date to this one
	checks *hand // who walks before it, nil for whose turn it is
}

// signedBy is when the check of an ordinary day is signed.
const signedByHour, signedByMinute = 6, 48

func workingDays() []time.Weekday {
	return []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}
}

// at is a time of the day on the mill's wall.
func (d day) at(hour, minute int) time.Time { return onWall(d.date, d.zone, hour+d.shift, minute) }

func onWall(date time.Time, zone *time.Location, hour, minute int) time.Time {
	y, mo, d := date.Date()
	return time.Date(y, mo, d, hour, minute, 0, 0, zone)
}

// days are the working days from the Monday nine weeks back or more until now.
func (m *mill) days() []day {
	today := m.now.In(m.zone)
	date := today.AddDate(0, 0, -7*weeksBack)
	for date.Weekday() != time.Monday {
		date = date.AddDate(0, 0, -1)
	}
	var days []day
	for ; !onWall(date, m.zone, 0, 0).After(m.now); date = date.AddDate(0, 0, 1) {
		if date.Weekday() == time.Saturday || date.Weekday() == time.Sunday {
			continue
		}
		next := date.AddDate(0, 0, 1)
		if date.Weekday() == time.Friday {
			next = date.AddDate(0, 0, 3)
		}
		days = append(days, day{n: len(days), date: date, zone: m.zone, next: onWall(next, m.zone, 6, 0)})
	}
	for i := len(days) - 1; i >= 0; i-- {
		if !days[i].at(signedByHour, signedByMinute).After(m.now) {
			days[i].final = true
			break
		}
	}
	return days
}

// weeksBack is how far back the history begins at the least.
const weeksBack = 8
