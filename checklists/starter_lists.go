package checklists

import (
	"math"
	"slices"
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Ids of the other starter lists.
const (
	Weekly           ListID = "weekly"
	SixtyDay         ListID = "sixty-day"
	Monthly          ListID = "monthly"
	Yearly           ListID = "yearly"
	AfterBladeChange ListID = "after-blade-change"
	AfterJam         ListID = "after-jam"
	AfterRepair      ListID = "after-repair"
	AfterMove        ListID = "after-move"
	AfterShockLoad   ListID = "after-shock-load"
	AfterPowerLoss   ListID = "after-power-loss"
	AfterIdle        ListID = "after-idle"
)

// StarterLists returns drafts (Version 0) of the lists a mill can read, change
// and publish, varied by its set-up answers, the pre-shift list first. Items of
// equipment the plant does not have are left out, and lists nothing is left of.
// Numbers a rule gives carry it as source; the others are start values, marked
// SiteSet, which each mill replaces by its maker's or its own.
//
// Those that come round count days from when they were last done, so that a
// late one doesn't push the next beyond its interval, and hold their equipment
// once they are late; the yearly one, of which much is about people and papers,
// holds nothing. Those on event hold the machine it happened to at once.
func StarterLists(a SetUp, plant procedures.Plant) []List {
	shift := preShiftItems(a, plant)
	week, sixty, month, year := weeklyItems(a, plant), sixtyDayItems(a), monthlyItems(a), yearlyItems(a)
	all := slices.Concat(shift, week, sixty, month, year)
	every := func(days int, holds bool) Schedule {
		return Schedule{Every: AfterDays, Days: days, HoldsLate: holds}
	}
	on := func(kinds ...EventKind) Schedule { return Schedule{Every: OnEvent, On: kinds, Holds: true} }
	idle := on(Idle)
	idle.Days = IdleDays
	var lists []List
	for _, l := range []List{
		{ID: PreShift, Title: "Pre-shift check", Schedule: Schedule{Every: EachShift, Holds: true}, Items: shift},
		{ID: Weekly, Title: "Weekly check", Schedule: every(7, true), Items: week},
		{ID: SixtyDay, Title: "Check of drives and guards, every 60 days", Schedule: every(60, true), Items: sixty},
		{ID: Monthly, Title: "Monthly check", Schedule: every(31, true), Items: month},
		{ID: Yearly, Title: "Yearly check", Schedule: every(365, false), Items: year},
		{ID: AfterBladeChange, Title: "After a blade change or filing", Schedule: on(BladeChange, Filing), Items: bladeChangeItems(all)},
		{ID: AfterJam, Title: "After a jam", Schedule: on(Jam), Items: jamItems(all)},
		{ID: AfterRepair, Title: "After a repair", Schedule: on(Repair), Items: repairItems(all)},
		{ID: AfterMove, Title: "After a move or a new set-up", Schedule: on(Move), Items: moveItems(a, all)},
		{ID: AfterShockLoad, Title: "After a shock load", Schedule: on(ShockLoad), Items: shockItems(all)},
		{ID: AfterPowerLoss, Title: "After a power loss", Schedule: on(PowerLoss), Items: powerLossItems(a, all)},
		{ID: AfterIdle, Title: "After a month idle", Schedule: idle, Items: idleItems(all)},
	} {
		l.Items = fitted(l.Items, plant)
		// Everything under lock or stopped is finished before the first start, and
		// the stops are tried before anything else is run.
		slices.SortStableFunc(l.Items, func(a, b Item) int { return a.State.order() - b.State.order() })
		if len(l.Items) > 0 {
			lists = append(lists, l)
		}
	}
	return lists
}

// MissingStarters are the starter lists a mill has neither in force nor as a
// draft, by the ids of those it has.
func MissingStarters(a SetUp, plant procedures.Plant, have []ListID) []List {
	return slices.DeleteFunc(StarterLists(a, plant), func(l List) bool { return slices.Contains(have, l.ID) })
}

// fitted leaves out the items of equipment the plant does not have.
func fitted(items []Item, plant procedures.Plant) []Item {
	var kept []Item
	for _, item := range items {
		if _, found := plant.Find(item.Equipment); found {
			kept = append(kept, item)
		}
	}
	return kept
}

// pick are the items of these numbers, in their order; a number stands for all
// parts of it, "S1" for S1-speed too.
func pick(from []Item, numbers ...string) []Item {
	var picked []Item
	for _, number := range numbers {
		for _, item := range from {
			if head, _, _ := strings.Cut(string(item.ID), "-"); head == number {
				picked = append(picked, item)
			}
		}
	}
	return picked
}

// rimSpindle is the spindle speed in whole rpm at which the rim of a saw of that
// diameter just keeps the 10,000 ft/min of 34 Pa. Code 45.41; without a diameter
// that of the largest saw of the crack table, 72 in.
func rimSpindle(diameter plain.Metres) float64 {
	if !(diameter > 0) {
		diameter = 72 * plain.Inch
	}
	return math.Min(fastestSpindle, math.Floor(fastestRim/RimSpeed(diameter, 1)))
}
