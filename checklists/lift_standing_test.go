package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// The mill's shift is 06:00 to 14:30; its check may be done from 02:00.
func TestAnswerToALiftEndsWithItsShift(t *testing.T) {
	mill := aMill()
	evening := mill
	evening.Shifts = append(evening.Shifts[:1:1], checklists.Shift{Name: "evening", Start: 14*60 + 30, End: 22 * 60, Days: weekdays})
	for name, tc := range map[string]struct {
		mill        checklists.Mill
		given, ends string
	}{
		"under way":                         {mill, "2025-06-04 09:00", "2025-06-04 14:30"},
		"an hour before":                    {mill, "2025-06-04 05:00", "2025-06-04 14:30"},
		"after it, none for half a day":     {mill, "2025-06-04 15:00", "2025-06-05 03:00"},
		"at night, ended by the next shift": {mill, "2025-06-05 01:30", "2025-06-05 06:00"},
		"a Sunday":                          {mill, "2025-06-08 09:00", "2025-06-08 21:00"},
		"late in the first of two":          {evening, "2025-06-04 13:00", "2025-06-04 14:30"},
		"in the second of two":              {evening, "2025-06-04 15:00", "2025-06-04 22:00"},
	} {
		ends, err := tc.mill.LiftEnds(at(tc.given))
		require.NoError(t, err, name)
		require.Equal(t, at(tc.ends).UTC(), ends.UTC(), name)
	}
	mill.Zone = ""
	_, err := mill.LiftEnds(underWay)
	require.Error(t, err, "no zone, no shift's end")
}

// standingLift is a GO given at nine, of a rig with one part due in the afternoon
// of that day where due is so.
func standingLift(due time.Time) (lift.Lift, lift.Verdict) {
	oak, _ := lift.FindSpecies("white oak")
	l := lift.Lift{Now: underWay, Piece: lift.Piece{Species: oak}, Rig: lift.Rig{Links: []lift.Link{{ID: "hook", Name: "Hook", InspectionDue: due}}}}
	return l, lift.Verdict{Go: true}
}

func TestAnswerToALiftStandsUntilSomethingHappens(t *testing.T) {
	later, noon := at("2025-06-04 11:00"), at("2025-06-04 12:00")
	after := func(d checklists.Defect) []checklists.Defect { return []checklists.Defect{d} }
	for name, tc := range map[string]struct {
		due    time.Time
		change func(*checklists.Facts)
		found  []checklists.Defect
		events []lift.Event
		now    time.Time
		stands bool
		until  time.Time
	}{
		"nothing happens":            {noon.AddDate(1, 0, 0), nil, nil, nil, later, true, at("2025-06-04 14:30")},
		"a part falls due sooner":    {noon, nil, nil, nil, later, true, noon},
		"the part is due":            {noon, nil, nil, nil, noon.Add(1), false, noon},
		"the shift is over":          {noon.AddDate(1, 0, 0), nil, nil, nil, at("2025-06-04 14:30"), false, at("2025-06-04 14:30")},
		"rig changed":                {noon.AddDate(1, 0, 0), nil, nil, []lift.Event{{Kind: lift.GearChanged}}, later, false, at("2025-06-04 14:30")},
		"shock load, returned since": {noon.AddDate(1, 0, 0), nil, after(checklists.Defect{ShockLoad: true, Severity: checklists.Stop, At: later.Add(-time.Hour), ReturnedAt: later.Add(-1)}), nil, later, false, at("2025-06-04 14:30")},
		"shock load before":          {noon.AddDate(1, 0, 0), nil, after(checklists.Defect{ShockLoad: true, Severity: checklists.Stop, At: underWay.Add(-time.Hour)}), nil, later, true, at("2025-06-04 14:30")},
		"stopped and mended since":   {noon.AddDate(1, 0, 0), nil, after(checklists.Defect{Severity: checklists.Stop, At: later.Add(-time.Hour)}), nil, later, false, at("2025-06-04 14:30")},
		"old defect mended since":    {noon.AddDate(1, 0, 0), nil, after(checklists.Defect{Severity: checklists.Mend, At: underWay.AddDate(0, 0, -3), MendedAt: later.Add(-time.Hour)}), nil, later, false, at("2025-06-04 14:30")},
		"to be mended later":         {noon.AddDate(1, 0, 0), nil, after(checklists.Defect{Severity: checklists.Mend, At: later.Add(-time.Hour)}), nil, later, true, at("2025-06-04 14:30")},
		"hoist held now": {noon.AddDate(1, 0, 0), func(f *checklists.Facts) {
			f.Defects = append(f.Defects, checklists.Defect{ID: "d", Equipment: "hoist", Severity: checklists.Stop, At: underWay.Add(-1)})
		}, nil, nil, later, false, at("2025-06-04 14:30")},
	} {
		f := checkedFacts(t, beforeShift)
		if tc.change != nil {
			tc.change(&f)
		}
		l, v := standingLift(tc.due)
		s := checklists.StandsStill(f, "hoist", "carriage", &l, &v, tc.found, tc.events, tc.now)
		require.Equal(t, tc.stands, s.Stands, "%s: %v", name, s.Why)
		require.Equal(t, tc.stands, len(s.Why) == 0, name)
		require.Equal(t, tc.until.UTC(), s.Until.UTC(), name)
	}
	l, v := standingLift(noon.AddDate(1, 0, 0))
	require.False(t, checklists.StandsStill(checklists.Facts{}, "hoist", "carriage", &l, &v, nil, nil, later).Stands, "nothing is known of the mill")
	v.Go = false
	require.False(t, checklists.StandsStill(checkedFacts(t, beforeShift), "hoist", "carriage", &l, &v, nil, nil, later).Stands, "it was a NO-GO")
	require.False(t, checklists.LiftStanding{}.Stands)
}

func TestShockLoadHoldsTheHoistUntilAQualifiedPersonReturnsIt(t *testing.T) {
	crew := procedures.Person{ID: "ada", Role: procedures.Operator}
	d, err := checklists.Shocked("d", "hoist", crew, aPlant(), underWay)
	require.NoError(t, err)
	require.True(t, d.ShockLoad && d.StopsNow(underWay))
	f := checkedFacts(t, beforeShift)
	f.Defects = append(f.Defects, d)
	require.NotEmpty(t, checklists.LiftHolds(f, "hoist", "carriage", underWay))

	looked, err := d.Mended(crew, "every part inspected, none hurt", "", underWay.Add(time.Hour))
	require.NoError(t, err)
	_, err = looked.Return(procedures.Person{ID: "bo", Role: procedures.Operator}, aMill(), aPlant(), checklists.Recheck{}, underWay.Add(2*time.Hour))
	var refusal *plain.Refusal
	require.ErrorAs(t, err, &refusal, "not qualified for lifting gear")
	back, err := looked.Return(procedures.Person{ID: "sam", Role: procedures.Supervisor, QualifiedLifting: true}, aMill(), aPlant(), checklists.Recheck{}, underWay.Add(2*time.Hour))
	require.NoError(t, err)
	require.True(t, back.ShockLoad && !back.Open())

	_, err = checklists.Shocked("d", "carriage", crew, aPlant(), underWay)
	require.Error(t, err, "no hoist")
	_, err = checklists.Shocked("d", "hoist", procedures.Person{ID: "rita", Role: procedures.Reader}, aPlant(), underWay)
	require.ErrorAs(t, err, &refusal, "not of the crew")
}
