package checklists_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func raised(t require.TestingT, equipment procedures.EquipmentID) checklists.Defect {
	d, err := checklists.Raise("d1", equipment, " grinding noise ", "photo", "", aPlant(), beforeShift)
	require.NoError(t, err)
	return d
}

func mended(t require.TestingT, equipment procedures.EquipmentID) checklists.Defect {
	d, err := raised(t, equipment).Mended(helper(), "new bearing", "mend photo", beforeShift.Add(time.Hour))
	require.NoError(t, err)
	return d
}

func TestAnybodyStopsAMachineAlsoUnnamedAndWithoutWords(t *testing.T) {
	d := raised(t, "head-saw")
	require.Equal(t, checklists.Defect{ID: "d1", Equipment: "head-saw", What: "grinding noise", Severity: checklists.Stop, Photo: "photo", At: beforeShift}, d)
	d, err := checklists.Raise("d1", "hoist", "", "", "", aPlant(), beforeShift)
	require.NoError(t, err)
	require.True(t, d.StopsNow(beforeShift))
	_, err = checklists.Raise("d1", "boiler", strings.Repeat("x", 3000), "", "", aPlant(), beforeShift)
	bad := problems(t, err)
	require.NotNil(t, bad.For("equipment"))
	require.NotNil(t, bad.For("what"))
}

func TestMendBecomesStopOnItsDate(t *testing.T) {
	d := checklists.Defect{Severity: checklists.Mend, MendBy: beforeShift}
	require.False(t, d.StopsNow(beforeShift.Add(-time.Nanosecond)))
	require.True(t, d.StopsNow(beforeShift))
	d.MendBy = time.Time{}
	require.True(t, d.StopsNow(beforeShift), "a mend without a date is stop")
	require.True(t, checklists.Defect{}.StopsNow(beforeShift), "a defect of unknown severity is stop")
	require.False(t, checklists.Defect{Severity: checklists.Stop, ReturnedAt: beforeShift}.StopsNow(beforeShift))
}

func TestMendingIsReportedOnceByTheCrewWithWhatWasDone(t *testing.T) {
	d := mended(t, "head-saw")
	require.True(t, d.AwaitsReturn())
	require.True(t, d.StopsNow(beforeShift.Add(2*time.Hour)), "mended is not returned")
	_, err := raised(t, "head-saw").Mended(helper(), " ", "", beforeShift)
	require.NotNil(t, problems(t, err).For("note"))
	_, err = raised(t, "head-saw").Mended(reader(), "done", "", beforeShift)
	refusal(t, err)
	_, err = raised(t, "head-saw").Mended(helper(), "done", "", beforeShift.Add(-time.Second))
	refusal(t, err)
	_, err = d.Mended(sawyer(), "done again", "", beforeShift.Add(2*time.Hour))
	refusal(t, err)
	back, err := d.Return(sawyer(), aMill(), aPlant(), checklists.Recheck{}, beforeShift.Add(2*time.Hour))
	require.NoError(t, err)
	_, err = back.Mended(sawyer(), "again", "", beforeShift.Add(3*time.Hour))
	refusal(t, err)
}

func TestReturnNeedsAnotherPersonNotAnotherRole(t *testing.T) {
	now := beforeShift.Add(2 * time.Hour)
	d := mended(t, "head-saw")
	back, err := d.Return(sawyer(), aMill(), aPlant(), checklists.Recheck{Note: " ran true "}, now)
	require.NoError(t, err)
	require.False(t, back.Open())
	require.False(t, back.NoSecond)
	require.Equal(t, procedures.PersonID("ann"), back.ReturnedBy)
	require.Equal(t, "ran true", back.ReturnNote)

	promoted := helper()
	promoted.Role, promoted.Authorized, promoted.QualifiedLifting = procedures.Supervisor, true, true
	_, err = d.Return(promoted, aMill(), aPlant(), goodRecheck("ben"), now)
	require.Contains(t, refusal(t, err).Error(), "another person")
	for name, try := range map[string]func() (checklists.Defect, error){
		"a reader": func() (checklists.Defect, error) {
			return d.Return(reader(), aMill(), aPlant(), checklists.Recheck{}, now)
		},
		"not mended": func() (checklists.Defect, error) {
			return raised(t, "head-saw").Return(sawyer(), aMill(), aPlant(), checklists.Recheck{}, now)
		},
		"returned before": func() (checklists.Defect, error) {
			return back.Return(sawyer(), aMill(), aPlant(), checklists.Recheck{}, now)
		},
		"before the mend": func() (checklists.Defect, error) {
			return d.Return(sawyer(), aMill(), aPlant(), checklists.Recheck{}, beforeShift)
		},
		"unknown machine": func() (checklists.Defect, error) { return d.Return(sawyer(), aMill(), nil, checklists.Recheck{}, now) },
	} {
		got, err := try()
		refusal(t, err)
		require.Zero(t, got, name)
	}
	_, err = d.Return(sawyer(), aMill(), aPlant(), checklists.Recheck{Note: "\xff"}, now)
	require.NotNil(t, problems(t, err).For("note"))
}

// 29 CFR 1910.265(c)(24)(iii): lifting gear only by qualified persons.
func TestHoistIsReturnedOnlyBySomebodyQualifiedForLiftingGear(t *testing.T) {
	now, d := beforeShift.Add(2*time.Hour), mended(t, "hoist")
	for _, single := range []bool{false, true} {
		mill := aMill()
		mill.SingleHanded = single
		for _, by := range []procedures.Person{sawyer(), boss(), helper()} {
			_, err := d.Return(by, mill, aPlant(), goodRecheck(by.ID), now)
			require.Equal(t, "29 CFR 1910.265(c)(24)(iii)", refusal(t, err).Clause)
		}
		qualified := sawyer()
		qualified.QualifiedLifting = true
		_, err := d.Return(qualified, mill, aPlant(), checklists.Recheck{}, now)
		require.NoError(t, err)
	}
}

func goodRecheck(by procedures.PersonID) checklists.Recheck {
	after := beforeShift.Add(90 * time.Minute)
	return checklists.Recheck{
		Answer: checklists.Answer{Result: checklists.OK, Photo: "check photo", By: by, At: after},
		Run:    checklists.RunCheck{ID: "r", Person: by, Equipment: []procedures.EquipmentID{"head-saw", "hoist"}, From: after, Until: after.Add(checklists.RunCheckLasts)},
	}
}

func TestMenderAloneReturnsOnlyWithRecheckRunCheckAndPhotosAndIsMarked(t *testing.T) {
	mill, now := aMill(), beforeShift.Add(2*time.Hour)
	mill.SingleHanded = true
	d := mended(t, "head-saw")
	back, err := d.Return(helper(), mill, aPlant(), goodRecheck("ben"), now)
	require.NoError(t, err)
	require.True(t, back.NoSecond)
	other, err := d.Return(sawyer(), mill, aPlant(), checklists.Recheck{}, now)
	require.NoError(t, err)
	require.False(t, other.NoSecond, "a second person who happens to be there is a second person")

	before := beforeShift.Add(time.Minute) // before the mend
	for name, change := range map[string]func(*checklists.Recheck, *checklists.Defect){
		"not OK":                func(r *checklists.Recheck, _ *checklists.Defect) { r.Answer.Result = checklists.NotChecked },
		"another item":          func(r *checklists.Recheck, _ *checklists.Defect) { r.Answer.Item = "C1" },
		"another's answer":      func(r *checklists.Recheck, _ *checklists.Defect) { r.Answer.By = "ann" },
		"answered before":       func(r *checklists.Recheck, _ *checklists.Defect) { r.Answer.At = before },
		"answered later":        func(r *checklists.Recheck, _ *checklists.Defect) { r.Answer.At = now.Add(time.Second) },
		"no run check":          func(r *checklists.Recheck, _ *checklists.Defect) { r.Run = checklists.RunCheck{} },
		"another's run check":   func(r *checklists.Recheck, _ *checklists.Defect) { r.Run.Person = "ann" },
		"run check before":      func(r *checklists.Recheck, _ *checklists.Defect) { r.Run.From = before },
		"other machine":         func(r *checklists.Recheck, _ *checklists.Defect) { r.Run.Equipment = []procedures.EquipmentID{"hoist"} },
		"no photo of the check": func(r *checklists.Recheck, _ *checklists.Defect) { r.Answer.Photo = "" },
		"no photo of the mend":  func(_ *checklists.Recheck, d *checklists.Defect) { d.MendPhoto = "" },
	} {
		recheck, defect := goodRecheck("ben"), d
		change(&recheck, &defect)
		_, err := defect.Return(helper(), mill, aPlant(), recheck, now)
		require.Contains(t, refusal(t, err).Error(), "Working alone", name)
	}
}

func TestDepartureIsEnteredByAnyoneAndClosedByTheSupervisorWithAReason(t *testing.T) {
	enter := func(equipment procedures.EquipmentID, what string, happened time.Time) (checklists.Departure, error) {
		return checklists.EnterDeparture("x", equipment, what, happened, "", "ben", aPlant(), beforeShift)
	}
	d, err := enter("carriage", " lock cut ", beforeShift.Add(-time.Hour))
	require.NoError(t, err)
	require.True(t, d.Open())
	require.Equal(t, "lock cut", d.What)
	for field, try := range map[string]func() error{
		"equipment": func() error { _, err := enter("boiler", "x", beforeShift); return err },
		"what":      func() error { _, err := enter("carriage", " ", beforeShift); return err },
		"happened":  func() error { _, err := enter("carriage", "x", beforeShift.Add(time.Second)); return err },
	} {
		require.NotNil(t, problems(t, try()).For(field), field)
	}

	deputy := helper()
	deputy.Deputy = true
	for _, by := range []procedures.Person{boss(), deputy} {
		closed, err := checklists.CloseDeparture(d, by, " talked it through ", beforeShift)
		require.NoError(t, err)
		require.False(t, closed.Open())
		require.Equal(t, "talked it through", closed.Reason)
		require.Equal(t, d.What, closed.What, "it stays on the record")
		_, err = checklists.CloseDeparture(closed, by, "again", beforeShift)
		refusal(t, err)
	}
	for _, by := range []procedures.Person{sawyer(), reader()} {
		_, err := checklists.CloseDeparture(d, by, "fine", beforeShift)
		refusal(t, err)
	}
	_, err = checklists.CloseDeparture(d, boss(), "  ", beforeShift)
	require.NotNil(t, problems(t, err).For("reason"))
	_, err = checklists.CloseDeparture(d, boss(), "early", beforeShift.Add(-time.Second))
	refusal(t, err)
}

// A second unsigned stop adds nothing to one that stands; once that one is
// mended, or for another machine, it does.
func TestUnsignedStopIsKeptOnce(t *testing.T) {
	now := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	stop := checklists.Defect{ID: "d1", Equipment: "hoist", Severity: checklists.Stop, At: now}
	id, stands := checklists.StandingStop([]checklists.Defect{stop}, "hoist")
	require.True(t, stands)
	require.Equal(t, checklists.DefectID("d1"), id)
	for name, change := range map[string]func(*checklists.Defect){
		"signed":          func(d *checklists.Defect) { d.By = "ada" },
		"said":            func(d *checklists.Defect) { d.What = "hook bent" },
		"mended":          func(d *checklists.Defect) { d.MendedAt = now },
		"returned":        func(d *checklists.Defect) { d.MendedAt, d.ReturnedAt = now, now },
		"another machine": func(d *checklists.Defect) { d.Equipment = "carriage" },
	} {
		other := stop
		change(&other)
		_, stands := checklists.StandingStop([]checklists.Defect{other}, "hoist")
		require.False(t, stands, name)
	}
}

// What is known and not yet mended is found again on the next check: it stays
// one defect. Mended and found again, or worse than before, it is a new one.
func TestKnownDefectFoundAgainIsNotMadeTwice(t *testing.T) {
	list := starter(t, aSetUp())
	list.Version, list.InForce = 1, beforeShift.Add(-24*time.Hour)
	now := beforeShift
	found := mendItem(list)
	require.NotEmpty(t, found)
	answers := walked(t, list, now, map[checklists.ItemID]checklists.Answer{found: {Result: checklists.Found, Note: "seam open",
		Severity: checklists.Mend, StopGap: "taped", MendBy: now.Add(72 * time.Hour)}})
	sign := func(open []checklists.Defect) []checklists.Defect {
		_, made, err := checklists.Complete(list, answers, sawyer(), counter(), aMill(), now.Add(-time.Hour), now, now, open)
		require.NoError(t, err)
		return made
	}
	first := sign(nil)
	require.Len(t, first, 1)
	require.Empty(t, sign(first), "the same one")
	mended := first[0]
	mended.MendedAt = now
	require.Len(t, sign([]checklists.Defect{mended}), 1, "mended and wrong again")
	elsewhere := first[0]
	elsewhere.List = "weekly"
	require.Len(t, sign([]checklists.Defect{elsewhere}), 1, "another list's item of that name")
	worse := first[0]
	worse.Severity = checklists.Stop
	require.Empty(t, sign([]checklists.Defect{worse}), "a stop stands already")
	for i := range answers {
		if answers[i].Item == found {
			answers[i].Severity, answers[i].StopGap, answers[i].MendBy = checklists.Stop, "", time.Time{}
		}
	}
	require.Len(t, sign(first), 1, "worse than it was")
	require.Empty(t, sign([]checklists.Defect{first[0], worse}), "a mend and a stop stand open: the stop is known")
}

// Found again with an earlier date, the earlier date is the one that stops the
// machine; a later one, typed out of habit, puts nothing off.
// Seen to fail while any mend found again was passed over.
func TestKnownDefectFoundAgainStopsAtTheEarliestDateSigned(t *testing.T) {
	list := starter(t, aSetUp())
	list.Version, list.InForce = 1, beforeShift.Add(-24*time.Hour)
	now, item := beforeShift, mendItem(list)
	soon, far := now.Add(24*time.Hour), now.Add(90*24*time.Hour)
	answered := func(by time.Time) []checklists.Answer {
		return walked(t, list, now, map[checklists.ItemID]checklists.Answer{item: {Result: checklists.Found, Note: "much looser",
			Severity: checklists.Mend, StopGap: "run slow", MendBy: by}})
	}
	sign := func(by time.Time, open ...checklists.Defect) []checklists.Defect {
		_, made, err := checklists.Complete(list, answered(by), sawyer(), counter(), aMill(), now.Add(-time.Hour), now, now, open)
		require.NoError(t, err)
		return made
	}
	asked, _ := list.Item(item)
	known := checklists.Defect{ID: "known", Equipment: asked.Equipment, List: list.ID, Item: item, What: "loose", Severity: checklists.Mend,
		StopGap: "wedge", MendBy: far, By: "ann", At: now.Add(-48 * time.Hour)}

	made := sign(soon, known)
	require.Len(t, made, 1)
	require.Equal(t, soon, made[0].MendBy)
	require.Equal(t, "run slow", made[0].StopGap)
	require.Equal(t, "much looser", made[0].What)
	require.False(t, made[0].StopsNow(soon.Add(-time.Second)))
	require.True(t, made[0].StopsNow(soon))

	require.Empty(t, sign(far, known), "the same date")
	require.Empty(t, sign(far.Add(time.Hour), known), "a later date")
	require.Empty(t, sign(soon, known, made[0]), "the earliest is the one that is known")
	require.Empty(t, sign(soon.Add(time.Hour), made[0], known), "between the two")
	over := known
	over.MendBy = now
	require.Empty(t, sign(soon, over, known), "one that stops already by its date")
	undated := known
	undated.MendBy = time.Time{}
	require.Empty(t, sign(soon, undated), "and one without a date stops, too")
	stop := known
	stop.Severity, stop.StopGap, stop.MendBy = checklists.Stop, "", time.Time{}
	require.Empty(t, sign(soon, known, stop), "a stop comes before any date")

	signed, _, err := checklists.Complete(list, walked(t, list, now, nil), sawyer(), counter(), aMill(), now.Add(-time.Hour), now, now, nil)
	require.NoError(t, err)
	for _, a := range answered(soon) {
		if a.Item == item {
			_, added, err := checklists.Amend(signed, list, []checklists.Answer{a}, sawyer(), counter(), now, []checklists.Defect{known})
			require.NoError(t, err)
			require.Len(t, added, 1, "added afterwards")
			require.Equal(t, soon, added[0].MendBy)
		}
	}
}

// mendItem is an item of the list that asks nothing but a choice and may be mended later.
func mendItem(list checklists.List) (found checklists.ItemID) {
	for _, item := range list.Items {
		if item.Severity == checklists.Mend && item.Kind == checklists.Choice && !item.DefectPhoto && !item.AlwaysPhoto {
			found = item.ID
		}
	}
	return found
}
