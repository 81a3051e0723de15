package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// shockWords is what stands as the reason of a hoist held after a shock load.
const shockWords = "Shock load: dropped, snatched or bumped. Every part from the beam down to the hooks is inspected by a qualified person before it lifts again."

// Shocked holds a hoist after a shock load, on the word of somebody of the crew:
// a stop defect until the gear was inspected and somebody qualified for lifting
// gear returned it, as after any repair. Its error is a [plain.Refusal], or a
// [plain.Problems] for "equipment". The inspection after a shock load is ASME
// B30.9's and makers' own, from memory.
func Shocked(id DefectID, hoist procedures.EquipmentID, by procedures.Person, plant procedures.Plant, now time.Time) (Defect, error) {
	if !by.Works() {
		return Defect{}, plain.Refuse("", "Only somebody of the crew reports a shock load. Anybody can stop the hoist.")
	}
	equipment, _ := plant.Find(hoist)
	if equipment.Kind != procedures.Hoist {
		return Defect{}, plain.Problems{{Field: "equipment", Want: plain.Say("a hoist of this mill")}}
	}
	d, err := Raise(id, hoist, shockWords, "", by.ID, plant, now)
	d.ShockLoad = true
	return d, err
}

// ShocksStanding says of each hoist whose gear was not returned to service since
// a shock load that nothing is lifted with it. Which rig hung there then nobody
// may know, so it goes for all.
func ShocksStanding(f Facts) []plain.Sentence {
	var said []plain.Sentence
	for _, d := range f.Defects {
		if hoist, _ := f.Plant.Find(d.Equipment); d.ShockLoad {
			said = append(said, plain.Say("A shock load was reported at %s: its gear lifts nothing until it was inspected and returned to service", hoist.Name))
		}
	}
	return said
}
