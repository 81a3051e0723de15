package checklists

// sixtyDayItems are B1 to B5. Power transmission is looked at with everything
// locked out: hands go behind the guards.
func sixtyDayItems(a SetUp) []Item {
	items := at("Drives", "head-saw",
		Item{ID: "B1", State: LockedOut, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.219(p)(1)",
			Prompt: "Belts, pulleys, shafts, chains and couplings are sound",
			How:    "Each by itself: no crack, fray, worn groove, bent or loose part."},
		Item{ID: "B2", State: LockedOut, Severity: Stop, Source: "29 CFR 1910.219(p)(4)",
			Prompt: "Hangers, bearing bolts, set screws and keyways are tight and in line",
			How:    "Spanner on each bolt and screw; no key standing out, no bearing warm from the last run."},
		Item{ID: "B3", State: LockedOut, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.212(a)(1); 29 CFR 1910.219 (from memory)",
			Prompt: "Guards: every fixing tight, openings small, no rust through",
			How:    "Shake each, look at its inside, put every fixing back."})
	items = append(items, at("Carriage", "carriage",
		Item{ID: "B4", State: LockedOut, Severity: Mend, Kind: Number, Source: practice,
			Limits: Limits{Unit: "in", Low: bound(1.0 / 8), Most: 12, SiteSet: true},
			Prompt: "Feed works: least lining left on friction faces, clutch and brake",
			How: whenElse(a.Feed == "hand" || a.Feed == "hydraulic", "This feed may have a brake only: measure that. ", "") +
				"Measure the thinnest place of each and enter the least. The maker's figure goes before this one."})...)
	if a.Drive == "tractor-shaft" {
		items = append(items, at("Tractor", "tractor",
			Item{ID: "B5", State: LockedOut, Severity: Stop, DefectPhoto: true, Source: practice,
				Prompt: "Shield of the tractor shaft turns free, its chains are hooked, its bearings sound",
				How:    "Shaft off the tractor. Turn the shield by hand on the shaft; no crack, no missing cone."})...)
	}
	return items
}

// monthlyItems are M1 to M10.
func monthlyItems(a SetUp) []Item {
	items := at("Hoist and rigging", "hoist",
		Item{ID: "M1-which", State: Stopped, Severity: Stop, Kind: Text, Source: "29 CFR 1910.179(j)(2)",
			Prompt: "Identifier of the hook looked at",
			How:    "The serial number or mark on it. A record without it names no hook."},
		Item{ID: "M1", State: Stopped, Severity: Stop, Kind: Number, DefectPhoto: true,
			Source: "29 CFR 1910.179(j)(2)(iii) and (l)(3)(iii)(a)",
			Limits: Limits{Unit: "%", High: bound(15), Most: 200},
			Prompt: "Hook: how much wider its throat is than new",
			How:    "Hook empty and within reach. Measure the throat at the punch marks, against the size when new. A crack, or a twist of more than 10°, is a defect at any width."},
		Item{ID: "M2-which", State: Stopped, Severity: Stop, Kind: Text, Source: "29 CFR 1910.179(j)(2)",
			Prompt: "Identifier of the load chain looked at",
			How:    "The hoist's serial number where the chain has none of its own."},
		Item{ID: "M2", State: Stopped, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.179(j)(2)",
			Prompt: "Load chain and both its ends are sound",
			How:    "Link by link over the whole length and at both fastenings, no load on it: no nick, wear, twist or rust."})
	items = append(items, at("Area and people", "site",
		Item{ID: "M3", State: Stopped, Severity: Mend, Source: "29 CFR 1910.157(e)(2)",
			Prompt: "Every extinguisher: in its place, full, pin and seal in, no damage",
			How:    "Go to each, lift it, read its gauge."},
		Item{ID: "M4", State: Stopped, Severity: Mend, Source: "29 CFR 1910.151(b) (from memory)",
			Prompt: "First-aid kit is full and in date",
			How:    "Against the list in its lid, tourniquet or pressure dressing included."},
		Item{ID: "M5", State: Stopped, Severity: Mend, Kind: Number, Source: "29 CFR 1910.147(c)(5)",
			Limits: Limits{Unit: "locks", High: bound(0), Most: 500},
			Prompt: "Locks, hasps and tags missing, worn or not marked",
			How:    "Count them against the board. Each lock opens with one key, its owner's mark can be read, colours are as the mill set them, tags are strong and legible."},
		Item{ID: "M6", State: Stopped, Severity: Mend, Source: "29 CFR 1910.265(e)(1)(v)",
			Prompt: "Signs and lines on the floor can be read",
			How:    "Walk in by each way a stranger could."})...)
	items = append(items, at("Head saw", "head-saw",
		Item{ID: "M7", State: LockedOut, Severity: Stop, Source: "29 CFR 1910.212(b) (from memory)",
			Prompt: "Bolts of husk, track" + whenElse(a.Portable, ", frame and jib", " and jib") + " are tight",
			How:    "Spanner on each; look for rust trails and fresh cracks round them."})...)
	return append(items, at("Area and people", "site",
		Item{ID: "M8", State: Stopped, Severity: Mend, Source: "29 CFR 1910.303 (from memory)",
			Prompt: "Electrical boxes shut, cords and their strain reliefs sound, 36 in free before the panel",
			How:    "Look from outside; only a qualified person opens a box."},
		Item{ID: "M9", State: Stopped, Severity: Mend, Kind: Text, Source: practice,
			Prompt: "One lockout watched: which, by whom, what was seen",
			How:    "Any procedure, watched by somebody else from shutdown to back in service. It feeds the yearly inspection and doesn't stand in for it."},
		Item{ID: "M10", State: Stopped, Severity: Mend, Kind: Text, Source: practice,
			Prompt: "Supervisor went through open defects to mend, items not checked and defects that come again: what follows",
			How:    "Open the defects and the record of the month beside it."})...)
}
