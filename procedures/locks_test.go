package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestLockNobodyHasIsRegisteredAtFirstUse(t *testing.T) {
	item, first, err := MayUse(" a-7 ", annOp, []LockItem{goodLock()}, redLocks(), shiftDay)
	require.NoError(t, err)
	require.True(t, first)
	require.Equal(t, LockItem{Number: "a-7", Kind: KeyedPadlock, Colour: "red", Owner: annOp.ID, OnlyHere: true, Condition: LockGood, Issued: shiftDay, FirstSeen: true, By: annOp.ID, At: shiftDay}, item)

	_, first, err = MayUse("a-1", annOp, []LockItem{goodLock()}, redLocks(), shiftDay)
	require.NoError(t, err)
	require.False(t, first, "one number, however it is typed")
}

// 29 CFR 1910.147(c)(5)(ii) and (A)(1), (B), (D).
func TestLockThatMayNotBeUsedIsRefusedWithItsClause(t *testing.T) {
	for clause, bad := range map[string]func(*LockItem){
		"(c)(5)(ii)":          func(l *LockItem) { l.Retired = shiftDay },
		"(c)(5)(ii)(A)(1)":    func(l *LockItem) { l.Condition = LockBad },
		"(c)(5)(ii)(B)":       func(l *LockItem) { l.Colour = "blue" },
		"(c)(5)(ii)(D)":       func(l *LockItem) { l.Owner = benOp.ID },
		"(c)(5)(ii)(C)(1)":    func(l *LockItem) { l.Kind = Combination },
		"(c)(5)(ii) gate":     func(l *LockItem) { l.OnlyHere = false },
		"(c)(5)(ii)(A)(1) no": func(l *LockItem) { l.Condition = "" },
	} {
		item := goodLock()
		bad(&item)
		_, _, err := MayUse("A-1", annOp, []LockItem{item}, redLocks(), shiftDay)
		require.Contains(t, Clause(clause), clauseOf(err), clause)
		require.NotEmpty(t, clauseOf(err), clause)
	}
	item := goodLock()
	item.Kind = Combination
	std := redLocks()
	std.Combinations = true
	_, _, err := MayUse("A-1", annOp, []LockItem{item}, std, shiftDay)
	require.NoError(t, err, "where the program allows it")
	item.Colour, std.LockColour = "blue", ""
	_, _, err = MayUse("A-1", annOp, []LockItem{item}, std, shiftDay)
	require.NoError(t, err, "no standard is set yet")
}

// (c)(5)(ii)(C)(1): lockout devices substantial enough.
func TestTieIsNoLock(t *testing.T) {
	for _, tie := range []string{"cable tie", "wire", "Tape"} {
		_, err := ParseLockKind(tie)
		require.Equal(t, Clause("(c)(5)(ii)(C)(1)"), clauseOf(err))
		require.Contains(t, err.Error(), "isn't a lock")
	}
	_, err := ParseLockKind("")
	require.Equal(t, Clause("(c)(5)(ii)(C)(1)"), clauseOf(err))
	kind, err := ParseLockKind("keyed-padlock")
	require.NoError(t, err)
	require.Equal(t, KeyedPadlock, kind)
}

func TestNumberOfARetiredLockIsNeverUsedAgain(t *testing.T) {
	retired := goodLock()
	retired.Retired = shiftDay
	_, err := goodLock().Keep(retired, samSup, crewOfTwo(), nil, redLocks(), shiftDay)
	require.Equal(t, Clause("(c)(5)(ii)"), clauseOf(err))
}

func TestLockIsKeptByItsOwnerOrASupervisor(t *testing.T) {
	kept, err := goodLock().Keep(LockItem{}, annOp, crewOfTwo(), nil, redLocks(), shiftDay)
	require.NoError(t, err)
	require.Equal(t, annOp.ID, kept.By)
	_, err = goodLock().Keep(LockItem{}, benOp, crewOfTwo(), nil, redLocks(), shiftDay)
	require.Equal(t, Clause("(c)(5)(ii)"), clauseOf(err))

	taken := goodLock()
	taken.Owner = benOp.ID
	_, err = taken.Keep(goodLock(), benOp, crewOfTwo(), nil, redLocks(), shiftDay)
	require.Equal(t, Clause("(c)(5)(ii)"), clauseOf(err), "Ben doesn't take Ann's")
	_, err = taken.Keep(goodLock(), samSup, crewOfTwo(), []Lock{{Number: "a-1"}}, redLocks(), shiftDay)
	require.Equal(t, Clause("(c)(5)(ii)(D)"), clauseOf(err), "while it is on")
	cut := goodLock()
	cut.Untold = "l0"
	_, err = taken.Keep(cut, samSup, crewOfTwo(), nil, redLocks(), shiftDay)
	require.Equal(t, Clause("(e)(3)(iii)"), clauseOf(err), "before Ann knows")
	kept, err = goodLock().Keep(cut, annOp, crewOfTwo(), nil, redLocks(), shiftDay)
	require.NoError(t, err)
	require.Equal(t, LockoutID("l0"), kept.Untold, "nobody forgets it by editing")
	_, err = taken.Keep(goodLock(), samSup, crewOfTwo(), nil, redLocks(), shiftDay)
	require.NoError(t, err)

	_, err = LockItem{Number: " ", Colour: "blue", Owner: "gone", Issued: shiftDay.Add(time.Hour)}.Keep(LockItem{}, samSup, crewOfTwo(), nil, redLocks(), shiftDay)
	require.Equal(t, []string{"number", "kind", "colour", "owner", "condition", "issued"}, fields(err))
}

// Whatever the register holds, nobody puts on a lock of somebody else, and a
// number is found however it is typed.
func TestNobodyEverUsesAnothersLock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var register []LockItem
		owner := map[string]PersonID{}
		for range rapid.IntRange(0, 6).Draw(t, "locks") {
			item := goodLock()
			item.Number = rapid.StringMatching(`[a-c][0-9]`).Draw(t, "number")
			item.Owner = rapid.SampledFrom([]PersonID{"ann", "ben"}).Draw(t, "owner")
			if _, there := owner[LockNumber(item.Number)]; there {
				continue
			}
			owner[LockNumber(item.Number)] = item.Owner
			register = append(register, item)
		}
		number := rapid.StringMatching(` ?[a-cA-C][0-9] ?`).Draw(t, "typed")
		item, first, err := MayUse(number, annOp, register, redLocks(), shiftDay)
		of, there := owner[LockNumber(number)]
		require.Equal(t, there, !first)
		require.Equal(t, there && of != annOp.ID, err != nil)
		require.Equal(t, LockNumber(number), LockNumber(item.Number))
	})
}
