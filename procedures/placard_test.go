package procedures

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// 29 CFR 1910.147(c)(4)(ii), (c)(5)(iii), (d): what hangs at the machine is the
// whole of the procedure, in its order.
func TestPlacardHoldsTheWholeProcedureInItsOrder(t *testing.T) {
	for _, p := range published(registerAnswers("engine")) {
		card := p.Placard(shiftDay)
		require.Equal(t, Cautions(), card.Cautions)
		require.Equal(t, p.Energies, card.Energies)
		require.Equal(t, 1, card.Version)
		require.Equal(t, shiftDay, card.Published)
		require.Len(t, card.Points, len(p.Devices))
		var last, steps int
		for _, point := range card.Points {
			require.Greater(t, point.Device.Number, last, "by the number at the machine")
			last = point.Device.Number
			require.NotEmpty(t, point.Device.Place)
		}
		require.Len(t, card.Stages, 14)
		for i, stage := range card.Stages {
			require.Equal(t, Stage(i+1), stage.Stage)
			require.Equal(t, stage.Stage == Work, len(stage.Steps) == 0 && stage.Stage != Restore, "%s", stage.Stage.Words())
			require.NotEmpty(t, stage.Clause)
			for _, s := range stage.Steps {
				steps++
				require.Equal(t, steps, s.Number)
				own, known := p.step(s.Step.ID)
				require.True(t, known)
				require.Equal(t, own, s.Step)
				require.Equal(t, s.Step.Device != "", s.Point > 0)
			}
		}
		require.Equal(t, len(p.Steps), steps)
	}
}

// 29 CFR 1910.147(c)(5)(iii): one of five legends, and what happens.
func TestEveryPointHasALegendAndAHazardLine(t *testing.T) {
	used := map[Legend]bool{}
	for _, drive := range []string{"electric", "engine", "tractor-shaft"} {
		for _, p := range published(registerAnswers(drive)) {
			for _, point := range p.Placard(shiftDay).Points {
				require.Contains(t, Legends(), point.Legend)
				used[point.Legend] = true
				legend, hazard := p.TagAt(point.Device.ID)
				require.Equal(t, point.Legend, legend)
				require.Equal(t, point.Hazard, hazard)
				require.NotEmpty(t, hazard)
			}
		}
	}
	require.Len(t, used, 4)
	require.Equal(t, DoNotEnergize, Device{Kind: Disconnect}.Legend())
	require.Equal(t, DoNotOpen, Device{Kind: Valve}.Legend())
	require.Equal(t, DoNotStart, Device{Kind: BatteryLock}.Legend())
	require.Equal(t, DoNotOperate, Device{Kind: PartRemoved}.Legend())
	lost := Procedure{Devices: []Device{{ID: "d", Kind: Plug}}}
	require.NotEmpty(t, lost.Placard(shiftDay).Points[0].Hazard, "a tag always says that people get hurt")
	require.Zero(t, lost.Placard(shiftDay).Version, "a draft shows as one")
}

func TestPlacardIsNotTheProcedureItself(t *testing.T) {
	p := starterOf("hoist", registerAnswers("electric"))
	before := slices.Clone(p.Energies)
	p.Placard(shiftDay).Energies[0].Source = "changed"
	require.Equal(t, before, p.Energies)
}

// 29 CFR 1910.147(c)(4)(ii)(C): steps for transferring locks too, in the order
// the rules of a hand-over ask for, see TestAHandOverLeavesNoDeviceWithoutALock.
func TestPlacardSaysHowItIsHandedOver(t *testing.T) {
	for _, p := range published(registerAnswers("engine")) {
		said := p.Placard(shiftDay).HandOver.String()
		at := -1
		for _, part := range []string{"own lock on every device", "proves every energy at zero", "is told", "answers for it", "take their own locks off"} {
			next := strings.Index(said, part)
			require.Greater(t, next, at, part)
			at = next
		}
	}
}
