package checklists

import (
	"slices"

	"stillsaw/procedures"
)

// weeklyItems are W1 to W12.
func weeklyItems(a SetUp, plant procedures.Plant) []Item {
	items := at("Hoist and rigging", "hoist",
		Item{ID: "W1-by", State: Stopped, Severity: Stop, Kind: Somebody, Qualified: ForLifting, Source: "29 CFR 1910.265(c)(24)(ix)",
			Prompt: "Who is qualified for lifting gear and looks at the chains now",
			How:    "The one who measures in the next item."},
		Item{ID: "W1", State: Stopped, Severity: Stop, Kind: Number, Qualified: ForLifting, DefectPhoto: true, Source: "29 CFR 1910.265(c)(24)(ix) and (iii)",
			Limits: Limits{Unit: "in", High: bound(0.25), HighOut: true, Most: 36, SiteSet: true},
			Prompt: "Load chain and chain slings: most that any 3 ft length has stretched",
			How:    "By somebody qualified for lifting gear. Full length of each, slack and clean. Measure 3 ft of links where it looks worst, and subtract what it was new. A third of one link's length takes the chain out of use: put that in as the limit."},
		Item{ID: "W2", State: Stopped, Severity: Stop, Kind: Number, DefectPhoto: true, Source: "29 CFR 1910.265(c)(24)(v)",
			Limits: Limits{Unit: "wires", High: bound(3), HighOut: true, Most: 500, SiteSet: true},
			Prompt: "Wire ropes: most broken wires in one lay, 0 if none or no rope",
			How:    "Out of use from 3 for a 6×6 rope, 6 for 6×19, 9 for 6×37, 8 for 8×19; the limit is the strictest until the rope's own is put in. Kinks or rust are a defect at any count. Never slide a hand along a rope."})
	items = append(items, at("Head saw", "head-saw",
		Item{ID: "W3", State: Running, Severity: Mend, Kind: Number, Source: "common practice, no source; New Zealand sawmill lockout sheet",
			Limits: Limits{Unit: "s", High: bound(60), Most: 3600, SiteSet: true},
			Prompt: "Coast time of the saw, from stop until it stands still",
			How:    "Everybody clear. Start, stop, and watch the painted mark from the stand. A fifth longer than it was is looked into: put the time measured when all was well, and a fifth, in as the limit."},
		Item{ID: "W5", State: Running, Severity: Stop, Kind: Number,
			Source: "34 Pa. Code 45.41 (Pennsylvania; good practice elsewhere); 29 CFR 1910.265(e)(2)(iii) (from memory)",
			Limits: Limits{Unit: "rpm", High: bound(rimSpindle(a.SawDiameter)), Most: 2 * fastestSpindle},
			Prompt: "Spindle speed by tachometer",
			How: "From outside the guard, saw alone and not cutting. It must not be over the speed etched on the saw either." +
				whenElse(a.SawDiameter > 0, " The limit is 10,000 ft/min at the rim of the largest saw in use.", " The limit is 10,000 ft/min at the rim of a 72 in saw until the saw's diameter is entered.")},
		Item{ID: "W5-rim", State: Stopped, Severity: Stop, Kind: Number,
			Source: "34 Pa. Code 45.41 (Pennsylvania; good practice elsewhere)",
			Limits: Limits{Unit: "ft/min", High: bound(10_000), Most: 100_000},
			Prompt: "Rim speed that follows from it",
			How:    "The saw's diameter in inches × 3.1416 ÷ 12 × the rpm measured last."},
		Item{ID: "W6", State: LockedOut, Severity: Mend, Kind: Number, Source: "Forest Products Laboratory note, about 1/8 in in 20 ft as a usual figure",
			Limits: Limits{Unit: "in", Low: bound(1.0 / 16), High: bound(3.0 / 16), Most: 6, SiteSet: true},
			Prompt: "Lead of the saw in 20 ft of track",
			How:    "String along the track, measured at the saw's front and back. The figure on the saw's own card goes before this one."})...)
	items = append(items, at("Carriage", "carriage",
		Item{ID: "W7", State: LockedOut, Severity: Mend, Kind: Number, Source: "university extension guide to small sawmills; the figure is common practice, no source",
			Limits: Limits{Unit: "in", High: bound(1.0 / 8), Most: 12, SiteSet: true},
			Prompt: "Track: most that it is out of level or gauge at a joint",
			How:    "Level across and along, tape between the rails, at each joint."})...)
	items = append(items, weeklyDust(plant)...)
	if a.Drive != "electric" && a.Drive != "" {
		items = append(items, at(whenElse(a.Drive == "tractor-shaft", "Tractor", "Engine"), moverOf(a, plant),
			Item{ID: "W11", State: LockedOut, Severity: Mend, Source: practice,
				Prompt: "Battery, oil and fuel lines are sound",
				How:    "Engine cold. No chafed or wet line, clamps tight, battery held down and its poles covered."})...)
	}
	return append(items, at("Area and people", "site",
		Item{ID: "W12", State: Stopped, Severity: Mend, Source: practice,
			Prompt: "Emergency light works, phone or radio reaches help, the card with the address is beside it",
			How:    "Switch the light to battery. Call somebody outside the mill."})...)
}

func weeklyDust(plant procedures.Plant) []Item {
	dust, waste := procedures.EquipmentID("dust-collection"), procedures.EquipmentID("off-bearing")
	if _, own := plant.Find(waste); !own {
		waste = "head-saw"
	}
	return slices.Concat(
		at("Dust collection", dust,
			Item{ID: "W4", State: Running, Severity: Mend, Kind: Number, Source: practice,
				Limits: Limits{Unit: "s", High: bound(120), Most: 3600, SiteSet: true},
				Prompt: "Coast time of the fan, from stop until it stands still",
				How:    "Stop it, and watch its mark from the walkway. A fifth longer than it was is looked into: put the time measured when all was well, and a fifth, in as the limit."},
			Item{ID: "W9", State: Stopped, Severity: Mend, Source: "OSHA advice on combustible dust",
				Prompt: "Ducts and branches are not loose, holed or plugged",
				How:    "Follow each by eye and tap it. A dull sound is dust."},
			Item{ID: "W9-belt", State: LockedOut, Severity: Mend, Source: "OSHA advice on combustible dust",
				Prompt: "Fan belt is tight and not glazed, its guard goes back on",
				How:    "Fan locked out, its wheel still and blocked."}),
		at("Dust and fire", "site",
			Item{ID: "W8", State: Stopped, Severity: Stop, Kind: Number, Source: "NFPA 664 (from memory)",
				Limits: Limits{Unit: "in", High: bound(1.0 / 8), Most: 24},
				Prompt: "Deepest dust overhead, on beams, lights and ducts",
				How:    "From a ladder, everything stopped. Vacuum it; never shake or blow it down."}),
		at("Pit and waste", waste,
			Item{ID: "W10", State: LockedOut, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.265(c)(20)(iii)",
				Prompt: "Sawdust pit, chain, conveyor nips and sprockets are clear and guarded",
				How:    "Drive and saw locked out. Look into the pit with a light; clear it with a tool, not a hand."}))
}
