package procedures

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func hoistDraft() Procedure {
	p := hoistProcedure()
	p.Version = 0
	return p
}

func goodStep(change func(*Step)) Step {
	s := Step{ID: "look", Stage: Verify, Text: "Look at the hook.", Energy: "hoist-load", Device: "yoke-rest", Proof: HookEmpty, Clause: Verify.Clause(), Recheck: time.Hour, AsksPhoto: true}
	change(&s)
	return s
}

func TestStepIsAddedChangedMovedAndRemoved(t *testing.T) {
	p := hoistDraft()
	added, err := p.KeepStep(goodStep(func(*Step) {}))
	require.NoError(t, err)
	require.NoError(t, added.Validate())
	last := added.stage(Verify)
	require.Equal(t, StepID("look"), last[len(last)-1].ID, "the last of its stage")
	up, err := added.MoveStep("look", -1)
	require.NoError(t, err)
	verify := up.stage(Verify)
	require.Equal(t, StepID("look"), verify[len(verify)-2].ID)
	top, err := up.MoveStep("look", -1<<62)
	require.NoError(t, err)
	require.Equal(t, StepID("look"), top.stage(Verify)[0].ID, "and no further than its stage")
	back, err := top.MoveStep("look", 99)
	require.NoError(t, err)
	require.Equal(t, added, back)
	changed, err := back.KeepStep(goodStep(func(s *Step) { s.Text = "Look twice." }))
	require.NoError(t, err)
	require.Equal(t, added.stepAt("look"), changed.stepAt("look"))
	earlier, err := changed.KeepStep(goodStep(func(s *Step) { s.Stage, s.Recheck = Relieve, 0 }))
	require.NoError(t, err)
	require.Len(t, earlier.Steps, len(added.Steps))
	require.Equal(t, StepID("look"), earlier.stage(Relieve)[len(earlier.stage(Relieve))-1].ID)
	gone, err := earlier.DropStep("look")
	require.NoError(t, err)
	require.Equal(t, p, gone)
	for _, err := range []error{second(p.DropStep("none")), second(p.MoveStep("none", 1))} {
		require.Equal(t, []string{"step"}, fields(err))
	}
}

func second[A any](_ A, err error) error { return err }

func TestStepIsKeptOnlyWhole(t *testing.T) {
	p := hoistDraft()
	for field, s := range map[string]Step{
		"step":    goodStep(func(s *Step) { s.ID = "" }),
		"stage":   goodStep(func(s *Step) { s.Stage, s.Recheck = Work, 0 }),
		"text":    goodStep(func(s *Step) { s.Text = " " }),
		"device":  goodStep(func(s *Step) { s.Device = "saw-pin" }),
		"energy":  goodStep(func(s *Step) { s.Energy = "saw-heat" }),
		"proof":   goodStep(func(s *Step) { s.Proof = "luck" }),
		"wait":    goodStep(func(s *Step) { s.Wait = -1 }),
		"recheck": goodStep(func(s *Step) { s.Recheck = time.Second }),
		"clause":  goodStep(func(s *Step) { s.Clause = "" }),
	} {
		kept, err := p.KeepStep(s)
		if field == "stage" {
			require.Contains(t, fields(err), field)
			continue
		}
		require.Equal(t, []string{field}, fields(err))
		require.Equal(t, p, kept)
	}
	_, err := p.KeepStep(goodStep(func(s *Step) { s.Stage = Relieve }))
	require.Equal(t, []string{"recheck"}, fields(err), "only a proof at zero is given again")
}

// 29 CFR 1910.147(c)(4)(i).
func TestPublishedVersionStaysAsItIs(t *testing.T) {
	p := hoistProcedure()
	for _, err := range []error{second(p.KeepStep(goodStep(func(*Step) {}))), second(p.DropStep("chain-slack")), second(p.MoveStep("chain-slack", 1))} {
		require.Equal(t, Clause("(c)(4)(i)"), clauseOf(err))
	}
	// Whatever is done to the draft that follows, the version used reads the same.
	used := hoistProcedure()
	draft := p
	draft.Version = 0
	for _, s := range slices.Clone(draft.Steps) {
		draft, _ = draft.MoveStep(s.ID, 1)
		draft, _ = draft.KeepStep(Step{ID: s.ID, Stage: s.Stage, Text: "other", Proof: Tick, Clause: "other"})
		draft, _ = draft.DropStep(s.ID)
	}
	require.Empty(t, draft.Steps)
	require.Equal(t, used, p)
}

// A gap that editing makes is named before anybody uses it, (c)(4)(ii).
func TestGapMadeByEditingIsNamed(t *testing.T) {
	a := registerAnswers("electric")
	rapid.Check(t, func(t *rapid.T) {
		p := starterOf("head-rig", a)
		p.Version = 0
		gone := p.Steps[rapid.IntRange(0, len(p.Steps)-1).Draw(t, "step")]
		alone := true
		for _, s := range p.Steps {
			if s.ID != gone.ID && s.Stage == gone.Stage && s.Energy == gone.Energy && s.Device == gone.Device {
				alone = false
			}
		}
		less, err := p.DropStep(gone.ID)
		require.NoError(t, err)
		structural := gone.Stage == Isolate || gone.Stage == Apply || gone.Stage == RemoveLocks || gone.Stage == Verify
		if alone && structural {
			require.Error(t, less.Validate(), "%s", gone.ID)
		}
	})
}

// 29 CFR 1910.147(d)(5)(ii): what can build up again is proven again as often.
func TestProcedureForWhatBuildsUpAgainProvesItAgain(t *testing.T) {
	p := hoistDraft()
	i := slices.IndexFunc(p.Energies, func(e Energy) bool { return e.ID == "hoist-load" })
	p.Energies[i].Recheck = 30 * time.Minute
	require.ErrorContains(t, p.Validate(), "energy hoist-load: a proof at zero that is given again")
	p.Steps[p.stepAt("chain-slack")].Recheck = 31 * time.Minute
	require.ErrorContains(t, p.Validate(), "energy hoist-load: a proof at zero that is given again")
	p.Steps[p.stepAt("chain-slack")].Recheck = 30 * time.Minute
	require.NoError(t, p.Validate())
}
