package procedures

// dustPart is fan, ducts and collector. Going into housing, bin or a big duct
// may fall under the rules for confined spaces besides, 29 CFR 1910.146.
func dustPart(a Answers) part {
	heat := []EnergyID{"fan-electric", "fan-rotation", "dust-ember", "dust-cloud"}
	p := part{
		energies: []Energy{
			{ID: "fan-electric", Kind: Electrical, Source: "fan motor", Hazard: "Shock; a timer or pressure switch starts it.", Zero: "The start was tried and nothing moved."},
			{ID: "fan-rotation", Kind: Rotation, Source: "fan wheel, coasting or turned by draught", Stored: true,
				Hazard: "Takes a hand in the housing; another fan's draught turns it again.", Relief: "Shut the gates, wait the coast time, block the wheel.", Zero: "The mark stood still for the whole look and the blocked wheel can't be turned."},
			{ID: "dust-weight", Kind: Gravity, Source: "dust in bin and bags, bridged or full", Stored: true,
				Hazard: "Falls and buries.", Relief: "Empty from outside; never go under.", Zero: "Seen empty, or nobody goes under it."},
			{ID: "dust-ember", Kind: Thermal, Source: "spark or smoulder in duct and bin", Stored: true,
				Hazard: "Opening feeds it; moving it makes a burning cloud.", Relief: "Gates shut, left cool; a hot bin stays shut and the fire plan begins.", Zero: "No smoke, no smell, bin cold."},
			{ID: "dust-cloud", Kind: Chemical, Source: "fine dust in the air and on ledges", Stored: true,
				Hazard: "Burns as a cloud when shaken down near a spark.", Relief: "No sparks near; sweep or vacuum, never blow.", Zero: "Ledges clean, air clear."},
		},
		isolators: []isolator{
			{Device: Device{ID: "fan-disconnect", Kind: Disconnect, Lockable: true, Label: "Fan disconnect", Place: "at the panel", Cuts: heat},
				isolate: "Pull the fan disconnect to off.", restore: "Fan disconnect on."},
			{Device: Device{ID: "fan-block", Kind: Block, Label: "Fan wheel bar and bin prop", Place: "at the fan housing", Cuts: []EnergyID{"fan-rotation", "dust-weight"}},
				restore: "Bar out of the fan wheel, prop away, gates as they were."},
		},
		stop: []Step{{ID: "stop-fan", Text: "Saw stopped and still first, then the fan with its ordinary control. Shut the blast gates."}},
		relieve: []Step{
			{ID: "fan-wait", Energy: "fan-rotation", Proof: MarkStill, Wait: FanWaitUnmeasured, Text: "Keep the housing shut. Wait, then watch the painted mark on the shaft for ten seconds."},
			{ID: "fan-blocked", Energy: "fan-rotation", Device: "fan-block", Proof: BlockIn, Wait: FanWaitUnmeasured, Text: "Bar or strap the wheel so that draught can't turn it."},
			{ID: "dust-cold", Energy: "dust-ember", Text: "Smell, look, hand near the bin: no smoke, no warmth. Any sign of it: leave it shut and follow the fire plan."},
			{ID: "bin-propped", Energy: "dust-weight", Device: "fan-block", Proof: BlockIn, Text: "Empty bin or bag from outside, or prop its door. Nobody goes under it or in."},
			{ID: "dust-settled", Energy: "dust-cloud", Text: "Let the dust settle. No flame, grinder or hot part near. Sweep or vacuum, never blow."},
		},
		verify: []Step{
			{ID: "fan-try", Energy: "fan-electric", Proof: TryStart, Text: "Press the fan's ordinary start: nothing may move. Control back to off, timer too."},
			{ID: "fan-still", Energy: "fan-rotation", Proof: BlockIn, Text: "Push the wheel with a stick: the bar holds it both ways."},
			{ID: "dust-cold-seen", Energy: "dust-ember", Text: "Bin still cold, no smoke."},
			{ID: "bin-seen", Energy: "dust-weight", Text: "Bin and bags seen empty, or propped and nobody under."},
			{ID: "dust-clear", Energy: "dust-cloud", Text: "Air clear; no spark or hot part near."},
		},
		off:    []Step{{ID: "fan-control-off", Text: "Fan control and timer at off."}},
		guards: []Step{{ID: "dust-whole", Text: "Doors, hoods, gates and earth straps of the ducts are back; no tool or rag in the housing."}},
	}
	if a.Collector != "open-bag" {
		p = p.and(rotaryPart())
	}
	if a.Collector == "bag-house" {
		p = p.and(pulsePart())
	}
	return p
}

// rotaryPart is the rotary valve or auger under a cyclone or bag house.
func rotaryPart() part {
	return part{
		energies: []Energy{{ID: "rotary-electric", Kind: Electrical, Source: "rotary valve or auger motor",
			Hazard: "Slow, and crushes an arm at the access door.", Zero: "The start was tried and nothing moved."}},
		isolators: []isolator{{Device: Device{ID: "rotary-disconnect", Kind: Disconnect, Lockable: true, Label: "Rotary valve disconnect", Place: "at the panel", Cuts: []EnergyID{"rotary-electric"}},
			isolate: "Pull the rotary valve disconnect to off.", restore: "Rotary valve disconnect on."}},
		verify: []Step{{ID: "rotary-try", Energy: "rotary-electric", Proof: TryStart, Text: "Press the rotary valve's ordinary start: nothing may move. Control back to off."}},
	}
}

// pulsePart is the air that shakes the bags of a bag house.
func pulsePart() part {
	return part{
		energies: []Energy{{ID: "pulse-air", Kind: Pneumatic, Source: "pulse air header", Stored: true,
			Hazard: "Pulses while somebody is inside.", Relief: "Valve shut, header vented, each pulse valve fired.", Zero: "The gauge reads zero."}},
		isolators: []isolator{{Device: Device{ID: "pulse-valve", Kind: Valve, Lockable: true, Label: "Pulse air valve", Place: "in the air feed", Cuts: []EnergyID{"pulse-air"}},
			isolate: "Shut the pulse air valve so that it vents.", restore: "Open the pulse air valve slowly."}},
		relieve: []Step{{ID: "pulse-bled", Energy: "pulse-air", Proof: GaugeZero, Text: "Fire each pulse valve until nothing comes."}},
		verify:  []Step{{ID: "pulse-gauge", Energy: "pulse-air", Proof: GaugeZero, Text: "Header gauge at zero, and a fired valve gives nothing."}},
	}
}
