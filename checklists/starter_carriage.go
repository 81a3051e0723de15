package checklists

import "fmt"

// carriageItems are C1 to C8. Duties from the federal sawmill rule; one barrier
// item for each way a person could walk into the travel, 29 CFR 1910.265(e)(1)(v).
func carriageItems(a SetUp) []Item {
	items := []Item{
		{ID: "C1", State: Stopped, Severity: Stop, Source: "29 CFR 1910.265(e)(1)(vii)",
			Prompt: "Rails are clear from end to end",
			How: "Look along both rails and past both ends. No bark, chips, slabs or tools." +
				whenElse(a.Portable, " The track stands level and firm on its supports.", "")},
		{ID: "C2", State: Stopped, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.265(e)(1)(i)",
			Prompt: "Bumper at the saw end is sound and tight",
			How:    "Shake it and push it with a foot. No pad or bolt missing, nothing cracked."},
		{ID: "C3", State: Stopped, Severity: Stop, DefectPhoto: true, Source: "29 CFR 1910.265(e)(1)(i)",
			Prompt: "Bumper at the far end is sound and tight",
			How:    "Shake it and push it with a foot. No pad or bolt missing, nothing cracked."},
		{ID: "C4", State: Stopped, Severity: Mend, Source: "29 CFR 1910.265(e)(1)(vii)",
			Prompt: "Sweeps touch both rails",
			How:    "Look at each wheel end, for both ways of travel."},
		{ID: "C5", State: LockedOut, Severity: Stop, DefectPhoto: true,
			Source: "29 CFR 1910.265(e)(1)(iii); 29 CFR 1910.219 (from memory)",
			Prompt: "Wheels, axles, " + carriageDrive(a) + " are sound and covered",
			How:    "Go round with a light. No cracked flange, loose axle or worn part, no cover missing." + carriageDriveHow(a)},
		{ID: "C6", State: Stopped, Severity: Stop, Source: "29 CFR 1910.265(e)(1)(iv)",
			Prompt: whenElse(a.Feed == "hand", "Latch or tie-down holds the carriage", "Feed lever goes back to off, and the latch or tie-down holds the carriage"),
			How: whenElse(a.Feed == "hand", "", "Move the lever with the drive off and let go: it returns and stays. ") +
				"Latch the carriage and push it both ways by hand. A latch is not a lock for reaching in."},
		{ID: "C8", State: Running, Severity: Stop, Source: "common practice, no source; US Army sawmill manual lesson (from memory)",
			Prompt: "Empty carriage runs true both ways, twice",
			How:    carriageRunHow(a)},
	}
	ways := repeats(a.EntryPoints)
	for way := 1; way <= ways; way++ {
		items = append(items, Item{ID: ItemID(fmt.Sprintf("C7-%d", way)), State: Stopped, Severity: Stop,
			AlwaysPhoto: true, Source: "29 CFR 1910.265(e)(1)(v)",
			Prompt: whenElse(a.EntryPoints > 0, fmt.Sprintf("Way in %d: barrier is up and the sign can be read", way), "Every way in: barrier is up and the sign can be read"),
			How:    "Walk there. The barrier covers the whole travel and past its end, with the headblocks fully back. Take the photo from where a person would walk in."})
	}
	return at("Carriage", "carriage", items...)
}

func carriageDrive(a SetUp) string {
	switch a.Feed {
	case "hydraulic":
		return "cylinder, hoses and fittings"
	case "hand":
		return "cranks and any rope or chain"
	}
	return "rope or chain and its sheaves"
}

func carriageDriveHow(a SetUp) string {
	switch a.Feed {
	case "hydraulic":
		return " No wet hose, chafed spot or loose fitting; look, never feel for a leak with a hand."
	case "hand":
		return ""
	case "own-motor":
		return " No frayed wire."
	}
	return " No frayed wire. The saw's spindle drives the feed: both are under your lock."
}

func carriageRunHow(a SetUp) string {
	switch a.Feed {
	case "own-motor", "hydraulic":
		return "Saw stopped, everybody out of the travel. From the stand run it end to end twice: no bind, clear of saw and splitter."
	case "hand":
		return "Saw stopped, everybody out of the travel. Push it end to end twice from the stand side: no bind, clear of saw and splitter."
	}
	return "The saw turns with the feed. Give the warning; everybody out of the travel and out of the line of the saw. From the stand run it end to end twice: no bind, clear of saw and splitter."
}
