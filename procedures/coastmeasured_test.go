package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func measuredAt(day int, energy EnergyID, seconds float64) CoastMeasured {
	return CoastMeasured{Energy: energy, Seconds: seconds, By: "ann", At: shiftDay.AddDate(0, 0, day), How: "stopwatch from the stand"}
}

// Longest of the last three: common practice, no source.
func TestCoastTimeIsTheLongestOfTheLastThree(t *testing.T) {
	history := []CoastMeasured{
		measuredAt(4, "saw-rotation", 82), measuredAt(1, "saw-rotation", 120), measuredAt(2, "saw-rotation", 80),
		measuredAt(3, "saw-rotation", 88.5), measuredAt(5, "fan-rotation", 300),
	}
	require.Equal(t, 88500*time.Millisecond, MeasuredCoast(history, "saw-rotation"), "the 120 s are the fourth back")
	require.Equal(t, 300*time.Second, MeasuredCoast(history, "fan-rotation"))
	require.Zero(t, MeasuredCoast(history, "blower-rotation"))
	require.Equal(t, 120*time.Second, MeasuredCoast(history[:3], "saw-rotation"))

	plant := StarterPlant(registerAnswers("electric")).Measured(history)
	require.Equal(t, 88500*time.Millisecond, plant.energy(Energy{ID: "saw-rotation"}).Coast)
	require.Zero(t, plant.energy(Energy{ID: "blower-rotation"}).Coast, "never measured")
}

func TestCoastTimeHasAtLeastTheLastMeasurement(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var history []CoastMeasured
		for day := range rapid.IntRange(1, 8).Draw(t, "days") {
			history = append(history, measuredAt(day, "saw-rotation", float64(rapid.IntRange(1, 1800).Draw(t, "seconds"))))
		}
		last := history[len(history)-1].Seconds
		require.GreaterOrEqual(t, MeasuredCoast(rapid.Permutation(history).Draw(t, "entered"), "saw-rotation").Seconds(), last)
	})
}

func TestMeasurementSaysWhatHowAndWho(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	require.NoError(t, measuredAt(0, "saw-rotation", 96).Validate(plant))
	for field, change := range map[string]func(*CoastMeasured){
		"energy":  func(m *CoastMeasured) { m.Energy = "saw-heat" },
		"seconds": func(m *CoastMeasured) { m.Seconds = 0 },
		"by":      func(m *CoastMeasured) { m.By = "" },
		"at":      func(m *CoastMeasured) { m.At = time.Time{} },
		"how":     func(m *CoastMeasured) { m.How = " " },
	} {
		m := measuredAt(0, "saw-rotation", 96)
		change(&m)
		require.Equal(t, []string{field}, fields(m.Validate(plant)))
	}
	require.Error(t, measuredAt(0, "saw-rotation", 1801).Validate(plant))
}

// 29 CFR 1910.147(d)(5)(i): 180 s unmeasured are enough for 144 s of coasting and
// too short for 145 s.
func TestProcedureWithAShorterWaitIsToBeRenewed(t *testing.T) {
	a := registerAnswers("electric")
	plant, all := StarterPlant(a), published(a)
	require.Empty(t, plant.ShortWaits(all...), "nothing is measured yet")
	require.Empty(t, plant.Measured([]CoastMeasured{measuredAt(0, "saw-rotation", 144)}).ShortWaits(all...))
	short := plant.Measured([]CoastMeasured{measuredAt(0, "saw-rotation", 145)}).ShortWaits(all...)
	require.Len(t, short, 8, "wait and pin, in the four procedures that have the saw")
	require.Equal(t, ShortWait{Procedure: "head-saw", Version: 1, Step: "saw-wait", Energy: "saw-rotation", Has: 180 * time.Second, Asks: 181250 * time.Millisecond}, short[0])
	require.Contains(t, short[0].Words().String(), "renew the procedure")
	renewed, err := plant.Measured([]CoastMeasured{measuredAt(0, "saw-rotation", 145)}).DraftProcedure("head-saw", "Head saw", "head-saw")
	require.NoError(t, err)
	require.Empty(t, plant.Measured([]CoastMeasured{measuredAt(0, "saw-rotation", 145)}).ShortWaits(renewed))
}
