package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func someIDs() func() string {
	n := 0
	return func() string { n++; return string(rune('a' + n)) }
}

// setAside is the walk of [finished], said not to be signed by boss a while later.
func setAside(t require.TestingT, answers []checklists.Answer, by procedures.Person, now time.Time) (checklists.SetAside, []checklists.Defect) {
	u := finished(t, underWay)
	s, found, err := u.SetAside(aList(), answers, nil, "another held the phone", by, someIDs(), nil, now)
	require.NoError(t, err)
	return s, found
}

// What becomes of a check nobody stands for: common practice, no source.
func TestAWalkThatIsNotToBeSignedReleasesNothing(t *testing.T) {
	now := underWay.Add(10 * time.Minute)
	s, found := setAside(t, walked(t, aList(), underWay, nil), boss(), now)
	require.Empty(t, found)
	require.Equal(t, checklists.Aside{By: "sue", At: now, Reason: "another held the phone"}, s.Aside)
	require.Len(t, s.Given, s.Answers)

	f := checkedFacts(t, beforeShift)
	f.People, f.Unsigned = crewOf(), []checklists.Unsigned{s.Unsigned}
	for id, r := range readiness(t, f, now) {
		require.Equal(t, checklists.Held, r.Status, "%s", id)
		require.Equal(t, []checklists.HoldKind{checklists.HeldUnsigned}, kinds(r), "%s", id)
		require.Equal(t, "Checked without contact by Ann, not to be signed, says Sue: "+aList().Title, r.Holds[0].Reason.String())
		require.Equal(t, "Somebody goes through the list anew and signs.", r.Holds[0].Clears.String())
	}
	for _, tc := range []struct {
		why   string
		in    checklists.Inspection
		holds bool
	}{
		{"another of the crew signs it anew", checklists.Inspection{ID: "x", List: s.List, Version: s.Version, Signer: "ben", At: now.Add(time.Minute)}, false},
		{"signed before it was said", checklists.Inspection{ID: "x", List: s.List, Version: s.Version, Signer: "ben", At: now.Add(-time.Minute)}, true},
		{"an older version, which may not ask all of it", checklists.Inspection{ID: "x", List: s.List, Version: s.Version - 1, Signer: "ben", At: now.Add(time.Minute)}, true},
		{"another list", checklists.Inspection{ID: "x", List: "weekly", Signer: "ben", At: now.Add(time.Minute)}, true},
		{"signed by nobody", checklists.Inspection{ID: "x", List: s.List, Version: s.Version, At: now.Add(time.Minute)}, true},
		{"signed in time to come", checklists.Inspection{ID: "x", List: s.List, Version: s.Version, Signer: "ben", At: now.Add(2 * time.Hour)}, true},
		{"signed by ann herself before it was said", checklists.Inspection{ID: "x", List: s.List, Version: s.Version, Signer: "ann", At: now.Add(-time.Minute)}, false},
	} {
		f := checklists.Facts{Unsigned: []checklists.Unsigned{s.Unsigned}, People: crewOf(), Inspections: []checklists.Inspection{tc.in}}
		require.Equal(t, tc.holds, len(f.Waiting(now.Add(time.Hour))) == 1, tc.why)
	}
	nothing := s.Unsigned
	nothing.Aside.At = time.Time{}
	f = checklists.Facts{Unsigned: []checklists.Unsigned{nothing}, People: crewOf(), Inspections: []checklists.Inspection{{ID: "x", List: s.List, Version: s.Version, Signer: "ben", At: now.Add(time.Minute)}}}
	require.Len(t, f.Waiting(now.Add(time.Hour)), 1, "said at no known time, nothing came after it")
}

func TestWhatWasFoundInAWalkThatIsNotToBeSignedStandsAsADefect(t *testing.T) {
	now := underWay.Add(10 * time.Minute)
	answers := walked(t, aList(), underWay, map[checklists.ItemID]checklists.Answer{"C1": {Item: "C1", Result: checklists.Found, Note: "dog blunt", Severity: checklists.Stop, By: "ann", At: underWay}})
	s, found := setAside(t, answers, sawyer(), now)
	require.Len(t, found, 1)
	require.Equal(t, procedures.EquipmentID("carriage"), found[0].Equipment)
	require.Equal(t, "dog blunt", found[0].What)
	require.Equal(t, checklists.Stop, found[0].Severity)
	require.Equal(t, procedures.PersonID("ann"), found[0].By)
	require.Equal(t, s.Inspection, found[0].Inspection)
	require.True(t, found[0].StopsNow(now))

	u := finished(t, underWay)
	gone := []checklists.FoundUnsigned{{Inspection: "w1", List: "short", Item: "OLD", Equipment: "hoist", What: "hook bent", By: "ann"}}
	_, found, err := u.SetAside(aList(), answers, gone, "why", sawyer(), someIDs(), nil, now)
	require.NoError(t, err)
	require.Len(t, found, 2, "an item the list asks no more")
	require.Equal(t, checklists.Stop, found[1].Severity)
	require.Equal(t, u.Began, found[1].At, "carried over, seen no later than that")
}

func TestOnlyWhoMaySignMaySayThatNothingIsToBeSigned(t *testing.T) {
	u := finished(t, underWay)
	for _, by := range []procedures.Person{helper(), reader(), {}} {
		_, _, err := u.SetAside(aList(), nil, nil, "why", by, someIDs(), nil, underWay)
		refusal(t, err)
	}
	for _, reason := range []string{"", "  ", string([]byte{0xff})} {
		_, _, err := u.SetAside(aList(), nil, nil, reason, sawyer(), someIDs(), nil, underWay)
		var problems plain.Problems
		require.ErrorAs(t, err, &problems)
		require.NotNil(t, problems.For("reason"))
	}
	s, _, err := u.SetAside(aList(), nil, nil, "why", sawyer(), someIDs(), nil, underWay)
	require.NoError(t, err)
	_, _, err = s.Unsigned.SetAside(aList(), nil, nil, "why", boss(), someIDs(), nil, underWay)
	refusal(t, err)
}

// Whatever is signed when, saying that a walk is not to be signed ends a hold only
// by a signature after it.
func TestNothingButALaterSignatureEndsTheHoldOfAWalkSetAside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, _ := setAside(t, nil, boss(), underWay)
		f := checklists.Facts{Unsigned: []checklists.Unsigned{s.Unsigned}, People: crewOf()}
		ends := false
		for range rapid.IntRange(0, 4).Draw(t, "signed") {
			in := checklists.Inspection{ID: checklists.InspectionID(rapid.SampledFrom([]string{"x", "w2"}).Draw(t, "id")), List: checklists.ListID(rapid.SampledFrom([]string{string(s.List), "weekly"}).Draw(t, "list")), Version: s.Version,
				Signer: procedures.PersonID(rapid.SampledFrom([]string{"", "ben", "zoe"}).Draw(t, "signer")), At: underWay.Add(time.Duration(rapid.IntRange(-2, 2).Draw(t, "at")) * time.Hour)}
			f.Inspections = append(f.Inspections, in)
			ends = ends || in.List == s.List && in.Signer != "" && in.At.Equal(underWay.Add(time.Hour))
		}
		require.Equal(t, ends, len(f.Waiting(underWay.Add(time.Hour))) == 0)
	})
}
