package procedures

// sawPart is the head saw: its drive and what else it holds.
func sawPart(a Answers) part { return sawDrivePart(a).and(sawRestPart()) }

// sawDrivePart keeps the saw from turning. Every procedure of the head rig has
// it: the carriage passes the saw and whoever mends one stands beside the other.
func sawDrivePart(a Answers) part {
	p := sawPower(a)
	p.stop = []Step{
		{ID: "clear-carriage", Text: "Undog the cant and take it off the usual way. Run the empty carriage to its parking end, feed lever to off, latch it. A cant jammed in the cut stays where it is: don't run it back."},
		{ID: "stop-saw", Text: "Stop the saw with its ordinary control. Leave the dust fan on until the saw stands still."},
	}
	p = p.and(part{
		energies: []Energy{{
			ID: "saw-rotation", Kind: Rotation, Source: "saw, mandrel and pulley, coasting or turned by hand", Stored: true,
			Hazard: "Cuts long after the power is off and looks still when it isn't. Turned by hand it draws fingers into guide and splitter.",
			Relief: "Wait the coast time, see the mark still, then pin the saw.",
			Zero:   "The painted mark stood still for the whole look, and the pinned saw can't be moved.",
		}},
		isolators: []isolator{{
			Device:  Device{ID: "saw-pin", Kind: Block, Label: "Saw pin", Place: "in a gullet, against the husk", Cuts: a.turnedBySaw()},
			restore: "Take the pin out of the saw and hang it on its hook, before any power comes back.",
		}},
		relieve: []Step{
			{ID: "saw-wait", Energy: "saw-rotation", Proof: MarkStill, Wait: SawWaitUnmeasured,
				Text: "Stay out. Wait, then watch the painted mark on the saw for ten seconds. Sound, the look of the rim or touch prove nothing."},
			{ID: "saw-pin-in", Energy: "saw-rotation", Device: "saw-pin", Proof: BlockIn, Wait: SawWaitUnmeasured,
				Text: "Put the pin in. To turn the saw during the job: one person turns, all others clear, pin in again."},
		},
		verify: []Step{{ID: "saw-still", Energy: "saw-rotation", Proof: BlockIn, Text: "Push the pinned saw both ways with a stick: it can't be moved."}},
		off:    []Step{{ID: "saw-control-off", Text: "Saw control at off."}},
		guards: []Step{{ID: "saw-guards-back", Text: "Hood, lower guard, splitter, sawyer's shield and drive guards are back on and tight."}},
	})
	if a.mandrelFed() {
		p = p.and(part{
			energies: []Energy{{
				ID: "carriage-shaft", Kind: Shaft, Source: "feed works driven off the saw's mandrel",
				Hazard: "The carriage moves whenever the saw or its belt turns, even by hand.",
				Zero:   "With the saw pinned the feed lever moves nothing.",
			}},
			verify: []Step{{ID: "feed-dead", Energy: "carriage-shaft", Text: "With the saw pinned and nobody on the track, move the feed lever both ways and back to off: the carriage stays."}},
		})
	}
	return p
}

// turnedBySaw lists the energies that are gone when the saw can't turn.
func (a Answers) turnedBySaw() []EnergyID {
	if a.mandrelFed() {
		return []EnergyID{"saw-rotation", "carriage-shaft"}
	}
	return []EnergyID{"saw-rotation"}
}

// sawPower isolates what turns the saw. Heat at rim, guides and bearings comes
// from turning, so the same device keeps it away.
func sawPower(a Answers) part {
	cuts := append(a.turnedBySaw(), "saw-heat")
	switch a.Drive {
	case "engine":
		return part{
			isolators: []isolator{{
				Device:  Device{ID: "saw-drive-apart", Kind: PartRemoved, Label: "Saw belt or coupling", Place: "between engine and mandrel", Cuts: cuts},
				isolate: "Take the drive belt or coupling off so that the engine can't reach the saw. Clutch out is not enough.",
				restore: "Put belt or coupling back, and its guard.",
			}},
		}
	case "tractor-shaft":
		return part{
			energies: []Energy{{
				ID: "saw-shaft", Kind: Shaft, Source: "tractor power take-off shaft",
				Hazard: "Turns the saw whenever the tractor runs; winds in clothes and arms.",
				Zero:   "The shaft is off, locked to its hook, and in sight.",
			}},
			isolators: []isolator{{
				Device: Device{ID: "saw-shaft-off", Kind: PartRemoved, Lockable: true, Label: "Tractor shaft", Place: "off the tractor, chained to its hook",
					Cuts: append([]EnergyID{"saw-shaft"}, cuts...)},
				isolate: "Tractor stopped, key in your pocket: take the shaft off at the tractor's end and chain it to its hook. Lever and key alone isolate nothing.",
				restore: "Put the shaft back on the tractor, shield and chain too.",
			}},
			verify: []Step{{ID: "shaft-off-seen", Energy: "saw-shaft", Text: "Look at the tractor's end: no shaft on it, and your lock on the chain."}},
		}
	default:
		return part{
			energies: []Energy{{
				ID: "saw-electric", Kind: Electrical, Source: "saw motor and its starter",
				Hazard: "Shock; starts by itself when power returns, or from a second feed.",
				Zero:   "The start was tried and nothing moved.",
			}},
			isolators: []isolator{{
				Device: Device{ID: "saw-disconnect", Kind: Disconnect, Lockable: true, Label: "Saw disconnect", Place: "at the panel",
					Cuts: append([]EnergyID{"saw-electric"}, cuts...)},
				isolate: "Pull the saw disconnect to off, standing to the side of it.",
				restore: "Saw disconnect on, standing to the side of it.",
			}},
			verify: []Step{{ID: "saw-try", Energy: "saw-electric", Proof: TryStart,
				Text: "See that nobody is near. Press the saw's ordinary start: nothing may move. Control back to off. Wiring work needs a qualified person with a meter besides."}},
		}
	}
}

// sawRestPart is what the saw holds beside its turning.
func sawRestPart() part {
	return part{
		energies: []Energy{
			{ID: "saw-heat", Kind: Thermal, Source: "rim, guides, bearings", Stored: true,
				Hazard: "Burns; a hot bearing sets the sawdust pit alight.", Relief: "Let it cool.", Zero: "No heat to the back of a hand held near."},
			{ID: "saw-weight", Kind: Gravity, Source: "blade once its nut is loose, guard doors", Stored: true,
				Hazard: "Rolls and falls, cuts legs and hands.", Relief: "Prop the doors; hold the blade before the nut is loosened.", Zero: "Doors propped, blade tight or held."},
			{ID: "saw-belt", Kind: Spring, Source: "belt tensioner", Stored: true,
				Hazard: "Whips when a belt comes off under tension.", Relief: "Slack the tensioner first and hold it slack.", Zero: "Belt guarded, or loose in the hand."},
			{ID: "saw-wood", Kind: Strain, Source: "wood pinched at the saw", Stored: true,
				Hazard: "Springs, or shuts on the saw, when eased.", Relief: "Wedge the cut, ease from the side.", Zero: "Wood wedged and at rest, or none there."},
		},
		relieve: []Step{
			{ID: "saw-cool", Energy: "saw-heat", Text: "Let rim, guides and bearings cool, or keep off them. Look for smoulder in the pit."},
			{ID: "saw-props", Energy: "saw-weight", Proof: BlockIn, Text: "Guard doors propped. If the blade comes off: hold it with the lifting eye or two people before the nut is loosened."},
			{ID: "saw-slack", Energy: "saw-belt", Proof: BlockIn, Text: "Belt guard on and left on. If it comes off: slack the tensioner first and hold it slack."},
			{ID: "saw-wedge", Energy: "saw-wood", Proof: BlockIn, Text: "No wood at the saw. If some is pinched: wedge the cut open and ease it from the side."},
		},
		verify: []Step{
			{ID: "saw-cool-seen", Energy: "saw-heat", Text: "Back of the hand near guides and bearings: no heat. No smoke from the pit."},
			{ID: "saw-props-seen", Energy: "saw-weight", Text: "Doors stay propped when nudged; blade tight on its collar, or held."},
			{ID: "saw-slack-seen", Energy: "saw-belt", Text: "Belt behind its guard, or loose in the hand."},
			{ID: "saw-wood-seen", Energy: "saw-wood", Text: "No wood at the saw, or it lies at rest when nudged with a stick."},
		},
	}
}
