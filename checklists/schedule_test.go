package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
)

func utc(wall string) time.Time { return in("UTC", wall) }

// Clock changes: United States second Sunday of March and first of November at
// 02:00 (15 U.S.C. 260a); European Union last Sunday of March and October at
// 01:00 UTC (Directive 2000/84/EC); Lord Howe Island by half an hour, Chile at
// midnight, Samoa without a 30 December 2011 (IANA time zone database). The
// instants were worked out by hand from these.
func TestShiftTimesOverClockChanges(t *testing.T) {
	every := []time.Weekday{0, 1, 2, 3, 4, 5, 6}
	for _, tc := range []struct {
		name, zone   string
		start, end   int
		now          string // in UTC, within the shift
		starts, ends string // in UTC
	}{
		{"summer", "America/New_York", 360, 870, "2025-06-04 12:00", "2025-06-04 10:00", "2025-06-04 18:30"},
		{"winter", "America/New_York", 360, 870, "2025-01-08 12:00", "2025-01-08 11:00", "2025-01-08 19:30"},
		{"over midnight", "America/New_York", 1320, 360, "2025-06-05 03:00", "2025-06-05 02:00", "2025-06-05 10:00"},
		{"night the clock goes forward, 7 h", "America/New_York", 1320, 360, "2025-03-09 05:00", "2025-03-09 03:00", "2025-03-09 10:00"},
		{"night the clock goes back, 9 h", "America/New_York", 1320, 360, "2025-11-02 05:00", "2025-11-02 02:00", "2025-11-02 11:00"},
		{"starts in the skipped hour", "America/New_York", 150, 600, "2025-03-09 08:00", "2025-03-09 07:00", "2025-03-09 14:00"},
		{"starts in the repeated hour: the first", "America/New_York", 90, 600, "2025-11-02 08:00", "2025-11-02 05:30", "2025-11-02 15:00"},
		{"ends in the repeated hour: the second", "America/New_York", 1200, 90, "2025-11-02 05:00", "2025-11-02 00:00", "2025-11-02 06:30"},
		{"forward in Berlin", "Europe/Berlin", 1320, 360, "2025-03-30 00:00", "2025-03-29 21:00", "2025-03-30 04:00"},
		{"back in Berlin", "Europe/Berlin", 1320, 360, "2025-10-26 00:00", "2025-10-25 20:00", "2025-10-26 05:00"},
		{"half an hour on Lord Howe Island", "Australia/Lord_Howe", 1320, 360, "2025-04-05 15:00", "2025-04-05 11:00", "2025-04-05 19:30"},
		{"midnight is skipped in Chile", "America/Santiago", 0, 480, "2025-09-07 05:00", "2025-09-07 04:00", "2025-09-07 11:00"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			mill := aMill()
			mill.Zone = tc.zone
			mill.Shifts = []checklists.Shift{{Name: "s", Start: tc.start, End: tc.end, Days: every}}
			list := aList()
			list.InForce = utc("2020-01-01 00:00")
			state := checklists.Due(list, mill, nil, utc(tc.now))
			require.Equal(t, checklists.IsLate, state.Status)
			require.Equal(t, tc.starts, state.Starts.UTC().Format("2006-01-02 15:04"))
			require.Equal(t, tc.ends, state.Ends.UTC().Format("2006-01-02 15:04"))
			require.Equal(t, 4*time.Hour, state.Starts.Sub(state.Opens))
		})
	}
}

func TestCalendarPeriodsOverClockChanges(t *testing.T) {
	for _, tc := range []struct {
		every       checklists.Period
		zone, now   string
		opens, ends string // in UTC
		status      checklists.DueStatus
	}{
		{checklists.EachDay, "America/New_York", "2025-03-09 12:00", "2025-03-09 05:00", "2025-03-10 04:00", checklists.IsLate},
		{checklists.EachDay, "America/New_York", "2025-11-02 12:00", "2025-11-02 04:00", "2025-11-03 05:00", checklists.IsLate},
		{checklists.EachDay, "America/Santiago", "2025-09-07 12:00", "2025-09-07 04:00", "2025-09-08 03:00", checklists.IsLate},
		{checklists.EachWeek, "America/New_York", "2025-03-09 12:00", "2025-03-03 05:00", "2025-03-10 04:00", checklists.IsLate},
		{checklists.EachWeek, "Europe/Berlin", "2025-10-22 12:00", "2025-10-19 22:00", "2025-10-26 23:00", checklists.IsLate},
		{checklists.EachMonth, "Europe/Berlin", "2025-10-22 12:00", "2025-09-30 22:00", "2025-10-31 23:00", checklists.IsLate},
		{checklists.EachMonth, "America/New_York", "2024-02-29 12:00", "2024-02-01 05:00", "2024-03-01 05:00", checklists.IsLate},
		{checklists.EachQuarter, "America/New_York", "2025-12-31 12:00", "2025-10-01 04:00", "2026-01-01 05:00", checklists.IsLate},
		{checklists.EachQuarter, "Australia/Sydney", "2025-05-01 12:00", "2025-03-31 13:00", "2025-06-30 14:00", checklists.IsLate},
		{checklists.EachYear, "Australia/Sydney", "2025-05-01 12:00", "2024-12-31 13:00", "2025-12-31 13:00", checklists.IsLate},
		// 30 December 2011 did not happen in Samoa: nothing of it can be missed.
		{checklists.EachDay, "Pacific/Apia", "2011-12-30 20:00", "2011-12-30 10:00", "2011-12-31 10:00", checklists.IsDue},
	} {
		mill := aMill()
		mill.Zone = tc.zone
		list := aList()
		list.Schedule.Every, list.InForce = tc.every, utc("2001-01-01 00:00")
		state := checklists.Due(list, mill, nil, utc(tc.now))
		require.Equal(t, tc.status, state.Status, "%s %s", tc.every, tc.now)
		require.Equal(t, tc.opens, state.Opens.UTC().Format("2006-01-02 15:04"), "%s %s", tc.every, tc.now)
		require.Equal(t, tc.ends, state.Ends.UTC().Format("2006-01-02 15:04"), "%s %s", tc.every, tc.now)
	}
}

func done(at time.Time) []checklists.Inspection {
	return []checklists.Inspection{{ID: "i", List: checklists.PreShift, At: at}}
}

func TestEachShiftNeedsItsOwnCheck(t *testing.T) {
	list, mill := aList(), aMill()
	for _, tc := range []struct {
		name, now string
		signed    string
		want      checklists.DueStatus
	}{
		{"window not open yet", "2025-06-04 01:59", "", checklists.IsMissed}, // Tuesday had none
		{"window opens 4 hours before", "2025-06-04 02:00", "", checklists.IsDue},
		{"last minute before", "2025-06-04 05:59", "", checklists.IsDue},
		{"shift begun", "2025-06-04 06:00", "", checklists.IsLate},
		{"shift nearly over", "2025-06-04 14:29", "", checklists.IsLate},
		{"shift over", "2025-06-04 14:30", "", checklists.IsMissed},
		{"signed in the window", "2025-06-04 14:29", "2025-06-04 02:00", checklists.IsDone},
		{"signed late", "2025-06-04 10:00", "2025-06-04 09:00", checklists.IsDone},
		{"done, but the shift is over", "2025-06-04 14:30", "2025-06-04 05:30", checklists.NoShift},
		{"yesterday's doesn't count", "2025-06-04 06:00", "2025-06-03 14:29", checklists.IsLate},
		{"signed to come doesn't count", "2025-06-04 06:00", "2025-06-04 06:01", checklists.IsLate},
		{"weekend", "2025-06-08 12:00", "2025-06-06 05:30", checklists.NoShift},
		{"weekend after a missed Friday", "2025-06-08 12:00", "2025-06-05 05:30", checklists.IsMissed},
		{"signed on the weekend counts", "2025-06-08 12:00", "2025-06-08 11:00", checklists.IsDone},
		{"for 12 hours", "2025-06-08 22:59", "2025-06-08 11:00", checklists.IsDone},
		{"not longer", "2025-06-08 23:00", "2025-06-08 11:00", checklists.IsMissed}, // Friday had none
		{"signed before the window reaches into the shift", "2025-06-04 13:58", "2025-06-04 01:59", checklists.IsDone},
		{"but not past its 12 hours", "2025-06-04 13:59", "2025-06-04 01:59", checklists.IsLate},
		{"a shift begun on an earlier check isn't missed", "2025-06-04 15:00", "2025-06-04 01:00", checklists.NoShift},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var history []checklists.Inspection
			if tc.signed != "" {
				history = done(at(tc.signed))
			}
			state := checklists.Due(list, mill, history, at(tc.now))
			require.Equal(t, tc.want, state.Status, "%s", state.Said)
			require.Equal(t, tc.want == checklists.IsDone, state.Done != nil)
			require.False(t, state.Said.Empty())
		})
	}
}

func TestShiftsUnderWayTogetherEachNeedTheirCheck(t *testing.T) {
	mill := aMill()
	mill.Shifts = append(mill.Shifts, checklists.Shift{Name: "late", Start: 14 * 60, End: 22 * 60, Days: weekdays})
	list, now := aList(), at("2025-06-04 14:15")
	require.Equal(t, checklists.IsLate, checklists.Due(list, mill, done(at("2025-06-04 05:30")), now).Status)
	require.Equal(t, "late", checklists.Due(list, mill, done(at("2025-06-04 05:30")), now).Shift)
	require.Equal(t, checklists.IsDone, checklists.Due(list, mill, done(at("2025-06-04 13:00")), now).Status, "within both windows")
	require.Equal(t, checklists.IsDone, checklists.Due(list, mill, done(at("2025-06-04 05:30")), at("2025-06-04 13:59")).Status,
		"the next shift holds nothing before it starts while one that was checked is under way")
}

func TestNothingIsMissedBeforeTheListWasInForce(t *testing.T) {
	list := aList()
	list.InForce = at("2025-06-04 09:00")
	require.Equal(t, checklists.NoShift, checklists.Due(list, aMill(), nil, at("2025-06-04 15:00")).Status)
	list.Schedule.Every = checklists.EachMonth
	require.Equal(t, checklists.IsDue, checklists.Due(list, aMill(), nil, at("2025-07-10 15:00")).Status, "in force for part of June only")
	require.Equal(t, checklists.IsLate, checklists.Due(list, aMill(), nil, at("2025-08-10 15:00")).Status)
	require.Equal(t, checklists.IsDue, checklists.Due(list, aMill(), done(at("2025-07-31 23:59")), at("2025-08-10 15:00")).Status)
	require.Equal(t, checklists.IsDone, checklists.Due(list, aMill(), done(at("2025-08-01 00:00")), at("2025-08-10 15:00")).Status)
}

func TestClosedMillIsExcusedAndStaysHeld(t *testing.T) {
	mill, list := aMill(), aList()
	mill.Closed = []checklists.Closure{{From: at("2025-06-02 00:00"), Until: at("2025-06-09 00:00"), Reason: "idle week"}}
	require.Equal(t, checklists.IsExcused, checklists.Due(list, mill, done(at("2025-05-30 05:30")), at("2025-06-04 08:00")).Status)
	require.Equal(t, checklists.IsDone, checklists.Due(list, mill, done(at("2025-06-04 07:00")), at("2025-06-04 08:00")).Status,
		"who works while it is closed checks first")
	require.Equal(t, checklists.IsDue, checklists.Due(list, mill, nil, at("2025-06-09 02:00")).Status)
	list.Schedule.Every = checklists.EachWeek
	require.Equal(t, checklists.IsExcused, checklists.Due(list, mill, nil, at("2025-06-04 08:00")).Status)
	require.Equal(t, checklists.IsDue, checklists.Due(list, mill, nil, at("2025-06-10 08:00")).Status, "an idle week isn't missed")
}

func TestWithoutZoneScheduleOrListNothingIsDone(t *testing.T) {
	for name, change := range map[string]func(*checklists.List, *checklists.Mill){
		"no zone":         func(_ *checklists.List, m *checklists.Mill) { m.Zone = "" },
		"unknown zone":    func(_ *checklists.List, m *checklists.Mill) { m.Zone = "America/Nowhere" },
		"the server's":    func(_ *checklists.List, m *checklists.Mill) { m.Zone = "Local" },
		"draft":           func(l *checklists.List, _ *checklists.Mill) { l.Version = 0 },
		"not yet":         func(l *checklists.List, _ *checklists.Mill) { l.InForce = at("2025-06-04 10:01") },
		"never":           func(l *checklists.List, _ *checklists.Mill) { l.InForce = time.Time{} },
		"unknown period":  func(l *checklists.List, _ *checklists.Mill) { l.Schedule.Every = "fortnight" },
		"no period named": func(l *checklists.List, _ *checklists.Mill) { l.Schedule.Every = "" },
	} {
		list, mill := aList(), aMill()
		change(&list, &mill)
		state := checklists.Due(list, mill, done(at("2025-06-04 05:30")), at("2025-06-04 10:00"))
		require.Equal(t, checklists.DueUnknown, state.Status, name)
		require.Nil(t, state.Done, name)
	}
	mill := aMill()
	mill.Shifts = nil
	require.Equal(t, checklists.NoShift, checklists.Due(aList(), mill, nil, at("2025-06-04 10:00")).Status)
	mill.Shifts = []checklists.Shift{{Name: "endless", Start: 0, End: 1e9, Days: weekdays}}
	require.Equal(t, checklists.NoShift, checklists.Due(aList(), mill, nil, at("2025-06-04 10:00")).Status)
}

// Whatever the zone and the time, periods follow on each other without gap or
// overlap, and a shift's times read on the wall as they were set, unless a clock
// change falls on them.
func TestPeriodsFollowOnEachOther(t *testing.T) {
	zones := []string{"America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "America/Santiago", "Pacific/Apia", "Asia/Kolkata", "Africa/Casablanca", "America/Havana"}
	periods := []checklists.Period{checklists.EachDay, checklists.EachWeek, checklists.EachMonth, checklists.EachQuarter, checklists.EachYear}
	rapid.Check(t, func(t *rapid.T) {
		mill := aMill()
		mill.Zone = rapid.SampledFrom(zones).Draw(t, "zone")
		list := aList()
		list.InForce = utc("2000-01-01 00:00")
		list.Schedule.Every = rapid.SampledFrom(periods).Draw(t, "period")
		now := time.Unix(rapid.Int64Range(1.2e9, 2.1e9).Draw(t, "now"), 0)
		state := checklists.Due(list, mill, nil, now)
		require.False(t, now.Before(state.Opens) || !now.Before(state.Ends), "%s to %s is not around %s", state.Opens, state.Ends, now)
		next := checklists.Due(list, mill, nil, state.Ends)
		require.True(t, next.Opens.Equal(state.Ends), "%s then %s", state.Ends, next.Opens)
		before := checklists.Due(list, mill, nil, state.Opens.Add(-time.Nanosecond))
		require.True(t, before.Ends.Equal(state.Opens))

		loc, err := mill.Location()
		require.NoError(t, err)
		start := rapid.IntRange(0, 1439).Draw(t, "start")
		mill.Shifts = []checklists.Shift{{Name: "s", Start: start, End: start, Days: []time.Weekday{0, 1, 2, 3, 4, 5, 6}}}
		shifts, err := mill.ShiftsBetween(now, now.Add(time.Hour))
		require.NoError(t, err)
		require.NotEmpty(t, shifts, "a shift around the clock is always under way")
		for _, s := range shifts {
			wall := s.Starts.In(loc)
			_, before := s.Starts.Add(-time.Nanosecond).In(loc).Zone()
			_, after := wall.Zone()
			require.True(t, wall.Hour()*60+wall.Minute() == start || before != after, "%s", wall)
		}
	})
}

func TestMillOutsideWhatTheRulesCanUseIsRefusedByField(t *testing.T) {
	require.NoError(t, aMill().Validate())
	mill := checklists.Mill{Zone: "Mars/Olympus", Units: "cubits", Shifts: []checklists.Shift{{Start: -1, End: 1441}, {Name: "x", Days: []time.Weekday{9}}}}
	err := mill.Validate()
	for _, field := range []string{"name", "zone", "units", "shifts.1.name", "shifts.1.start", "shifts.1.end", "shifts.1.days", "shifts.2.days"} {
		require.NotNil(t, problems(t, err).For(field), "%s", field)
	}
	_, err = checklists.Mill{}.ShiftsBetween(beforeShift, beforeShift)
	require.NotNil(t, problems(t, err).For("zone"))
}
