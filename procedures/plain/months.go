package plain

import "time"

// MonthsOn is t so many months on, at the same time of day: the same day of the
// month, or its last day where it has no such day. AddDate runs over into the next
// month there, a month from 31 January to 3 March, so that what falls due each month
// would be let go for up to three days more. The earlier day is the careful one, and
// the one people mean. A year is twelve months: 29 February comes round on the 28th.
func MonthsOn(t time.Time, months int) time.Time {
	y, m, d := t.Date()
	last := time.Date(y, m+time.Month(months)+1, 0, 0, 0, 0, 0, time.UTC).Day()
	return t.AddDate(0, months, min(0, last-d))
}
