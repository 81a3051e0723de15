package procedures

import "fmt"

// dogsPart keeps dogs and knees from moving and the wood from coming down.
func dogsPart(a Answers) part {
	each := "each headblock"
	if a.Headblocks > 1 {
		each = fmt.Sprintf("each of the %d headblocks", a.Headblocks)
	}
	return dogHold(a, each).and(setPart(a)).and(part{
		energies: []Energy{
			{ID: "dogs-wood", Kind: Strain, Source: "cant bent against the knees, or leaning on them", Stored: true,
				Hazard: "Springs or topples when the dogs let go.", Relief: "Take the cant off before any pressure is let out; ease dogs one at a time from the side.", Zero: "Headblocks empty, or the wood lies free and chocked."},
			{ID: "dogs-arm", Kind: Gravity, Source: "upper dog arms", Stored: true,
				Hazard: "Fall on hands, point first.", Relief: "Lower to rest or block.", Zero: "Each arm rests on its block."},
			{ID: "knees-spring", Kind: Spring, Source: "knee return spring and setworks pawl", Stored: true,
				Hazard: "The knee snaps back on fingers.", Relief: "Engage and pin the pawl, block the knees.", Zero: "Knees pushed by a bar don't move."},
		},
		isolators: []isolator{{
			Device:  Device{ID: "dog-blocks", Kind: Block, Label: "Dog and knee blocks", Place: "at " + each, Cuts: []EnergyID{"dogs-wood", "dogs-arm", "knees-spring"}},
			restore: "No cant on the headblocks. Take the blocks out at " + each + ", and hold arm and knee with a bar while theirs comes out.",
		}},
		relieve: []Step{
			{ID: "knees-blocked", Energy: "knees-spring", Device: "dog-blocks", Proof: BlockIn, Text: "Pin the setworks pawl and block the knees at " + each + "."},
			{ID: "arms-blocked", Energy: "dogs-arm", Device: "dog-blocks", Proof: BlockIn, Text: "Lower each upper dog onto its block or pin its arm; cover the points."},
		},
		verify: []Step{
			{ID: "headblocks-empty", Energy: "dogs-wood", Text: "Headblocks empty, or the wood lies free and chocked: nudge it with a stick."},
			{ID: "arms-rest", Energy: "dogs-arm", Text: "Each upper dog rests on its block when tapped."},
			{ID: "knees-held", Energy: "knees-spring", Text: "Push the knees with a bar both ways: they don't move."},
		},
		guards: []Step{{ID: "dogs-points-clear", Text: "Every dog's point sound and clear of the saw line; nothing left on the headblocks."}},
	})
}

// dogHold brings the dogs themselves to rest, the wood off first: letting the
// pressure out with a cant in place drops it.
func dogHold(a Answers, each string) part {
	off := Step{ID: "wood-off", Energy: "dogs-wood", Device: "dog-blocks", Proof: BlockIn,
		Text: "No cant on the headblocks. One that can't come off: chock it so that it stands without the dogs, then ease them one at a time from the side."}
	if a.Dogs == "hand" {
		return part{
			energies: []Energy{{ID: "dogs-spring", Kind: Spring, Source: "dog levers and their springs", Stored: true,
				Hazard: "The lever kicks, the point strikes a hand.", Relief: "Swing to rest and pin.", Zero: "Lever pinned and still."}},
			relieve: []Step{off, {ID: "dogs-pinned", Energy: "dogs-spring", Proof: BlockIn, Text: "Swing every dog lever to rest and pin it at " + each + "."}},
			verify:  []Step{{ID: "dogs-pinned-seen", Energy: "dogs-spring", Text: "Pull at every dog lever: pinned and still."}},
			restore: []Step{{ID: "dogs-unpinned", Text: "Take the pins out of the dog levers."}},
		}
	}
	return part{
		energies: []Energy{{ID: "dogs-air", Kind: Pneumatic, Source: "dog cylinders and their receiver; oil in some mills", Stored: true,
			Hazard: "A dog closes on a hand; letting it out drops the cant.", Relief: "After the cant is off: valve shut and vented, dog lever worked.", Zero: "The gauge reads zero and each dog moves freely by hand."}},
		isolators: []isolator{{
			Device:  Device{ID: "dogs-valve", Kind: Valve, Lockable: true, Label: "Dog pressure valve", Place: "in the feed to the carriage", Cuts: []EnergyID{"dogs-air"}},
			isolate: "Cant off or chocked? Then shut the dog pressure valve so that it vents.", restore: "Open the dog pressure valve slowly, nobody at the dogs.",
		}},
		relieve: []Step{off, {ID: "dogs-bled", Energy: "dogs-air", Proof: GaugeZero, Text: "Work the dog lever both ways until nothing moves. A check valve may hold one side back."}},
		verify:  []Step{{ID: "dogs-gauge", Energy: "dogs-air", Proof: GaugeZero, Text: "Gauge at zero, and the dog lever moves no dog. Lever back to off."}},
		off:     []Step{{ID: "dog-lever-off", Text: "Dog lever at off."}},
	}
}

// setPart keeps a powered setworks from moving the knees.
func setPart(a Answers) part {
	if a.Setworks == "" || a.Setworks == "hand" {
		return part{}
	}
	return part{
		energies: []Energy{{ID: "set-electric", Kind: Electrical, Source: "setworks motor and its control", Stored: true,
			Hazard: "Moves the knees on hands; an automatic set is made again when power returns; a drive holds its charge.", Relief: "Wait the drive maker's time.", Zero: "The set was tried and no knee moved."}},
		isolators: []isolator{{Device: Device{ID: "set-disconnect", Kind: Disconnect, Lockable: true, Label: "Setworks disconnect", Place: "at the panel", Cuts: []EnergyID{"set-electric"}},
			isolate: "Pull the setworks disconnect to off.", restore: "Setworks disconnect on, nobody at the knees."}},
		relieve: []Step{{ID: "set-charge", Energy: "set-electric", Text: "Wait the time on the setworks drive's cover. Nobody opens it but a qualified person."}},
		verify:  []Step{{ID: "set-try", Energy: "set-electric", Proof: TryStart, Text: "Hands off the knees. Try the set both ways: no knee may move. Control back to off."}},
		off:     []Step{{ID: "set-control-off", Text: "Set control at off, no set waiting to be made."}},
	}
}
