package server

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

func TestRigInForceIsOfferedAsAFile(t *testing.T) {
	m := newMill(t)
	want := testRig(m.clock.Now())
	want.SecondLeg, want.Headroom, want.HookToYoke, want.Clearance = 0.8, 3.2, 0.4, 0.25
	want.Settings = []lift.Setting{{Name: "2nd hole", YokeWidth: 1.2, LegLength: 0.7}, {Name: "third hole", YokeWidth: want.YokeWidth, LegLength: want.LegLength, SecondLeg: 0.8}}
	m.useRig(want)
	reply := m.as("rita").get("/rigs/main-hoist/file")
	require.Equal(t, 200, reply.Status)
	var got lift.Rig
	require.NoError(t, json.Unmarshal([]byte(reply.Body), &got))
	require.Equal(t, want, got)
	require.Equal(t, 404, m.as("rita").get("/rigs/no-such/file").Status)
}
