package server

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
)

func TestAVolumeTakesItsUnitAndIsAskedForItWhereTheBareNumberIsTooSmall(t *testing.T) {
	const foot3 = 0.3048 * 0.3048 * 0.3048
	volume := func(typed string, units checklists.Units) (float64, bool) {
		rig := lift.StarterRig()
		form := typedLift(typing(redOakCant(), "shape", "measured", "volume", typed).Get, &rig)
		l, problems := form.lift(rig, measures{units: units})
		return l.Piece.Volume, problems.For("volume") == nil
	}
	for typed, want := range map[string]float64{"38": 38 * foot3, "38 ft3": 38 * foot3, "38 cu ft": 38 * foot3, "1.08 m³": 1.08, "1.08m3": 1.08} {
		got, ok := volume(typed, checklists.InchPound)
		require.True(t, ok, typed)
		require.InDelta(t, want, got, 1e-12, typed)
	}
	got, ok := volume("0.31", checklists.Metric)
	require.True(t, ok)
	require.InDelta(t, 0.31, got, 1e-12)
	for typed, units := range map[string]checklists.Units{"0.2": checklists.InchPound, "38 ft": checklists.InchPound, "-3": checklists.InchPound, "1e3": checklists.InchPound, "": checklists.Metric} {
		_, ok := volume(typed, units)
		require.False(t, ok, "%q", typed)
	}
}

// A yoke pinned at another hole is another lift: the form asks how it is set as
// one sees it, judges that, and keeps it with the lift.
func TestTheYokesSettingIsChosenAtTheHook(t *testing.T) {
	rig := lift.StarterRig()
	rig.Settings = []lift.Setting{{Name: "first hole", YokeWidth: 0.6, LegLength: 0.9}, {Name: "second hole", YokeWidth: 0.9, LegLength: 0.9, SecondLeg: 0.95}}
	rig.Setting, rig.YokeWidth, rig.LegLength = "first hole", 0.6, 0.9
	judged := func(setting string) (lift.Rig, bool) {
		form := typedLift(typing(redOakCant(), "setting", setting).Get, &rig)
		l, problems := form.lift(rig, measures{units: checklists.InchPound})
		return l.Rig, problems.For("setting") == nil
	}
	unsaid, ok := judged("")
	require.True(t, ok)
	require.Empty(t, unsaid.Setting, "nobody has looked")
	for setting, width := range map[string]float64{"first hole": 0.6, "second hole": 0.9} {
		got, ok := judged(setting)
		require.True(t, ok)
		require.InDelta(t, width, got.YokeWidth, 0, setting)
	}
	second, _ := judged("second hole")
	require.Equal(t, "second hole", second.Setting)
	require.InDelta(t, 0.95, second.SecondLeg, 0)
	_, ok = judged("third hole")
	require.False(t, ok)
	require.InDelta(t, 0.6, rig.YokeWidth, 0, "the rig in force stays as it is")
}

func TestAKnownVolumeTakesAThicknessForTheHeadroom(t *testing.T) {
	rig := lift.StarterRig()
	form := typedLift(typing(redOakCant(), "shape", "measured", "volume", "9 ft3", "thick", "16 in").Get, &rig)
	l, problems := form.lift(rig, measures{units: checklists.InchPound})
	require.Nil(t, problems.For("thick"))
	require.InDelta(t, 16*0.0254, l.Piece.Large, 1e-12)
	form.Thick = "9 ft"
	_, problems = form.lift(rig, measures{units: checklists.InchPound})
	require.NotNil(t, problems.For("thick"))
}
