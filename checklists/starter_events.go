package checklists

import "slices"

// What is checked again after an event. After a jam, a blade change or a power
// loss it is C6, the saw, E1 and E3; the rest is picked from the other starters
// for what the event may have shaken, and a few items of its own.

func bladeChangeItems(all []Item) []Item {
	return slices.Concat(
		pick(all, "S1", "S2", "S3", "S4", "S5", "S6", "S7", "W6", "S8", "S9", "C6", "E3", "E1", "S12", "W5"),
		at("Head saw and guards", "head-saw", Item{ID: "F1", State: LockedOut, Severity: Stop,
			Source: "WAC 296-78-610 (Washington; good practice elsewhere)",
			Prompt: "Crack check done at this filing or setting, and entered for this saw",
			How:    "Each time teeth are filed or set. For a blade just fitted: look at its card for the last one."}))
}

func jamItems(all []Item) []Item {
	return slices.Concat(
		at("Head saw and guards", "head-saw", Item{ID: "J1", State: LockedOut, Severity: Stop, Source: "29 CFR 1910.147(e)(1)",
			Prompt: "Wedges, bars and loose wood are out; everybody's tools are counted",
			How:    "Still under lock. The wood was eased from the side, and lies free."}),
		pick(all, "S2", "S3", "S4", "S5", "S6", "S7", "K1", "K2", "K5", "C5", "C1", "C6", "S8", "S10", "E3", "E1", "C8", "S12"))
}

// repairItems stand at the mill as a whole, so that the list is for whichever
// machine was repaired, and hold that one.
func repairItems(all []Item) []Item {
	return slices.Concat(
		at("What was repaired", "site",
			Item{ID: "R1", State: Stopped, Severity: Stop, Kind: Text, Source: practice,
				Prompt: "What was repaired or changed, by whom, with which parts",
				How:    "Parts as the maker says, or who said they are as good."},
			Item{ID: "R2", State: Stopped, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.212(a)(1); 29 CFR 1910.219 (from memory)",
				Prompt: "Every guard that was off is back on, with all its fixings",
				How:    "Before anything is started."},
			Item{ID: "R3", State: Stopped, Severity: Stop, Source: "29 CFR 1910.147(e)(1)",
				Prompt: "Tools and parts are away, and the machine is whole",
				How:    "Count them. Then everybody stands clear."},
			Item{ID: "R4", State: Stopped, Severity: Stop, Kind: Text, Source: "29 CFR 1910.265(c)(24)(iii); 29 CFR 1910.184(e)(4) (from memory)",
				Prompt: "Repaired lifting gear: who, qualified for it, passed it, and where its proof test is kept",
				How:    "No lifting gear repaired: enter none. Chain and hooks are not welded in the mill."},
			Item{ID: "R5", State: Running, Severity: Stop, Source: practice,
				Prompt: "The repaired machine runs true, empty, with no new shake, noise or smell",
				How:    "Warning given, everybody clear, from the stand, one minute."}),
		pick(all, "E3", "E1", "E2"))
}

func moveItems(a SetUp, all []Item) []Item {
	own := at("The place", "site", Item{ID: "V1", State: Stopped, Severity: Stop, DefectPhoto: true, Source: practice,
		Prompt: whenElse(a.Portable, "Mill stands level and blocked on firm ground, clear of wires and slopes", "Machine stands level and anchored where it was moved to"),
		How:    "Level on the frame both ways; nothing sinks or rocks when pushed. Look up for wires."})
	return slices.Concat(own, pick(all, "W7", "W6", "M7", "C1", "C2", "C3", "C4", "C5", "C6", "C7", "K3", "K4", "S6", "S7", "S8", "S9", "S10", "S11",
		"H1", "H2", "H3", "H5", "H9", "X4", "A1", "A2", "A3", "M8", "Y13", "Y15", "E3", "E4", "E1", "E2", "H7", "H8", "C8", "S12", "W5", "X5"))
}

func shockItems(all []Item) []Item {
	return slices.Concat(
		at("Hoist and rigging", "hoist", Item{ID: "L1", State: Stopped, Severity: Stop, Kind: Somebody, Qualified: ForLifting, Source: "ASME B30.9 (from memory)",
			Prompt: "Who is qualified for lifting gear and inspected every part from the beam to the hooks",
			How:    "Nobody lifts before. Every part that hung there."}),
		pick(all, "M1", "M2", "H1", "H2", "H3", "W1", "W2", "H4", "H5", "Y5", "H6", "H9", "H7", "H8"))
}

func powerLossItems(a SetUp, all []Item) []Item {
	own := at("After the loss", "site",
		Item{ID: "P1", State: Stopped, Severity: Stop, Source: "29 CFR 1910.213(b)(3)",
			Prompt: "Nothing started by itself when the supply came back",
			How:    "Ask who was there. Every control stands at off before the main switch is closed."},
		Item{ID: "P2", State: Stopped, Severity: Stop, Source: practice,
			Prompt: "No load was left hanging, and no cant half sawn is on the carriage",
			How:    "A load that hung is landed with the brake release as the maker says; nobody goes under it. A saw stuck in its cut is a jam."})
	if a.Dogs != "hand" {
		own = append(own, at("Dogs and knees", "dogs-and-knees", Item{ID: "P3", State: Stopped, Severity: Stop,
			Source: "MI R 408.15234(2) (Michigan; good practice elsewhere)",
			Prompt: "Dogs held until the saw stood still",
			How:    "Ask the sawyer, and look at the cant."})...)
	}
	return slices.Concat(own, pick(all, "S2", "S3", "S4", "S6", "S7", "C6", "S8", "E3", "E1", "E2", "H8", "X5", "S12"))
}

func idleItems(all []Item) []Item {
	return slices.Concat(
		at("Hoist and rigging", "hoist", Item{ID: "I1", State: Stopped, Severity: Stop, Kind: Text, Source: "29 CFR 1910.179(j)(4) (from memory)",
			Prompt: "How long the hoist stood idle",
			How:    "From one month to six: the items of this list before the first lift. Over six months: a full inspection by a qualified person too; until then it is a defect."}),
		pick(all, "B1", "B2", "B3", "B4", "B5", "M1", "M2", "W1", "W2", "M3", "M4", "M7", "M8", "W10", "W9", "W7", "X1", "X3", "W8", "C1", "C5", "C6",
			"S2", "S3", "S4", "S5", "S7", "S8", "S10", "S11", "H5", "H6", "H9", "A1", "E4", "E3", "E1", "E2", "H7", "H8", "C8", "S12", "W3", "W4", "W5", "X5"))
}
