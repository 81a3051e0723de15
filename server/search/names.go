package search

import (
	"strings"
	"sync"
	"time"
)

// Names are what months and days of the week are called. It is made once and read
// by any number of queries at a time.
type Names struct {
	months map[string]time.Month
	days   map[string][]time.Weekday
}

// NamesOf are the names of the twelve months from January on, round and round for
// each way to write them, and of the seven days of the week from Sunday on
// likewise. The English ones are always among them, whole and as three letters. A
// month that two languages mean otherwise is the one named first.
func NamesOf(months, days []string) Names {
	n := Names{map[string]time.Month{}, map[string][]time.Weekday{}}
	month := func(name string, m time.Month) {
		if name = bare(name); n.months[name] == 0 && name != "" {
			n.months[name] = m
		}
	}
	for i, name := range months {
		month(name, time.Month(i%12+1))
	}
	for m := time.January; m <= time.December; m++ {
		month(m.String(), m)
		month(m.String()[:3], m)
	}
	for i, name := range days {
		n.days[bare(name)] = append(n.days[bare(name)], time.Weekday(i%7))
	}
	for d := time.Sunday; d <= time.Saturday; d++ {
		for _, name := range []string{bare(d.String()), bare(d.String()[:3])} {
			n.days[name] = append(n.days[name], d)
		}
	}
	return n
}

// english serves a reading without names of its own.
var english = sync.OnceValue(func() Names { return NamesOf(nil, nil) })

// bare is a name as it is compared: folded, without the point of what is cut short.
func bare(name string) string { return fold(strings.Trim(name, ",.")) }

// month reads the name of a month, 0 where it is none.
func (r Reading) month(text string) time.Month { return r.Names.months[bare(text)] }

// weekday reads the name of a day of the week, which languages may not agree on.
func (r Reading) weekday(text string) ([]time.Weekday, bool) {
	days, is := r.Names.days[bare(text)]
	return days, is
}
