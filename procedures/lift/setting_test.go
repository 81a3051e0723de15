package lift_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

// A yoke with marked settings is at one of them: which, somebody has to say who
// sees it. Its numbers alone are those of the last time.
func TestNoGoWhileTheYokesSettingIsUnsaid(t *testing.T) {
	l := goodLift(t)
	require.True(t, lift.Check(l).Go)
	l.Rig.Settings = []lift.Setting{{Name: "first hole", YokeWidth: l.Rig.YokeWidth, LegLength: l.Rig.LegLength}}
	l.Rig.Setting = "first hole"
	require.True(t, lift.Check(l).Go)
	l.Rig = l.Rig.Unset()
	v := lift.Check(l)
	require.False(t, v.Go)
	require.Equal(t, lift.SettingRule, v.Findings[0].Rule)
	require.True(t, v.Findings[0].Blocks)

	l.Rig.Settings, l.Rig.Setting = nil, "as pinned"
	require.Equal(t, "as pinned", l.Rig.Unset().Setting, "of a yoke without marks nothing is asked")
}
