package procedures_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

var (
	back     = procedures.Event{Kind: procedures.Resumed}
	workDone = procedures.Event{Kind: procedures.TestEnded, OffBack: true, Over: true, Clear: true}
)

// 29 CFR 1910.147(e)(1), (d)(6): what the look-over finds is mended under lock,
// and zero is proven first.
func TestAGuardThatWontGoOnLeadsBackToWork(t *testing.T) {
	for _, stage := range []procedures.Stage{procedures.InspectArea, procedures.ClearPeople, procedures.ControlsOff, procedures.RemoveLocks} {
		s := at(t, procedures.Work)
		s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 3})
		s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
		for s.l.Stage < stage {
			e := s.event(s.undone()[0])
			if s.l.Stage == procedures.InspectArea {
				e.ToolsOut = 3
			}
			s.do(ada, e)
		}
		require.True(t, s.l.MayResume())
		s.do(ada, back)
		require.Equal(t, procedures.Work, s.l.Stage)
		require.False(t, s.l.Working)
		require.False(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
		require.Contains(t, s.l.Next().String(), "prove every energy at zero again")
		s.refused(ada, procedures.Event{Kind: procedures.WorkBegan}, "29 CFR 1910.147(d)(6)", "zero again")
		s.do(ada, proof)
		s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 3})
		require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
		s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
		require.Equal(t, procedures.InspectArea, s.l.Stage, "what was looked over before counts no more")
		require.NotEmpty(t, s.undone())
		again, err := procedures.Replay(s.l.ID, s.l.Procedure, s.l.Events)
		require.NoError(t, err)
		require.Equal(t, s.l, again)
	}
}

// 29 CFR 1910.147(f)(1)(v) asks for all of (d) to continue the servicing; with
// none left, (e) comes next.
func TestAfterATestThatWentWellTheWorkIsDone(t *testing.T) {
	tested := func() *shop {
		s := bareForTest(t)
		s.do(ada, energized)
		s.do(ada, workDone)
		require.Equal(t, procedures.InspectArea, s.l.Stage)
		require.Empty(t, s.l.Test)
		require.Contains(t, s.l.Outside().String(), "NOBODY REACHES IN")
		require.False(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
		require.NotEmpty(t, s.l.HoldsEquipment())
		return s
	}
	s := tested()
	s.refused(ada, procedures.Event{Kind: procedures.WorkBegan}, "29 CFR 1910.147(e)", "release has begun")
	for len(s.undone()) > 0 {
		require.Empty(t, s.l.LocksOn())
		s.do(ada, s.event(s.undone()[0]))
	}
	require.True(t, s.l.Outside().Empty())
	s.do(ada, procedures.Event{Kind: procedures.Restored})

	s = tested()
	s.do(ada, back)
	require.Equal(t, procedures.ShutDown, s.l.Stage, "work again only after all of isolation")
	s.refused(ada, procedures.Event{Kind: procedures.WorkBegan}, "29 CFR 1910.147(d)(2)", "Not yet")
	s.to(procedures.Work)
	require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now))
	s.release(ada)
}

func TestTheReleaseAfterANightWithoutProofIsFromOutside(t *testing.T) {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.LeftOvernight, Until: six.Add(24 * time.Hour)})
	s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
	require.Contains(t, s.l.Outside().String(), "NOBODY REACHES IN")
	s = at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
	require.True(t, s.l.Outside().Empty())
}

// 29 CFR 1910.147(e)(3)(i), (ii): not at the facility, and tried to reach; no
// clause waits for the end that was expected.
func TestWhoWentHomeEarlyIsActedForOnceLookedFor(t *testing.T) {
	s, e := forgotten(t)
	s.now = six.Add(time.Hour)
	e.Tries[0].At = s.now
	s.refused(cleo, e, "29 CFR 1910.147(e)(3)(i)", s.l.Expected.Format("15:04"))
	e.BeforeEnd = true
	s.do(cleo, e)
	require.Len(t, s.l.Untold(), 1)
	require.True(t, s.l.Events[len(s.l.Events)-1].BeforeEnd)
	end := toEnd
	s.refused(dora, end, "29 CFR 1910.147(e)(3)(i)", "counts as here until")
	end.BeforeEnd, end.Tries = true, e.Tries
	s.do(dora, end)
	require.Equal(t, procedures.InspectArea, s.l.Stage)
	require.Equal(t, dora.ID, s.l.Primary)
}
