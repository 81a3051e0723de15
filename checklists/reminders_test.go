package checklists_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

var (
	theBoss   = procedures.Person{ID: "sam", Name: "Sam", Role: procedures.Supervisor}
	theHand   = procedures.Person{ID: "ada", Name: "Ada", Role: procedures.Operator, QualifiedLifting: true}
	theOther  = procedures.Person{ID: "bo", Name: "Bo", Role: procedures.Operator}
	theReader = procedures.Person{ID: "rita", Name: "Rita", Role: procedures.Reader}
)

// stateOf is the state of the one reminder of that kind, subject and part, and
// whether there is one.
func stateOf(r checklists.Remindable, kind checklists.ReminderKind, subject, part string, now time.Time) (checklists.ReminderState, bool) {
	for _, one := range r.Ahead(now) {
		if one.Kind == kind && one.Subject == subject && (part == "" || one.Part == part) {
			return one.State, true
		}
	}
	return 0, false
}

// Each thing with a date is later, then lapsing or due, then overdue, by the day.
func TestReminderTurnsFromLaterToOverdueOnItsDay(t *testing.T) {
	now := at("2025-05-14 09:00")
	day := func(n int) time.Time { return at("2025-05-14 00:00").AddDate(0, 0, n) }
	const (
		over  = checklists.ReminderOverdue
		due   = checklists.ReminderDue
		soon  = checklists.ReminderLapsing
		later = checklists.ReminderLater
	)
	for _, tc := range []struct {
		until time.Time // the first moment that is over
		lapse checklists.ReminderState
		mend  checklists.ReminderState
		given checklists.ReminderState // a thing given to somebody by a day
	}{
		{day(40), later, later, due}, {day(31), later, later, due}, {day(29), soon, later, due}, {day(8), soon, later, due}, {day(6), soon, due, due},
		{day(1), soon, due, due}, {now, over, over, over}, {day(-1), over, over, over},
	} {
		lifting := theHand
		lifting.LiftingUntil = tc.until
		r := checklists.Remindable{
			Facts: checklists.Facts{Mill: aMill(), People: []procedures.Person{theBoss, lifting}, Defects: []checklists.Defect{
				{ID: "m", What: "lamp", Severity: checklists.Mend, MendBy: tc.until, At: day(-60)},
				{ID: "s", What: "tooth", Severity: checklists.Stop, Assigned: "bo", Due: tc.until, At: day(-60)}}},
			Actions:   []checklists.IncidentAction{{ID: "a", Incident: "i", What: "fence", Person: "bo", Due: tc.until}},
			Gear:      []checklists.GearDue{{Rig: "r", RigName: "Hoist", Link: "l", LinkName: "legs", Due: tc.until}},
			Trainings: []procedures.Training{{ID: "t", Person: "ada", Level: procedures.AuthorizedLevel, On: day(-300), Expires: tc.until}},
		}
		for _, want := range []struct {
			kind          checklists.ReminderKind
			subject, part string
			state         checklists.ReminderState
		}{{checklists.AboutPerson, "ada", "lifting", tc.lapse}, {checklists.AboutTraining, "ada", "t", tc.lapse}, {checklists.AboutGear, "r", "l", tc.lapse},
			{checklists.AboutDefect, "m", "", tc.mend}, {checklists.AboutDefect, "s", "", tc.given}, {checklists.AboutAction, "i", "a", tc.given}} {
			state, is := stateOf(r, want.kind, want.subject, want.part, now)
			require.True(t, is, "%s", want.kind)
			require.Equal(t, want.state.Words(), state.Words(), "%s until %s", want.kind, tc.until)
		}
	}
}

func TestListsRemindAsTheyStand(t *testing.T) {
	list := everyDays(60)
	r := checklists.Remindable{Facts: checklists.Facts{Mill: aMill(), Lists: []checklists.List{list}}}
	r.Facts.Inspections = []checklists.Inspection{gone(list, "i", "2025-01-30 15:00")}
	for now, want := range map[string]checklists.ReminderState{"2025-03-30 23:59": checklists.ReminderLater, "2025-03-31 00:00": checklists.ReminderDue, "2025-04-01 00:00": checklists.ReminderOverdue} {
		state, is := stateOf(r, checklists.AboutList, string(list.ID), "", at(now))
		require.True(t, is)
		require.Equal(t, want, state, now)
	}
	r.Facts.Mill.Zone = "Nowhere/Here"
	state, _ := stateOf(r, checklists.AboutList, string(list.ID), "", at("2025-02-01 12:00"))
	require.Equal(t, checklists.ReminderOverdue, state, "what can't be known is never later")
}

func TestALaterTrainingTakesThePlaceOfOneThatEnds(t *testing.T) {
	now := at("2025-05-14 09:00")
	on := func(ids ...procedures.ProcedureID) (all []procedures.TrainedOn) {
		for _, id := range ids {
			all = append(all, procedures.TrainedOn{Procedure: id, Version: 1})
		}
		return all
	}
	old := procedures.Training{ID: "old", Person: "ada", Level: procedures.AuthorizedLevel, Procedures: on("hoist", "saw"), On: now.AddDate(-1, 0, 0), Expires: now.AddDate(0, 0, 3)}
	newer := old
	newer.ID, newer.On, newer.Expires = "new", now.AddDate(0, 0, -1), time.Time{}
	r := checklists.Remindable{Facts: checklists.Facts{Mill: aMill(), People: []procedures.Person{theHand}}, Trainings: []procedures.Training{old, newer}}
	_, is := stateOf(r, checklists.AboutTraining, "ada", "old", now)
	require.False(t, is)
	r.Trainings[1].Procedures = on("hoist")
	_, is = stateOf(r, checklists.AboutTraining, "ada", "old", now)
	require.True(t, is, "the newer one did not go through the saw")
}

func TestReminderIsForWhoIsConcerned(t *testing.T) {
	crew, bosses := []procedures.Person{theBoss, theHand, theOther, theReader}, checklists.Reminder{Role: procedures.Supervisor}
	of := func(r checklists.Reminder) (ids []procedures.PersonID) {
		for _, p := range crew {
			if r.Concerns(p) {
				ids = append(ids, p.ID)
			}
		}
		return ids
	}
	require.Equal(t, []procedures.PersonID{"sam", "ada", "bo"}, of(checklists.Reminder{}))
	require.Equal(t, []procedures.PersonID{"sam"}, of(bosses))
	require.Equal(t, []procedures.PersonID{"ada", "bo"}, of(checklists.Reminder{Role: procedures.Operator}))
	require.Equal(t, []procedures.PersonID{"bo"}, of(checklists.Reminder{People: []procedures.PersonID{"bo", "rita"}}))
	own := checklists.Reminder{People: []procedures.PersonID{"bo"}, Role: procedures.Supervisor, Private: true}
	require.Equal(t, []procedures.PersonID{"sam", "bo"}, of(own))
	require.False(t, own.ShownTo(theHand))
	require.False(t, own.ShownTo(theReader))
	require.True(t, bosses.ShownTo(theReader))
	gone := theBoss
	gone.Left = true
	require.False(t, bosses.Concerns(gone))
	require.False(t, bosses.ShownTo(gone))
}

func TestRemindersAreSortedByHowPressingTheyAre(t *testing.T) {
	now := at("2025-05-14 09:00")
	r := checklists.Remindable{Facts: checklists.Facts{Mill: aMill(), Defects: []checklists.Defect{
		{ID: "b", Severity: checklists.Mend, MendBy: now.Add(time.Hour)}, {ID: "a", Severity: checklists.Mend, MendBy: now.Add(-time.Hour)},
		{ID: "c", Severity: checklists.Mend, MendBy: now.Add(-2 * time.Hour)}, {ID: "d", Severity: checklists.Stop, MendedAt: now.Add(-time.Minute)}}},
		Procedures: []checklists.ProcedureDue{{ID: "p", Due: procedures.InspectionDue{State: procedures.DueSoon, By: now.AddDate(0, 0, 9)}}, {ID: "q", Due: procedures.InspectionDue{State: procedures.DueLater}}},
		Safety:     []checklists.SafetyItem{{ID: "x", Kind: checklists.FirstAidKind, Place: "Office"}}}
	var got []string
	for _, one := range r.Reminders(now) {
		got = append(got, one.ID())
		require.False(t, one.What.Empty())
	}
	require.Equal(t, []string{"card//", "safety/x/look", "defect/c/", "defect/a/", "defect/d/return", "defect/b/", "procedure/p/"}, got)
	require.Len(t, checklists.Overdue(r.Ahead(now)), 4)
	require.True(t, slices.ContainsFunc(r.Ahead(now), func(one checklists.Reminder) bool { return one.Subject == "q" }))
	card, err := wholeCard().Sign(theBoss, now)
	require.NoError(t, err)
	r.Card = card
	require.Equal(t, "safety/x/look", r.Reminders(now)[0].ID())
	require.Equal(t, plain.Say("due"), checklists.ReminderDue.Words())
}

func TestReminderOfAStopWithoutWordsNamesTheMachine(t *testing.T) {
	r := checklists.Remindable{Facts: checklists.Facts{Mill: aMill(), Plant: aPlant(), Defects: []checklists.Defect{{ID: "0198-raw", Equipment: "carriage", Severity: checklists.Stop}}}}
	for _, one := range r.Ahead(at("2025-05-14 09:00")) {
		if one.Kind == checklists.AboutDefect {
			require.Contains(t, one.What.String(), "Carriage, stopped, with nothing more said")
			require.NotContains(t, one.What.String(), "0198-raw")
			return
		}
	}
	require.Fail(t, "no reminder of it")
}
