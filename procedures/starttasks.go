package procedures

import "slices"

// StarterTasks returns the jobs a mill with these answers has, for a supervisor
// to read and keep: those that need a lockout with the starter procedure that
// controls them, and those that are production on the condition they name. What
// is production counts as servicing until a supervisor keeps it with the own
// name, [Task.Keep]. Jobs at equipment the plant doesn't have are left out.
//
// Which job needs what follows 29 CFR 1910.147(b) "servicing and/or maintenance"
// and "setting up"; the list of jobs itself is common practice, no source.
func StarterTasks(plant Plant, a Answers) []Task {
	written := map[ProcedureID]Procedure{}
	for _, p := range StarterProcedures(plant, a) {
		written[p.ID] = p
	}
	tasks := slices.Concat(sawTasks(), carriageTasks(), besideTasks(), productionTasks())
	return slices.DeleteFunc(tasks, func(t Task) bool {
		p, known := written[t.Procedure]
		missing := slices.ContainsFunc(t.Equipment, func(id EquipmentID) bool { _, found := plant.Find(id); return !found })
		return missing || t.Kind == Servicing && (!known || !covers(p, t.Equipment))
	})
}

// locked is a task done under that procedure.
func locked(id TaskID, title string, by ProcedureID, note string, at ...EquipmentID) Task {
	return Task{ID: id, Title: title, Equipment: at, Kind: Servicing, Procedure: by, Note: note}
}

func sawTasks() []Task {
	return []Task{
		locked("change-teeth", "Change inserted teeth or shanks", "head-saw",
			"Wait until the saw stands still and pin it between turns. Gloves only near a pinned saw. Count old and new teeth. Is the dust hood opened as well? Lock out the dust collection too.", "head-saw"),
		locked("change-blade", "Change, fit or take off the saw blade", "head-saw",
			"Carriage tied at the far end. Blade held by its lifting eye. Look at collars and pins. Enter speed and serial number etched on the new blade.", "head-saw"),
		locked("file-saw", "File, set or swage the saw on its mandrel", "head-saw", "Look for cracks every time and enter what was seen.", "head-saw"),
		locked("set-guides", "Set guides or splitter with tools or inside the guard", "head-saw",
			"Guides moved by hand from outside the shield may be judged minor servicing.", "head-saw"),
		locked("set-lead", "Set the lead of the saw or line up the track", "head-rig", "People off the track before any trial move.", "head-saw", "carriage", "dogs-and-knees"),
		locked("clear-jam-saw", "Clear a jam or a pinched cut at the saw", "head-rig",
			"Stop the saw first; don't run the carriage back with the saw pinched. Wedge the cut, ease the strain. Slabs may spring.", "head-saw", "carriage", "dogs-and-knees"),
		locked("saw-belt", "Change or tighten the saw's belt", "head-saw", "Slack the tensioner first.", "head-saw"),
		locked("saw-bearings", "Work on bearings, mandrel, collars or husk", "head-saw", "Blade off first.", "head-saw"),
		locked("look-at-blade", "Look the blade over by touching or turning it", "head-saw", "Also when it is only a look.", "head-saw"),
		locked("engine-work", "Work on the engine", "engine", "Battery, fuel, and the drive to the saw apart.", "engine"),
		locked("tractor-work", "Work on the tractor or its shaft", "tractor", "Battery, fuel, and the shaft off and kept.", "tractor"),
	}
}

func carriageTasks() []Task {
	return []Task{
		locked("dog-repair", "Mend dogs or change dog points", "dogs-and-knees", "Cant off, arms blocked.", "dogs-and-knees"),
		locked("knee-repair", "Mend knees or setworks", "dogs-and-knees", "Keep springs with their keepers.", "dogs-and-knees"),
		locked("carriage-rope", "Work on carriage wheels, axles, rope or chain", "carriage",
			"Rope slack. Locks off to try or to wind it: everybody and all tools out first, and all of the isolation again after.", "carriage"),
		locked("clean-track", "Clean the track or mend sweeps in the carriage's travel", "carriage", "A tie-down is only a block: the drive is locked as well.", "carriage"),
		locked("grease-head-rig", "Grease, oil or wash the head rig", "head-rig", "Unless done from outside the guard with no reaching in.", "head-saw", "carriage", "dogs-and-knees"),
		locked("guard-off", "Anything with a guard or shield of the head rig off", "head-rig", "The guard is back before release.", "head-saw", "carriage", "dogs-and-knees"),
		locked("electrical-head-rig", "Electrical work at the head rig", "head-rig", "Only by a qualified person, with a meter; 29 CFR 1910 Subpart S besides.", "head-saw", "carriage", "dogs-and-knees"),
		locked("splinter", "Pick a splinter or bark off the headblocks", "head-rig", "Part of the body is in the carriage's travel.", "carriage"),
	}
}

func besideTasks() []Task {
	const qualified = "Only by a qualified person, with a meter; 29 CFR 1910 Subpart S besides."
	return []Task{
		locked("hoist-repair", "Mend hoist chain, hook, brake, trolley or wiring", "hoist", "Hook empty, no load; a sound platform to stand on.", "hoist"),
		locked("yoke-repair", "Mend yoke, hooks or slings", "hoist", "Taken out of use with a tag. Never welded at home; back in use on a qualified person's word.", "hoist"),
		locked("grease-hoist", "Grease or clean the hoist", "hoist", "Hook empty, no load.", "hoist"),
		locked("electrical-hoist", "Electrical work at the hoist", "hoist", qualified, "hoist"),
		locked("clean-ducts", "Clean ducts or hoods, mend blast gates, change filters", "dust-collection", "Dust in bags burns; never blow it down. Look for smoulder first.", "dust-collection"),
		locked("fan-wheel", "Work on the fan wheel", "dust-collection", "Block the wheel.", "dust-collection"),
		locked("fan-belt", "Change or tighten the fan's belt", "dust-collection", "Slack the tensioner first.", "dust-collection"),
		locked("enter-bin", "Go into bin, big duct or fan housing", "dust-collection", "The rules for confined spaces apply as well, 29 CFR 1910.146.", "dust-collection"),
		locked("grease-dust", "Grease or clean the dust collection", "dust-collection", "Unless done from outside the guard with no reaching in.", "dust-collection"),
		locked("electrical-dust", "Electrical work at the dust collection", "dust-collection", qualified, "dust-collection"),
		locked("clear-jam-waste", "Clear a jam on the waste conveyor or sawdust chain", "off-bearing", "Ease the strain before anybody reaches in.", "off-bearing"),
		locked("grease-waste", "Grease or clean the off-bearing and waste conveyor", "off-bearing", "Unless done from outside the guard with no reaching in.", "off-bearing"),
		locked("electrical-waste", "Electrical work at the off-bearing and waste conveyor", "off-bearing", qualified, "off-bearing"),
	}
}

// productionTasks are production only as their measure says.
func productionTasks() []Task {
	production := func(id TaskID, title, measure string, at ...EquipmentID) Task {
		return Task{ID: id, Title: title, Equipment: at, Kind: Production, GuardOff: No, BodyIn: No, Measure: measure}
	}
	return []Task{
		production("lift-cant", "Lift a cant to the deck or the headblocks", "GO from the weight and rigging check; nobody under the load or between it and something fixed; carriage latched.", "hoist", "carriage"),
		production("dog-cant", "Place, dog and undog a cant", "Carriage stopped, the sawyer's latch on, hands off the saw side.", "dogs-and-knees"),
		production("set-knees", "Advance the knees and set", "From the stand.", "dogs-and-knees"),
		production("saw", "Saw and run back", "Nobody in the carriage's travel.", "head-saw", "carriage"),
		production("turn-cant", "Turn the cant with a cant hook", "Carriage stopped and latched.", "carriage", "dogs-and-knees"),
		production("off-bear", "Take boards and slabs away by hand", "At least 42 in (1.07 m) from the blade, out of its line, splitter in place.", "head-saw"),
		production("sweep-outside", "Sweep the floor outside the barrier", "Outside the barrier; the saw may run.", "head-saw", "carriage"),
		production("change-size", "Change the board size or the set", "From the stand.", "dogs-and-knees"),
		production("empty-bag", "Empty a bag or bin outside the fan", "Fan off if anything is opened; no hand in the housing.", "dust-collection"),
		production("try-stops", "Try hoist limit, stop buttons and horn", "Everybody clear.", "hoist", "head-saw"),
	}
}
