package checklists

import (
	"slices"
	"strings"
)

// stopsBy is the rule a stop of the item comes from, "" for common practice and
// for an item that is no stop. What its author gave as the reason counts as a
// rule unless it says that it is none; of several, set off by semicolons, those
// that are some count.
func (i Item) stopsBy() string {
	if i.NotFitted || i.Severity != Stop && i.Limits.StopAt == nil {
		return ""
	}
	var rules []string
	for source := range strings.SplitSeq(i.Source, ";") {
		source = strings.TrimSpace(source)
		if source != "" && !strings.HasPrefix(strings.ToLower(source), "common practice") {
			rules = append(rules, source)
		}
	}
	return strings.Join(rules, "; ")
}

// hangsOn is the rule of a stop that is asked only if the answer to an item is
// so, directly or by way of others, in both versions; "" where none is. ok tells
// that such a stop is asked where the answer is OK, so that an item that finds
// more wrong asks it less.
func hangsOn(id ItemID, before, after List) (rule string, ok bool) {
	for _, stop := range before.Items {
		still, kept := after.Item(stop.ID)
		if stop.stopsBy() == "" || !kept || still.NotFitted {
			continue
		}
		for n, item := 0, still; n < len(after.Items) && item.When.Item != ""; n++ {
			looks := item.When
			if looks.Item.written() == id {
				if rule == "" {
					rule = stop.stopsBy()
				}
				ok = ok || looks.Result == OK
				break
			}
			next, known := after.Item(looks.Item)
			if !known {
				break
			}
			item = next
		}
	}
	return rule, ok
}

// loosenedTo names the fields in which after asks less than i, or in which what
// it asks can't be held against what i did: another unit, another machine,
// another condition. Words are a person's to compare.
func (i Item) loosenedTo(after Item) []string {
	if i.NotFitted {
		return nil // it was not asked
	}
	var fields []string
	less := func(is bool, field string) {
		if is {
			fields = append(fields, field)
		}
	}
	less(after.NotFitted, "not_fitted")
	less(i.Equipment != after.Equipment, "equipment")
	less(i.Severity == Stop && after.Severity != Stop, "severity")
	less(i.State != after.State && (i.State != Stopped || after.State != LockedOut), "state")
	less(i.Kind != after.Kind && i.Kind != Choice, "kind")
	less(i.Kind == Choice && len(i.Options) > 0 && !slices.Equal(i.Options, after.Options) && !only(after.Options, i.Options), "options")
	less(i.DefectPhoto && !after.DefectPhoto && !after.AlwaysPhoto, "defect_photo")
	less(i.AlwaysPhoto && !after.AlwaysPhoto && after.Kind != Photo, "always_photo")
	less(i.Qualified != AnyOfCrew && after.Qualified != i.Qualified, "qualified")
	less(i.Kind == MeterReading && i.Meter != after.Meter, "meter")
	less(i.Repeat.Per != "" && (after.Repeat.Per != i.Repeat.Per || after.Repeat.fewer(i.Repeat)), "repeat")
	less(after.When != (Condition{}) && !i.When.same(after.When), "when")
	less(i.stopsBy() != "" && after.statesNoRule(), "source")
	if i.Kind == Number {
		fields = append(fields, i.Limits.loosenedTo(after.Limits)...)
	}
	return fields
}

// only tells whether words leaves some of the words of before to choose from and
// adds none.
func only(words, before []string) bool {
	return len(words) > 0 && !slices.ContainsFunc(words, func(w string) bool { return !slices.Contains(before, w) })
}

func (i Item) statesNoRule() bool {
	i.Severity, i.NotFitted = Stop, false
	return i.stopsBy() == ""
}

// fewer tells whether r asks fewer times than before did. One left to set-up
// and one with a count of its own can be held against each other once published.
func (r Repeat) fewer(before Repeat) bool {
	if r.Count == 0 && r.Times == 0 {
		return before.Count > 0
	}
	return r.times() < before.times()
}

func (c Condition) same(d Condition) bool {
	equal := func(a, b *float64) bool { return a == b || a != nil && b != nil && *a == *b }
	return c.Item == d.Item && c.Result == d.Result && c.Choice == d.Choice && equal(c.From, d.From) && equal(c.To, d.To)
}

func (l Limits) loosenedTo(after Limits) []string {
	var fields []string
	less := func(is bool, field string) {
		if is {
			fields = append(fields, "limits."+field)
		}
	}
	// Of a bound there are three: none, one that asks as much or more, one that asks less.
	wider := func(before, after *float64, up float64) bool {
		return before != nil && (after == nil || up*(*after-*before) > 0)
	}
	less(l.Unit != after.Unit, "unit")
	less(wider(l.Low, after.Low, -1), "low")
	less(wider(l.High, after.High, 1), "high")
	less(l.High != nil && l.HighOut && !after.HighOut && !(after.High != nil && *after.High < *l.High), "high_out")
	less(wider(l.StopAt, after.StopAt, 1), "stop_at")
	return fields
}

// loosenedTo names the fields in which a list comes round less often or holds
// less; what can't be held against what it was asks less.
func (s Schedule) loosenedTo(after Schedule) []string {
	var fields []string
	less := func(is bool, field string) {
		if is {
			fields = append(fields, field)
		}
	}
	often := []Period{EachShift, EachDay, EachWeek, EachMonth, EachQuarter, EachYear}
	was, is := slices.Index(often, s.Every), slices.Index(often, after.Every)
	less(s.Every != after.Every && (was < 0 || is < 0 || is > was), "schedule")
	less(after.strength() < s.strength() && s.Holds != after.Holds, "holds")
	less(after.strength() < s.strength() && s.HoldsLate != after.HoldsLate, "holds_late")
	less(after.Grace > s.Grace, "schedule.grace")
	if s.Every != after.Every {
		return fields
	}
	less(after.days() > s.days(), "schedule.days")
	less(after.Hours > s.Hours, "schedule.hours")
	less(s.Every == AfterHours && s.Meter != after.Meter, "schedule.meter")
	less(slices.ContainsFunc(s.On, func(kind EventKind) bool { return !slices.Contains(after.On, kind) }), "schedule.on")
	return fields
}

// strength is how much the schedule holds: nothing, what is late, what is due.
// One that says both holds what is due.
func (s Schedule) strength() int {
	switch {
	case s.Holds:
		return 2
	case s.HoldsLate:
		return 1
	}
	return 0
}

// days is the days that count, also where idle is left to its usual length.
func (s Schedule) days() int {
	if s.Every == OnEvent && s.Days == 0 {
		return IdleDays
	}
	return s.Days
}
