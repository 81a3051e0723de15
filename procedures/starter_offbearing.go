package procedures

// offBearingPart is what takes boards, slabs and sawdust away: roll case, waste
// conveyor, sawdust chain and the blower that draws sawdust.
func offBearingPart() part {
	return part{
		energies: []Energy{
			{ID: "waste-electric", Kind: Electrical, Source: "motors of roll case, waste conveyor and sawdust chain",
				Hazard: "Shock; started from another place while somebody reaches in.", Zero: "Every start was tried and nothing moved."},
			{ID: "waste-jam", Kind: Spring, Source: "chain or belt strained by a jam", Stored: true,
				Hazard: "Lets go as the jam is freed and takes a hand along.", Relief: "Turn it back by hand or ease the take-up; hold it with bar or clamp.", Zero: "Chain or belt hangs slack, or the clamp holds it."},
			{ID: "waste-stack", Kind: Gravity, Source: "slabs and boards stacked or hung up in the chute", Stored: true,
				Hazard: "Slides, falls, buries.", Relief: "Stack low, take hung-up pieces down from the side, prop the chute.", Zero: "Nothing slides when nudged from the side."},
			{ID: "blower-electric", Kind: Electrical, Source: "blower motor",
				Hazard: "Shock; starts by itself with the saw.", Zero: "The start was tried and nothing moved."},
			{ID: "blower-rotation", Kind: Rotation, Source: "blower wheel, coasting or turned by draught", Stored: true,
				Hazard: "Takes a hand in the housing long after the power is off.", Relief: "Wait the coast time, see the mark still, then block the wheel.", Zero: "The mark stood still for the whole look and the blocked wheel can't be turned."},
		},
		isolators: []isolator{
			{Device: Device{ID: "waste-disconnect", Kind: Disconnect, Lockable: true, Label: "Waste conveyor disconnect", Place: "at the panel", Cuts: []EnergyID{"waste-electric"}},
				isolate: "Pull the waste conveyor disconnect to off, and every other feed of rolls and chains.", restore: "Waste conveyor disconnect on."},
			{Device: Device{ID: "blower-disconnect", Kind: Disconnect, Lockable: true, Label: "Blower disconnect", Place: "at the panel", Cuts: []EnergyID{"blower-electric", "blower-rotation"}},
				isolate: "Pull the blower disconnect to off.", restore: "Blower disconnect on."},
			{Device: Device{ID: "waste-blocks", Kind: Block, Label: "Chain clamp, chute prop and blower bar", Place: "at the conveyor and the blower", Cuts: []EnergyID{"waste-jam", "waste-stack", "blower-rotation"}},
				restore: "Clamp off the chain, prop and bar away."},
		},
		stop: []Step{
			{ID: "stop-waste", Text: "Saw stopped, nothing more coming. Stop rolls, conveyor and chain with their ordinary controls."},
			{ID: "stop-blower", Text: "Stop the blower with its ordinary control."},
		},
		relieve: []Step{
			{ID: "blower-wait", Energy: "blower-rotation", Proof: MarkStill, Wait: FanWaitUnmeasured, Text: "Keep the housing shut. Wait, then watch the painted mark on the blower's shaft for ten seconds."},
			{ID: "blower-blocked", Energy: "blower-rotation", Device: "waste-blocks", Proof: BlockIn, Wait: FanWaitUnmeasured, Text: "Bar or strap the blower wheel so that draught can't turn it."},
			{ID: "stack-down", Energy: "waste-stack", Device: "waste-blocks", Proof: BlockIn, Text: "Take hung-up slabs down from the side, prop the chute. Nobody stands below."},
			{ID: "jam-eased", Energy: "waste-jam", Device: "waste-blocks", Proof: BlockIn, Text: "Ease the strain: turn the chain back by hand or let the take-up off, from the side. Clamp it before anybody reaches in."},
		},
		verify: []Step{
			{ID: "waste-try", Energy: "waste-electric", Proof: TryStart, Text: "See that nobody is near. Try every start of rolls, conveyor and chain: nothing may move. Controls back to off."},
			{ID: "blower-try", Energy: "blower-electric", Proof: TryStart, Text: "Press the blower's ordinary start: nothing may move. Control back to off."},
			{ID: "blower-still", Energy: "blower-rotation", Proof: BlockIn, Text: "Push the blower wheel with a stick: the bar holds it both ways."},
			{ID: "stack-seen", Energy: "waste-stack", Text: "Nudge what is left in the chute from the side: nothing slides."},
			{ID: "jam-seen", Energy: "waste-jam", Text: "Chain or belt hangs slack, or the clamp holds it when pulled with a hook."},
		},
		off:    []Step{{ID: "waste-controls-off", Text: "Controls of rolls, conveyor, chain and blower at off."}},
		guards: []Step{{ID: "waste-guards-back", Text: "Guards of chains, sprockets, rolls and belts back and tight; nothing left on the conveyor."}},
	}
}
