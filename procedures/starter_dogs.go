package procedures

import "fmt"

// dogsPart keeps dogs and knees from moving and the wood from coming down.
func dogsPart(a Answers) part {
	each := "each headblock"
	if a.Headblocks > 1 {
		each = fmt.Sprintf("each of the %d headblocks", a.Headblocks)
	}
	return dogHold(a, each).and(part{
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
			restore: "Take the blocks out at " + each + ".",
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
			isolate: "Cant off or chocked? Then shut the dog pressure valve so that it vents.", restore: "Open the dog pressure valve slowly, hands off the dogs.",
		}},
		relieve: []Step{off, {ID: "dogs-bled", Energy: "dogs-air", Proof: GaugeZero, Text: "Work the dog lever both ways until nothing moves. A check valve may hold one side back."}},
		verify:  []Step{{ID: "dogs-gauge", Energy: "dogs-air", Proof: GaugeZero, Text: "Gauge at zero, and the dog lever moves no dog. Lever back to off."}},
		off:     []Step{{ID: "dog-lever-off", Text: "Dog lever at off."}},
	}
}
