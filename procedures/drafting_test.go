package procedures

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/plain"
)

// 29 CFR 1910.147(c)(4)(ii)(A)–(D): whatever a plant holds, what is written
// from it has a step for everything, or names what the register lacks.
func TestDraftFromAnyRegisterIsWholeButForWhatIsNotThere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plant := anyPlant().Draw(t, "plant")
		require.NoError(t, plant.Validate())
		p, err := plant.DraftProcedure("p", "Lock it out", somePieces(t, plant)...)
		require.NoError(t, err)
		require.Zero(t, p.Version)
		lacking := map[string]bool{}
		if len(p.Energies) == 0 {
			lacking["energies"] = true
		}
		if !slices.ContainsFunc(p.Devices, func(d Device) bool { return d.Lockable }) {
			lacking["devices"] = true
		}
		for _, e := range p.Energies {
			cut := slices.ContainsFunc(plant, func(eq Equipment) bool {
				return slices.ContainsFunc(eq.Devices, func(d Device) bool { return slices.Contains(d.Cuts, e.ID) })
			})
			// Neither pin nor cover holds these back.
			if !cut && slices.Contains([]EnergyKind{Electrical, Engine, Shaft, Hydraulic, Pneumatic}, e.Kind) {
				lacking["energy "+string(e.ID)] = true
			}
		}
		bad, _ := p.Validate().(plain.Problems)
		for _, one := range bad {
			require.True(t, lacking[one.Field], "%s: %s", one.Field, one.Want)
			delete(lacking, one.Field)
		}
		require.Empty(t, lacking, "and all of it is named")
	})
}

// What drives or supplies a machine is isolated with it, however far back, and
// each energy of all that is isolated or blocked, relieved and proven.
func TestDraftIsolatesAllThatMovesOrFeedsIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plant := anyPlant().Draw(t, "plant")
		p, err := plant.DraftProcedure("p", "Lock it out", somePieces(t, plant)...)
		require.NoError(t, err)
		in := slices.Concat(p.Equipment, p.Holds)
		listed := ids(p.Energies, Energy.id)
		covered := func(e Equipment) bool {
			return slices.Contains(in, e.ID) && !slices.ContainsFunc(e.Energies, func(own Energy) bool { return !slices.Contains(listed, own.ID) })
		}
		for _, e := range plant[1:] {
			if slices.Contains(p.Equipment, e.ID) {
				require.True(t, covered(e), e.ID)
			}
			if slices.Contains(p.Equipment, e.PartOf) {
				require.True(t, covered(e), "its part %s", e.ID)
			}
			for _, link := range e.Links {
				to, _ := plant.Find(link.To)
				if link.Kind != LandsOn && len(to.Energies) > 0 && covered(to) {
					require.True(t, covered(e), "%s acts on %s", e.ID, to.ID)
				}
			}
			for _, d := range e.Devices {
				if slices.ContainsFunc(d.Cuts, func(id EnergyID) bool { return slices.Contains(listed, id) }) {
					require.Contains(t, ids(p.Devices, Device.id), d.ID)
					require.Contains(t, in, e.ID, "what stands still with its device is held")
				}
			}
		}
	})
}

// The wait is the measured coast time and a quarter more; common practice, no
// source. A locked pin waits as long before it goes in.
func TestDraftWaitsForWhatTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plant := anyPlant().Draw(t, "plant")
		p, err := plant.DraftProcedure("p", "Lock it out", somePieces(t, plant)...)
		require.NoError(t, err)
		for _, s := range p.Steps {
			for _, e := range p.Energies {
				d, _ := p.device(s.Device)
				pin := d.Kind == Block && slices.Contains(d.Cuts, e.ID) && s.Stage == Isolate
				if e.Kind != Rotation || !pin && (s.Energy != e.ID || s.Stage != Relieve) {
					continue
				}
				least := e.Coast.Seconds() * 1.25
				if e.Coast == 0 {
					least = 180
				}
				require.GreaterOrEqual(t, s.Wait.Seconds(), least, "%s", s.Text)
			}
		}
		require.True(t, slices.IsSortedFunc(p.Steps, func(a, b Step) int { return int(a.Stage - b.Stage) }))
	})
}

// A sawdust blower on its own disconnect, written down by hand beforehand.
func TestDraftSaysWhatToDoInOrder(t *testing.T) {
	plant := Plant{{ID: "site", Kind: Site, Name: "Mill"}, {ID: "blower", PartOf: "site", Kind: OffBearing, Name: "Blower",
		Energies: []Energy{
			{ID: "power", Kind: Electrical, Source: "blower motor", Hazard: "shock", Zero: "It was tried."},
			{ID: "wheel", Kind: Rotation, Source: "blower wheel", Hazard: "takes a hand", Stored: true, Relief: "Look through the mesh.", Zero: "Seen still.", Coast: 40 * time.Second, Recheck: time.Hour},
		},
		Devices: []Device{{ID: "switch", Kind: Disconnect, Number: 7, Label: "Blower switch", Lockable: true, Adapter: true, Cuts: []EnergyID{"power", "wheel"}}}}}
	p, err := plant.DraftProcedure("blower", "Blower", "blower")
	require.NoError(t, err)
	require.NoError(t, p.Validate())
	var done []string
	for _, s := range p.Steps {
		done = append(done, strings.TrimSuffix(string(s.ID), "-"))
	}
	require.Equal(t, []string{"read-energies", "tell-before", "stop-blower", "isolate-switch", "lock-switch", "wait-wheel", "relieve-wheel",
		"verify-power", "verify-wheel", "guards-blower", "count-tools", "people-clear", "off-blower", "unlock-switch", "restore-switch", "tell-restored"}, done)
	wait, _ := p.step("wait-wheel")
	require.Equal(t, 50*time.Second, wait.Wait)
	require.Equal(t, MarkStill, wait.Proof)
	require.Contains(t, wait.Text, "Look through the mesh.")
	pin, _ := p.step("relieve-wheel")
	require.Equal(t, BlockIn, pin.Proof)
	try, _ := p.step("verify-power")
	require.Equal(t, TryStart, try.Proof)
	seen, _ := p.step("verify-wheel")
	require.Equal(t, time.Hour, seen.Recheck, "it can build up again, (d)(5)(ii)")
	lock, _ := p.step("lock-switch")
	require.Contains(t, lock.Text, "adapter")
	require.Equal(t, 7, p.Devices[0].Number, "as painted at the machine")
}

func TestDraftOfTheHoistAsksForAnEmptyHook(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	p, err := plant.DraftProcedure("h", "Hoist", "hoist")
	require.NoError(t, err)
	require.NoError(t, p.Validate())
	for _, id := range []StepID{"stop-hoist", "verify-hoist-load"} {
		s, known := p.step(id)
		require.True(t, known)
		require.Equal(t, HookEmpty, s.Proof)
	}
	require.Equal(t, []EquipmentID{"hoist"}, p.Equipment)
	require.Empty(t, p.Holds)
}

// A carriage fed off the mandrel is isolated with saw and engine.
func TestDraftOfTheCarriageIsolatesSawAndEngine(t *testing.T) {
	p, err := StarterPlant(registerAnswers("engine")).DraftProcedure("c", "Carriage", "carriage")
	require.NoError(t, err)
	require.NoError(t, p.Validate())
	require.Equal(t, []EquipmentID{"engine", "head-saw", "dogs-and-knees"}, p.Holds)
	for _, device := range []DeviceID{"engine-battery", "engine-fuel", "saw-drive-apart", "dogs-valve"} {
		require.Contains(t, ids(p.Devices, Device.id), device)
	}
	// Letting out the pressure of the dogs drops a cant: the wood comes first.
	require.Less(t, p.stepAt("relieve-dogs-wood"), p.stepAt("relieve-dogs-air"))
}

// Fed by hand the carriage has no link to the saw, and passes it all the same.
func TestDraftOfAHandFedCarriageIsolatesTheSaw(t *testing.T) {
	a := registerAnswers("electric")
	a.Feed = "hand"
	for _, id := range []EquipmentID{"carriage", "dogs-and-knees"} {
		p, err := StarterPlant(a).DraftProcedure("c", "Carriage", id)
		require.NoError(t, err)
		require.NoError(t, p.Validate())
		require.Contains(t, p.Holds, EquipmentID("head-saw"))
		require.Contains(t, ids(p.Devices, Device.id), DeviceID("saw-disconnect"))
	}
}

func TestDraftIsRefusedForWhatThePlantDoesNotHave(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	for _, pieces := range [][]EquipmentID{nil, {"site"}, {"hoist", "edger"}} {
		_, err := plant.DraftProcedure("p", "x", pieces...)
		require.Equal(t, []string{"equipment"}, fields(err))
	}
}

// Common practice of the agency as read in a summary: machines that share one
// procedure are each controlled by it.
func TestEnergyTheRegisterGainedIsLeftOutOfWhatWasWritten(t *testing.T) {
	a := registerAnswers("electric")
	plant := StarterPlant(a)
	for _, p := range published(a) {
		require.Empty(t, plant.LeftOut(p), p.ID)
	}
	plant, err := plant.KeepEnergy("carriage", Energy{ID: "lamp", Kind: Electrical, Source: "lamp", Hazard: "shock", Zero: "dark"})
	require.NoError(t, err)
	require.Equal(t, []EnergyID{"lamp"}, plant.LeftOut(starterOf("head-rig", a)))
	require.Empty(t, plant.LeftOut(starterOf("hoist", a)))
}
