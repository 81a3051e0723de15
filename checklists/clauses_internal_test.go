package checklists

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
)

func clauseDay(text string) time.Time {
	day, err := time.Parse("2006-01-02 15:04", text)
	if err != nil {
		panic(err)
	}
	return day
}

// everyKind is a mill with one machine of each kind and nothing else entered.
func everyKind() ClauseFacts {
	var f ClauseFacts
	f.Mill = Mill{ID: "m", Name: "Fernhollow", Zone: "UTC"}
	for _, kind := range []procedures.EquipmentKind{procedures.HeadSaw, procedures.Carriage, procedures.Hoist, procedures.DustCollection} {
		f.Plant = append(f.Plant, procedures.Equipment{ID: procedures.EquipmentID(kind), Kind: kind, Name: string(kind), Energies: []procedures.Energy{{}}})
	}
	return f
}

func rowOf(t *testing.T, f ClauseFacts, now time.Time, clause string) ClauseRow {
	t.Helper()
	rows, err := Clauses(f, now)
	require.NoError(t, err)
	at := slices.IndexFunc(rows, func(r ClauseRow) bool { return r.Clause == clause })
	require.GreaterOrEqual(t, at, 0, clause)
	return rows[at]
}

// Without anything on the record no clause is answered.
func TestNothingOnTheRecordAnswersNoClause(t *testing.T) {
	rows, err := Clauses(everyKind(), clauseDay("2026-03-10 09:00"))
	require.NoError(t, err)
	require.Len(t, rows, len(clauses()))
	for _, r := range rows {
		assert.True(t, len(r.Gaps) > 0 || !r.NotHere.Empty(), r.Clause)
		assert.True(t, r.Basis.Format != "" && r.Asks.Format != "" && r.Often.Format != "", r.Clause)
		for _, e := range r.Evidence {
			assert.True(t, e.On.IsZero(), r.Clause)
		}
	}
	assert.Len(t, slices.DeleteFunc(rows, func(r ClauseRow) bool { return r.NotHere.Empty() }), 3, "eyewash, inspections without procedures, and nothing asks for training again")
}

// Each clause that lists answer is answered by an item that names it, the day it
// was looked at, and by nothing that does not: not another clause, not an item
// that was left unchecked, not a check too long ago.
func TestEachClauseIsAnsweredByWhatNamesItAlone(t *testing.T) {
	now := clauseDay("2026-03-10 09:00")
	for _, c := range clauses() {
		if c.gather != nil {
			continue
		}
		for _, cited := range c.cites {
			list := List{ID: "l", Version: 1, Title: "A list", InForce: clauseDay("2024-01-01 09:00"), Schedule: Schedule{Every: AfterDays, Days: 1},
				Items: []Item{{ID: "A", Source: "common practice; " + cited + " (from memory)"}, {ID: "B", Source: "29 CFR 1910.9999"}}}
			answer := func(item ItemID, result Result, at time.Time) []Inspection {
				return []Inspection{{ID: "i", List: "l", Version: 1, Signer: "ada", At: at, Answers: []Answer{{Item: item, Result: result}}}}
			}
			f := everyKind()
			f.Lists, f.Inspections = []List{list}, answer("A", OK, now.Add(-time.Hour))
			row := rowOf(t, f, now, c.clause)
			require.Empty(t, row.Gaps, "%s by %s", c.clause, cited)
			require.Len(t, row.Evidence, 1, c.clause)
			require.Equal(t, [3]string{string(ByInspection), "i", "ada"}, [3]string{string(row.Evidence[0].Kind), row.Evidence[0].Ref, string(row.Evidence[0].By)})

			f.Inspections = answer("A", NotChecked, now.Add(-time.Hour))
			require.NotEmpty(t, rowOf(t, f, now, c.clause).Gaps, "left unchecked: %s", c.clause)
			f.Inspections = answer("B", OK, now.Add(-time.Hour))
			require.NotEmpty(t, rowOf(t, f, now, c.clause).Gaps, "another item: %s", c.clause)
			f.Inspections = answer("A", OK, now.AddDate(-1, -2, 0))
			require.NotEmpty(t, rowOf(t, f, now, c.clause).Gaps, "14 months ago: %s", c.clause)

			f.Inspections, f.Lists = answer("A", OK, now.Add(-time.Hour)), []List{list}
			f.Lists[0].Items = slices.Clone(list.Items)
			f.Lists[0].Items[0].Source = cited + "9"
			require.NotEmpty(t, rowOf(t, f, now, c.clause).Gaps, "a number that only begins alike: %s", c.clause)
			f.Lists[0].Items[0].Source, f.Lists[0].Items[0].NotFitted = cited, true
			row = rowOf(t, f, now, c.clause)
			require.Empty(t, row.Gaps)
			require.False(t, row.NotHere.Empty(), "not fitted: %s", c.clause)

			if c.days > 0 {
				f.Lists[0].Items[0].NotFitted, f.Lists[0].Schedule.Days = false, c.days+1
				require.NotEmpty(t, rowOf(t, f, now, c.clause).Gaps, "asked too seldom: %s", c.clause)
			}
		}
	}
}

// Hand-made dates beside the rules: 29 CFR 1910.184(e)(3)(i), 12 months; 157(e)(2),
// monthly; 147(c)(6)(i), yearly.
func TestRegistersAnswerTheirClauses(t *testing.T) {
	now := clauseDay("2026-03-10 09:00")
	sling := lift.Link{ID: "legs", Name: "Chain legs", Kind: lift.Leg, Grade: lift.Grade80, Inspected: clauseDay("2025-04-01 00:00"), InspectionDue: clauseDay("2026-04-01 00:00")}
	part := GearPart{Rig: "main", Link: "legs", Name: "Chain legs", Rounds: sling.Rounds(nil)}
	f := everyKind()
	f.Gear = []GearPart{part}
	f.Safety = []SafetyItem{{ID: "e1", Kind: ExtinguisherKind, Place: "Saw house", Type: "dry-stored", Made: clauseDay("2024-01-01 00:00")}, {ID: "w1", Kind: EyewashKind, Place: "Battery room"}}
	f.SafetyChecks = []SafetyCheck{{Item: "e1", Work: SafetyMaintenance, On: clauseDay("2025-05-01 00:00"), Right: true, Who: "Fire Co."}, {Item: "e1", Work: SafetyLook, On: clauseDay("2026-02-20 00:00"), Right: true, By: "ada"},
		{Item: "w1", Work: SafetyLook, On: clauseDay("2026-03-06 00:00"), Right: true, By: "ada"}}
	for clause, want := range map[string]struct {
		due string
		who string
	}{
		"29 CFR 1910.184(e)(3)": {"2026-04-01 00:00", ""}, "29 CFR 1910.157(e)(2)": {"2026-03-23 00:00", ""}, "29 CFR 1910.157(e)(3)": {"2026-05-01 00:00", "Fire Co."},
		"29 CFR 1910.151(c)": {"2026-03-13 00:00", ""},
	} {
		row := rowOf(t, f, now, clause)
		assert.Empty(t, row.Gaps, clause)
		assert.Equal(t, clauseDay(want.due), row.Due(), clause)
		assert.Equal(t, want.who, row.Evidence[0].Who, clause)
		later := rowOf(t, f, clauseDay(want.due).AddDate(0, 0, 2), clause)
		assert.Len(t, later.Gaps, 1, "overdue: %s", clause)
	}
	f.Gear[0].Rounds = (&lift.Link{ID: "legs", Kind: lift.Leg, Grade: lift.Grade80}).Rounds(nil)
	assert.Len(t, rowOf(t, f, now, "29 CFR 1910.184(e)(3)").Gaps, 1, "nobody entered when it was inspected")
	assert.NotEmpty(t, rowOf(t, f, now, "29 CFR 1910.179(j)(3); ASME B30.16").Gaps, "a sling is no hoist")
}

// A program as it was signed may name somebody who has left since: no gap.
func TestWhoLeftIsNoGapOfTraining(t *testing.T) {
	now := clauseDay("2026-03-10 09:00")
	f := everyKind()
	f.Plant, f.Trainings, f.Procedures = f.Plant[:1], nil, nil
	f.Program.Affected = []procedures.Affected{{Equipment: f.Plant[0].ID, People: []procedures.PersonID{"bo", "cy"}}}
	f.People = []procedures.Person{{ID: "bo", Name: "Bo"}, {ID: "cy", Name: "Cy", Left: true}}
	var who []procedures.PersonID
	for _, gap := range rowOf(t, f, now, "29 CFR 1910.147(c)(7)(i)").Gaps {
		who = append(who, gap.Person)
	}
	assert.Equal(t, []procedures.PersonID{"bo"}, who)
}

func TestLockoutClausesNameProcedureAndPerson(t *testing.T) {
	now := clauseDay("2026-03-10 09:00")
	f := everyKind()
	f.Plant = f.Plant[:1]
	p := procedures.Procedure{ID: "p", Version: 1, Title: "Change the saw", Equipment: []procedures.EquipmentID{f.Plant[0].ID}}
	bo := procedures.Person{ID: "bo", Name: "Bo", Role: procedures.Operator, Authorized: true}
	trained := procedures.Training{ID: "t", Person: "bo", Level: procedures.AuthorizedLevel, Procedures: []procedures.TrainedOn{{Procedure: "p", Version: 1}}, EnergyKinds: p.Kinds(), Trainer: "Sam", On: clauseDay("2025-11-01 00:00")}
	inspection := procedures.ProcedureInspection{ID: "c", Procedure: "p", Version: 1, On: clauseDay("2025-09-01 00:00"), Outside: "Jo Reed", Firm: "Safe Co."}
	stands := func(trainings []procedures.Training, inspected []procedures.ProcedureInspection) {
		due := procedures.NextInspection("p", clauseDay("2025-01-01 00:00"), inspected, []time.Time{clauseDay("2026-03-01 08:00")}, now)
		learned := procedures.Learned{Person: "bo", Trainings: trainings, Editions: []procedures.Edition{{Procedure: "p", Version: 1}}, Inspections: inspected}
		f.People, f.Trainings = []procedures.Person{bo}, trainings
		f.Procedures = []ProcedureStanding{{Procedure: p, Lights: procedures.ProgramState(p, []procedures.Learned{learned}, due, now), Due: due, Inspected: inspected}}
	}
	stands([]procedures.Training{trained}, []procedures.ProcedureInspection{inspection})
	f.Program = procedures.Program{At: clauseDay("2025-02-01 09:00"), By: "sam"}
	for _, clause := range []string{"29 CFR 1910.147(c)(1)", "29 CFR 1910.147(c)(4)(i)", "29 CFR 1910.147(c)(6)(i)", "29 CFR 1910.147(c)(7)(i)"} {
		row := rowOf(t, f, now, clause)
		assert.Empty(t, row.Gaps, clause)
		assert.NotEmpty(t, row.Evidence, clause)
	}
	certificate := rowOf(t, f, now, "29 CFR 1910.147(c)(6)(i)").Evidence[0]
	assert.Equal(t, Evidence{Kind: ByProcedureInspection, Ref: "c", What: certificate.What, On: inspection.On, Who: "Jo Reed", Due: clauseDay("2026-09-01 00:00")}, certificate)

	stands(nil, nil)
	f.Program = procedures.Program{}
	assert.Len(t, rowOf(t, f, now, "29 CFR 1910.147(c)(1)").Gaps, 2, "no program, and a procedure that isn't ready")
	assert.Len(t, rowOf(t, f, now, "29 CFR 1910.147(c)(6)(i)").Gaps, 1)
	gaps := rowOf(t, f, now, "29 CFR 1910.147(c)(7)(i)").Gaps
	require.NotEmpty(t, gaps)
	assert.Equal(t, procedures.PersonID("bo"), gaps[0].Person, "who has no training, by name")
	f.Procedures = nil
	assert.Len(t, rowOf(t, f, now, "29 CFR 1910.147(c)(4)(i)").Gaps, 1, "a machine with energy and no procedure")

	again := trained
	again.ID, again.Again, again.On, again.Covered = "u", true, clauseDay("2026-01-05 00:00"), "the new brake"
	stands([]procedures.Training{trained, again}, nil)
	assert.Len(t, rowOf(t, f, now, "29 CFR 1910.147(c)(7)(iii)").Evidence, 1)
	inspection.On = clauseDay("2026-02-01 00:00")
	inspection.Findings = []procedures.Finding{{Said: "the block was forgotten", Kind: procedures.Knowledge, Person: "bo", Owner: "sam"}}
	stands([]procedures.Training{trained, again}, []procedures.ProcedureInspection{inspection})
	assert.Len(t, rowOf(t, f, now, "29 CFR 1910.147(c)(7)(iii)").Gaps, 1, "an inspection found a gap since the last training")
}

// shiftMill is a mill of one shift a day from 06:00 to 14:00 with a list for it.
func shiftMill(items ...Item) ClauseFacts {
	f := everyKind()
	shift := Shift{Name: "day", Start: 6 * 60, End: 14 * 60}
	for day := time.Sunday; day <= time.Saturday; day++ {
		shift.Days = append(shift.Days, day)
	}
	f.Mill.Shifts = []Shift{shift}
	f.Lists = []List{{ID: "l", Version: 1, Title: "Pre-shift check", InForce: clauseDay("2024-01-01 09:00"), Schedule: Schedule{Every: EachShift}, Items: items}}
	return f
}

// One check of a list names no single sling or extinguisher: what the register
// lacks stands whatever the lists say, and a list not yet due takes nothing from a
// register that is complete. 29 CFR 1910.184(e)(3), 1910.157(e)(3).
func TestNoListHidesWhatTheRegisterLacks(t *testing.T) {
	now := clauseDay("2026-03-10 09:00")
	const slings, extinguishers, firstAid = "29 CFR 1910.184(e)(3)", "29 CFR 1910.157(e)(3)", "29 CFR 1910.151(b)"
	f := everyKind()
	f.Lists = []List{{ID: "y", Version: 1, Title: "Yearly check", InForce: clauseDay("2026-01-01 09:00"), Schedule: Schedule{Every: AfterDays, Days: 365},
		Items: []Item{{ID: "S", Source: slings}, {ID: "E", Source: extinguishers}, {ID: "F", Source: firstAid}}}}
	signed := []Inspection{{ID: "i", List: "y", Version: 1, Signer: "ada", At: now.Add(-time.Hour), Answers: []Answer{{Item: "S", Result: OK}, {Item: "E", Result: OK}, {Item: "F", Result: OK}}}}
	f.Inspections = signed
	for _, clause := range []string{slings, extinguishers, firstAid} {
		require.Empty(t, rowOf(t, f, now, clause).Gaps, "without any register the list answers: %s", clause)
	}
	leg := func(due string) GearPart {
		l := lift.Link{ID: "legs", Name: "Chain legs", Kind: lift.Leg, Grade: lift.Grade80, Inspected: clauseDay(due).AddDate(-1, 0, 0), InspectionDue: clauseDay(due)}
		return GearPart{Rig: "main", Link: "legs", Name: "Chain legs", Rounds: l.Rounds(nil)}
	}
	f.Gear = []GearPart{leg("2025-09-10 00:00")}
	f.Safety = []SafetyItem{{ID: "e", Kind: ExtinguisherKind, Place: "Saw house", Type: "dry-stored", Made: clauseDay("2024-01-01 00:00")}, {ID: "k", Kind: FirstAidKind, Place: "Office"}}
	for _, clause := range []string{slings, extinguishers, firstAid} {
		require.Len(t, rowOf(t, f, now, clause).Gaps, 1, "the list is signed, the register stays short: %s", clause)
	}
	f.Gear, f.Inspections = []GearPart{leg("2026-09-10 00:00")}, nil
	require.Empty(t, rowOf(t, f, now, slings).Gaps, "each sling is in the register in time, and the list isn't due yet")
	require.NotEmpty(t, rowOf(t, f, clauseDay("2027-01-20 09:00"), slings).Gaps, "the list is late")
}

func TestEachPointLeftUncheckedIsAGapByItsName(t *testing.T) {
	now := clauseDay("2026-03-10 09:00")
	const carriage = "29 CFR 1910.265(e)(1)"
	var items []Item
	in := Inspection{ID: "i", List: "l", Version: 1, Signer: "ada", At: clauseDay("2026-03-10 05:50")}
	for n := range 12 {
		id := ItemID("C" + string(rune('A'+n)))
		items = append(items, Item{ID: id, Prompt: "point " + string(id), Source: carriage})
		in.Answers = append(in.Answers, Answer{Item: id, Result: OK})
	}
	f := shiftMill(items...)
	f.Inspections = []Inspection{in}
	whole := rowOf(t, f, now, carriage)
	require.Empty(t, whole.Gaps)
	require.Equal(t, []any{"Pre-shift check", 12, 12}, whole.Evidence[0].What.Args)

	short := in
	short.Answers = slices.Clone(in.Answers)
	for n := range short.Answers[1:] {
		short.Answers[n+1].Result = NotChecked
	}
	earlier := in
	earlier.ID, earlier.At = "h", clauseDay("2026-03-09 05:50")
	f.Inspections = []Inspection{earlier, short}
	row := rowOf(t, f, now, carriage)
	require.Equal(t, []any{"Pre-shift check", 1, 12}, row.Evidence[0].What.Args)
	require.Len(t, row.Gaps, uncheckedNamed+1)
	require.Contains(t, row.Gaps[0].Said.String(), "CB was not looked at (point CB)")
	require.Contains(t, row.Gaps[uncheckedNamed].Said.String(), "5 more points")

	f.Amendments = []Amendment{{ID: "a", Inspection: "i", At: now.Add(-time.Minute), Answers: in.Answers[1:]}}
	require.Empty(t, rowOf(t, f, now, carriage).Gaps, "looked at after all")

	items[1].When = Condition{Item: "CA", Result: Found}
	f.Amendments, f.Inspections = nil, []Inspection{in}
	f.Inspections[0].Answers = slices.Delete(slices.Clone(in.Answers), 1, 2)
	row = rowOf(t, f, now, carriage)
	require.Empty(t, row.Gaps, "what the answers leave unasked is no gap")
	require.Equal(t, []any{"Pre-shift check", 11, 11}, row.Evidence[0].What.Args)
}

// Whatever the hour: in a shift, before one or between two.
func TestTenDaysWithoutACheckOfTheShiftAreAGap(t *testing.T) {
	f := shiftMill(Item{ID: "A", Source: "29 CFR 1910.265(e)(1)"}, Item{ID: "B", Source: "29 CFR 1910.179(j)(3)"})
	hook := lift.Link{ID: "hook", Name: "Hook", Kind: lift.HoistHook, Inspected: clauseDay("2026-03-01 00:00"), InspectionDue: clauseDay("2027-03-01 00:00")}
	f.Gear = []GearPart{{Rig: "main", Link: "hook", Name: "Hook", Rounds: hook.Rounds(nil)}}
	f.Inspections = []Inspection{{ID: "i", List: "l", Version: 1, Signer: "ada", At: clauseDay("2026-03-10 05:50"), Answers: []Answer{{Item: "A", Result: OK}, {Item: "B", Result: OK}}}}
	shifts := f.Mill.Shifts
	for hour := range 24 {
		now := clauseDay("2026-03-20 00:00").Add(time.Duration(hour) * time.Hour)
		for _, f.Mill.Shifts = range [][]Shift{shifts, nil} {
			for _, clause := range []string{"29 CFR 1910.265(e)(1)", "29 CFR 1910.179(j)(3); ASME B30.16"} {
				require.NotEmpty(t, rowOf(t, f, now, clause).Gaps, "%s at %s, %d shifts", clause, now, len(f.Mill.Shifts))
			}
		}
	}
	f.Mill.Shifts = shifts
	require.Empty(t, rowOf(t, f, clauseDay("2026-03-10 09:00"), "29 CFR 1910.265(e)(1)").Gaps)
	f.Mill.Shifts, f.Mill.Closed = nil, []Closure{{From: clauseDay("2026-03-11 00:00"), Until: clauseDay("2026-03-30 00:00")}}
	require.Empty(t, rowOf(t, f, clauseDay("2026-03-20 09:00"), "29 CFR 1910.265(e)(1)").Gaps, "the mill is closed")
}
