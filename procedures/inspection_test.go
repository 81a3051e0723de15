package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func certify(c certified) (ProcedureInspection, error) {
	return c.in.Certify(c.InspectionFacts, c.by, c.now)
}

// 29 CFR 1910.147(c)(6)(i): at least annually.
func TestInspectionFallsDueAYearAfterTheLast(t *testing.T) {
	inForce := time.Date(2024, 1, 10, 5, 0, 0, 0, time.UTC)
	last := []ProcedureInspection{{Procedure: "hoist", On: time.Date(2025, 3, 2, 5, 0, 0, 0, time.UTC)}, {Procedure: "carriage", On: shiftDay}}
	used := []time.Time{time.Date(2025, 9, 1, 9, 0, 0, 0, time.UTC)}
	at := func(year int, month time.Month, day int) DueState {
		return NextInspection("hoist", inForce, last, used, time.Date(year, month, day, 12, 0, 0, 0, time.UTC)).State
	}
	require.Equal(t, DueLater, at(2025, 12, 31))
	require.Equal(t, DueSoon, at(2026, 3, 1))
	require.Equal(t, DueOverdue, at(2026, 3, 2))
	require.Equal(t, DueOverdue, at(2026, 3, 3), "366 days after")
	require.Equal(t, time.Date(2025, 1, 10, 5, 0, 0, 0, time.UTC), NextInspection("hoist", inForce, nil, used, shiftDay).By, "never inspected: a year after it was put in force")
	require.Equal(t, DueOverdue, InspectionDue{}.State, "not knowing is overdue")
}

// Agency practice: a procedure used less than once a year is inspected when it
// is next used (from memory, no letter at hand).
func TestProcedureNotUsedForAYearIsInspectedAtItsNextUse(t *testing.T) {
	inForce := shiftDay.AddDate(-2, 0, 0)
	last := []ProcedureInspection{{Procedure: "hoist", On: shiftDay.AddDate(0, -13, 0)}}
	before := []time.Time{shiftDay.AddDate(0, -14, 0)}
	require.Equal(t, DueAtNextUse, NextInspection("hoist", inForce, last, before, shiftDay).State)
	require.Equal(t, DueOverdue, NextInspection("hoist", inForce, last, append(before, shiftDay), shiftDay).State)
}

// (c)(6)(i)(A): an authorized employee other than the ones utilizing it.
func TestOnlyAnotherAuthorizedPersonInspects(t *testing.T) {
	signed, err := certify(goodCertificate(hoistProcedure()))
	require.NoError(t, err)
	require.Equal(t, LockoutID("l1"), signed.Watched)
	require.Equal(t, shiftDay, signed.At)

	c := goodCertificate(hoistProcedure())
	c.in.Inspector, c.by = annOp.ID, annOp
	_, err = certify(c)
	require.Equal(t, Clause("(c)(6)(i)(A)"), clauseOf(err))
	require.Contains(t, err.Error(), "Another authorized person does: Ben")

	c.People = []Person{annOp, calOp}
	_, err = certify(c)
	require.Contains(t, err.Error(), "bring one in from outside", "a one-person crew is told what to do")

	c.in.Inspector, c.in.Outside, c.in.Firm = "", "Jo Firth", "Firth Safety"
	_, err = certify(c)
	require.Equal(t, Clause("(c)(6)(i)(A)"), clauseOf(err), "a supervisor enters it")
	c.by = samSup
	signed, err = certify(c)
	require.NoError(t, err)
	require.Equal(t, "Jo Firth", signed.Outside)
}

func TestOnlyUserDoesNotInspectWithoutWatching(t *testing.T) {
	c := goodCertificate(hoistProcedure())
	c.in.ShownBy = annOp.ID
	c.Watched, c.Used = nil, []Lockout{{Members: []Member{{Person: benOp.ID}}}}
	_, err := certify(c)
	require.Equal(t, Clause("(c)(6)(i)(A)"), clauseOf(err))
	c.Used = append(c.Used, Lockout{Locks: []Lock{{Owner: annOp.ID}}})
	_, err = certify(c)
	require.NoError(t, err)
	c.Used, c.Trainings = nil, nil
	c.People = []Person{benOp, samSup}
	_, err = certify(c)
	require.Equal(t, Clause("(c)(6)(i)(A)"), clauseOf(err), "nobody else could be using it")
}

// An outsider who is of the crew is no outsider; who left, or bears another name,
// may be one.
func TestOutsiderIsNoneOfTheCrewAndNotOfThisMill(t *testing.T) {
	outside := func(name, firm string) error {
		c := goodCertificate(hoistProcedure())
		c.Mill, c.People = "Sill Brook Mill", append(c.People, Person{ID: "old", Name: "Wren Abbot", Left: true}, Person{ID: "con", Name: "Kay Dunn", Firm: "Brightwater"})
		c.in.Inspector, c.by, c.in.Outside, c.in.Firm = "", samSup, name, firm
		c.in.Reviewed = append(c.in.Reviewed, Review{Person: benOp.ID, On: c.in.On})
		_, err := certify(c)
		return err
	}
	for _, name := range []string{"Ben", " ben ", "BEN", "Ben.", "Sam", "Cal", "kay  dunn"} {
		require.Equal(t, []string{"outside"}, fields(outside(name, "Firth Safety")), name)
	}
	for _, firm := range []string{"Sill Brook Mill", "sill  brook mill", "Sill-Brook Mill."} {
		require.Equal(t, []string{"firm"}, fields(outside("Jo Firth", firm)), firm)
	}
	require.Equal(t, []string{"firm"}, fields(outside("Jo Firth", "")), "said once")
	require.NoError(t, outside("Jo Firth", "Firth Safety"))
	require.NoError(t, outside("Wren Abbot", "Sill Brook Safety"), "who left")
}

// (c)(6)(i): it is the procedure that is inspected, as it is now.
func TestWhatWasWatchedWentByThisVersionToAProofAtZero(t *testing.T) {
	version := func(watched int, editions ...Edition) []string {
		c := goodCertificate(hoistProcedure())
		c.Procedure.Version, c.Watched.Procedure.Version, c.Editions = 3, watched, editions
		_, err := certify(c)
		return fields(err)
	}
	id := hoistProcedure().ID
	words := func(v int) Edition { return Edition{Procedure: id, Version: v, Wording: true} }
	require.Empty(t, version(3))
	require.Equal(t, []string{"watched"}, version(2), "what changed isn't known")
	require.Empty(t, version(2, words(3)))
	require.Equal(t, []string{"watched"}, version(1, Edition{Procedure: id, Version: 2}, words(3)))
	require.Empty(t, version(1, words(2), words(3)))
	require.Equal(t, []string{"watched"}, version(4, words(4)), "of a later one nobody knows here")

	c := goodCertificate(hoistProcedure())
	c.Watched.Procedure.ID = "carriage"
	require.False(t, c.MayHaveWatched(*c.Watched))
	c = goodCertificate(hoistProcedure())
	c.Watched.Events, c.Watched.Cancelled, c.Watched.Ended = c.Watched.Events[:1], true, shiftDay
	_, err := certify(c)
	require.Equal(t, []string{"watched"}, fields(err), "cancelled before anything was done")
}

// (c)(6)(i)(A): who did a step of it, or took a lock off, used it.
func TestWhoReportedAnythingInALockoutDoesNotInspectIt(t *testing.T) {
	c := goodCertificate(hoistProcedure())
	c.Watched.Events = append(c.Watched.Events, Event{Kind: StepDone, Step: "measured", Person: benOp.ID})
	_, err := certify(c)
	require.Equal(t, Clause("(c)(6)(i)(A)"), clauseOf(err))
	require.ErrorContains(t, err, "Who was on the lockout can't be the one who inspects it")
	c = goodCertificate(hoistProcedure())
	c.Used = []Lockout{{Events: []Event{{Kind: Began, Person: benOp.ID}}}}
	_, err = certify(c)
	require.Equal(t, Clause("(c)(6)(i)(A)"), clauseOf(err), "the only user")
	c.Used[0].Events = append(c.Used[0].Events, Event{Kind: StepDone, Person: annOp.ID})
	_, err = certify(c)
	require.NoError(t, err, "somebody else did a step")
}

// The preamble of the standard asks for at least a demonstration of the procedure
// (54 FR 36673, from memory); the one who shows it is the one using it.
func TestWithoutALockoutToWatchSomebodyElseShowsEveryStep(t *testing.T) {
	unwatched := func(change func(*certified)) []string {
		c := goodCertificate(hoistProcedure())
		c.Watched, c.in.ShownBy = nil, annOp.ID
		change(&c)
		_, err := certify(c)
		return fields(err)
	}
	require.Empty(t, unwatched(func(*certified) {}))
	for _, who := range []PersonID{"", benOp.ID, calOp.ID, "stranger"} {
		require.Equal(t, []string{"shown_by"}, unwatched(func(c *certified) { c.in.ShownBy = who }), "%q", who)
	}
	require.Contains(t, unwatched(func(c *certified) { c.in.Reviewed[0] = Review{Person: annOp.ID, FollowUp: shiftDay.AddDate(0, 0, 7)} }), "shown_by", "who is away showed nothing")
	require.Empty(t, unwatched(func(c *certified) { // one from outside sees the only user do it
		c.in.Inspector, c.by, c.in.Outside, c.in.Firm, c.People = "", samSup, "Jo Firth", "Firth Safety", []Person{annOp, samSup}
	}))
}

func TestDayOfAnInspectionIsThatOfTheLockoutWatchedOrExplained(t *testing.T) {
	day := func(offset int) time.Time { return shiftDay.Truncate(24*time.Hour).AddDate(0, 0, offset) }
	on := func(at time.Time, why string, l Lockout) []string {
		c := goodCertificate(hoistProcedure())
		watched := watchedBy(c.Procedure, annOp.ID)
		watched.Begun, watched.Ended, watched.Closed = l.Begun, l.Ended, l.Closed
		c.Watched, c.in.On, c.in.WhyLater = watched, at, why
		_, err := certify(c)
		return fields(err)
	}
	over := Lockout{ID: "l1", Begun: day(-3).Add(22 * time.Hour), Ended: day(-2).Add(5 * time.Hour), Closed: true}
	require.Equal(t, []string{"on"}, on(day(-4), "", over), "before it began")
	require.Empty(t, on(day(-3), "", over))
	require.Empty(t, on(day(-2), "", over), "it went past midnight")
	require.Equal(t, []string{"why_later"}, on(day(-1), " ", over))
	require.Empty(t, on(day(-1), "gone over with the night shift the day after", over))
	open := Lockout{ID: "l1", Begun: day(-2).Add(time.Hour)}
	require.Empty(t, on(day(0), "", open), "still under way")
	require.Equal(t, []string{"on"}, on(day(-3), "", open))
}

// (c)(6)(ii): machine, date, employees included, person who inspected.
func TestCertificateIsRefusedWithOneOfItsFourContentsMissing(t *testing.T) {
	for field, leave := range map[string]func(*certified){
		"equipment": func(c *certified) { c.in.Equipment = nil },
		"on":        func(c *certified) { c.in.On = time.Time{} },
		"reviewed": func(c *certified) {
			c.in.Reviewed = []Review{{Person: annOp.ID, FollowUp: shiftDay.AddDate(0, 0, 7)}}
		},
		"outside": func(c *certified) { c.in.Inspector, c.in.Firm, c.by = "", "Firth Safety", samSup },
	} {
		c := goodCertificate(hoistProcedure())
		c.Trainings = append(c.Trainings, Training{Person: benOp.ID, Level: AuthorizedLevel, Procedures: []TrainedOn{{"hoist", 1}}})
		if field == "outside" {
			c.in.Reviewed = append(c.in.Reviewed, Review{Person: benOp.ID, On: c.in.On})
		}
		leave(&c)
		_, err := certify(c)
		require.Equal(t, []string{field}, fields(err))
	}
}

// (c)(6)(i)(C): with each authorized employee.
func TestCertificateNeedsEveryAuthorizedPersonReviewed(t *testing.T) {
	c := goodCertificate(hoistProcedure())
	dora := Person{ID: "dora", Name: "Dora", Role: Operator, Authorized: true}
	trained := goodTraining(c.Procedure)
	trained.Person = dora.ID
	c.People, c.Trainings = append(c.People, dora), append(c.Trainings, trained)
	_, err := certify(c)
	require.Equal(t, []string{"reviewed.dora"}, fields(err))
	c.in.Reviewed = append(c.in.Reviewed, Review{Person: dora.ID, FollowUp: shiftDay.AddDate(0, 0, 14)})
	_, err = certify(c)
	require.NoError(t, err, "away, with a day that follows")
	c.in.Reviewed[1].FollowUp = c.in.On
	_, err = certify(c)
	require.Equal(t, []string{"reviewed.dora"}, fields(err), "a day that follows is after")
}

// (c)(6)(i)(D).
func TestCertificateForTagsNeedsAffectedPeopleAndLimits(t *testing.T) {
	_, err := certify(tagCertificate(func(*certified) {}))
	require.NoError(t, err)
	_, err = certify(tagCertificate(func(c *certified) { c.in.Affected, c.in.TagLimits = nil, nil }))
	require.Equal(t, []string{"affected.cal", "tag_limits"}, fields(err))
	c := tagCertificate(func(c *certified) { c.in.Affected, c.in.TagLimits = nil, nil })
	c.Procedure = hoistProcedure()
	_, err = certify(c)
	require.NoError(t, err, "with locks only, the authorized are enough")
}

// (c)(6)(i)(B): to correct any deviations or inadequacies.
func TestFindingBecomesAnAction(t *testing.T) {
	c := goodCertificate(hoistProcedure())
	c.in.Findings = []Finding{{Said: "started early", Kind: Deviation}, {Said: "hasp worn", Kind: WrongGear, Owner: annOp.ID, Due: shiftDay}}
	_, err := certify(c)
	require.Equal(t, []string{"findings.1.owner", "findings.1.due", "findings.1.person"}, fields(err))
	c.in.Findings[0].Owner, c.in.Findings[0].Due, c.in.Findings[0].Person = samSup.ID, shiftDay.AddDate(0, 0, 7), annOp.ID
	signed, err := certify(c)
	require.NoError(t, err)

	open := OpenActions([]ProcedureInspection{signed}, nil, shiftDay.AddDate(0, 0, 1))
	require.Len(t, open, 2)
	require.False(t, open[0].Late)
	require.True(t, open[1].Late)

	_, err = ActionDone{Finding: 1, Note: "new hasp"}.SeeTo(signed, nil, benOp, shiftDay)
	require.Equal(t, Clause("(c)(6)(i)(B)"), clauseOf(err), "it was given to Ann")
	_, err = ActionDone{Finding: 1}.SeeTo(signed, nil, annOp, shiftDay)
	require.Equal(t, []string{"note"}, fields(err))
	done, err := ActionDone{Finding: 1, Note: "new hasp"}.SeeTo(signed, nil, annOp, shiftDay)
	require.NoError(t, err)
	require.Len(t, OpenActions([]ProcedureInspection{signed}, []ActionDone{done}, shiftDay), 1)
	_, err = ActionDone{Finding: 1, Note: "again"}.SeeTo(signed, []ActionDone{done}, annOp, shiftDay)
	require.Error(t, err)
	_, err = ActionDone{Finding: 2, Note: "none"}.SeeTo(signed, nil, annOp, shiftDay)
	require.Error(t, err)
}

// A use can only bring an inspection nearer, and time never undoes it.
func TestUsingAProcedureNeverPutsItsInspectionOff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := func(name string) time.Time { return shiftDay.AddDate(0, 0, -rapid.IntRange(0, 1200).Draw(t, name)) }
		inForce, used := day("in force"), []time.Time{}
		var all []ProcedureInspection
		for range rapid.IntRange(0, 3).Draw(t, "inspections") {
			all = append(all, ProcedureInspection{Procedure: "hoist", On: day("on")})
		}
		before := NextInspection("hoist", inForce, all, used, shiftDay)
		after := NextInspection("hoist", inForce, all, append(used, day("used")), shiftDay)
		require.Equal(t, before.By, after.By)
		require.LessOrEqual(t, after.State, before.State)
		require.LessOrEqual(t, NextInspection("hoist", inForce, all, used, shiftDay.AddDate(0, 0, rapid.IntRange(0, 400).Draw(t, "later"))).State, before.State)
	})
}

// A year from 29 February is 28 February. Seen to fail while it was 1 March.
func TestAYearFromTheLeapDayDoesNotRunOver(t *testing.T) {
	leap := time.Date(2028, 2, 29, 8, 0, 0, 0, time.UTC)
	year := time.Date(2029, 2, 28, 8, 0, 0, 0, time.UTC)
	require.Equal(t, year, NextInspection("hoist", leap, nil, nil, leap).By)
	task := minorTask(func(t *Task) { t.By, t.Reviewed = "ann", leap })
	require.Equal(t, year, task.ReviewOver())
	require.Equal(t, MinorServicing, task.Treated(year.Add(-1)))
	require.Equal(t, Servicing, task.Treated(year))
}
