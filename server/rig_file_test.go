package server

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

// The file says what the register says: the command has no other way to know.
func TestRigInForceIsOfferedAsAFileWithWhatTheRegisterSays(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	want := testRig(m.clock.Now())
	want.SecondLeg, want.Headroom, want.HookToYoke, want.Clearance = 0.8, 3.2, 0.4, 0.25
	want.Settings = []lift.Setting{{Name: "2nd hole", YokeWidth: 1.2, LegLength: 0.7}, {Name: "third hole", YokeWidth: want.YokeWidth, LegLength: want.LegLength, SecondLeg: 0.8}}
	m.useRig(want)
	file := func() (got lift.Rig) {
		t.Helper()
		reply := m.as("rita").get("/rigs/main-hoist/file")
		require.Equal(t, 200, reply.Status)
		require.NoError(t, json.Unmarshal([]byte(reply.Body), &got))
		return got
	}
	for i := range 4 { // beam, trolley, hoist and hook: each month
		want.Links[i].InspectionDue = want.Links[i].Inspected.AddDate(0, 1, 0)
	}
	require.Equal(t, want, file())
	require.Equal(t, 404, m.as("rita").get("/rigs/no-such/file").Status)

	m.as("ada").post(chainLegs+"/inspected", lookOver("ada", "every", "shift", "fit", "no", "gear-note", "a nick"))
	require.Equal(t, lift.OutOfService, file().Links[5].State)
	m.clock.Advance(40 * 24 * time.Hour)
	require.Equal(t, lift.EveryMonth, file().Links[6].IdleOwes)
}
