package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// finished is the whole list walked well by ann without contact, told to the server
// at that time.
func finished(t require.TestingT, now time.Time) checklists.Unsigned {
	list := aList()
	u, err := checklists.Finish("w1", list, walked(t, list, now, nil), sawyer(), aMill(), now.Add(-30*time.Minute), now.Add(-5*time.Minute), now)
	require.NoError(t, err)
	return u
}

func crewOf() []procedures.Person {
	return []procedures.Person{sawyer(), helper(), boss(), reader()}
}

func TestFinishedWithoutContactHoldsWhatItChecks(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.People = crewOf()
	f.Unsigned = []checklists.Unsigned{finished(t, underWay)}
	for id, r := range readiness(t, f, underWay) {
		require.Equal(t, checklists.Held, r.Status, "%s: though the check of before counts", id)
		require.Equal(t, []checklists.HoldKind{checklists.HeldUnsigned}, kinds(r), "%s", id)
		require.Equal(t, "Checked without contact by Ann, not yet signed: "+aList().Title, r.Holds[0].Reason.String())
		require.Equal(t, "Ann looks at it and signs, or a supervisor does in their place.", r.Holds[0].Clears.String())
	}
	f.People = nil
	require.Contains(t, readiness(t, f, underWay)["hoist"].Holds[0].Reason.String(), "by somebody no longer named")
}

func TestNothingIsFinishedWithAnAnswerMissing(t *testing.T) {
	list := aList()
	answers := walked(t, list, underWay, nil)
	_, err := checklists.Finish("w1", list, answers[1:], sawyer(), aMill(), beforeShift, underWay, underWay)
	require.Equal(t, string(answers[0].Item), problems(t, err)[0].Field)
	_, err = checklists.Finish("w1", list, answers, reader(), aMill(), beforeShift, underWay, underWay)
	refusal(t, err)
	u, err := checklists.Finish("w1", list, answers, sawyer(), aMill(), beforeShift, underWay.Add(time.Hour), underWay)
	require.NoError(t, err)
	require.Equal(t, underWay, u.Seen, "nothing is seen in time to come")
}

func TestFinishedNamesItsStops(t *testing.T) {
	list := aList()
	var stop checklists.Item
	for _, i := range list.Items {
		if i.Severity != checklists.Mend && i.State == checklists.Stopped {
			stop = i
		}
	}
	answers := walked(t, list, underWay, map[checklists.ItemID]checklists.Answer{stop.ID: wrong(stop, underWay)})
	u, err := checklists.Finish("w1", list, answers, sawyer(), aMill(), beforeShift, underWay, underWay)
	require.NoError(t, err)
	require.Equal(t, []checklists.ItemID{stop.ID}, u.Stops)
	found := checklists.Stops("w1", list, answers)
	require.Len(t, found, 1)
	require.Equal(t, stop.Equipment, found[0].Equipment)
	require.Equal(t, "bent", found[0].What)
}

func TestTheWaitEndsWithTheRightSignatureAndNoOther(t *testing.T) {
	u := finished(t, underWay)
	for _, tc := range []struct {
		why   string
		in    checklists.Inspection
		waits bool
	}{
		{"its own signature", checklists.Inspection{ID: "w1", List: u.List, Version: u.Version, Signer: "ann", At: underWay.Add(time.Minute)}, false},
		{"its own, by a supervisor", checklists.Inspection{ID: "w1", List: u.List, Version: u.Version, Signer: "sue", At: underWay.Add(time.Minute)}, false},
		{"gone through again by the same", checklists.Inspection{ID: "x", List: u.List, Version: u.Version, Signer: "ann", At: underWay.Add(time.Minute)}, false},
		{"gone through by a supervisor", checklists.Inspection{ID: "x", List: u.List, Version: u.Version, Signer: "sue", At: underWay.Add(time.Minute)}, false},
		{"gone through by another of the crew", checklists.Inspection{ID: "x", List: u.List, Version: u.Version, Signer: "ben", At: underWay.Add(time.Minute)}, true},
		{"gone through by nobody known", checklists.Inspection{ID: "x", List: u.List, Version: u.Version, Signer: "zoe", At: underWay.Add(time.Minute)}, true},
		{"gone through by an older version", checklists.Inspection{ID: "x", List: u.List, Version: u.Version - 1, Signer: "ann", At: underWay.Add(time.Minute)}, true},
		{"another list", checklists.Inspection{ID: "x", List: "weekly", Signer: "ann", At: underWay.Add(time.Minute)}, true},
		{"signed before it was finished", checklists.Inspection{ID: "x", List: u.List, Version: u.Version, Signer: "ann", At: underWay.Add(-time.Minute)}, true},
		{"signed in time to come", checklists.Inspection{ID: "w1", List: u.List, Version: u.Version, Signer: "ann", At: underWay.Add(2 * time.Hour)}, true},
		{"signed at no time", checklists.Inspection{ID: "w1", List: u.List, Version: u.Version, Signer: "ann"}, true},
	} {
		f := checklists.Facts{Unsigned: []checklists.Unsigned{u}, People: crewOf(), Inspections: []checklists.Inspection{tc.in}}
		require.Equal(t, tc.waits, len(f.Waiting(underWay.Add(time.Hour))) == 1, tc.why)
	}
	nobodys := u
	nobodys.By = ""
	f := checklists.Facts{Unsigned: []checklists.Unsigned{nobodys}, People: crewOf(), Inspections: []checklists.Inspection{{ID: "x", List: u.List, Version: u.Version, At: underWay.Add(time.Minute)}}}
	require.Len(t, f.Waiting(underWay.Add(time.Hour)), 1, "nobody's name ends nothing")

	require.NoError(t, u.MayAnswer(sawyer()))
	require.NoError(t, u.MayAnswer(boss()))
	refusal(t, u.MayAnswer(helper()))
	refusal(t, u.MayAnswer(procedures.Person{}))
	refusal(t, nobodys.MayAnswer(procedures.Person{}))
}

func TestAStopNobodySignedHoldsUntilItIsLookedAtAgain(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.People = crewOf()
	stop := checklists.FoundUnsigned{Inspection: "w1", List: aList().ID, Item: "C1", Equipment: "carriage", What: "dog blunt", By: "ann", At: underWay}
	f.FoundUnsigned = []checklists.FoundUnsigned{stop}
	held := func() bool {
		r := readiness(t, f, underWay.Add(2*time.Hour))["carriage"]
		return r.Status != checklists.MayRun
	}
	require.True(t, held())
	require.Equal(t, "Found at C1, not yet signed: dog blunt", readiness(t, f, underWay)["carriage"].Holds[0].Reason.String())
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status, "a stop on the carriage is none of the hoist")

	before := f.Inspections
	again := func(signer procedures.PersonID, result checklists.Result, seen time.Time) {
		later := before[0]
		later.ID, later.Signer, later.At = "later", signer, underWay.Add(time.Hour)
		later.Answers = nil
		for _, a := range before[0].Answers {
			a.At = seen
			if a.Item == "C1" {
				a.Result = result
			}
			later.Answers = append(later.Answers, a)
		}
		f.Inspections = append(before[:1:1], later)
	}
	again("ben", checklists.OK, underWay.Add(30*time.Minute))
	require.True(t, held(), "another of the crew doesn't clear it")
	again("sue", checklists.OK, underWay.Add(-30*time.Minute))
	require.True(t, held(), "looked at before it was found")
	again("sue", checklists.OK, underWay.Add(30*time.Minute))
	require.False(t, held(), "a supervisor looked again, and signed")
	again("ann", checklists.OK, underWay.Add(30*time.Minute))
	require.False(t, held(), "who found it looked again, and signed")
	again("sue", checklists.NotChecked, underWay.Add(30*time.Minute))
	require.True(t, held())

	stop.At = time.Time{} // of a walk begun anew
	f.FoundUnsigned = []checklists.FoundUnsigned{stop}
	again("sue", checklists.OK, underWay.Add(30*time.Minute))
	require.True(t, held(), "when it was found is not known")
}

func TestUnsignedThingsBarARunCheckOnlyWhereAStopWasFound(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.People, f.Unsigned = crewOf(), []checklists.Unsigned{finished(t, underWay)}
	now := underWay.Add(time.Minute)
	_, err := checklists.AllowRunCheck("r", f, checklists.List{}, nil, []procedures.EquipmentID{"hoist"}, boss(), now)
	require.NoError(t, err, "somebody has to be able to go through it again")
	f.FoundUnsigned = []checklists.FoundUnsigned{{Inspection: "w1", List: aList().ID, Item: "H1", Equipment: "hoist", By: "ann", At: underWay}}
	_, err = checklists.AllowRunCheck("r", f, checklists.List{}, nil, []procedures.EquipmentID{"hoist"}, boss(), now)
	require.Contains(t, refusal(t, err).Why.String(), "Found at H1, not yet signed")
}

func TestWhatWasSeenInARunCheckIsTakenAfterItIsOver(t *testing.T) {
	list := aList()
	var turning checklists.Item
	for _, i := range list.Items {
		if i.State == checklists.Running {
			turning = i
			break
		}
	}
	began := underWay
	f := under(nil, runOf("ann", began))
	late := began.Add(3 * time.Hour)
	take := func(by procedures.Person, seen time.Time) (checklists.Answer, error) {
		return checklists.TakeSeen(list, turning.ID, good(turning), by, f, seen, late)
	}
	kept, err := take(sawyer(), began.Add(10*time.Minute))
	require.NoError(t, err)
	require.Equal(t, began.Add(10*time.Minute), kept.At)
	for _, seen := range []time.Time{began.Add(-time.Second), began.Add(checklists.RunCheckLasts), late, {}} {
		_, err = take(sawyer(), seen)
		refusal(t, err)
	}
	_, err = take(helper(), began.Add(10*time.Minute))
	refusal(t, err)
	f.Defects = []checklists.Defect{{ID: "d", Equipment: turning.Equipment, Severity: checklists.Stop, At: began.Add(time.Hour), By: "ben"}}
	_, err = take(sawyer(), began.Add(10*time.Minute))
	refusal(t, err)
	f.Defects = nil
	f.FoundUnsigned = []checklists.FoundUnsigned{{List: list.ID, Item: "S1", Equipment: turning.Equipment, By: "ann", At: began.Add(time.Minute)}}
	_, err = take(sawyer(), began.Add(10*time.Minute))
	require.NoError(t, err, "what the same person found on the way doesn't end it")
	f.FoundUnsigned[0].By = "ben"
	_, err = take(sawyer(), began.Add(10*time.Minute))
	refusal(t, err)
}

// Whatever else is missing, lost or said twice: what is not signed holds.
func TestNothingMissingTurnsAnUnsignedHoldIntoMayRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := checkedFacts(t, beforeShift)
		f.People = crewOf()
		equipment := procedures.EquipmentID(rapid.SampledFrom([]string{"", "hoist", "head-saw", "carriage", "site", "boiler"}).Draw(t, "equipment"))
		by := procedures.PersonID(rapid.SampledFrom([]string{"", "ann", "ben", "gone"}).Draw(t, "by"))
		when := rapid.SampledFrom([]time.Time{{}, beforeShift, underWay, underWay.Add(240 * time.Hour)}).Draw(t, "at")
		list := checklists.ListID(rapid.SampledFrom([]string{"", "none", string(aList().ID)}).Draw(t, "list"))
		if rapid.Bool().Draw(t, "finished") {
			u := checklists.Unsigned{Inspection: "w1", List: list, By: by, At: when}
			if equipment != "" {
				u.Equipment = []procedures.EquipmentID{equipment}
			}
			f.Unsigned = append(f.Unsigned, u)
		} else {
			f.FoundUnsigned = append(f.FoundUnsigned, checklists.FoundUnsigned{Inspection: "w1", List: list, Item: "C1", Equipment: equipment, By: by, At: when})
		}
		if f.Unsigned != nil && !when.IsZero() && when.Before(beforeShift.Add(time.Second)) {
			f.Unsigned[0].At = underWay // the check of that morning came before it
		}
		if f.FoundUnsigned != nil && when.Equal(beforeShift) {
			f.FoundUnsigned[0].At = underWay
		}
		for _, drop := range []struct {
			name string
			drop func()
		}{
			{"people", func() { f.People = nil }}, {"amendments", func() { f.Amendments = nil }}, {"inspections", func() { f.Inspections = nil }},
			{"lists", func() { f.Lists = nil }}, {"zone", func() { f.Mill.Zone = "" }}, {"shifts", func() { f.Mill.Shifts = nil }},
			{"readings", func() { f.Readings = nil }}, {"twice", func() { f.Inspections = append(f.Inspections, f.Inspections...) }},
		} {
			if rapid.Bool().Draw(t, drop.name) {
				drop.drop()
			}
		}
		for _, r := range checklists.Ready(f, underWay) {
			reached := equipment == "" || equipment == "boiler" || equipment == "site" || r.Equipment == equipment
			if reached && r.Status != checklists.Held {
				t.Fatalf("%s: %v", r.Equipment, r.Status)
			}
		}
	})
}
