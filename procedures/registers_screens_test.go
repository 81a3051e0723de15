package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// A training entered late certifies what could be gone through on its day.
func TestTaughtVersionIsTheOneInForceThatDay(t *testing.T) {
	day := func(n int) time.Time { return time.Date(2026, 3, n, 5, 0, 0, 0, time.UTC) } // midnight in New York
	inForce := []time.Time{day(2).Add(10 * time.Hour), day(5).Add(9 * time.Hour), day(9)}
	for n, version := range map[int]int{1: 1, 2: 1, 4: 1, 5: 2, 8: 2, 9: 3, 20: 3} {
		require.Equal(t, version, TaughtVersion(inForce, day(n)), n)
	}
	require.Equal(t, 1, TaughtVersion(nil, day(1)))
}

// (c)(5)(ii): a number is a lock's own for ever.
func TestNumberOfALockIsGivenOnce(t *testing.T) {
	register := []LockItem{{Number: "K-7", Retired: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)}}
	require.NoError(t, NewNumber("K-8", register))
	var bad plain.Problems
	require.ErrorAs(t, NewNumber(" k-7", register), &bad)
	require.NotNil(t, bad.For("number"))
}

// What the register shows against a lock is what would keep its owner from
// putting it on.
func TestOffStandardIsWhatMayUseRefuses(t *testing.T) {
	std := Program{LockColour: "red"}
	good := LockItem{Number: "K-7", Kind: KeyedPadlock, Colour: "Red", Owner: "ada", OnlyHere: true, Condition: LockGood}
	require.Empty(t, good.OffStandard(std))
	for name, change := range map[string]func(*LockItem){
		"colour": func(l *LockItem) { l.Colour = "blue" }, "kind": func(l *LockItem) { l.Kind = Combination }, "no kind": func(l *LockItem) { l.Kind = "" },
		"condition": func(l *LockItem) { l.Condition = "" }, "use": func(l *LockItem) { l.OnlyHere = false },
	} {
		bad := good
		change(&bad)
		require.Len(t, bad.OffStandard(std), 1, name)
		_, _, err := MayUse("K-7", Person{ID: "ada"}, []LockItem{bad}, std, time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC))
		require.Error(t, err, name)
	}
	bad := good
	bad.Colour, bad.Condition = "blue", LockBad
	require.Len(t, bad.OffStandard(std), 2, "all of it")
}

// A lock that was put on before there was a register has no day of issue; it is
// entered when the lock is.
func TestLockKeepsItsDayOfIssueOnceItHasOne(t *testing.T) {
	now := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	ada := Person{ID: "ada", Role: Operator}
	item := LockItem{Number: "K-7", Kind: KeyedPadlock, Owner: "ada", OnlyHere: true, Condition: LockGood, Issued: now.Add(-time.Hour)}
	kept, err := item.Keep(LockItem{Number: "K-7", Owner: "ada"}, ada, []Person{ada}, nil, Program{}, now)
	require.NoError(t, err)
	require.Equal(t, item.Issued, kept.Issued)
	later := item
	later.Issued = now
	again, err := later.Keep(kept, ada, []Person{ada}, nil, Program{}, now)
	require.NoError(t, err)
	require.Equal(t, kept.Issued, again.Issued)
}
