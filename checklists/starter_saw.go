package checklists

import (
	"fmt"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// fastestSpindle bounds the spindle speed of a head saw, rpm: above it even a
// 12 in saw passes the 10,000 ft/min at the rim that 34 Pa. Code 45.41 allows.
const fastestSpindle = 3200

// sawItems are S1 to S12. Where a hand would go to the saw, even only to look
// closely, the item is done under lock.
func sawItems(a SetUp) []Item {
	items := []Item{
		{ID: "S1", State: LockedOut, Severity: Stop, Kind: Text,
			Source: "WAC 296-78-575 (Washington; good practice elsewhere); 29 CFR 1910.265(e)(2)(iii) (from memory)",
			Prompt: "Serial number of the saw fitted today; the speed etched on it is not under the spindle's",
			How:    "Read both off the saw itself. No etched speed means defect."},
		{ID: "S2", State: LockedOut, Severity: Stop, DefectPhoto: true,
			Source: "common practice, no source; 29 CFR 1910.213(s) (from memory)",
			Prompt: "No tooth or shank is missing, loose or broken",
			How:    "Turn the saw by hand one full turn, one person turning, pinned each time a hand goes near. Count the teeth."},
		{ID: "S3", State: LockedOut, Severity: Stop, Kind: Number, Source: "WAC 296-78-610 (Washington; good practice elsewhere)",
			Limits: Limits{Unit: "in", High: bound(CrackLimit(a.SawDiameter)), HighOut: true, Most: 30},
			Prompt: "Longest crack in the saw, 0 if none",
			How: "Light along every gullet, the eye and the rim. A crack as long as the limit puts the saw out of use; only a sawsmith mends it." +
				whenElse(a.SawDiameter > 0, "", " The limit is the strictest of the table until the saw's diameter is entered.")},
		{ID: "S4", State: LockedOut, Severity: Stop, Source: "29 CFR 1910.213(a)(2)",
			Prompt: "Collar nut and pins are tight, no play in the mandrel",
			How:    "Spanner on the nut, look at the pins, then rock the saw by its rim with gloves on."},
		{ID: "S5", State: LockedOut, Severity: Stop, DefectPhoto: true, Source: "common practice, no source; US Army sawmill manual lesson (from memory)",
			Prompt: "No heat marks, dish or built-up pitch",
			How:    "Look at both faces with a light from the side; a straight edge shows dish."},
		{ID: "S6", State: LockedOut, Severity: Mend, Kind: Number,
			Source: "US Army sawmill manual, about 1/32 in each side; 29 CFR 1910.265(e)(2)(iii) (from memory)",
			Limits: Limits{Unit: "in", Low: bound(1.0 / 64), High: bound(1.0 / 16), Most: 2, SiteSet: true},
			Prompt: "Guides set and locked by hand; the clearance furthest from 1/32 in",
			How:    "Feeler gauge between guide and saw on each side. The guides set without a tool and stay put."},
		{ID: "S7", State: LockedOut, Severity: Stop,
			Source: "34 Pa. Code 45.41 (Pennsylvania; good practice elsewhere); 29 CFR 1910.265(e)(2)(iii) (from memory)",
			Prompt: "Splitter or spreader wheel is tight and in line with the saw",
			How:    "Look along the plate from behind, shake the splitter, put a spanner on its bolts."},
		{ID: "S7-gap", State: LockedOut, Severity: Stop, Kind: Number, Source: practice,
			Limits: Limits{Unit: "in", High: bound(1), Most: 48, SiteSet: true},
			Prompt: "Gap from the splitter to the teeth",
			How:    "Measure at the height of the mandrel."},
		{ID: "S8", State: Stopped, Severity: Stop, Source: "29 CFR 1910.212(a)(1)",
			Prompt: "Saw hood, lower guard and pit cover are on",
			How:    "Look at each and at its fixings."},
		{ID: "S9", State: Stopped, Severity: Stop,
			Source: "WAC 296-78-56511(7); MI R 408.15242 (Washington, Michigan; good practice elsewhere)",
			Prompt: "Sawyer's shield is whole and clear",
			How:    "Look through it from the stand. At least 36 in high, no crack, no loose fixing."},
		{ID: "S10", State: Stopped, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.219 (from memory)",
			Prompt: "Guards on " + drivenParts(a) + " are on",
			How:    "Walk round the drive. Every guard in place with all its fixings."},
		{ID: "S12", State: Running, Severity: Stop, Source: "29 CFR 1910.213(a)(1)",
			Prompt: "Saw runs up with no new shake, noise or smell",
			How:    "Give the warning, hear the all-clear, nobody in line with the saw. Saw alone for one minute, from the stand."},
	}
	if a.SpindleSpeed > 0 && a.SpindleSpeed <= fastestSpindle {
		items = append(items, Item{ID: "S1-speed", State: LockedOut, Severity: Stop, Kind: Number,
			Source: "WAC 296-78-575 (Washington; good practice elsewhere); 29 CFR 1910.265(e)(2)(iii) (from memory)",
			Limits: Limits{Unit: "rpm", Low: bound(a.SpindleSpeed), Most: 2 * fastestSpindle},
			Prompt: "Speed etched on the saw",
			How:    fmt.Sprintf("Read it off the saw. The spindle turns %v rpm; a saw marked for less may not be fitted.", a.SpindleSpeed)})
	}
	return at("Head saw and guards", "head-saw", items...)
}

// primeMoverItems are S11: of the engine or tractor where the plant has one as
// equipment of its own, else of the saw.
func primeMoverItems(a SetUp, plant procedures.Plant) []Item {
	if a.Drive != "engine" && a.Drive != "tractor-shaft" {
		return nil
	}
	tractor := a.Drive == "tractor-shaft"
	return at(whenElse(tractor, "Tractor", "Engine"), moverOf(a, plant),
		Item{ID: "S11", State: Stopped, Severity: Stop, Source: practice,
			Prompt: whenElse(tractor, "Tractor has no leak, its exhaust is shielded, the shaft shield turns free", "Engine has no leak, its exhaust is shielded"),
			How:    "Look under and round it before the first start. No dust or bark on anything that gets hot."},
		Item{ID: "S11-kill", State: Running, Severity: Stop, Source: practice,
			Prompt: whenElse(tractor, "Stop control shuts the tractor down", "Stop control shuts the engine down"),
			How:    "Start it with the saw's drive out if it has a clutch, everybody clear, and stop it once from the stand."})
}

// moverOf is the engine or tractor, or the saw where the plant has neither.
func moverOf(a SetUp, plant procedures.Plant) procedures.EquipmentID {
	id := procedures.EquipmentID(whenElse(a.Drive == "tractor-shaft", "tractor", "engine"))
	if _, own := plant.Find(id); !own {
		id = "head-saw"
	}
	return id
}

func drivenParts(a SetUp) string {
	switch a.Drive {
	case "engine":
		return "engine, flywheel, shafts and belts"
	case "tractor-shaft":
		return "tractor shaft, its joints, shafts and belts"
	}
	return "motor, shafts and belts"
}

// CrackLimit is the length of crack, in inches, at which a saw of that diameter
// is out of use: WAC 296-78-610(3). With no diameter it is the strictest.
func CrackLimit(diameter plain.Metres) float64 {
	const hair = 1e-6 // metres; a 48 in saw typed in metric is still a 48 in saw
	if !(diameter > 0) {
		return 0.5
	}
	for _, row := range []struct {
		upTo  plain.Metres
		crack float64
	}{{12, 0.5}, {24, 1}, {36, 1.5}, {48, 2}, {60, 2.5}} {
		if diameter <= row.upTo*plain.Inch+hair {
			return row.crack
		}
	}
	return 3
}
