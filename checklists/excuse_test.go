package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func TestMissIsExcusedOnASupervisorsWordWithAReasonOnce(t *testing.T) {
	list := aList()
	list.InForce = at("2025-06-02 00:00") // Monday's, Tuesday's and Wednesday's shifts are its own
	f := checklists.Facts{Mill: aMill(), Plant: aPlant(), Lists: []checklists.List{list}, Inspections: done(at("2025-06-03 05:30"))}
	now := at("2025-06-04 15:00")
	missed := f.Missed(list, now)
	require.Len(t, missed, 2)
	require.Equal(t, at("2025-06-04 06:00").UTC(), missed[0].Starts.UTC(), "the newest first")
	require.Equal(t, at("2025-06-02 06:00").UTC(), missed[1].Starts.UTC())

	monday := missed[1].Starts
	_, err := checklists.ExcuseMiss("e", f, list.ID, monday, "saw was down", helper(), now)
	require.Error(t, err, "not a supervisor")
	_, err = checklists.ExcuseMiss("e", f, list.ID, monday, " ", boss(), now)
	require.NotNil(t, problems(t, err).For("reason"))
	_, err = checklists.ExcuseMiss("e", f, list.ID, at("2025-06-03 06:00"), "x", boss(), now)
	require.Error(t, err, "that one was done")
	excuse, err := checklists.ExcuseMiss("e", f, list.ID, monday, "saw was down", boss(), now)
	require.NoError(t, err)
	f.Excuses = []checklists.Excuse{excuse}
	require.Equal(t, checklists.IsExcused, f.Missed(list, now)[1].Status)
	require.Contains(t, f.Missed(list, now)[1].Said.String(), "saw was down")
	_, err = checklists.ExcuseMiss("e2", f, list.ID, monday, "again", boss(), now)
	require.Error(t, err)
}

func TestExcuseFreesNoMachineThatWaitsForItsCheck(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.Inspections = nil
	list := f.Lists[0]
	shift := f.Due(list, underWay)
	require.Equal(t, checklists.IsLate, shift.Status)
	excuse, err := checklists.ExcuseMiss("e", f, list.ID, shift.Starts, "nobody saws today", boss(), underWay)
	require.NoError(t, err)
	f.Excuses = []checklists.Excuse{excuse}
	require.Equal(t, checklists.IsExcused, f.Due(list, underWay).Status)
	require.Equal(t, checklists.Held, readiness(t, f, underWay)["hoist"].Status)

	late := everyDays(60)
	late.ID, late.Version = "sixty", 1
	f = checkedFacts(t, beforeShift)
	f.Lists = append(f.Lists, late)
	require.Equal(t, checklists.Held, readiness(t, f, underWay)["hoist"].Status, "never done for more than 60 days")
	state := f.Due(late, underWay)
	excuse, err = checklists.ExcuseMiss("e", f, "sixty", state.Starts, "sawyer ill", boss(), underWay)
	require.NoError(t, err)
	f.Excuses = []checklists.Excuse{excuse}
	require.Equal(t, checklists.IsExcused, f.Due(late, underWay).Status)
	require.Equal(t, checklists.Held, readiness(t, f, underWay)["hoist"].Status, "29 CFR 1910.219(p)(1) knows no excuse")
}

func TestListThatHoldsOnceLateHoldsNothingBefore(t *testing.T) {
	week := aList()
	week.ID, week.Schedule = "week", checklists.Schedule{Every: checklists.EachWeek, HoldsLate: true, Grace: 2}
	f := checkedFacts(t, beforeShift) // Wednesday
	f.Lists = append(f.Lists, week)
	require.Equal(t, checklists.Held, readiness(t, f, underWay)["hoist"].Status, "last week had none, and the grace is over")
	require.Equal(t, checklists.IsDue, f.Due(week, at("2025-06-03 23:59")).Status, "within two days of grace")
	excuse, err := checklists.ExcuseMiss("e", f, week.ID, at("2025-05-26 00:00"), "idle", boss(), underWay)
	require.NoError(t, err)
	f.Excuses = []checklists.Excuse{excuse}
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status, "this week's may still be done")
	f.Excuses = nil
	f.Inspections = append(f.Inspections, gone(week, "w", "2025-05-28 10:00"))
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status)

	f.Lists = f.Lists[1:]
	require.Equal(t, []checklists.HoldKind{checklists.HeldUnread}, kinds(readiness(t, f, underWay)["hoist"]), "it is no check before running")
	f.Lists[0].Schedule = checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Jam}, Holds: true}
	require.Equal(t, []checklists.HoldKind{checklists.HeldUnread}, kinds(readiness(t, f, underWay)["hoist"]))
	f.Lists[0].Schedule = checklists.Schedule{Every: checklists.AfterHours, Hours: 50, Meter: "engine", HoldsLate: true}
	require.Contains(t, kinds(readiness(t, f, underWay)["hoist"]), checklists.HeldByDue, "running hours nobody knows hold")
}

func TestGraceOfAShiftIsMinutes(t *testing.T) {
	list := aList()
	list.Schedule.Grace = 20
	require.Equal(t, checklists.IsDue, checklists.Due(list, aMill(), nil, at("2025-06-04 06:19")).Status)
	require.Equal(t, checklists.IsLate, checklists.Due(list, aMill(), nil, at("2025-06-04 06:20")).Status)
}

func TestWhatComesNextAndWhoIsExpected(t *testing.T) {
	mill := aMill()
	mill.Shifts[0].People = []procedures.PersonID{"ben"}
	shift, week, sixty := aList(), aList(), everyDays(60)
	week.ID, week.Schedule = "week", checklists.Schedule{Every: checklists.EachWeek, Role: procedures.Supervisor}
	sixty.ID, sixty.Schedule.People = "sixty", []procedures.PersonID{"ann"}
	jam := aList()
	jam.ID, jam.Schedule = "jam", checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Jam}}
	now := at("2025-06-04 08:00") // Wednesday
	signedAt := func(list checklists.ListID, when string) checklists.Inspection {
		return checklists.Inspection{ID: checklists.InspectionID(list), List: list, At: at(when)}
	}
	f := checklists.Facts{Mill: mill, Lists: []checklists.List{jam, sixty, week, shift}, Inspections: []checklists.Inspection{
		signedAt(checklists.PreShift, "2025-06-04 05:30"), signedAt("week", "2025-06-02 09:00"), signedAt("sixty", "2025-05-01 10:00")}}
	coming := f.Upcoming(now)
	var order []checklists.ListID
	for _, c := range coming {
		order = append(order, c.List)
	}
	require.Equal(t, []checklists.ListID{checklists.PreShift, "week", "sixty", "jam"}, order)
	require.Equal(t, at("2025-06-05 02:00").UTC(), coming[0].Opens.UTC(), "for tomorrow's shift, 4 hours before")
	require.Equal(t, []procedures.PersonID{"ben"}, coming[0].People)
	require.Equal(t, at("2025-06-09 00:00").UTC(), coming[1].Opens.UTC())
	require.Equal(t, procedures.Supervisor, coming[1].Role)
	require.Equal(t, at("2025-06-30 00:00").UTC(), coming[2].Opens.UTC())
	require.Equal(t, at("2025-07-01 00:00").UTC(), coming[2].Ends.UTC())
	require.Equal(t, []procedures.PersonID{"ann"}, coming[2].People)
	require.True(t, coming[3].Unknown)

	f.Mill.Closed = []checklists.Closure{{From: at("2025-06-05 00:00"), Until: at("2025-06-16 00:00"), Reason: "mud"}}
	coming = f.Upcoming(now)
	require.Equal(t, at("2025-06-16 00:00").UTC(), coming[0].Opens.UTC(), "a week closed all through has none")
	require.Equal(t, at("2025-06-16 02:00").UTC(), coming[1].Opens.UTC())
	f.Inspections = nil
	require.True(t, f.Upcoming(now)[0].Now)
	people, role := f.Due(shift, now).Expected(shift)
	require.Equal(t, []procedures.PersonID{"ben"}, people)
	require.Empty(t, role)
}

// The mill moved from New York to Chicago on Wednesday at noon: its shift starts
// an hour later from then on, in the time of the world.
func TestShiftsFollowADatedChangeOfZone(t *testing.T) {
	mill := aMill()
	mill.Zones = []checklists.ZoneFrom{{Zone: "America/Chicago", From: at("2025-06-04 12:00")}}
	require.NoError(t, mill.Validate())
	shifts, err := mill.ShiftsBetween(at("2025-06-04 00:00"), at("2025-06-05 23:00"))
	require.NoError(t, err)
	require.Equal(t, "2025-06-04 10:00", shifts[0].Starts.UTC().Format("2006-01-02 15:04"))
	require.Equal(t, "2025-06-04 19:30", shifts[0].Ends.UTC().Format("2006-01-02 15:04"), "14:30 by the clock it ends by")
	require.Equal(t, "2025-06-05 11:00", shifts[1].Starts.UTC().Format("2006-01-02 15:04"))
	before, err := mill.LocationAt(at("2025-06-04 11:59"))
	require.NoError(t, err)
	after, err := mill.LocationAt(at("2025-06-04 12:00"))
	require.NoError(t, err)
	require.Equal(t, []string{"America/New_York", "America/Chicago"}, []string{before.String(), after.String()})

	for field, zones := range map[string][]checklists.ZoneFrom{
		"zones.1.zone": {{Zone: "Mars", From: underWay}},
		"zones.1.from": {{Zone: "America/Chicago"}},
		"zones.2.from": {{Zone: "America/Chicago", From: underWay}, {Zone: "America/Denver", From: underWay.Add(-time.Hour)}},
	} {
		mill.Zones = zones
		require.NotNil(t, problems(t, mill.Validate()).For(field), "%s", field)
	}
	mill.Zones = []checklists.ZoneFrom{{Zone: "Mars", From: underWay}}
	require.Equal(t, checklists.DueUnknown, checklists.Due(aList(), mill, nil, underWay).Status)
}
