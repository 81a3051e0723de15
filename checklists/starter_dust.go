package checklists

import "stillsaw/procedures"

// dustItems are X1 to X6. Without a collector only the housekeeping ones are
// left, asked of the site: smoulder in the sawdust, and dust lying about.
func dustItems(a SetUp, plant procedures.Plant) []Item {
	smoke := Item{ID: "X1", State: Stopped, Severity: Stop, AlwaysPhoto: true, Source: practice,
		Prompt: "No smell of smoke, nothing warm in bin, bag or ducts from the last shift",
		How:    "Smell, look, hold the back of a hand near the bin. If it is warm or smells: do not open it, follow the fire plan."}
	layer := Item{ID: "X3", State: Stopped, Severity: Stop, Kind: Number, Source: "NFPA 664 (from memory)",
		Limits: Limits{Unit: "in", High: bound(1.0 / 8), Most: 24},
		Prompt: "Deepest dry dust on ledges, motors and panels",
		How:    "Measure in five places with a gauge, enter the deepest. From 1/16 in plan the cleaning. Vacuum or sweep; never blow it down."}
	if _, fitted := plant.Find("dust-collection"); !fitted {
		smoke.Prompt = "No smell of smoke, nothing warm in the sawdust pile from the last shift"
		smoke.How = "Smell, look, hold the back of a hand near the pile. If it is warm or smells: keep people back, follow the fire plan."
		return at("Dust and fire", "site", smoke, layer)
	}
	items := []Item{
		smoke,
		{ID: "X2", State: Stopped, Severity: Mend, Kind: Number, Source: practice,
			Limits: Limits{Unit: "%", High: bound(75), StopAt: bound(100), Most: 100},
			Prompt: whenElse(a.Collector == "cyclone", "How full the bin is", "How full the fullest bag or bin is"),
			How:    "Look from outside or through the sight glass. Three quarters or less; a full one stops the saw."},
		layer,
		{ID: "X4", State: Stopped, Severity: Mend, Source: "29 CFR 1910.265(c)(20)(iii)",
			Prompt: "Hood, chute and duct are whole, doors shut, gates as they should be",
			How:    "Follow the duct from the saw to the collector."},
		{ID: "X5", State: Running, Severity: Mend, Source: "29 CFR 1910.265(c)(20)",
			Prompt: "Fan runs without rub or rattle",
			How:    "Listen from the walkway, the fan at full speed."},
		{ID: "X5-suction", State: Running, Severity: Stop, Source: "29 CFR 1910.265(c)(20)(iii)",
			Prompt: "Suction at the dust hood",
			How:    "Saw still and latched off. A strip of tissue on a stick is drawn in at the hood; no hand past the guard."},
	}
	if a.Collector == "bag-house" {
		items = append(items, Item{ID: "X6", State: Running, Severity: Mend, Kind: Number, Source: practice,
			Limits: Limits{Unit: "in w.g.", Low: bound(1), High: bound(6), Most: 60, SiteSet: true},
			Prompt: "Pressure across the filter",
			How:    "Read the gauge with the fan at full speed. The low and high marks are those of the collector's maker."})
	}
	return at("Dust collection", "dust-collection", items...)
}
