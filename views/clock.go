package views

import (
	"fmt"
	"strings"
	"time"
)

// local is t on the mill's own clock.
func (f *Frame) local(t time.Time) time.Time {
	if f.Zone == nil {
		return t.UTC()
	}
	return t.In(f.Zone)
}

// Clock is the time of day in the mill's zone, "3:04 pm". A catalogue may use
// the fourth value, the hour of 24, instead of the first and third. Its spaces
// don't break: a lone "pm" at the start of a line says nothing.
func (f *Frame) Clock(t time.Time) string {
	if t.IsZero() {
		return f.T("not known")
	}
	f = f.or()
	t = f.local(t)
	half := f.T("am")
	if t.Hour() >= 12 {
		half = f.T("pm")
	}
	said := f.T("%[1]s:%[2]s %[3]s", t.Format("3"), t.Format("04"), half, t.Format("15"))
	return strings.ReplaceAll(said, " ", "\u00a0")
}

// Day is the date in the mill's zone with its weekday, "Mon 2 Mar 2026".
func (f *Frame) Day(t time.Time) string {
	if t.IsZero() {
		return f.T("not known")
	}
	f = f.or()
	t = f.local(t)
	return f.T("%[1]s %[2]s %[3]s %[4]s", f.T(t.Format("Mon")), f.ofMonth(t), f.T(t.Format("Jan")), t.Format("2006"))
}

// Date is the date in the mill's zone without its weekday, "2 Mar 2026", for
// where there is little room.
func (f *Frame) Date(t time.Time) string {
	if t.IsZero() {
		return f.T("not known")
	}
	f = f.or()
	t = f.local(t)
	return f.T("%[1]s %[2]s %[3]s", f.ofMonth(t), f.T(t.Format("Jan")), t.Format("2006"))
}

// ofMonth is the number of the day: of the first, some languages say which.
func (f *Frame) ofMonth(t time.Time) string {
	if t.Day() == 1 {
		return f.T("1")
	}
	return t.Format("2")
}

// When is a moment as one would say it at the mill: "today 6:02 am",
// "yesterday 3:15 pm", else the day as well. Use [Frame.Exact] where it is
// evidence.
func (f *Frame) When(t time.Time) string {
	f = f.or()
	if t.IsZero() {
		return f.T("not known")
	}
	day := f.Day(t)
	switch day {
	case f.Day(f.Now):
		return f.T("today %s", f.Clock(t))
	case f.Day(f.local(f.Now).AddDate(0, 0, -1)):
		return f.T("yesterday %s", f.Clock(t))
	case f.Day(f.local(f.Now).AddDate(0, 0, 1)):
		return f.T("tomorrow %s", f.Clock(t))
	}
	return day + ", " + f.Clock(t)
}

// Exact is a moment as evidence: day, time to the second, offset from UTC.
func (f *Frame) Exact(t time.Time) string {
	if t.IsZero() {
		return f.T("not known")
	}
	return f.Day(t) + ", " + f.or().local(t).Format("15:04:05 -07:00")
}

// ExactThere is [Frame.Exact] by the clock t itself was read from, such as a phone's.
func (f *Frame) ExactThere(t time.Time) string {
	if t.IsZero() {
		return f.T("not known")
	}
	return f.T("%[1]s %[2]s %[3]s %[4]s", f.T(t.Format("Mon")), f.ofMonth(t), f.T(t.Format("Jan")), t.Format("2006")) + ", " + t.Format("15:04:05 -07:00")
}

// Ago is how long before Now t was, "5 min ago", or after it, "in 2 h".
func (f *Frame) Ago(t time.Time) string {
	f = f.or()
	if t.IsZero() || f.Now.IsZero() {
		return f.T("not known")
	}
	switch past := f.Now.Sub(t); {
	case past < -time.Minute:
		return f.T("in %s", f.Span((-past).Truncate(time.Minute)))
	case past < time.Minute:
		return f.T("just now")
	default:
		return f.T("%s ago", f.Span(past.Truncate(time.Minute)))
	}
}

// Span is a duration in its one or two largest units: "40 s", "3 min 8 s",
// "2 h 5 min", "3 days". A wait is never told shorter than it is: seconds stand
// with minutes and are rounded up.
func (f *Frame) Span(d time.Duration) string {
	if d < 0 {
		return "−" + f.Span(-d)
	}
	d = (d + time.Second - 1).Truncate(time.Second)
	seconds, minutes, hours := int(d.Seconds()), int(d.Minutes()), int(d.Hours())
	switch {
	case seconds < 60:
		return f.T("%d s", seconds)
	case minutes < 60 && seconds%60 > 0:
		return f.T("%[1]d min %[2]d s", minutes, seconds%60)
	case minutes < 60:
		return f.T("%d min", minutes)
	case hours < 48 && minutes%60 == 0:
		return f.T("%d h", hours)
	case hours < 48:
		return f.T("%[1]d h %[2]d min", hours, minutes%60)
	default:
		return f.T("%d days", hours/24)
	}
}

// Millis is t as scripts take it: milliseconds since 1970.
func (f *Frame) Millis(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return fmt.Sprint(t.UnixMilli())
}
