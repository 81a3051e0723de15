package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

func TestRequestOvertakenByAnotherIsNoWrongClock(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	f.LastEntry = underWay.Add(checklists.ClockTolerance)
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status)
	f.LastEntry = f.LastEntry.Add(time.Millisecond)
	held := readiness(t, f, underWay)["hoist"]
	require.Equal(t, []checklists.HoldKind{checklists.HeldByClock}, kinds(held))
	require.Contains(t, held.Holds[0].Clears.String(), "signs that the clock is right now")
}

func TestClockIsConfirmedByASupervisorAndOnlyWhenItIsBehind(t *testing.T) {
	f := checkedFacts(t, beforeShift)
	_, err := checklists.ConfirmClock(f, boss(), underWay)
	require.Contains(t, refusal(t, err).Error(), "nothing to confirm")
	f.LastEntry = underWay.Add(24 * time.Hour)
	_, err = checklists.ConfirmClock(f, sawyer(), underWay)
	require.Contains(t, refusal(t, err).Error(), "supervisor")
	confirmed, err := checklists.ConfirmClock(f, boss(), underWay)
	require.NoError(t, err)
	require.Equal(t, underWay, confirmed.Confirmed)
}

func TestTimesOffAClockAheadAreRedatedOnlyOnceItIsConfirmed(t *testing.T) {
	confirmed, now, ahead := underWay, underWay.Add(time.Hour), underWay.Add(24*time.Hour)
	d := checklists.Defect{At: ahead, MendedAt: beforeShift}
	require.Equal(t, d, d.Redated(time.Time{}, now), "never confirmed")
	require.Equal(t, d, d.Redated(now.Add(time.Second), now), "confirmed later than now: wrong again")
	require.Equal(t, checklists.Defect{At: confirmed, MendedAt: beforeShift}, d.Redated(confirmed, now))
	require.Equal(t, confirmed, checklists.Departure{At: ahead}.Redated(confirmed, now).At)
}
