package checklists_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// aMend may run with a stop-gap for ten days from when it was found.
func aMend() checklists.Defect {
	return checklists.Defect{ID: "d1", Equipment: "carriage", List: "pre-shift", Item: "C2", What: "bumper cracked", Severity: checklists.Mend,
		StopGap: "looked at each hour", MendBy: beforeShift.Add(10 * aDay), By: "ann", At: beforeShift}
}

func TestDefectIsGivenToSomebodyOfTheCrewByADay(t *testing.T) {
	now := beforeShift.Add(aDay)
	d, err := aMend().Assign(boss(), helper(), now.Add(2*aDay), now)
	require.NoError(t, err)
	require.Equal(t, helper().ID, d.Assigned)
	require.False(t, d.Overdue(now))
	require.True(t, d.Overdue(now.Add(2*aDay)), "on its day")
	require.False(t, d.StopsNow(now.Add(2*aDay)), "somebody's day holds nothing")
	_, err = aMend().Assign(helper(), helper(), now.Add(aDay), now)
	require.NoError(t, err, "taken on by oneself")
	_, err = aMend().Assign(helper(), sawyer(), now.Add(aDay), now)
	refusal(t, err)
	_, err = aMend().Assign(reader(), reader(), now.Add(aDay), now)
	refusal(t, err)
	for field, try := range map[string]func() error{
		"assigned": func() error { _, err := aMend().Assign(boss(), reader(), now.Add(aDay), now); return err },
		"due":      func() error { _, err := aMend().Assign(boss(), helper(), aMend().MendBy.Add(1), now); return err },
	} {
		require.NotNil(t, problems(t, try()).For(field), field)
	}
	for _, due := range []time.Time{{}, now, now.Add(checklists.LongestDue + 1)} {
		stop := raised(t, "carriage")
		_, err = stop.Assign(boss(), helper(), due, now)
		require.NotNil(t, problems(t, err).For("due"), due)
	}
	_, err = mended(t, "carriage").Assign(boss(), helper(), now.Add(aDay), now)
	refusal(t, err)
	_, err = aMend().Assign(boss(), helper(), now, beforeShift.Add(-1))
	refusal(t, err)
}

func TestDateOfAStopGapMovesLaterOnlyBeforeItIsReachedAndWithAReason(t *testing.T) {
	now := beforeShift.Add(aDay)
	was := aMend()
	n, err := was.Redate(boss(), was.MendBy.Add(5*aDay), " shield put on ", " rubber on order ", now)
	require.NoError(t, err)
	require.Equal(t, checklists.NewDate{Defect: n.Defect, Was: was.MendBy, Reason: "rubber on order"}, n)
	require.Equal(t, "shield put on", n.Defect.StopGap)
	require.False(t, n.Defect.StopsNow(was.MendBy))
	require.True(t, n.Defect.StopsNow(was.MendBy.Add(5*aDay)))

	_, err = was.Redate(boss(), was.MendBy.Add(1), "", " ", now)
	bad := problems(t, err)
	require.NotNil(t, bad.For("reason"), "a loosening needs a reason")
	require.NotNil(t, bad.For("stop_gap"), "and the stop-gap looked at again")
	was.Due = was.MendBy
	n, err = was.Redate(boss(), now.Add(aDay), "", "", now)
	require.NoError(t, err, "an earlier one needs neither")
	require.Equal(t, aMend().StopGap, n.Defect.StopGap)
	require.Equal(t, now.Add(aDay), n.Defect.Due, "nobody is left with a day after it")

	for _, date := range []time.Time{{}, now, aMend().MendBy, beforeShift.Add(checklists.LongestStopGap + 1)} {
		_, err = aMend().Redate(boss(), date, "shield", "waits", now)
		require.NotNil(t, problems(t, err).For("mend_by"), date)
	}
	for name, try := range map[string]func() error{
		"not a supervisor": func() error {
			_, err := aMend().Redate(sawyer(), now.Add(aDay), "x", "x", now)
			return err
		},
		"reached":        func() error { _, err := aMend().Redate(boss(), now.Add(99*aDay), "x", "x", aMend().MendBy); return err },
		"a stop defect":  func() error { _, err := raised(t, "carriage").Redate(boss(), now.Add(aDay), "x", "x", now); return err },
		"mended already": func() error { _, err := mended(t, "carriage").Redate(boss(), now.Add(aDay), "x", "x", now); return err },
	} {
		t.Run(name, func(t *testing.T) { refusal(t, try()) })
	}
}

func TestNotesOfADefectSayWhichPartAndChangeNothing(t *testing.T) {
	n, err := aMend().Note("n1", checklists.Ordered, " rubber 40 mm ", "", helper(), beforeShift)
	require.NoError(t, err)
	require.Equal(t, checklists.DefectNote{ID: "n1", Defect: "d1", Equipment: "carriage", Kind: checklists.Ordered, Text: "rubber 40 mm", By: "ben", At: beforeShift}, n)
	_, err = aMend().Note("n1", "gossip", strings.Repeat("x", 3000), "", helper(), beforeShift)
	require.NotNil(t, problems(t, err).For("kind"))
	require.NotNil(t, problems(t, err).For("text"))
	_, err = aMend().Note("n1", checklists.Used, "x", "", reader(), beforeShift)
	refusal(t, err)
}

func TestSameItemWrongAgainSoonAfterItsReturnIsTheOldDefectComeBack(t *testing.T) {
	first := aMend()
	first.MendedAt, first.ReturnedAt = beforeShift.Add(aDay), beforeShift.Add(2*aDay)
	second := aMend()
	second.ID, second.At = "d2", first.ReturnedAt.Add(checklists.RecursWithin)
	again := second.Recurring([]checklists.Defect{first})
	require.Equal(t, checklists.DefectID("d1"), again.Again)
	require.Equal(t, 2, again.Times)
	again.MendedAt, again.ReturnedAt = again.At.Add(aDay), again.At.Add(aDay)
	third := aMend()
	third.ID, third.At = "d3", again.At.Add(2*aDay)
	third = third.Recurring([]checklists.Defect{again, first})
	require.Equal(t, checklists.DefectID("d2"), third.Again, "of the last one")
	require.Equal(t, 3, third.Times)

	waits := first
	waits.ReturnedAt = time.Time{}
	require.Equal(t, 2, second.Recurring([]checklists.Defect{waits}).Times, "mended and not returned: the mending did not hold")
	for name, change := range map[string]func(*checklists.Defect){
		"long ago":          func(d *checklists.Defect) { d.ReturnedAt = d.ReturnedAt.Add(-1) },
		"not mended":        func(d *checklists.Defect) { d.MendedAt, d.ReturnedAt = time.Time{}, time.Time{} },
		"another item":      func(d *checklists.Defect) { d.Item = "C3" },
		"another machine":   func(d *checklists.Defect) { d.Equipment = "hoist" },
		"returned later":    func(d *checklists.Defect) { d.ReturnedAt = second.At.Add(1) },
		"the same one":      func(d *checklists.Defect) { d.ID = "d2" },
		"without any item":  func(d *checklists.Defect) { d.Item = "" },
		"mended after this": func(d *checklists.Defect) { d.MendedAt, d.ReturnedAt = second.At.Add(1), second.At.Add(2) },
	} {
		past := first
		change(&past)
		require.Equal(t, second, second.Recurring([]checklists.Defect{past}), name)
	}
}

// Starters share items: the tooth found loose before a shift is the one found
// loose after a jam. Asked once for each, it keeps the number it had.
func TestRecurrenceIsOfTheItemWhicheverListAsksIt(t *testing.T) {
	first := aMend()
	first.Item, first.MendedAt, first.ReturnedAt = "K1", beforeShift, beforeShift
	again := func(change func(past, now *checklists.Defect)) checklists.DefectID {
		past, second := first, first
		second.ID, second.At, second.MendedAt, second.ReturnedAt = "d2", beforeShift.Add(aDay), time.Time{}, time.Time{}
		change(&past, &second)
		return second.Recurring([]checklists.Defect{past}).Again
	}
	require.Equal(t, first.ID, again(func(_, now *checklists.Defect) { now.List = checklists.AfterJam }))
	require.Equal(t, first.ID, again(func(_, now *checklists.Defect) { now.Item = "K1#1" }), "repeated since")
	require.Equal(t, first.ID, again(func(past, now *checklists.Defect) { past.Item, now.Item = "K1#2", "K1#2" }))
	require.Empty(t, again(func(past, now *checklists.Defect) { past.Item, now.Item = "K1#1", "K1#2" }), "another dog")
	require.Empty(t, again(func(_, now *checklists.Defect) { now.Item = "K10" }))
}

func TestItemWrongAgainAndAgainMakesAPattern(t *testing.T) {
	now := beforeShift.Add(100 * aDay)
	var defects []checklists.Defect
	var signed []checklists.Inspection
	for i := range 4 {
		d := aMend()
		d.ID, d.At = checklists.DefectID(rune('a'+i)), beforeShift.Add(time.Duration(i)*20*aDay)
		if i < 3 {
			d.ReturnedAt = d.At.Add(aDay)
		}
		defects = append(defects, d)
		signed = append(signed, checklists.Inspection{List: "pre-shift", At: d.At, Answers: []checklists.Answer{{Item: "C2", Result: checklists.Found}}},
			checklists.Inspection{List: "pre-shift", At: d.At.Add(aDay), Answers: []checklists.Answer{{Item: "C2", Result: checklists.OK}, {Item: "C3", Result: checklists.Found}}},
			checklists.Inspection{List: "pre-shift", At: d.At.Add(aDay), Answers: []checklists.Answer{{Item: "C2", Result: checklists.NotChecked}}})
	}
	other := aMend()
	other.Item = "C3"
	all := checklists.Patterns(append(defects, other, other), signed, now)
	require.Equal(t, []checklists.Pattern{{Equipment: "carriage", List: "pre-shift", Item: "C2", Times: 4, Open: 1, Found: 4, Walked: 8,
		First: beforeShift, Last: defects[3].At, Newest: "d"}}, all, "what was not looked at does not count; twice is no pattern")
	require.Empty(t, checklists.Patterns(defects, signed, now.Add(checklists.PatternWithin-50*aDay)), "long ago")
	require.Empty(t, checklists.Patterns([]checklists.Defect{raised(t, "hoist"), raised(t, "hoist"), raised(t, "hoist")}, nil, now), "nobody knows what a bare stop is about")
}

func TestOpenDefectsAreCountedByAgeAndByWhatTheyStop(t *testing.T) {
	now := aMend().MendBy // the mend has become stop, ten days old
	young := raised(t, "hoist")
	young.At = now.Add(-time.Hour)
	later := aMend()
	later.At, later.MendBy = now.Add(-31*aDay), now.Add(aDay)
	back := aMend()
	back.ReturnedAt = now
	ages := checklists.Ages([]checklists.Defect{aMend(), young, later, back}, now)
	require.Equal(t, []checklists.Ageing{
		{Severity: checklists.Stop, Counts: []int{1, 0, 1, 0}, Open: 2, Oldest: 10 * aDay},
		{Severity: checklists.Mend, Counts: []int{0, 0, 0, 1}, Open: 1, Oldest: 31 * aDay},
	}, ages)
	require.True(t, aMend().Overdue(now))
	require.False(t, later.Overdue(now))
	require.False(t, back.Overdue(now.Add(99*aDay)))
	require.Equal(t, 10*aDay, back.OpenFor(now.Add(aDay)))
}

func TestIncidentIsEnteredByAnyoneAndHoldsItsMachine(t *testing.T) {
	good := func() checklists.Incident {
		return checklists.Incident{Kind: checklists.Hurt, Equipment: "carriage", Happened: beforeShift.Add(-time.Hour), Where: "at the headblocks", What: " hand caught ",
			Present: "Ann and Ben", Harmed: "Ben, two fingers", Harm: checklists.Hospital, Photo: "p"}
	}
	enter := func(change func(*checklists.Incident), held checklists.Holding) (checklists.Incident, error) {
		typed := good()
		change(&typed)
		return checklists.EnterIncident("i1", typed, held, "ben", aPlant(), beforeShift)
	}
	nothing := func(*checklists.Incident) {}
	i, err := enter(nothing, checklists.HoldByStop)
	require.NoError(t, err)
	require.Equal(t, "hand caught", i.What)
	require.True(t, i.Open())
	i, d := i.Stops("d1")
	require.Equal(t, checklists.DefectID("d1"), i.Defect)
	require.True(t, d.StopsNow(beforeShift))
	require.Equal(t, i.Equipment, d.Equipment)
	i, dep := i.Departs("x1")
	require.True(t, dep.Open())
	require.Equal(t, i.Departure, dep.ID)

	near := func(i *checklists.Incident) { i.Kind, i.Harmed, i.Harm = checklists.NearMiss, "", "" }
	_, err = enter(near, checklists.HoldNothing)
	require.NoError(t, err, "after a near miss the one who enters it says")
	_, err = enter(func(i *checklists.Incident) { i.Equipment = "site" }, checklists.HoldNothing)
	require.NoError(t, err, "a fall on the ice stops no machine")
	for field, change := range map[string]func(*checklists.Incident){
		"kind":      func(i *checklists.Incident) { i.Kind = "" },
		"equipment": func(i *checklists.Incident) { i.Equipment = "boiler" },
		"happened":  func(i *checklists.Incident) { i.Happened = beforeShift.Add(1) },
		"what":      func(i *checklists.Incident) { i.What = " " },
		"where":     func(i *checklists.Incident) { i.Where = strings.Repeat("x", 3000) },
		"present":   func(i *checklists.Incident) { i.Present = strings.Repeat("x", 3000) },
		"harmed":    func(i *checklists.Incident) { i.Harmed = "" },
		"harm":      func(i *checklists.Incident) { i.Harm = "slight" },
	} {
		_, err := enter(change, checklists.HoldByStop)
		require.NotNil(t, problems(t, err).For(field), field)
	}
	for _, held := range []checklists.Holding{checklists.HoldNothing, "maybe"} {
		_, err = enter(nothing, held)
		require.NotNil(t, problems(t, err).For("hold"), held)
	}
	_, err = enter(func(i *checklists.Incident) { near(i); i.Harmed, i.Harm = "Ben", checklists.Death }, checklists.HoldByStop)
	require.NotNil(t, problems(t, err).For("kind"), "somebody hurt is no near miss")
	require.NotNil(t, problems(t, err).For("harm"))
}

func TestIncidentIsClosedByASupervisorOnceWhatFollowedIsDone(t *testing.T) {
	now := beforeShift
	i := checklists.Incident{ID: "i1", Kind: checklists.NearMiss, Equipment: "carriage", At: now}
	a, err := i.Act("a1", " guard rail ", helper(), now.Add(aDay), boss(), now)
	require.NoError(t, err)
	require.False(t, a.Overdue(now))
	require.True(t, a.Overdue(now.Add(aDay)))
	_, err = i.Act("a1", "rail", helper(), now.Add(aDay), sawyer(), now)
	refusal(t, err)
	_, err = i.Act("a1", "", reader(), now, boss(), now)
	for _, field := range []string{"action", "person", "due"} {
		require.NotNil(t, problems(t, err).For(field), field)
	}
	_, err = i.Close([]checklists.IncidentAction{a}, boss(), "all well", now)
	require.Contains(t, refusal(t, err).Error(), "guard rail")
	_, err = a.Report(" ", helper(), now)
	require.NotNil(t, problems(t, err).For("done"))
	_, err = a.Report("done", reader(), now)
	refusal(t, err)
	done, err := a.Report("rail up", helper(), now)
	require.NoError(t, err)
	_, err = done.Report("again", helper(), now)
	refusal(t, err)
	for _, by := range []procedures.Person{sawyer(), reader()} {
		_, err = i.Close(nil, by, "fine", now)
		refusal(t, err)
	}
	_, err = i.Close(nil, boss(), " ", now)
	require.NotNil(t, problems(t, err).For("reason"))
	_, err = i.Close(nil, boss(), "early", now.Add(-1))
	refusal(t, err)
	closed, err := i.Close([]checklists.IncidentAction{done}, boss(), " rail keeps hands off ", now)
	require.NoError(t, err)
	require.False(t, closed.Open())
	require.Equal(t, "rail keeps hands off", closed.Reason)
	_, err = closed.Close(nil, boss(), "again", now)
	refusal(t, err)
	_, err = closed.Act("a2", "more", helper(), now.Add(aDay), boss(), now)
	refusal(t, err)
}

// 29 CFR 1904.39(a)(1): a death within 8 hours; (a)(2): in-patient
// hospitalization, amputation or loss of an eye within 24 hours.
func TestReportToTheAuthorityIsDueAsTheRuleSays(t *testing.T) {
	for harm, within := range map[checklists.Harm]time.Duration{checklists.Death: 8 * time.Hour, checklists.Hospital: aDay, checklists.Amputation: aDay, checklists.EyeLost: aDay} {
		i := checklists.Incident{Kind: checklists.Hurt, Harm: harm, Happened: beforeShift}
		at, clause := i.ReportBy(procedures.LawUSFederal)
		require.Equal(t, beforeShift.Add(within), at, harm)
		require.Equal(t, "29 CFR 1904.39(a)", clause)
		at, _ = i.ReportBy(procedures.LawUK)
		require.Zero(t, at, "another law says it otherwise")
	}
	for _, harm := range []checklists.Harm{checklists.HarmNotKnown, checklists.FirstAid, checklists.Treated} {
		at, _ := checklists.Incident{Kind: checklists.Hurt, Harm: harm, Happened: beforeShift}.ReportBy(procedures.LawUSFederal)
		require.Zero(t, at, harm)
	}
}
