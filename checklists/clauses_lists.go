package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// uncheckedNamed is how many points left unchecked are named one by one.
const uncheckedNamed = 6

// fromLists gathers the last signed check of each list in force with an item that
// cites the clause. Where a register has rows under the clause, a list that is not
// yet due, or that asks too seldom for the clause, leaves no gap by that alone.
func (g *gathering) fromLists(c clause, registered bool, row *ClauseRow) (gaps []ClauseGap) {
	notFitted, seldom := "", ""
	any, often := false, false
	for _, l := range g.Lists {
		asks := slices.DeleteFunc(l.Asks(), func(item Item) bool { return !c.citedBy(item.Source) })
		if len(asks) == 0 {
			if slices.ContainsFunc(l.Items, func(item Item) bool { return item.NotFitted && c.citedBy(item.Source) }) {
				notFitted = l.Title
			}
			continue
		}
		if l.Schedule.Every == OnEvent { // it says nothing of the times between
			continue
		}
		any = true
		if c.days > 0 && l.Schedule.longest() > c.days {
			seldom = l.Title
		} else {
			often = true
		}
		gaps = append(gaps, g.fromList(c, l, asks, registered, row)...)
	}
	switch {
	case any && !often && !registered:
		gaps = append(gaps, ClauseGap{Said: plain.Say("%[1]s asks for it less often than every %[2]d days.", seldom, c.days)})
	case !any && notFitted != "":
		row.NotHere = plain.Say("Marked not fitted on the list %s.", notFitted)
	}
	return gaps
}

// fromList adds the last check of a list to the evidence, and tells of it what
// was left unchecked and of the list whether it is late.
func (g *gathering) fromList(c clause, l List, asks []Item, registered bool, row *ClauseRow) (gaps []ClauseGap) {
	state := g.Due(l, g.now)
	late := state.Status == IsLate || state.Status == IsMissed || state.Status == DueUnknown
	last := g.newestOf(l)
	var given map[ItemID]Answer
	if last != nil {
		given = g.answersTo(*last)
	}
	asks, open := points(l, asks, given)
	if last == nil || len(asks) > 0 && !slices.ContainsFunc(asks, func(item Item) bool { return given[item.ID].Result != "" }) {
		e := Evidence{Kind: ByInspection, What: plain.Say("%s", l.Title), Due: state.Ends}
		row.Evidence = append(row.Evidence, e)
		if late || !registered && (last != nil || state.Ends.IsZero()) { // before the first is due nothing is missing
			gaps = append(gaps, gapAbout(e, plain.Say("%s asks for it, and no signed check has answered it yet.", l.Title)))
		}
		return gaps
	}
	e := Evidence{Kind: ByInspection, Ref: string(last.ID), On: last.At, By: last.Signer, Due: state.Ends,
		What: plain.Say("%[1]s, points looked at of those that ask for this: %[2]d of %[3]d", l.Title, len(asks)-len(open), len(asks))}
	if c.days > 0 {
		if by := e.On.In(g.loc).AddDate(0, 0, c.days); e.Due.IsZero() || by.Before(e.Due) && l.Schedule.Every != EachShift {
			e.Due = by
		}
	}
	row.Evidence = append(row.Evidence, e)
	switch {
	case c.days > 1 && !registered && g.now.After(e.On.In(g.loc).AddDate(0, 0, c.days+1)):
		gaps = append(gaps, gapAbout(e, plain.Say("%[1]s: last done %[2]s, asked at least every %[3]d days.", l.Title, plain.Day(e.On), c.days)))
	case late:
		gaps = append(gaps, gapAbout(e, state.Said))
	case l.Schedule.longest() == 1 && g.longAgo(last.At):
		gaps = append(gaps, gapAbout(e, plain.Say("%[1]s was last signed %[2]s.", l.Title, plain.Day(last.At))))
	}
	for i, item := range open {
		if i == uncheckedNamed {
			gaps = append(gaps, gapAbout(e, plain.Say("%[1]s, %[2]s: %[3]d more points were not looked at.", l.Title, plain.Day(last.At), len(open)-i)))
			break
		}
		gaps = append(gaps, gapAbout(e, plain.Say("%[1]s, %[2]s: %[3]s was not looked at (%[4]s).", l.Title, plain.Day(last.At), string(item.ID), item.Prompt)))
	}
	return gaps
}

// longAgo tells whether a check of each shift or day was signed so long ago that
// no missed shift is spoken of any more, and the mill was not closed since.
func (g *gathering) longAgo(signed time.Time) bool {
	return g.now.Sub(signed) > missedWithin && !slices.ContainsFunc(g.Mill.Closed, func(c Closure) bool { return c.Until.After(signed) })
}

// points are those of asks that are asked with these answers, and of them those
// that nobody looked at.
func points(l List, asks []Item, given map[ItemID]Answer) (asked, open []Item) {
	askings := l.Askings(given)
	for _, item := range asks {
		if askings[item.ID] == NotAsked {
			continue
		}
		asked = append(asked, item)
		if result := given[item.ID].Result; result != OK && result != Found {
			open = append(open, item)
		}
	}
	return asked, open
}

// newestOf is the last signed check of a list.
func (g *gathering) newestOf(l List) (last *Inspection) {
	for i := range g.Inspections {
		if in := &g.Inspections[i]; in.List == l.ID && !in.At.After(g.now) && (last == nil || in.At.After(last.At)) {
			last = in
		}
	}
	return last
}

// answersTo are the answers of a check as its amendments leave them.
func (g *gathering) answersTo(in Inspection) map[ItemID]Answer {
	given := map[ItemID]Answer{}
	for _, a := range in.Answers {
		given[a.Item] = a
	}
	amended := slices.DeleteFunc(slices.Clone(g.Amendments), func(a Amendment) bool { return a.Inspection != in.ID || a.At.After(g.now) })
	slices.SortStableFunc(amended, func(a, b Amendment) int { return a.At.Compare(b.At) })
	for _, amendment := range amended {
		for _, a := range amendment.Answers {
			given[a.Item] = a
		}
	}
	return given
}

// longest is the longest time in days from one check to the next by the schedule,
// of one that goes by running hours not known and without end.
func (s Schedule) longest() int {
	switch s.Every {
	case EachShift, EachDay:
		return 1
	case EachWeek:
		return 7
	case EachMonth:
		return 31
	case EachQuarter:
		return 92
	case EachYear:
		return 366
	case AfterDays:
		return s.Days + s.Grace
	}
	return mostDays
}
