package checklists

// areaItems are A1 to A5, asked of the site as a whole.
func areaItems(a SetUp) []Item {
	return at("Area and people", "site",
		Item{ID: "A1", State: Stopped, Severity: Stop, Source: "29 CFR 1910.22(a); 29 CFR 1910.265(c)(4) (from memory)",
			Prompt: "Footing is sound and clear at every place of work",
			How: "Stand at each: sawyer's stand, off-bearer, hook-up. No ice, chips or slabs underfoot." +
				whenElse(a.Portable, " The mill stands level and blocked on firm ground.", "")},
		Item{ID: "A2", State: Stopped, Severity: Mend, Source: "29 CFR 1910.22(a); 29 CFR 1910.265(c)(20)",
			Prompt: "Walkways and ways out are open, waste of the last shift is gone",
			How:    "Walk each of them to its end."},
		Item{ID: "A3", State: Stopped, Severity: Mend, Source: "29 CFR 1910.265(c)(9) (from memory)",
			Prompt: "Light enough at the saw, at hook-up and at off-bearing",
			How:    "A pencil line on a board can be seen at each place."},
		Item{ID: "A4", State: Stopped, Severity: Stop, Kind: Text, Source: "29 CFR 1910.132 to .138; 29 CFR 1910.95 (from memory)",
			Prompt: "Who is working; eyes, ears, head and feet covered, nothing loose, nobody here who should not be",
			How:    "Look at each person, enter the names."},
		Item{ID: "A5", State: Stopped, Severity: Stop, Kind: Text, Source: "29 CFR 1910.157; 29 CFR 1910.151(b) (from memory)",
			Prompt: "Name of today's first-aider; extinguishers in place with pin and gauge right, first-aid kit full",
			How:    "Go to each extinguisher and to the kit. Without a first-aider here it is a defect."})
}

// stopItems are E1 to E4: stops, warning and isolators.
func stopItems(a SetUp) []Item {
	return at("Stops and warning", "site",
		Item{ID: "E1", State: Running, Severity: Stop, Source: "WAC 296-78-56511(5) (Washington; good practice elsewhere)",
			Prompt: whenElse(a.Feed == "hand", "Stop at the stand drops the saw", "Stop at the stand drops saw and carriage"),
			How:    "Warning given, everybody clear. Start, press the stop, see both run down. A stop is not an isolator."},
		Item{ID: "E1-others", State: Running, Severity: Stop, Source: "WAC 296-78-56511(5) (Washington; good practice elsewhere)",
			Prompt: "Each other stop works",
			How:    "One after the other, from outside the barrier: start, press, see it run down."},
		Item{ID: "E2", State: Running, Severity: Stop, Source: "common practice, no source; European machinery rules (from memory)",
			Prompt: "Setting a stop back starts nothing",
			How:    "Set each stop back and wait ten seconds, everybody still clear."},
		Item{ID: "E3", State: Stopped, Severity: Stop,
			Source: "WAC 296-78-71501(6); California Code of Regulations, title 8, 6351(c), a band mill rule (good practice elsewhere)",
			Prompt: "Warning is heard at every place of work, and the all-clear is answered",
			How:    "Sound it with somebody at each place; each answers."},
		Item{ID: "E4", State: Stopped, Severity: Stop, Source: "29 CFR 1910.147; PUWER 1998 regulation 19 (from memory)",
			Prompt: "Isolators can be reached, are labelled, and take a lock; the lock board is full",
			How: "Go to each isolator. A lock missing from the board is on a machine: find out which and whose." +
				whenElse(a.IsolatorCutsPower, " One isolator of the saw also cuts the power of the computer that keeps this record: use the printed sheets while it is off.", "")})
}
