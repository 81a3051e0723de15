package procedures

// hoistPart is hoist, yoke and hooks: always without a load.
func hoistPart(a Answers) part {
	return hoistPower(a).and(part{
		energies: []Energy{
			{ID: "hoist-load", Kind: Gravity, Source: "hung cant, yoke, load block", Stored: true,
				Hazard: "Comes down, drifts, swings or tips off the hooks.", Relief: "Land the load, unhook, lower the yoke to rest. Nobody works with a load up.", Zero: "Hook empty, chain slack."},
			{ID: "hoist-brake", Kind: Spring, Source: "brake spring, hook latch", Stored: true,
				Hazard: "The brake taken apart lets go what hangs; its spring flies.", Relief: "Leave it together; taking it apart follows the maker's way, by a qualified person, with nothing on the hook.", Zero: "Brake housing shut, or the spring held by the maker's keeper."},
		},
		isolators: []isolator{{Device: Device{ID: "yoke-rest", Kind: Block, Label: "Yoke rest", Place: "under the parked trolley", Cuts: []EnergyID{"hoist-load"}}}},
		stop: []Step{
			{ID: "land-load", Proof: HookEmpty, Text: "Land the load, unhook it, lower yoke and block onto a rest until the chain is slack."},
			{ID: "stop-hoist", Text: "Let the hoist go, park the trolley clear of carriage and saw."},
		},
		relieve: []Step{
			{ID: "hook-empty", Energy: "hoist-load", Device: "yoke-rest", Proof: HookEmpty, Text: "Hook empty, yoke on its rest, chain slack."},
			{ID: "brake-held", Energy: "hoist-brake", Proof: BlockIn, Text: "Brake housing shut and left shut. If it must be opened: qualified person, maker's keeper in first."},
		},
		verify: []Step{
			{ID: "chain-slack", Energy: "hoist-load", Proof: HookEmpty, Text: "Look again: nothing on the hook, chain slack, yoke doesn't move when pushed."},
			{ID: "brake-seen", Energy: "hoist-brake", Text: "Brake housing shut, or the keeper in place."},
		},
		off:    []Step{{ID: "pendant-off", Text: "Pendant hung up with no button pressed; hand chain hung clear."}},
		guards: []Step{{ID: "hoist-whole", Text: "Covers on, latch closes, chain untwisted, end stops in place. Repairs to lifting gear wait for a qualified person's word."}},
	})
}

func hoistPower(a Answers) part {
	if a.Hoist == "hand-chain" {
		return part{isolators: []isolator{{
			Device: Device{ID: "hoist-chain-lock", Kind: Block, Lockable: true, Label: "Hand chain lock", Place: "through the hand chain and the eye on the post",
				Cuts: []EnergyID{"hoist-load", "hoist-brake"}},
			isolate: "Gather the hand chain and put its loop through the eye on the post.", restore: "Take the hand chain off the eye.",
		}}}
	}
	return part{
		energies: []Energy{{ID: "hoist-electric", Kind: Electrical, Source: "hoist and trolley motors, control transformer",
			Hazard: "Shock; anybody at the pendant runs it.", Zero: "Every button was tried and nothing moved."}},
		isolators: []isolator{{
			Device: Device{ID: "hoist-disconnect", Kind: Disconnect, Lockable: true, Label: "Hoist disconnect", Place: "in the feed to the runway",
				Cuts: []EnergyID{"hoist-electric", "hoist-brake"}},
			isolate: "Pull the hoist disconnect to off. The pendant isolates nothing.", restore: "Hoist disconnect on, with nothing on the hook.",
		}},
		verify: []Step{{ID: "hoist-try", Energy: "hoist-electric", Proof: TryStart,
			Text: "Press every button of the pendant in turn: nothing may move. Let all go; that is off."}},
	}
}
