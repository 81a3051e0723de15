package checklists_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// letters writes a row of days, one letter a day.
func letters(row checklists.CalendarRow) string {
	var text strings.Builder
	for _, day := range row.Days {
		text.WriteString(map[checklists.Standing]string{
			checklists.StandsUnknown: "?", checklists.StandsNotDue: ".", checklists.StandsNotYet: "-", checklists.StandsDone: "D", checklists.StandsLate: "L",
			checklists.StandsMissed: "M", checklists.StandsOverdue: "O", checklists.StandsExcused: "E", checklists.StandsHeld: "H", checklists.StandsClosed: "C",
		}[day.Stands])
	}
	return text.String()
}

// wallMarch is a time on the wall in March 2026; clocks go forward on Sunday 8.
func wallMarch(day, hour, minute int) time.Time {
	return at(fmt.Sprintf("2026-03-%02d %02d:%02d", day, hour, minute))
}

// handMade is a month with every standing in it, two shifts a working day.
func handMade() checklists.CalendarFacts {
	mill := dayMill()
	mill.Closed = []checklists.Closure{{From: wallMarch(23, 0, 0), Until: wallMarch(25, 0, 0), Reason: "Inventory"}}
	list := func(id, title string, version int, from time.Time, s checklists.Schedule, eq procedures.EquipmentID) checklists.List {
		return checklists.List{ID: checklists.ListID(id), Version: version, Title: title, InForce: from, Schedule: s, Items: []checklists.Item{{ID: "A", Equipment: eq}}}
	}
	february := at("2026-02-01 09:00")
	shift := checklists.Schedule{Every: checklists.EachShift}
	f := checklists.CalendarFacts{
		Mills: []checklists.MillFrom{{Mill: mill, From: february}},
		Lists: []checklists.List{
			list("a", "A shift", 1, february, shift, "head-saw"),
			list("a", "A shift", 2, wallMarch(11, 12, 0), shift, "head-saw"),
			list("b", "B week", 1, wallMarch(4, 10, 0), checklists.Schedule{Every: checklists.EachWeek}, "hoist"),
			list("c", "C seven days", 1, february, checklists.Schedule{Every: checklists.AfterDays, Days: 7}, "hoist"),
			list("d", "D jam", 1, february, checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Jam}}, "head-saw"),
			list("e", "E day", 1, wallMarch(20, 0, 0), checklists.Schedule{Every: checklists.EachDay}, "hoist"),
		},
		Events: []checklists.Event{
			{Kind: checklists.Jam, Equipment: "head-saw", Happened: wallMarch(12, 9, 0), At: wallMarch(12, 9, 0)},
			{Kind: checklists.Jam, Equipment: "head-saw", Happened: wallMarch(17, 9, 0), At: wallMarch(17, 9, 0)},
		},
		Excuses: []checklists.Excuse{
			{ID: "x", List: "a", Shift: "Night", Starts: wallMarch(6, 22, 0), Reason: "No logs", At: wallMarch(7, 9, 0)},
			{ID: "y", List: "e", Starts: wallMarch(25, 0, 0), Reason: "Power cut", At: wallMarch(26, 9, 0)},
		},
		Out: checklists.OutBy([]checklists.LockedSpan{
			{Equipment: []procedures.EquipmentID{"head-saw"}, Begun: wallMarch(10, 6, 0), Ended: wallMarch(10, 16, 0)},
			{Equipment: []procedures.EquipmentID{"head-saw"}, Begun: wallMarch(5, 7, 5), Ended: wallMarch(5, 16, 0)}, // not all of the shift
		}, nil, nil),
	}
	sign := func(list checklists.ListID, t time.Time, late bool) {
		f.Inspections = append(f.Inspections, checklists.Inspection{ID: checklists.InspectionID(fmt.Sprintf("%s%s", list, t.UTC().Format("0102T1504"))), List: list, Version: 1, Signer: "ada", Began: t.Add(-10 * time.Minute), At: t, Late: late})
	}
	for day := 2; day <= 27; day++ {
		if wd := wallMarch(day, 12, 0).Weekday(); wd == time.Saturday || wd == time.Sunday || day == 23 || day == 24 {
			continue
		}
		switch day {
		case 3:
			sign("a", wallMarch(3, 7, 30), true)
		case 5, 10, 11:
		default:
			sign("a", wallMarch(day, 6, 40), false)
		}
		switch day {
		case 4:
			sign("a", wallMarch(5, 1, 30), true) // past midnight, of the night that began on the 4th
		case 6, 27:
		default:
			sign("a", wallMarch(day, 21, 45), false)
		}
	}
	sign("b", wallMarch(18, 10, 0), false)
	sign("c", wallMarch(2, 10, 0), false)
	sign("c", wallMarch(20, 10, 0), false)
	sign("d", wallMarch(12, 10, 0), false)
	sign("d", wallMarch(19, 11, 0), false)
	sign("e", wallMarch(20, 10, 0), false)
	sign("e", wallMarch(26, 10, 0), false)
	slices.Reverse(f.Inspections) // in whatever order they are loaded
	return f
}

// Counted by hand on paper, day by day.
func TestHandMadeMonthShowsEveryStanding(t *testing.T) {
	c, err := checklists.NewCalendar(handMade())
	require.NoError(t, err)
	days := c.Days(wallMarch(1, 0, 0), wallMarch(31, 0, 0))
	require.Len(t, days, 31)
	for i, day := range days {
		assert.Equal(t, wallMarch(i+1, 0, 0), day, "the first instant of its date, over the change of the clock")
	}
	now := wallMarch(27, 23, 0)
	read := c.Read(days, now)
	want := map[string]string{
		// day   1234567890123456789012345678901
		"A shift":      ".DLLME..DHMDD..DDDDD..CCDDO..--",
		"B week":       "..............M..D....CC....-..",
		"C seven days": "OD......MOOOOOOOOOOD..CC..-....",
		"D jam":        "...........D....MOD...CC.......",
		"E day":        "...................DMMCCED-----",
	}
	tallies := map[string]checklists.Tally{
		"A shift":      {Done: 29, Late: 2, Missed: 2, Excused: 1, Held: 1, Overdue: 1, NotYet: 4, Stands: checklists.StandsMissed},
		"B week":       {Done: 1, Missed: 1, NotYet: 1, Stands: checklists.StandsMissed},
		"C seven days": {Done: 2, Missed: 1, NotYet: 1, Stands: checklists.StandsMissed},
		"D jam":        {Done: 2, Missed: 1, Stands: checklists.StandsMissed},
		"E day":        {Done: 2, Missed: 2, Excused: 1, Closed: 2, NotYet: 5, Stands: checklists.StandsMissed},
	}
	rows := read.ByList()
	require.Len(t, rows, 5)
	for _, row := range rows {
		assert.Equal(t, want[row.Title], letters(row), row.Title)
		assert.Equal(t, tallies[row.Title], row.Tally, row.Title)
	}
	assert.Equal(t, "A shift", rows[0].Title, "the most gaps first")

	var shifts []checklists.ListDay
	for _, row := range rows {
		if row.List == "a" {
			shifts = row.Days
		}
	}
	require.Len(t, shifts[3].Checks, 2)
	assert.Equal(t, []checklists.Standing{checklists.StandsDone, checklists.StandsLate}, []checklists.Standing{shifts[3].Checks[0].Stands, shifts[3].Checks[1].Stands}, "each shift within reach, the worst shown")
	assert.Equal(t, wallMarch(5, 1, 30), shifts[3].Checks[1].Done.At, "signed past midnight, for the night that began the day before")

	machines := read.ByEquipment(procedures.Plant{{ID: "head-saw", Name: "Head saw"}, {ID: "hoist", Name: "Hoist"}, {ID: "fan", Name: "Fan"}})
	require.Len(t, machines, 2, "nothing is asked about the fan")
	assert.Equal(t, ".DLLME..DHMDD..DMODD..CCDDO..--", letters(machines[slices.IndexFunc(machines, func(r checklists.CalendarRow) bool { return r.Equipment == "head-saw" })]))
	assert.Equal(t, "OD......MOOOOOMOOOODMMCCED-----", letters(machines[slices.IndexFunc(machines, func(r checklists.CalendarRow) bool { return r.Equipment == "hoist" })]))

	ben := procedures.Person{ID: "ben", Name: "Ben", Role: procedures.Operator, QualifiedLifting: true, LiftingUntil: wallMarch(20, 0, 0)}
	people := read.ByPerson([]procedures.Person{{ID: "ada", Name: "Ada", Role: procedures.Operator}, ben, {ID: "cy", Name: "Cy", Role: procedures.Operator}}, nil)
	require.Len(t, people, 2, "who signed nothing and has no lapse is left out")
	assert.Equal(t, "Ben", people[0].Person.Name, "a lapse first")
	require.Len(t, people[0].Lapsed, 1)
	assert.Equal(t, wallMarch(20, 0, 0), people[0].Lapsed[0].Since)
	assert.Equal(t, [2]int{38, 2}, [2]int{people[1].Signed, people[1].Late}, "31 of shifts, 2 of these late, and 7 more, with 2 of them on the 20th")
	assert.Len(t, people[1].Days[19].Signed, 4)
}

// A list that asks less often from the middle of a day on still asked for the
// shift that had begun, and for nothing before it asked so.
func TestDayIsJudgedByTheVersionThenInForce(t *testing.T) {
	f := handMade()
	f.Inspections, f.Excuses, f.Out = nil, nil, nil
	f.Lists = []checklists.List{f.Lists[0], f.Lists[1]}
	f.Lists[1].Schedule.Every = checklists.EachMonth
	c, err := checklists.NewCalendar(f)
	require.NoError(t, err)
	rows := c.Read(c.Days(wallMarch(9, 0, 0), wallMarch(31, 0, 0)), at("2026-05-01 09:00")).ByList()
	require.Len(t, rows, 1)
	assert.Equal(t, "MMM...........CC.......", letters(rows[0]))
	assert.Len(t, rows[0].Days[2].Checks, 1, "the night of the 11th began after the list stopped asking for it")
	april := c.Read(c.Days(at("2026-04-30 00:00"), at("2026-04-30 00:00")), at("2026-05-01 09:00")).ByList()
	assert.Equal(t, "M", letters(april[0]), "the first whole month")
}

// The shifts of a day are those of the plan the mill then had.
func TestNewShiftPlanMissesNothingBeforeIt(t *testing.T) {
	f := handMade()
	f.Inspections, f.Excuses, f.Out, f.Lists = nil, nil, nil, f.Lists[:1]
	more := f.Mills[0].Mill
	more.Shifts = append(slices.Clone(more.Shifts), checklists.Shift{Name: "Late", Start: 15 * 60, End: 22 * 60, Days: []time.Weekday{time.Sunday, time.Monday, time.Thursday}})
	f.Mills = append(f.Mills, checklists.MillFrom{Mill: more, From: wallMarch(12, 17, 0)})
	c, err := checklists.NewCalendar(f)
	require.NoError(t, err)
	row := c.Read(c.Days(wallMarch(8, 0, 0), wallMarch(16, 0, 0)), wallMarch(20, 0, 0)).ByList()[0]
	var counts []int
	for _, day := range row.Days {
		counts = append(counts, len(day.Checks))
	}
	assert.Equal(t, []int{0, 2, 2, 2, 2, 2, 0, 1, 3}, counts, "from Sunday 8 to Monday 16")
}

// A day kept is a day reckoned again: none depends on the days before it.
func TestEachDayIsReckonedByItself(t *testing.T) {
	c, err := checklists.NewCalendar(handMade())
	require.NoError(t, err)
	days := c.Days(wallMarch(1, 0, 0), wallMarch(31, 0, 0))
	whole := c.Read(days, wallMarch(27, 23, 0)).ByList()
	for i := range days {
		for _, row := range c.Read(days[i:i+1], wallMarch(27, 23, 0)).ByList() {
			at := slices.IndexFunc(whole, func(r checklists.CalendarRow) bool { return r.List == row.List })
			require.Equal(t, whole[at].Days[i], row.Days[0])
		}
	}
}

// A calendar that was read before shows what one made anew does, whenever it is read,
// were it with a clock put back.
func TestDaysThatAreOverAreReckonedOnce(t *testing.T) {
	f := handMade()
	for i, every := range []checklists.Period{checklists.EachDay, checklists.EachWeek, checklists.EachQuarter} {
		l := f.Lists[0]
		l.ID, l.Title, l.Schedule = checklists.ListID(fmt.Sprint("more", i)), fmt.Sprint("more ", i), checklists.Schedule{Every: every}
		f.Lists = append(f.Lists, l)
	}
	kept, err := checklists.NewCalendar(f)
	require.NoError(t, err)
	rapid.Check(t, func(r *rapid.T) {
		now := wallMarch(1, 0, 0).Add(time.Duration(rapid.IntRange(0, 100*24*60).Draw(r, "minutes")) * time.Minute)
		anew, err := checklists.NewCalendar(f)
		require.NoError(r, err)
		days := anew.Days(wallMarch(1, 0, 0), wallMarch(31, 0, 0))
		require.Equal(r, anew.Read(days, now).ByList(), kept.Read(days, now).ByList())
	})
}

// The calendar and the day at a glance answer by the same rule.
func TestCalendarSaysWhatTheDayAtAGlanceSays(t *testing.T) {
	f, now := handMade(), wallMarch(27, 23, 0)
	c, err := checklists.NewCalendar(f)
	require.NoError(t, err)
	days := c.Days(wallMarch(1, 0, 0), wallMarch(31, 0, 0))
	mill, compared := f.Mills[0].Mill, 0
	for _, row := range c.Read(days, now).ByList() {
		list := f.Lists[slices.IndexFunc(f.Lists, func(l checklists.List) bool { return l.ID == row.List })]
		for i, day := range days {
			until := day.AddDate(0, 0, 1)
			var said []checklists.DueState
			for _, check := range row.Days[i].Checks {
				said = append(said, check.DueState)
			}
			if glance := checklists.OnDay(list, mill, f.Inspections, f.Excuses, day, until, now); len(glance) > 0 {
				compared += len(glance)
				require.Equal(t, glance, said, "%s on %s", row.Title, day)
			} else {
				require.True(t, len(said) == 0 || row.Days[i].Stands == checklists.StandsOverdue || list.Schedule.Every == checklists.OnEvent, "%s on %s", row.Title, day)
			}
		}
	}
	require.Equal(t, 40+3+4+2+12, compared)
}

// busyYear is a year of a mill with 20 lists of each of three shifts.
func busyYear() (checklists.CalendarFacts, time.Time) {
	mill := dayMill()
	mill.Shifts = nil
	all := []time.Weekday{0, 1, 2, 3, 4, 5, 6}
	for _, start := range []int{6, 14, 22} {
		mill.Shifts = append(mill.Shifts, checklists.Shift{Name: fmt.Sprint(start), Start: start * 60, End: (start + 8) % 24 * 60, Days: all})
	}
	from := at("2025-01-01 00:00")
	f := checklists.CalendarFacts{Mills: []checklists.MillFrom{{Mill: mill}}}
	for n := range 20 {
		id := checklists.ListID(fmt.Sprint("list", n))
		f.Lists = append(f.Lists, checklists.List{ID: id, Version: 1, Title: string(id), InForce: from.AddDate(0, -1, 0), Schedule: checklists.Schedule{Every: checklists.EachShift}, Items: []checklists.Item{{ID: "A", Equipment: "head-saw"}}})
		for day := range 365 {
			for _, hour := range []int{5, 13, 21} {
				f.Inspections = append(f.Inspections, checklists.Inspection{ID: checklists.InspectionID(fmt.Sprint(n, day, hour)), List: id, Version: 1, At: from.AddDate(0, 0, day).Add(time.Duration(hour) * time.Hour)})
			}
		}
	}
	return f, from
}

func BenchmarkYearOfTwentyListsAndThreeShifts(b *testing.B) {
	f, from := busyYear()
	for b.Loop() {
		c, err := checklists.NewCalendar(f)
		if err != nil {
			b.Fatal(err)
		}
		rows := c.Read(c.Days(from, from.AddDate(0, 0, 364)), from.AddDate(1, 0, 0)).ByList()
		if len(rows) != 20 || rows[0].Tally.Done != 3*365 {
			b.Fatal(rows[0].Tally)
		}
	}
}
