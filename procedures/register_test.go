package procedures

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func goodEnergy(change func(*Energy)) Energy {
	e := Energy{ID: "edger-power", Kind: Electrical, Source: "edger motor", Hazard: "shock", Zero: "It was tried and nothing moved."}
	change(&e)
	return e
}

func goodDevice(change func(*Device)) Device {
	d := Device{ID: "edger-switch", Kind: Disconnect, Label: "Edger switch", Lockable: true, Cuts: []EnergyID{"hoist-electric"}}
	change(&d)
	return d
}

// 29 CFR 1910.147(d)(1): kind, size, hazard and control of each energy.
func TestEnergyIsKeptOnlyWhole(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	for field, e := range map[string]Energy{
		"energy": goodEnergy(func(e *Energy) { e.ID = "saw-heat" }), // another piece's
		"kind":   goodEnergy(func(e *Energy) { e.Kind = "luck" }),
		"source": goodEnergy(func(e *Energy) { e.Source = " " }),
		"size":   goodEnergy(func(e *Energy) { e.Magnitude = strings.Repeat("9", 300) }),
		"hazard": goodEnergy(func(e *Energy) { e.Hazard = "" }),
		"stored": goodEnergy(func(e *Energy) { e.Kind = Gravity }),
		"relief": goodEnergy(func(e *Energy) { e.Stored = true }),
		"zero":   goodEnergy(func(e *Energy) { e.Zero = "" }),
		"coast":  goodEnergy(func(e *Energy) { e.Coast = time.Minute }), // electricity doesn't coast
		"recheck": goodEnergy(func(e *Energy) { // builds up again, but nothing is stored
			e.Recheck = time.Hour
		}),
	} {
		kept, err := plant.KeepEnergy("hoist", e)
		require.Equal(t, []string{field}, fields(err))
		require.Equal(t, plant, kept)
	}
	for _, at := range []EquipmentID{"site", "edger", ""} {
		_, err := plant.KeepEnergy(at, goodEnergy(func(*Energy) {}))
		require.Contains(t, fields(err), "piece")
	}
	for _, coast := range []time.Duration{-1, CoastMost + 1} {
		_, err := plant.KeepEnergy("hoist", goodEnergy(func(e *Energy) { e.Kind, e.Stored, e.Relief, e.Coast = Rotation, true, "wait", coast }))
		require.Equal(t, []string{"coast"}, fields(err))
	}
	for _, again := range []time.Duration{-time.Hour, time.Second, VerificationLasts + 1} {
		_, err := plant.KeepEnergy("hoist", goodEnergy(func(e *Energy) { e.Stored, e.Relief, e.Recheck = true, "wait", again }))
		require.Equal(t, []string{"recheck"}, fields(err))
	}
}

func TestEnergyIsAddedChangedAndRemoved(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	added, err := plant.KeepEnergy("hoist", goodEnergy(func(e *Energy) { e.Stored, e.Relief, e.Recheck = true, "wait", 30*time.Minute }))
	require.NoError(t, err)
	require.Equal(t, Electrical, added.energy(Energy{ID: "edger-power"}).Kind)
	changed, err := added.KeepEnergy("hoist", goodEnergy(func(e *Energy) { e.Magnitude = "400 V" }))
	require.NoError(t, err)
	require.Equal(t, "400 V", changed.energy(Energy{ID: "edger-power"}).Magnitude)
	hoist, _ := changed.Find("hoist")
	before, _ := plant.Find("hoist")
	require.Len(t, hoist.Energies, len(before.Energies)+1)
	removed, err := changed.DropEnergy("edger-power")
	require.NoError(t, err)
	require.Equal(t, plant, removed)
	_, err = plant.DropEnergy("edger-power")
	require.Equal(t, []string{"energy"}, fields(err))
}

func TestEnergyOnlyOneDeviceStandsForIsNotRemovedUnderIt(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	_, err := plant.DropEnergy("hoist-load") // the yoke rest holds nothing else
	require.ErrorContains(t, err, "Yoke rest keeps only this away")
	less, err := plant.DropEnergy("hoist-brake") // the disconnect cuts the motor as well
	require.NoError(t, err)
	require.Equal(t, []EnergyID{"hoist-electric"}, less.device(Device{ID: "hoist-disconnect"}).Cuts)
	require.Len(t, plant.device(Device{ID: "hoist-disconnect"}).Cuts, 2, "the plant read is not the plant changed")
}

func TestDeviceIsKeptOnlyWhole(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	photo := strings.Repeat("a", 64)
	for name, tc := range map[string]struct {
		field string
		d     Device
	}{
		"another's":        {"device", goodDevice(func(d *Device) { d.ID = "saw-pin" })},
		"no kind":          {"kind", goodDevice(func(d *Device) { d.Kind = "" })},
		"no label":         {"label", goodDevice(func(d *Device) { d.Label = " " })},
		"long place":       {"place", goodDevice(func(d *Device) { d.Place = strings.Repeat("x", 300) })},
		"number taken":     {"number", goodDevice(func(d *Device) { d.Number = 1 })},
		"number too big":   {"number", goodDevice(func(d *Device) { d.Number = 100 })},
		"cuts nothing":     {"cuts", goodDevice(func(d *Device) { d.Cuts = nil })},
		"cuts luck":        {"cuts", goodDevice(func(d *Device) { d.Cuts = []EnergyID{"luck"} })},
		"chock on current": {"cuts", goodDevice(func(d *Device) { d.Kind = Block })},
		"adapter alone":    {"adapter", goodDevice(func(d *Device) { d.Lockable, d.Adapter = false, true })},
		"no such photo":    {"photo", goodDevice(func(d *Device) { d.Photo = "cat.jpg" })},
		"short digest":     {"photo", goodDevice(func(d *Device) { d.Photo = "abc" })},
		"point, no photo":  {"point", goodDevice(func(d *Device) { d.Point = Point{0.5, 0.5} })},
		"point outside":    {"point", goodDevice(func(d *Device) { d.Photo, d.Point = photo, Point{1.1, 0.5} })},
		"point nowhere":    {"point", goodDevice(func(d *Device) { d.Photo, d.Point = photo, Point{0.5, math.NaN()} })},
	} {
		_, err := plant.KeepDevice("hoist", tc.d)
		require.Equal(t, []string{tc.field}, fields(err), name)
	}
	kept, err := plant.KeepDevice("hoist", goodDevice(func(d *Device) { d.Photo, d.Point, d.Adapter = photo, Point{0.25, 0.75}, true }))
	require.NoError(t, err)
	require.Equal(t, Point{0.25, 0.75}, kept.device(Device{ID: "edger-switch"}).Point)
	again, err := kept.KeepDevice("hoist", goodDevice(func(d *Device) { d.Label = "New switch" }))
	require.NoError(t, err)
	require.Equal(t, "New switch", again.device(Device{ID: "edger-switch"}).Label)
	gone, err := again.DropDevice("edger-switch")
	require.NoError(t, err)
	require.Equal(t, plant, gone)
	_, err = plant.DropDevice("edger-switch")
	require.Equal(t, []string{"device"}, fields(err))
}

// 29 CFR 1910.147(b) "energy isolating device": what only controls is no isolator.
func TestControlIsRefusedAsAnIsolatorWithTheReason(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	for kind, why := range map[DeviceKind]string{
		"stop-button": "stop button isn't an isolator", "emergency-stop": "only tells the control", "push-button": "push button isn't",
		"pendant": "stays live above it", "selector": "selector switch isn't", "ignition-key": "an engine starts without it", "clutch-lever": "creeps, drags",
	} {
		_, err := plant.KeepDevice("hoist", goodDevice(func(d *Device) { d.Kind = kind }))
		require.Equal(t, []string{"kind"}, fields(err), kind)
		require.ErrorContains(t, err, why)
		require.ErrorContains(t, err, "29 CFR 1910.147(b)")
	}
}

// 29 CFR 1910.147(b) "capable of being locked out": yes, with an adapter, no.
func TestDeviceSaysHowItTakesALock(t *testing.T) {
	require.Equal(t, "takes no lock", Device{}.TakesLock().String(), "the safe answer")
	require.Equal(t, "takes a lock", Device{Lockable: true}.TakesLock().String())
	require.Equal(t, "takes a lock with an adapter", Device{Lockable: true, Adapter: true}.TakesLock().String())
}

// 29 CFR 1910.147(c)(2)(iii).
func TestDeviceThatTakesNoLockIsToBeMadeLockable(t *testing.T) {
	plant := Plant{{ID: "site", Kind: Site, Name: "Mill"}, {ID: "m", PartOf: "site", Kind: Supply, Name: "M",
		Energies: []Energy{{ID: "air", Kind: Pneumatic}, {ID: "power", Kind: Electrical}},
		Devices: []Device{{ID: "valve", Kind: Valve, Label: "Air valve", Cuts: []EnergyID{"air"}}, {ID: "switch", Kind: Disconnect, Lockable: true, Cuts: []EnergyID{"power"}},
			{ID: "old", Kind: Disconnect, Label: "Old switch", Cuts: []EnergyID{"power", "air"}}, {ID: "plug", Kind: Plug, Label: "Plug", Cuts: []EnergyID{"power"}}}}}
	raised := plant.ToBeMadeLockable()
	require.Equal(t, []DeviceID{"valve", "old", "plug"}, ids(raised, func(u Unlockable) DeviceID { return u.Device.ID }))
	require.Equal(t, []EnergyID{"air"}, raised[0].Alone)
	require.Equal(t, []EnergyID{"air"}, raised[1].Alone)
	require.Empty(t, raised[2].Alone)
	require.Equal(t, EquipmentID("m"), raised[0].Equipment)
	require.Contains(t, raised[0].Words().String(), "only a tag warns")
	require.Contains(t, raised[2].Words().String(), "at the next repair")
	plant[1].Devices[0].Lockable, plant[1].Devices[2].Lockable, plant[1].Devices[3].Lockable = true, true, true
	require.Empty(t, plant.ToBeMadeLockable())
}

// Whatever is typed, a plant stays a plant and the one it came from is untouched.
func TestEditOfAnyPlantLeavesAPlant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plant := anyPlant().Draw(t, "plant")
		before, err := json.Marshal(plant)
		require.NoError(t, err)
		energy, device := EnergyID(rapid.SampledFrom([]string{"e0", "e1", "new"}).Draw(t, "id")), DeviceID(rapid.SampledFrom([]string{"d0", "d1", "new"}).Draw(t, "device"))
		at := rapid.SampledFrom([]EquipmentID{"m0", "m1", "site", "none"}).Draw(t, "at")
		for _, edit := range []func(Plant) (Plant, error){
			func(p Plant) (Plant, error) { return p.KeepEnergy(at, anyEnergy(energy).Draw(t, "energy")) },
			func(p Plant) (Plant, error) {
				return p.KeepDevice(at, Device{ID: device, Kind: rapid.SampledFrom(DeviceKinds()).Draw(t, "kind"), Label: "x",
					Cuts: []EnergyID{EnergyID(rapid.SampledFrom([]string{"e0", "e1", "new", "luck"}).Draw(t, "cuts"))}})
			},
			func(p Plant) (Plant, error) { return p.DropEnergy(energy) },
			func(p Plant) (Plant, error) { return p.DropDevice(device) },
		} {
			changed, err := edit(plant)
			require.NoError(t, changed.Validate())
			if err != nil {
				require.Equal(t, plant, changed)
			}
			now, err := json.Marshal(plant)
			require.NoError(t, err)
			require.Equal(t, string(before), string(now))
			plant = slices.Clone(plant)
		}
	})
}

// Absent in what was stored before means what it meant: nothing of it.
func TestOldRegisterReadsAsItWas(t *testing.T) {
	old := `{"id":"d","number":1,"kind":"disconnect","label":"D","place":"P","lockable":true,"cuts":["e"]}`
	var d Device
	require.NoError(t, json.Unmarshal([]byte(old), &d))
	require.Equal(t, Device{ID: "d", Number: 1, Kind: Disconnect, Label: "D", Place: "P", Lockable: true, Cuts: []EnergyID{"e"}}, d)
	again, err := json.Marshal(d)
	require.NoError(t, err)
	require.Equal(t, old, string(again), "and is written as it was")
	energy, err := json.Marshal(Energy{})
	require.NoError(t, err)
	require.NotContains(t, string(energy), "recheck")
	step, err := json.Marshal(Step{})
	require.NoError(t, err)
	require.NotContains(t, string(step), "recheck")
	require.NotContains(t, string(step), "photo")
}
