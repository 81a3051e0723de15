package procedures

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// saidBy writes down what procedures say, each step once however many procedures
// have it.
func saidBy(b *strings.Builder, all []Procedure) {
	steps, said := map[string]bool{}, ""
	for _, p := range all {
		fmt.Fprintf(b, "%s | %s | for %v | holds %v\n", p.ID, p.Title, p.Equipment, p.Holds)
		for _, e := range p.Energies {
			fmt.Fprintf(b, "  energy %s %s\n", e.ID, e.Coast)
		}
		for _, d := range p.Devices {
			fmt.Fprintf(b, "  device %d %s\n", d.Number, d.ID)
		}
		for _, s := range p.Steps {
			fmt.Fprintf(b, "  %s\n", s.ID)
			line := fmt.Sprintf("%s | %s | %s %s | %s | wait %s, again %s | %s | %s\n", s.ID, s.Stage.Words(), s.Device, s.Energy, s.Proof, s.Wait, s.Recheck, s.Clause, s.Text)
			if !steps[line] {
				steps[line], said = true, said+line
			}
		}
	}
	b.WriteString(said)
}

// everyKind is a plant with a piece that holds every kind of energy and every kind
// of device, a hoist, a saw with a locked pin, and things with no name of theirs.
func everyKind() Plant {
	rig := Equipment{ID: "rig", PartOf: "site", Kind: OffBearing, Name: "Rig", Links: []Link{{Kind: Drives, To: "saw"}}}
	for _, k := range EnergyKinds() {
		rig.Energies = append(rig.Energies, Energy{ID: EnergyID(k), Kind: k, Hazard: "hurts", Stored: k == Electrical, Relief: "by hand"})
	}
	for i, k := range DeviceKinds() {
		d := Device{ID: DeviceID(k), Kind: k, Number: 10 + i%5, Label: "The " + string(k), Lockable: k != Block && k != PartRemoved, Cuts: []EnergyID{rig.Energies[i%4].ID}}
		if i%2 == 0 {
			d.Place = "at the wall"
		}
		rig.Devices = append(rig.Devices, d)
	}
	rig.Devices = append(rig.Devices, Device{ID: "chock", Kind: Block, Label: "Chock", Cuts: []EnergyID{"moving", "hydraulic"}})
	return Plant{{ID: "site", Kind: Site, Name: "Mill"}, rig,
		{ID: "saw", PartOf: "site", Kind: HeadSaw, Name: "Saw", Energies: []Energy{{ID: "blade", Kind: Rotation, Source: " blade ", Zero: "Seen still.", Stored: true, Recheck: time.Hour}, {ID: "fast", Kind: Rotation, Source: "fast", Coast: 10 * time.Second}},
			Devices: []Device{{ID: "pin", Kind: Block, Lockable: true, Label: "Pin", Number: 10, Cuts: []EnergyID{"fast", "blade"}}, {ID: "second", Kind: Block, Lockable: true, Adapter: true, Label: "Second pin", Cuts: []EnergyID{"blade"}}}},
		{ID: "fan", PartOf: "site", Kind: DustCollection, Name: "Fan", Energies: []Energy{{ID: "wheel", Kind: Rotation, Source: "wheel"}, {ID: "rest", Kind: Gravity, Stored: true}}, Links: []Link{{Kind: Supplies, To: "rig"}}},
		{ID: "wagon", PartOf: "site", Kind: Carriage, Name: "Wagon"},
		{ID: "crane", PartOf: "site", Kind: Hoist, Name: "Crane", Energies: []Energy{{ID: "hung", Kind: Gravity, Source: "load"}}, Links: []Link{{Kind: LandsOn, To: "wagon"}}},
	}
}

// What is drafted stays as it is until somebody means to change it:
// testdata/drafts.txt holds every step of the starters for four mills, and of
// drafts for a plant with every kind of energy and device. With -update it is
// written anew, to be read over.
func TestNoDraftChangesUnseen(t *testing.T) {
	var b strings.Builder
	for _, a := range []Answers{
		{Drive: "engine", Feed: "hydraulic", Dogs: "power", Hoist: "electric", Collector: "bag-house", Setworks: "powered", OffBearing: "powered", Headblocks: 2},
		{Drive: "tractor-shaft", Feed: "hand", Dogs: "hand", Hoist: "hand-chain", Collector: "open-bag", Setworks: "hand", OffBearing: "none", Headblocks: 1, Portable: true},
		{Drive: "electric", Feed: "own-motor", Dogs: "power", Hoist: "electric", Collector: "cyclone", Headblocks: 3, IsolatorCutsPower: true},
		{Drive: "electric", Feed: "mandrel", Dogs: "hand", Hoist: "electric", Collector: "none", Headblocks: 1},
	} {
		plant := StarterPlant(a)
		require.NoError(t, plant.Validate())
		fmt.Fprintf(&b, "%+v\n", a)
		for _, e := range plant {
			fmt.Fprintf(&b, "%s %s in %q %v\n", e.ID, e.Kind, e.PartOf, e.Links)
			for _, d := range e.Devices {
				fmt.Fprintf(&b, "  %d %s lock %t: %s, %s, %v\n", d.Number, d.ID, d.Lockable, d.Label, d.Place, d.Cuts)
			}
			for _, energy := range e.Energies {
				fmt.Fprintf(&b, "  %s %s stored %t\n", energy.ID, energy.Kind, energy.Stored)
			}
		}
		saidBy(&b, StarterProcedures(plant, a))
		for _, task := range StarterTasks(plant, a) {
			fmt.Fprintf(&b, "task %s %s %v %s %s %s\n", task.ID, task.Kind, task.Equipment, task.Procedure, task.GuardOff, task.BodyIn)
		}
	}
	plant := everyKind()
	require.NoError(t, plant.Validate())
	var drafts []Procedure
	for _, one := range []EquipmentID{"rig", "saw", "fan", "wagon", "crane"} {
		p, err := plant.DraftProcedure(ProcedureID(one), "Lock out "+string(one), one)
		require.NoError(t, err)
		drafts = append(drafts, p)
	}
	saidBy(&b, drafts)
	const golden = "testdata/drafts.txt"
	if flag.Lookup("update").Value.String() == "true" {
		require.NoError(t, os.WriteFile(golden, []byte(b.String()), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, strings.Split(string(want), "\n"), strings.Split(b.String(), "\n"))
}

// longest is the length of the longest common subsequence, looked for the slow way.
func longest(a, b []StepID) int {
	switch {
	case len(a) == 0 || len(b) == 0:
		return 0
	case a[0] == b[0]:
		return 1 + longest(a[1:], b[1:])
	}
	return max(longest(a[1:], b), longest(a, b[1:]))
}

// Every run of four steps or fewer against every other: what stays in its order is
// as much as can be, and is in both in that order.
func TestLongestRunIsTheLongest(t *testing.T) {
	within := func(run, all []StepID) bool {
		for _, id := range all {
			if len(run) > 0 && run[0] == id {
				run = run[1:]
			}
		}
		return len(run) == 0
	}
	runs := [][]StepID{nil}
	for at := 0; at < len(runs); at++ {
		if len(runs[at]) < 4 {
			for _, id := range []StepID{"a", "b", "c"} {
				runs = append(runs, append(append([]StepID{}, runs[at]...), id))
			}
		}
	}
	for _, a := range runs {
		for _, b := range runs {
			run := longestRun(a, b)
			if len(run) != longest(a, b) || !within(run, a) || !within(run, b) {
				require.Fail(t, "not the longest", "%v %v: %v", a, b, run)
			}
		}
	}
	require.Equal(t, []StepID{"b"}, longestRun([]StepID{"a", "b"}, []StepID{"b", "a"}), "of two as long the one that leaves out the first of the earlier version")
}

// A step that moved says from where to where, counted from 1; one that is only in
// one of the versions moved nowhere.
func TestMovedStepSaysFromWhereToWhere(t *testing.T) {
	steps := func(all ...StepID) Procedure {
		var p Procedure
		for _, id := range all {
			p.Steps = append(p.Steps, Step{ID: id, Text: "do " + string(id)})
		}
		return p
	}
	moved := stepsMoved(versions{steps("a", "b", "c", "gone"), steps("new", "b", "c", "a")})
	require.Len(t, moved, 1)
	require.Equal(t, "order.a", moved[0].Field)
	require.Equal(t, "moved: do a", moved[0].What.String())
	require.Equal(t, []string{"1", "4"}, []string{moved[0].Old.String(), moved[0].New.String()})
	require.Equal(t, OfSubstance, moved[0].Kind)
}
