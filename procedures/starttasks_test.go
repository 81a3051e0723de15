package procedures

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// servicingRow is one servicing job of a small circular mill: the tasks it has
// here, and the energies that must be locked off for it, in a mill that has them.
type servicingRow struct {
	job   string
	tasks []TaskID
	off   []EnergyID
	at    []EquipmentID // only mills with one of these have the job
}

// What turns the saw, by drive; what moves the carriage, by feed.
var (
	turning  = []EnergyID{"saw-electric", "saw-shaft", "engine-start", "saw-rotation"}
	saw      = append([]EnergyID{"saw-heat", "saw-weight", "saw-belt", "saw-wood"}, turning...)
	carriage = []EnergyID{"carriage-electric", "carriage-oil", "carriage-shaft", "carriage-moving", "carriage-slope", "carriage-rope"}
	knees    = []EnergyID{"set-electric", "knees-spring"}
	dogs     = []EnergyID{"dogs-air", "dogs-spring", "dogs-arm", "dogs-wood"}
	fan      = []EnergyID{"fan-electric", "fan-rotation"}
	dust     = append([]EnergyID{"rotary-electric", "pulse-air", "dust-ember", "dust-weight", "dust-cloud"}, fan...)
	lifting  = []EnergyID{"hoist-electric", "hoist-load", "hoist-brake"}
	rig      = slices.Concat(saw, carriage, knees, dogs)
)

// servicingRows are the servicing jobs of such a mill and what each is locked
// off from. The list of jobs is common practice, no source; that greasing,
// clearing jams, cleaning, tooth and blade changes and setting up are servicing
// is 29 CFR 1910.147(b), from memory. What is locked follows from how the
// machine works: the carriage passes the saw, and a feed off the mandrel moves
// whenever the saw turns.
func servicingRows() []servicingRow {
	return []servicingRow{
		{"inserted teeth or shanks changed", []TaskID{"change-teeth"}, slices.Concat(saw, carriage), nil},
		{"saw blade changed or fitted", []TaskID{"change-blade"}, slices.Concat(saw, carriage), nil},
		{"saw filed, set, swaged in place", []TaskID{"file-saw"}, slices.Concat(saw, carriage), nil},
		{"guides or splitter set with tools or within the guard", []TaskID{"set-guides"}, slices.Concat(saw, carriage), nil},
		{"lead set, track lined up", []TaskID{"set-lead"}, slices.Concat(saw, carriage, knees), nil},
		{"jam or pinched cut cleared at the saw", []TaskID{"clear-jam-saw"}, rig, nil},
		{"jam cleared on waste conveyor or sawdust chain", []TaskID{"clear-jam-waste"}, []EnergyID{"waste-electric", "waste-jam", "blower-electric", "blower-rotation"}, []EquipmentID{"off-bearing"}},
		{"dogs mended, points changed", []TaskID{"dog-repair"}, slices.Concat(turning, carriage, dogs), nil},
		{"knees or setworks mended", []TaskID{"knee-repair"}, slices.Concat(carriage, knees, []EnergyID{"dogs-air"}), nil},
		{"carriage wheels, axles, rope or chain", []TaskID{"carriage-rope"}, slices.Concat(turning, carriage), nil},
		{"track cleaned, sweeps mended in the travel", []TaskID{"clean-track"}, carriage, nil},
		{"greased, oiled, washed", []TaskID{"grease-head-rig", "grease-hoist", "grease-dust", "grease-waste"}, slices.Concat(rig, lifting, dust, []EnergyID{"waste-electric"}), nil},
		{"belt changed or tightened", []TaskID{"saw-belt", "fan-belt"}, slices.Concat(saw, fan), nil},
		{"bearings, mandrel, collars, husk", []TaskID{"saw-bearings"}, slices.Concat(saw, carriage), nil},
		{"engine or tractor shaft", []TaskID{"engine-work", "tractor-work"}, append([]EnergyID{"engine-start", "tractor-start", "saw-shaft", "saw-rotation"}, "engine-heat"), []EquipmentID{"engine", "tractor"}},
		{"hoist chain, hook, brake, trolley, wiring", []TaskID{"hoist-repair"}, lifting, nil},
		{"yoke, hooks, slings", []TaskID{"yoke-repair"}, lifting, nil},
		{"ducts, hoods, gates, filters", []TaskID{"clean-ducts"}, dust, []EquipmentID{"dust-collection"}},
		{"fan wheel", []TaskID{"fan-wheel"}, fan, []EquipmentID{"dust-collection"}},
		{"into bin, big duct or housing", []TaskID{"enter-bin"}, dust, []EquipmentID{"dust-collection"}},
		{"electrical work", []TaskID{"electrical-head-rig", "electrical-hoist", "electrical-dust", "electrical-waste"}, slices.Concat(rig, lifting, dust, []EnergyID{"waste-electric", "blower-electric"}), nil},
		{"guard or shield off for anything", []TaskID{"guard-off"}, rig, nil},
		{"blade looked over by touching or turning", []TaskID{"look-at-blade"}, slices.Concat(saw, carriage), nil},
	}
}

// everyMill calls f with answers that differ in what must be locked.
func everyMill(f func(a Answers)) {
	for _, drive := range []string{"electric", "engine", "tractor-shaft"} {
		for _, feed := range []string{"mandrel", "own-motor", "hydraulic", "hand"} {
			for _, dogs := range []string{"hand", "power"} {
				for _, collector := range []string{"none", "cyclone", "bag-house", "open-bag"} {
					f(Answers{Drive: drive, Feed: feed, Dogs: dogs, Hoist: "electric", Collector: collector, Setworks: "powered", OffBearing: "powered", Headblocks: 2})
					f(Answers{Drive: drive, Feed: feed, Dogs: dogs, Hoist: "hand-chain", Collector: collector, Headblocks: 2})
				}
			}
		}
	}
}

func TestStarterTasksAreCompleteForEveryAnswer(t *testing.T) {
	everyMill(func(a Answers) {
		require.NoError(t, a.Validate())
		plant, all := StarterPlant(a), published(a)
		seen := map[TaskID]bool{}
		for _, task := range StarterTasks(plant, a) {
			require.False(t, seen[task.ID], task.ID)
			seen[task.ID] = true
			kept, err := task.Keep(plant, all, samSup, shiftDay)
			require.NoError(t, err, "%s %+v", task.ID, a)
			require.Equal(t, task.Kind, kept.Treated(shiftDay))
		}
		for _, p := range all {
			require.NoError(t, p.Validate(), p.ID)
		}
	})
}

// Whatever a mill has of what a job must be locked off from, the procedure of
// the job isolates or blocks it and proves it at zero.
func TestStarterTasksLockWhatEachServicingJobNeeds(t *testing.T) {
	require.Len(t, servicingRows(), 23)
	met := map[string]bool{}
	everyMill(func(a Answers) {
		plant, all := StarterPlant(a), published(a)
		tasks := StarterTasks(plant, a)
		for _, row := range servicingRows() {
			locked, proven := map[EnergyID]bool{}, map[EnergyID]bool{}
			reaches := false
			for _, id := range row.tasks {
				at := slices.IndexFunc(tasks, func(task Task) bool { return task.ID == id })
				if at < 0 {
					continue // the mill has no such machine
				}
				require.Equal(t, Servicing, tasks[at].Treated(shiftDay))
				p := all[slices.IndexFunc(all, func(p Procedure) bool { return p.ID == tasks[at].Procedure })]
				reaches = true
				met[string(id)] = true
				for _, e := range p.Energies {
					for _, s := range p.Steps {
						d, _ := p.device(s.Device)
						locked[e.ID] = locked[e.ID] || s.Stage == Isolate && slices.Contains(d.Cuts, e.ID) || s.Stage < Verify && s.Energy == e.ID && s.Proof == BlockIn || s.Energy == e.ID && d.Kind == Block
						proven[e.ID] = proven[e.ID] || s.Stage == Verify && s.Energy == e.ID
					}
				}
			}
			if !reaches {
				require.NotEmpty(t, row.at, "%s: %+v", row.job, a)
			}
			for _, id := range row.at {
				_, fitted := plant.Find(id)
				require.False(t, fitted && !reaches, "%s: %+v", row.job, a)
			}
			if !reaches {
				continue
			}
			for _, id := range row.off {
				if _, known := plant.energyOwner(id); known {
					require.True(t, locked[id] && proven[id], "%s: %s with %+v", row.job, id, a)
				}
			}
		}
	})
	for _, row := range servicingRows() {
		for _, id := range row.tasks {
			require.True(t, met[string(id)], "%s: no mill has %s", row.job, id)
		}
	}
}

// 29 CFR 1910.147(b) "servicing and/or maintenance" and "setting up", from memory.
func TestGreasingJamsCleaningToothAndBladeChangesAndSettingUpAreServicing(t *testing.T) {
	a := registerAnswers("electric")
	tasks := StarterTasks(StarterPlant(a), a)
	for _, id := range []TaskID{"grease-head-rig", "clear-jam-saw", "clean-track", "change-teeth", "change-blade", "set-lead", "set-guides"} {
		at := slices.IndexFunc(tasks, func(task Task) bool { return task.ID == id })
		require.GreaterOrEqual(t, at, 0, id)
		require.Equal(t, Servicing, tasks[at].Kind)
	}
}

// Jobs that are production if done as said; picking a splinter off the
// headblocks is none, the body is in the travel. Common practice, no source.
func TestProductionJobsNameTheirConditionAndWaitForASupervisor(t *testing.T) {
	a := registerAnswers("electric")
	var found []TaskID
	for _, task := range StarterTasks(StarterPlant(a), a) {
		if task.Kind == Servicing {
			continue
		}
		found = append(found, task.ID)
		require.NotEmpty(t, task.Measure)
		require.Equal(t, Servicing, task.Treated(shiftDay), "until a supervisor keeps it")
	}
	require.Equal(t, []TaskID{"lift-cant", "dog-cant", "set-knees", "saw", "turn-cant", "off-bear", "sweep-outside", "change-size", "empty-bag", "try-stops"}, found)
	splinter := slices.IndexFunc(StarterTasks(StarterPlant(a), a), func(task Task) bool { return task.ID == "splinter" && task.Kind == Servicing })
	require.GreaterOrEqual(t, splinter, 0)
}
