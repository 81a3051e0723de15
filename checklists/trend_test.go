package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

const aDay = 24 * time.Hour

// measuredOf is a list of one number with limits, and an inspection of it for
// each value, a day apart from beforeShift on.
func measuredOf(low, high *float64, values ...float64) (checklists.Versions, []checklists.Inspection) {
	item := checklists.Item{ID: "K4", Equipment: "dogs-and-knees", Kind: checklists.Number, Limits: checklists.Limits{Unit: "in", Most: 100, Low: low, High: high}}
	list := checklists.List{ID: "weekly", Version: 1, Items: []checklists.Item{item}}
	var signed []checklists.Inspection
	for i, value := range values {
		at := beforeShift.Add(time.Duration(i) * aDay)
		signed = append(signed, checklists.Inspection{ID: checklists.InspectionID(rune('a' + i)), List: "weekly", Version: 1, At: at,
			Answers: []checklists.Answer{{Item: "K4", Result: checklists.OK, Number: &value, By: "ann", At: at}}})
	}
	return checklists.Versions{1: list}, signed
}

func bound(x float64) *float64 { return &x }

func foreseen(t *testing.T, low, high *float64, values ...float64) checklists.Forecast {
	versions, signed := measuredOf(low, high, values...)
	all := checklists.Measured([]checklists.Versions{versions}, signed, nil, nil, beforeShift)
	require.Len(t, all, 1)
	require.Len(t, all[0].Run, len(values))
	return all[0].Foresee()
}

func TestForecastTellsADayWithItsUncertaintyOrWhyNone(t *testing.T) {
	// 1, 2, 3, 4 in and a limit of 10: the line reaches it on day 9; its own
	// rounding of one inch makes it uncertain. Worked by hand.
	f := foreseen(t, nil, bound(10), 1, 2, 3, 4)
	require.Equal(t, checklists.Reaching, f.Outlook)
	require.InDelta(t, 1, f.PerDay, 1e-12)
	require.WithinDuration(t, beforeShift.Add(9*aDay), f.At, time.Second)
	require.True(t, f.Soonest.Before(f.At) && f.Soonest.After(beforeShift.Add(3*aDay)), f.Soonest)
	require.True(t, f.Latest.After(f.At), f.Latest)
	require.InDelta(t, 10, f.Until.Value, 1e-9)

	require.Equal(t, checklists.TooFew, foreseen(t, nil, bound(10), 1, 2).Outlook)
	require.Equal(t, checklists.Unsteady, foreseen(t, nil, bound(10), 3, 3, 3, 3).Outlook, "flat")
	require.Equal(t, checklists.Unsteady, foreseen(t, nil, bound(10), 1, 8, 2, 7, 1).Outlook)
	require.Equal(t, checklists.Away, foreseen(t, nil, bound(10), 4, 3, 2, 1).Outlook)
	require.Equal(t, checklists.Away, foreseen(t, bound(0), nil, 1, 2, 3, 4).Outlook)
	require.Equal(t, checklists.IsOut, foreseen(t, nil, bound(3.5), 1, 2, 3, 4).Outlook)
	require.Equal(t, checklists.TooFar, foreseen(t, nil, bound(1e4), 1, 2, 3, 4).Outlook)
	down := foreseen(t, bound(0), bound(10), 9, 8, 7, 6)
	require.Equal(t, checklists.Reaching, down.Outlook)
	require.Zero(t, down.Limit, "the bound it moves toward")
	require.WithinDuration(t, beforeShift.Add(9*aDay), down.At, time.Second)
	require.Equal(t, checklists.Forecast{}, checklists.Series{}.Foresee())
}

func TestReturnToServiceBeginsASeriesAnew(t *testing.T) {
	versions, signed := measuredOf(nil, bound(5), 1, 2, 3, 4, 1, 2)
	back := checklists.Defect{ID: "d", Equipment: "dogs-and-knees", At: beforeShift, ReturnedAt: beforeShift.Add(3*aDay + time.Hour)}
	elsewhere := checklists.Defect{ID: "e", Equipment: "hoist", At: beforeShift, ReturnedAt: beforeShift.Add(time.Hour)}
	open := checklists.Defect{ID: "f", Equipment: "dogs-and-knees", At: beforeShift}
	all := checklists.Measured([]checklists.Versions{versions}, signed, nil, checklists.Renewed(aPlant(), []checklists.Defect{open, elsewhere, back}, nil), beforeShift)
	require.Len(t, all[0].Earlier, 1)
	require.Len(t, all[0].Earlier[0], 4)
	require.Len(t, all[0].Run, 2)
	require.Equal(t, checklists.TooFew, all[0].Foresee().Outlook, "the wear of the old pawl is not that of the new one")
}

func TestABladeFittedBeginsTheSeriesOfTheHeadSawAnew(t *testing.T) {
	versions, signed := measuredOf(nil, bound(5), 1, 2, 3, 4, 1, 2)
	item := &versions[1].Items[0]
	fitted := checklists.BladeAct{Blade: "b", Work: checklists.BladeFitted, On: beforeShift.Add(3*aDay + time.Hour)}
	filed := checklists.BladeAct{Blade: "b", Work: checklists.BladeFiled, On: beforeShift.Add(aDay + time.Hour)}
	renewed := checklists.Renewed(aPlant(), nil, checklists.Blades([]checklists.Blade{{ID: "a"}, {ID: "b"}}, []checklists.BladeAct{filed, fitted}))
	measured := func() checklists.Series {
		return checklists.Measured([]checklists.Versions{versions}, signed, nil, renewed, beforeShift)[0]
	}
	require.Len(t, measured().Run, 6, "what wears on the dogs is the same still")
	item.Equipment = "head-saw"
	require.Len(t, measured().Run, 2)
	require.Len(t, measured().Earlier, 1)
	require.Equal(t, checklists.TooFew, measured().Foresee().Outlook, "the cracks of the old saw are not those of the new one")
}

func TestWhatIsNoMeasurementMakesNoSeries(t *testing.T) {
	versions, signed := measuredOf(nil, bound(5), 1, 2, 3)
	amended := checklists.Amendment{Inspection: "a", List: "weekly", Version: 1, Answers: []checklists.Answer{{Item: "K4", Result: checklists.OK, Number: bound(2.5), At: beforeShift.Add(time.Hour)}}}
	all := checklists.Measured([]checklists.Versions{versions}, signed, []checklists.Amendment{amended}, nil, beforeShift)
	require.Equal(t, []float64{1, 2.5, 2, 3}, []float64{all[0].Run[0].Value, all[0].Run[1].Value, all[0].Run[2].Value, all[0].Run[3].Value}, "an amendment counts, in order of time")

	for name, change := range map[string]func(*checklists.Item){
		"a meter":                   func(i *checklists.Item) { i.Kind = checklists.MeterReading },
		"no limit":                  func(i *checklists.Item) { i.Limits.High = nil },
		"another unit":              func(i *checklists.Item) { i.Limits.Unit = "mm" },
		"other equipment":           func(i *checklists.Item) { i.Equipment = "hoist" },
		"not asked any more":        func(i *checklists.Item) { i.NotFitted = true },
		"another item, another one": func(i *checklists.Item) { i.ID = "K5" },
	} {
		item := versions[1].Items[0]
		change(&item)
		two := checklists.Versions{1: versions[1], 2: {ID: "weekly", Version: 2, Items: []checklists.Item{item}}}
		require.Empty(t, checklists.Measured([]checklists.Versions{two}, signed, nil, nil, beforeShift), name)
	}
}

// E. J. Freireich and others, Blood 21 (1963): weeks of remission, 21 pairs. The
// medians, 23 and 8 weeks, are those of the product-limit estimate printed with
// these data in textbooks, as J. P. Klein and M. L. Moeschberger, Survival Analysis.
func TestMedianCountsWhatIsOpenStill(t *testing.T) {
	lasted := func(open bool, weeks ...int) (all []checklists.Lasted) {
		for _, w := range weeks {
			all = append(all, checklists.Lasted{For: time.Duration(w) * 7 * aDay, Open: open})
		}
		return all
	}
	treated := append(lasted(true, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35), lasted(false, 6, 6, 6, 7, 10, 13, 16, 22, 23)...)
	median, ok := checklists.MedianLasted(treated)
	require.True(t, ok)
	require.Equal(t, 23*7*aDay, median)
	median, ok = checklists.MedianLasted(lasted(false, 1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23))
	require.True(t, ok)
	require.Equal(t, 8*7*aDay, median)
	_, ok = checklists.MedianLasted(append(lasted(false, 1), lasted(true, 9, 9)...))
	require.False(t, ok, "most are open still")
	_, ok = checklists.MedianLasted(append(lasted(true, 1, 1), lasted(false, 1)...))
	require.False(t, ok, "what is open still at that time is counted as open when the first is over")
	_, ok = checklists.MedianLasted(nil)
	require.False(t, ok)
}

func TestMendTimesAndMonthsCountByEquipment(t *testing.T) {
	now := beforeShift.Add(40 * aDay) // 14 July
	one := func(equipment procedures.EquipmentID, found, mend, back time.Duration) checklists.Defect {
		d := checklists.Defect{Equipment: equipment, At: beforeShift.Add(found)}
		if mend > 0 {
			d.MendedAt = d.At.Add(mend)
		}
		if back > 0 {
			d.ReturnedAt = d.At.Add(back)
		}
		return d
	}
	defects := []checklists.Defect{one("carriage", 0, time.Hour, 2*time.Hour), one("carriage", aDay, 3*time.Hour, 4*time.Hour), one("carriage", 30*aDay, 0, 0), one("hoist", 39*aDay, time.Hour, 0),
		one("hoist", -40*aDay, time.Hour, time.Hour)}
	times := checklists.MendTimes(defects, aPlant(), beforeShift, now)
	require.Len(t, times, 3, "all together, carriage and hoist")
	require.Equal(t, 4, times[0].Defects)
	require.Equal(t, 2, times[0].Open)
	for _, row := range times {
		if row.Equipment == "carriage" {
			require.True(t, row.BackOK)
			require.Equal(t, 4*time.Hour, row.Back, "of three the second: the one open still is the slowest")
		}
		if row.Equipment == "hoist" {
			require.True(t, row.MendedOK)
			require.False(t, row.BackOK, "not returned yet")
		}
	}
	starts, rows := checklists.ByMonth(defects, aPlant(), 3, time.UTC, now)
	require.Equal(t, time.Month(5), starts[0].Month())
	require.Equal(t, time.Month(7), starts[2].Month())
	require.Len(t, rows, 2)
	for _, row := range rows {
		if row.Equipment == "carriage" {
			require.Equal(t, []int{0, 2, 1}, row.Counts)
		} else {
			require.Equal(t, []int{0, 0, 1}, row.Counts)
			require.Equal(t, 1, row.Total, "what is longer ago than the months shown is left out")
		}
	}
}
