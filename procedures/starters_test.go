package procedures_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// everyAnswer calls f with every combination of answers.
func everyAnswer(f func(a procedures.Answers)) {
	for _, drive := range []string{"electric", "engine", "tractor-shaft"} {
		for _, feed := range []string{"mandrel", "own-motor", "hydraulic", "hand"} {
			for _, dogs := range []string{"hand", "power"} {
				for _, hoist := range []string{"electric", "hand-chain"} {
					for _, collector := range []string{"none", "cyclone", "bag-house", "open-bag"} {
						for _, flag := range []bool{false, true} {
							f(procedures.Answers{Drive: drive, Feed: feed, Dogs: dogs, Hoist: hoist, Collector: collector,
								Headblocks: 3, Portable: flag, IsolatorCutsPower: flag})
						}
					}
				}
			}
		}
	}
}

func TestStartersAreCompleteForEveryAnswer(t *testing.T) {
	everyAnswer(func(a procedures.Answers) {
		name := fmt.Sprintf("%+v", a)
		require.NoError(t, a.Validate(), name)
		plant := procedures.StarterPlant(a)
		require.NoError(t, plant.Validate(), name)
		for _, p := range procedures.StarterProcedures(plant, a) {
			require.Zero(t, p.Version, "a starter is a draft until somebody read it")
			require.NoError(t, p.Validate(), "%s %s", p.ID, name)
			for _, eq := range p.Equipment {
				machine, known := plant.Find(eq)
				require.True(t, known, "%s %s", eq, name)
				for _, e := range machine.Energies {
					require.True(t, slices.ContainsFunc(p.Energies, func(own procedures.Energy) bool { return own.ID == e.ID }),
						"%s leaves out %s, %s", p.ID, e.ID, name)
				}
			}
			for _, d := range p.Devices {
				owner := slices.IndexFunc(plant, func(e procedures.Equipment) bool {
					return slices.ContainsFunc(e.Devices, func(own procedures.Device) bool { return own.ID == d.ID })
				})
				require.GreaterOrEqual(t, owner, 0)
				require.Contains(t, slices.Concat(p.Equipment, p.Holds), plant[owner].ID,
					"%s locks %s, whose machine it doesn't hold, %s", p.ID, d.ID, name)
			}
		}
	})
}

func TestStartersKnowEveryEnergyKindOfAMill(t *testing.T) {
	seen := map[procedures.EnergyKind]bool{}
	everyAnswer(func(a procedures.Answers) {
		for _, e := range procedures.StarterPlant(a) {
			for _, energy := range e.Energies {
				seen[energy.Kind] = true
				require.NotEmpty(t, energy.Source)
				require.NotEmpty(t, energy.Hazard)
				require.NotEmpty(t, energy.Zero)
				require.Empty(t, energy.Magnitude, "each mill puts in its own size")
				require.Equal(t, energy.Stored, energy.Relief != "", "%s: a stored energy says how it is relieved", energy.ID)
			}
		}
	})
	for _, kind := range []procedures.EnergyKind{
		procedures.Electrical, procedures.Rotation, procedures.Moving, procedures.Gravity, procedures.Spring, procedures.Hydraulic,
		procedures.Pneumatic, procedures.Engine, procedures.Shaft, procedures.Thermal, procedures.Strain, procedures.Chemical,
	} {
		require.True(t, seen[kind], "no starter has %s", kind)
	}
}

func TestStarterEquipmentHasFixedNamesAndLinks(t *testing.T) {
	plant := procedures.StarterPlant(answers("engine", "mandrel"))
	var ids []procedures.EquipmentID
	for _, e := range plant {
		ids = append(ids, e.ID)
	}
	require.Equal(t, []procedures.EquipmentID{"site", "engine", "head-saw", "carriage", "dogs-and-knees", "hoist", "dust-collection"}, ids)
	saw, _ := plant.Find("head-saw")
	require.Equal(t, []procedures.Link{{Kind: procedures.Drives, To: "carriage"}}, saw.Links)
	engine, _ := plant.Find("engine")
	require.Equal(t, []procedures.Link{{Kind: procedures.Supplies, To: "head-saw"}}, engine.Links)

	plant = procedures.StarterPlant(answers("electric", "own-motor"))
	saw, _ = plant.Find("head-saw")
	require.Empty(t, saw.Links)
	a := answers("electric", "own-motor")
	a.Collector = "none"
	_, fitted := procedures.StarterPlant(a).Find("dust-collection")
	require.False(t, fitted)
}

// Wait: measured coast time plus a quarter; 3 and 5 minutes while there is no
// measurement. Common practice, no source.
func TestCoastWaitFollowsTheMeasuredTime(t *testing.T) {
	a := answers("electric", "mandrel")
	plant := procedures.StarterPlant(a)
	wait := func(plant procedures.Plant, id procedures.ProcedureID, step procedures.StepID) time.Duration {
		for _, p := range procedures.StarterProcedures(plant, a) {
			for _, s := range p.Steps {
				if p.ID == id && s.ID == step {
					return s.Wait
				}
			}
		}
		return -1
	}
	require.Equal(t, 3*time.Minute, wait(plant, "head-saw", "saw-wait"))
	require.Equal(t, 5*time.Minute, wait(plant, "dust-collection", "fan-wait"))
	for i := range plant {
		for j := range plant[i].Energies {
			if plant[i].Energies[j].Kind == procedures.Rotation {
				plant[i].Energies[j].Coast = 80 * time.Second
			}
		}
	}
	require.Equal(t, 100*time.Second, wait(plant, "head-saw", "saw-wait"))
	require.Equal(t, 100*time.Second, wait(plant, "head-rig", "saw-pin-in"))
	require.Equal(t, 100*time.Second, wait(plant, "dust-collection", "fan-wait"))
}

func TestAnswersOutsideTheListsAreNamed(t *testing.T) {
	err := procedures.Answers{Drive: "steam"}.Validate()
	for _, field := range []string{"drive", "feed", "dogs", "hoist", "collector", "headblocks"} {
		require.ErrorContains(t, err, field+":")
	}
	require.NoError(t, procedures.StarterPlant(procedures.Answers{}).Validate(), "unknown answers still make a whole plant")
}

func answers(drive, feed string) procedures.Answers {
	return procedures.Answers{Drive: drive, Feed: feed, Dogs: "power", Hoist: "electric", Collector: "bag-house", Headblocks: 3}
}

// Whoever takes a pin out of the saw or a chock from under the carriage does it
// before anything has power again, and nobody is there when it comes; the locks
// are off by then.
func TestStartersGivePowerBackOnlyWhenNobodyIsAtTheMachine(t *testing.T) {
	everyAnswer(func(a procedures.Answers) {
		if a.Portable {
			a.Setworks, a.OffBearing = "powered", "powered"
		}
		for _, p := range procedures.StarterProcedures(procedures.StarterPlant(a), a) {
			kinds := map[procedures.DeviceID]procedures.DeviceKind{}
			for _, d := range p.Devices {
				kinds[d.ID] = d.Kind
			}
			name, went, clear, powered, rolls := fmt.Sprintf("%s %+v", p.ID, a), false, false, false, false
			for _, s := range p.Steps {
				switch kind := kinds[s.Device]; {
				case s.Stage != procedures.Restore:
				case s.ID == "clear-again":
					require.Equal(t, procedures.Clause("(e)(2)(i)"), s.Clause)
					clear = true
				case kind == procedures.Block || kind == procedures.PartRemoved || s.Device == "":
					require.False(t, powered, "%s: %s with power on", name, s.ID)
					require.False(t, clear, "%s: %s after everybody was seen clear", name, s.ID)
					require.False(t, rolls && kind == procedures.Block, "%s: %s beside a carriage that nothing holds", name, s.ID)
					went, rolls = true, rolls || s.Device == "carriage-tie-down"
				default:
					require.True(t, clear || !went, "%s: %s with nobody seen to be clear", name, s.ID)
					powered = true
				}
			}
		}
	})
}
