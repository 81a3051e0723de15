package procedures_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures"
)

// fourMachines are the machines of a mill whose saw feeds the carriage, each
// able to move or meet the next; something of each builds up again.
func fourMachines(t require.TestingT) ([]procedures.Procedure, procedures.Plant) {
	var mill []procedures.Procedure
	for _, id := range []procedures.ProcedureID{"head-saw", "carriage", "dogs-and-knees", "hoist"} {
		p := starter(t, id, answers("electric", "mandrel"))
		first := slices.IndexFunc(p.Steps, func(s procedures.Step) bool { return s.Stage == procedures.Verify })
		p.Steps[first].Recheck = 30 * time.Minute
		mill = append(mill, p)
	}
	return mill, procedures.StarterPlant(answers("electric", "mandrel"))
}

func asJSON(t require.TestingT, l procedures.Lockout) string {
	b, err := json.Marshal(l)
	require.NoError(t, err)
	return string(b)
}

// Six people on up to four linked machines, careful most of the time.
func TestNoSequenceOfActsBreaksAnInvariant(t *testing.T) {
	mill, plant := fourMachines(t)
	var runs, worked, closed, late, events int
	accepted, turned := map[procedures.EventKind]int{}, map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		runs++
		o := play(t, mill, plant, 240)
		require.Empty(t, o.broken)
		for kind, n := range o.accepted {
			accepted[kind] += n
		}
		for clause, n := range o.turned {
			turned[clause] += n
		}
		if o.worked {
			worked++
		}
		if o.closed {
			closed++
		}
		late, events = late+o.late, events+o.events
	})
	t.Logf("%d runs, %d reached work, %d closed a lockout, %d late entries, %d events, accepted %v, turned back by the gate %v", runs, worked, closed, late, events, accepted, turned)
	require.GreaterOrEqual(t, 5*worked, runs, "at least a fifth reach work")
	for _, kind := range procedures.EventKinds() {
		require.GreaterOrEqual(t, accepted[kind], max(1, runs/1000), "%s: at least 100 in 100,000 runs", kind)
	}
	for _, clause := range []string{"(c)(5)(ii)", "(c)(5)(ii)(A)(1)", "(c)(5)(ii)(D)", "(c)(7)(i)(A)", "(c)(7)(iii)(A)", "(c)(8)", "(e)(3)", "(e)(3)(iii)", "(f)(1)(ii)", "(f)(2)(i)", "(f)(3)(i)"} {
		require.GreaterOrEqual(t, turned[procedures.Clause(clause)], runs/1000, "%s: the gate spoke at least 100 times in 100,000 runs", clause)
	}
}

// Each invariant is seen to fail under a law with the rule left out that keeps it.
func TestEachInvariantFailsOnABrokenLaw(t *testing.T) {
	mill, plant := fourMachines(t)
	for _, tc := range []struct {
		invariant int
		rules     []string
		history   int // one that showed it, tried before the others
	}{
		{heldWhileLocked, []string{"(e)(3) every lock off"}, 0},
		{onlyOwnersUnlock, []string{"(e)(3) by its owner only"}, 71},
		{onlyOwnersUnlock, []string{"(e)(3)(i) signed on counts as here"}, 0},
		{onlyOwnersUnlock, []string{"(e)(3) by a supervisor"}, 57},
		{onlyOwnersUnlock, []string{"(e)(3) written procedure on file", "absent owner's procedure written"}, 0},
		{onlyOwnersUnlock, []string{"(e)(3)(i) the primary isn't here"}, 0},
		{onlyOwnersUnlock, []string{"(f)(3)(ii)(A) to its end by a supervisor"}, 0},
		{noRestoreWithPeople, []string{"(f)(3)(i) nobody else on the job"}, 57},
		{noWorkBeforeZero, []string{"(d)(6) proven by oneself"}, 0},
		{noWorkBeforeZero, []string{"(d)(6) Prove it at zero: every step"}, 0},
		{noWorkBeforeZero, []string{"(d)(4) Put your locks on: every step"}, 0},
		{noWorkBeforeZero, []string{"(d)(5)(ii) rechecked in time"}, 30},
		{noRestoreWithPeople, []string{"(e)(3) every lock off"}, 0},
		{noRestoreWithPeople, []string{"(f)(1)(iii) own locks off"}, 0},
		{neverBare, []string{"(f)(4) own locks on every device", "(f)(4) no device bare"}, 0},
		{neverBare, []string{"(d) a lock was on"}, 0},
		{toolsOut, []string{"(e)(1) as many out as in"}, 0},
		{toolsOut, []string{"(f)(1)(i) as many out as in"}, 43},
		{onlyLetIn, []string{"trained"}, 0},
		{onlyLetIn, []string{"procedures exchanged"}, 0},
		{onlyLetIn, []string{"authorized", "(c)(8) authorized", "(c)(8) authorized to begin"}, 0},
		{onlyLetIn, []string{"told of the own lock"}, 347},
		{othersSafe, []string{"own good lock"}, 614},
		{othersSafe, []string{"no lock of another lockout where power comes"}, 0},
		{othersSafe, []string{"no other lockout under power that reaches here"}, 474},
		{replayAgrees, []string{procedures.InItsPlace}, 0},
	} {
		broken := rapid.Custom(func(t *rapid.T) []int { return play(t, mill, plant, 240, tc.rules...).broken })
		breaks := func(seed int) bool { return slices.Contains(broken.Example(seed), tc.invariant) }
		seed, seen := tc.history, breaks(tc.history)
		for next := 0; next < 4000 && !seen; next++ {
			seed, seen = next, breaks(next)
		}
		t.Logf("invariant %d without %q: broken by history %d", tc.invariant, tc.rules, seed)
		require.True(t, seen, "invariant %d holds without %q", tc.invariant, tc.rules)
	}
}
