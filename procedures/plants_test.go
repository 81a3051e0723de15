package procedures

import (
	"fmt"
	"slices"
	"time"

	"pgregory.net/rapid"
)

// anyPlant draws a valid plant of up to five pieces, linked every which way that
// is allowed, with energies of every kind and devices that cut some of them.
func anyPlant() *rapid.Generator[Plant] {
	return rapid.Custom(func(t *rapid.T) Plant {
		plant := Plant{{ID: "site", Kind: Site, Name: "Mill"}}
		var cuttable []EnergyID
		pieces := rapid.IntRange(1, 5).Draw(t, "pieces")
		for i := range pieces {
			e := Equipment{ID: EquipmentID(fmt.Sprintf("m%d", i)), Kind: rapid.SampledFrom(EquipmentKinds()).Draw(t, "kind"), Name: fmt.Sprintf("Machine %d", i),
				PartOf: plant[rapid.IntRange(0, i).Draw(t, "part of")].ID}
			for range rapid.IntRange(0, 3).Draw(t, "energies") {
				energy := anyEnergy(EnergyID(fmt.Sprintf("e%d", len(cuttable)))).Draw(t, "energy")
				e.Energies, cuttable = append(e.Energies, energy), append(cuttable, energy.ID)
			}
			plant = append(plant, e)
		}
		for i := 1; i <= pieces; i++ {
			for j := 1; j <= pieces; j++ {
				kind := rapid.SampledFrom([]LinkKind{"", "", "", Drives, Supplies, LandsOn}).Draw(t, "link")
				if kind != "" && i != j && (i < j || kind != Drives) {
					plant[i].Links = append(plant[i].Links, Link{kind, plant[j].ID})
				}
			}
		}
		for n := range rapid.IntRange(0, 6).Draw(t, "devices") {
			if len(cuttable) == 0 {
				break
			}
			d := Device{ID: DeviceID(fmt.Sprintf("d%d", n)), Number: rapid.IntRange(0, 3).Draw(t, "number"), Kind: rapid.SampledFrom(DeviceKinds()).Draw(t, "device"),
				Label: fmt.Sprintf("Device %d", n), Lockable: rapid.Bool().Draw(t, "lockable"),
				Cuts: rapid.SliceOfNDistinct(rapid.SampledFrom(cuttable), 1, min(3, len(cuttable)), rapid.ID).Draw(t, "cuts")}
			at := &plant[rapid.IntRange(0, pieces).Draw(t, "at")]
			at.Devices = append(at.Devices, d)
		}
		return plant
	})
}

func anyEnergy(id EnergyID) *rapid.Generator[Energy] {
	kinds := []EnergyKind{Electrical, Rotation, Moving, Gravity, Spring, Hydraulic, Pneumatic, Engine, Shaft, Thermal, Strain, Chemical}
	return rapid.Custom(func(t *rapid.T) Energy {
		e := Energy{ID: id, Kind: rapid.SampledFrom(kinds).Draw(t, "kind"), Source: "source of " + string(id), Hazard: "hurts", Zero: "seen gone"}
		if e.Stored = rapid.Bool().Draw(t, "stored") || e.Kind.leftOver(); e.Stored {
			e.Relief = rapid.SampledFrom([]string{"", "let out"}).Draw(t, "relief")
			e.Recheck = time.Duration(rapid.IntRange(0, 2).Draw(t, "recheck")) * time.Hour
		}
		if e.Kind == Rotation {
			e.Coast = time.Duration(rapid.IntRange(0, 300).Draw(t, "coast")) * time.Second
		}
		return e
	})
}

// somePieces draws one or more pieces of the plant.
func somePieces(t *rapid.T, p Plant) []EquipmentID {
	all := ids(p[1:], func(e Equipment) EquipmentID { return e.ID })
	return rapid.SliceOfNDistinct(rapid.SampledFrom(all), 1, len(all), rapid.ID).Draw(t, "for")
}

// registerAnswers are of a mill that has everything a starter knows.
func registerAnswers(drive string) Answers {
	return Answers{Drive: drive, Feed: "mandrel", Dogs: "power", Hoist: "electric", Collector: "bag-house", Setworks: "powered", OffBearing: "powered", Headblocks: 3}
}

// starterOf is one published starter procedure of that mill.
func starterOf(id ProcedureID, a Answers) Procedure {
	all := published(a)
	return all[slices.IndexFunc(all, func(p Procedure) bool { return p.ID == id })]
}

// published is the starter procedures of that mill, each as version 1.
func published(a Answers) []Procedure {
	all := StarterProcedures(StarterPlant(a), a)
	for i := range all {
		all[i].Version = 1
	}
	return all
}
