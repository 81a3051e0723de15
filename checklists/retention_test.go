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

var (
	keepZone = time.FixedZone("EST", -5*3600)
	keepNow  = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	head     = procedures.Person{ID: "sam", Role: procedures.Supervisor}
	deputy   = procedures.Person{ID: "dep", Role: procedures.Operator, Deputy: true}
)

// over is an entry about something that was over in that year.
func over(sort checklists.KeepSort, year int) checklists.Kept {
	return checklists.Kept{Sort: sort, Day: time.Date(year, 6, 1, 0, 0, 0, 0, time.UTC).Format(time.DateOnly), Over: time.Date(year, 6, 1, 12, 0, 0, 0, time.UTC),
		Mentions: func(id string) bool { return id == "ada" || id == "hoist" }}
}

// 29 CFR 1904.33(a): "for five (5) years following the end of the calendar year
// that these records cover". An injury of June 2020 is kept to the end of 2025.
func TestInjuryRecordsAreKeptFiveYearsAfterTheirCalendarYear(t *testing.T) {
	k := over(checklists.KeepIncidents, 2020)
	first := time.Date(2026, 1, 1, 0, 0, 0, 0, keepZone)
	require.True(t, checklists.KeptUntil(k.Over, 5, keepZone).Equal(first))
	require.False(t, k.Due(5, nil, first.Add(-time.Second), keepZone))
	require.True(t, k.Due(5, nil, first, keepZone))
	// The last hours of a year at the mill are the next one in UTC.
	k.Over = time.Date(2021, 1, 1, 3, 0, 0, 0, time.UTC)
	require.True(t, checklists.KeptUntil(k.Over, 5, keepZone).Equal(first))
}

func TestPolicyBelowTheFloorIsRefusedWithTheClause(t *testing.T) {
	for _, rule := range checklists.KeepRules() {
		require.GreaterOrEqual(t, rule.Floor, 1, rule.Sort)
		require.GreaterOrEqual(t, rule.Usual, rule.Floor, rule.Sort)
		p := checklists.KeepPolicy{Sort: rule.Sort, Values: rule.Floor, Photos: rule.Usual, Reason: "advice of our counsel"}
		kept, err := p.Keep(head, keepNow)
		require.NoError(t, err, rule.Sort)
		require.Equal(t, head.ID, kept.By)
		for _, short := range []checklists.KeepPolicy{{Sort: rule.Sort, Values: rule.Floor - 1, Reason: "x"}, {Sort: rule.Sort, Photos: rule.Floor - 1, Reason: "x"}} {
			if short.Values+short.Photos == 0 {
				continue // for good
			}
			var refusal *plain.Refusal
			_, err := short.Keep(head, keepNow)
			require.ErrorAs(t, err, &refusal, rule.Sort)
			require.Equal(t, rule.Clause, refusal.Clause)
		}
	}
}

func TestOnlyASupervisorSettlesWhatGoes(t *testing.T) {
	policy := checklists.KeepPolicy{Sort: checklists.KeepChecks, Values: 3, Reason: "why"}
	hold := checklists.KeepHold{Person: "ada", Reason: "a claim"}
	drop := checklists.DropByHand{Reason: "asked to", Rule: "own request"}
	k := over(checklists.KeepChecks, 2020)
	left := head
	left.Left = true
	for _, who := range []procedures.Person{deputy, left, {ID: "ben", Role: procedures.Operator}, {ID: "rita", Role: procedures.Reader}, {}} {
		_, err := policy.Keep(who, keepNow)
		require.Error(t, err)
		_, err = hold.Lift(who, "settled", keepNow)
		require.Error(t, err)
		require.Error(t, drop.Allow(k, nil, who, keepNow, keepZone))
	}
	require.NoError(t, drop.Allow(k, nil, head, keepNow, keepZone))
	_, err := hold.Set("h", deputy, keepNow)
	require.NoError(t, err, "keeping more is what a deputy may do")
	_, err = hold.Set("h", procedures.Person{ID: "ben", Role: procedures.Operator}, keepNow)
	require.Error(t, err)
}

func TestHoldKeepsWhatItNamesUntilItIsLifted(t *testing.T) {
	k := over(checklists.KeepChecks, 2020)
	for name, tc := range map[string]struct {
		hold  checklists.KeepHold
		keeps bool
	}{
		"person":          {checklists.KeepHold{Person: "ada"}, true},
		"another person":  {checklists.KeepHold{Person: "ben"}, false},
		"machine":         {checklists.KeepHold{Equipment: "hoist"}, true},
		"person, machine": {checklists.KeepHold{Person: "ada", Equipment: "saw"}, false},
		"thing":           {checklists.KeepHold{Subject: "incident-1"}, false},
		"day":             {checklists.KeepHold{From: "2020-06-01", Until: "2020-06-01"}, true},
		"from after":      {checklists.KeepHold{From: "2020-06-02"}, false},
		"until before":    {checklists.KeepHold{Until: "2020-05-31"}, false},
		"person, day":     {checklists.KeepHold{Person: "ada", From: "2020-01-01"}, true},
	} {
		tc.hold.Reason = "a claim"
		set, err := tc.hold.Set("h", head, keepNow)
		require.NoError(t, err, name)
		holds := []checklists.KeepHold{set}
		require.Equal(t, !tc.keeps, k.Due(1, holds, keepNow, keepZone), name)
		lifted, err := set.Lift(head, "the claim is settled", keepNow)
		require.NoError(t, err)
		require.True(t, k.Due(1, []checklists.KeepHold{lifted}, keepNow, keepZone), name)
		_, err = lifted.Lift(head, "again", keepNow)
		require.Error(t, err)
	}
	_, err := checklists.KeepHold{Reason: "everything"}.Set("h", head, keepNow)
	require.Error(t, err, "a hold on nothing named")
	k.Mentions = nil
	require.True(t, checklists.KeepHold{Person: "ben"}.Covers(k), "not known what it mentions: kept")
}

func TestWhatIsOpenOrOfNoSortNeverGoes(t *testing.T) {
	open := over(checklists.KeepDefects, 2001)
	open.Over = time.Time{}
	require.Error(t, open.MayGo(nil))
	require.False(t, open.Due(1, nil, keepNow, keepZone))
	none := over("", 2001)
	require.Error(t, none.MayGo(nil))
	require.False(t, over(checklists.KeepDefects, 2001).Due(0, nil, keepNow, keepZone), "0 years is for good")
}

func TestByHandOnlyAPeriodOfTheLawBinds(t *testing.T) {
	drop := checklists.DropByHand{Reason: "should never have been written", Rule: "asked by the person"}
	require.NoError(t, drop.Allow(over(checklists.KeepChecks, 2026), nil, head, keepNow, keepZone))
	require.NoError(t, drop.Allow(over(checklists.KeepGear, 2026), nil, head, keepNow, keepZone), "the rule names no time, and the newest is in use")
	var refusal *plain.Refusal
	require.ErrorAs(t, drop.Allow(over(checklists.KeepPeople, 2021), nil, head, keepNow, keepZone), &refusal)
	require.Equal(t, "29 CFR 1904.33(a)", refusal.Clause)
	require.NoError(t, drop.Allow(over(checklists.KeepPeople, 2020), nil, head, keepNow, keepZone))
	require.Error(t, checklists.DropByHand{Reason: "x"}.Allow(over(checklists.KeepChecks, 2020), nil, head, keepNow, keepZone))
}

func TestLongerPolicyNeverDropsMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := over(rapid.SampledFrom(checklists.KeepRules()).Draw(t, "rule").Sort, rapid.IntRange(1990, 2026).Draw(t, "year"))
		years := rapid.IntRange(1, 40).Draw(t, "years")
		more := rapid.IntRange(0, 40).Draw(t, "more")
		if k.Due(years+more, nil, keepNow, keepZone) && !k.Due(years, nil, keepNow, keepZone) {
			t.Fatal("due after the longer time, not after the shorter")
		}
		hold := checklists.KeepHold{Person: "ada", Reason: "r", At: keepNow}
		if k.Due(years, []checklists.KeepHold{hold}, keepNow, keepZone) {
			t.Fatal("dropped under a hold")
		}
	})
}

func TestDropRoundComesOnceANight(t *testing.T) {
	first := checklists.NextDropRound(keepNow, keepZone)
	require.Equal(t, time.Date(2026, 3, 4, 6, 0, 0, 0, time.UTC), first.UTC(), "one o'clock at the mill")
	require.Equal(t, first.AddDate(0, 0, 1), checklists.NextDropRound(first, keepZone))
	require.Equal(t, first, checklists.NextDropRound(first.Add(-time.Second), keepZone))
}
