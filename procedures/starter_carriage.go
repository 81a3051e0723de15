package procedures

// carriagePart keeps the carriage where it stands.
func carriagePart(a Answers) part {
	p := feedPart(a).and(part{
		energies: []Energy{
			{ID: "carriage-moving", Kind: Moving, Source: "carriage and load along the track", Stored: true,
				Hazard: "Runs a person into the saw or a bumper; somebody leans on the lever.", Relief: "Park it, tie it down, chock it both ways.", Zero: "Pushed by hand both ways it stays."},
			{ID: "carriage-slope", Kind: Gravity, Source: "carriage on a track out of level", Stored: true,
				Hazard: "Rolls into the saw by itself.", Relief: "Park at the low end, chock the wheels.", Zero: "Nudged with the feed off it rolls neither way."},
		},
		isolators: []isolator{{
			Device:  Device{ID: "carriage-tie-down", Kind: Block, Label: "Carriage tie-down and chocks", Place: "at the parking end", Cuts: []EnergyID{"carriage-moving", "carriage-slope"}},
			restore: "Everybody off the track, feed lever at off and latched. From beside the track take tie-down and chocks off the carriage, the downhill chock last. Does it roll? Chock it again and stop.",
		}},
		relieve: []Step{
			{ID: "carriage-tied", Energy: "carriage-moving", Device: "carriage-tie-down", Proof: BlockIn, Text: "From beside the track, tie the carriage down and set chocks against both directions."},
			{ID: "carriage-chocked", Energy: "carriage-slope", Device: "carriage-tie-down", Proof: BlockIn, Text: "Chocks under the wheels on the downhill side, hard up."},
		},
		verify: []Step{
			{ID: "carriage-pushed", Energy: "carriage-moving", Text: "From beside the track push the carriage both ways against the tie-down: it stays."},
			{ID: "carriage-nudged", Energy: "carriage-slope", Text: "Nudge it downhill: the chocks don't slide."},
		},
		off:    []Step{{ID: "feed-lever-off", Text: "Feed lever at off and latched."}},
		guards: []Step{{ID: "carriage-guards-back", Text: "Rope, chain, sheave and wheel covers on; sweeps, bumpers and barriers in place; rails clear."}},
	})
	if a.Feed == "hand" {
		return p
	}
	return p.and(part{
		energies: []Energy{{ID: "carriage-rope", Kind: Spring, Source: "feed rope or chain under tension", Stored: true,
			Hazard: "Tension comes back at once when a rope seats on its drum, and takes the carriage along.", Relief: "Back the tensioner off slowly, clamp the rope.", Zero: "The rope hangs slack to the eye, or is clamped."}},
		relieve: []Step{{ID: "rope-clamped", Energy: "carriage-rope", Proof: BlockIn, Text: "Clamp the feed rope or chain. If it is to be worked on: back the tensioner off slowly first."}},
		verify:  []Step{{ID: "rope-slack", Energy: "carriage-rope", Text: "Rope or chain hangs slack, or the clamp holds it. It is never wound back by power with a person on the track."}},
		restore: []Step{{ID: "rope-free", Text: "Clamp off the feed rope or chain, from beside the track, the carriage still tied down and chocked."}},
	})
}

// feedPart isolates what pushes the carriage; a feed off the mandrel goes with
// the saw's own isolation, a hand feed has only what the carriage itself holds.
func feedPart(a Answers) part {
	switch a.Feed {
	case "own-motor":
		return part{
			energies: []Energy{{ID: "carriage-electric", Kind: Electrical, Source: "feed motor, limit switches, control", Stored: true,
				Hazard: "Shock; starts from another panel; a drive holds its charge.", Relief: "Wait the drive maker's time.", Zero: "The feed was tried and nothing moved."}},
			isolators: []isolator{feedDisconnect("Feed motor disconnect", "carriage-moving")},
			relieve:   []Step{{ID: "feed-charge", Energy: "carriage-electric", Text: "Wait the time on the drive's cover. Nobody opens it but a qualified person."}},
			verify:    []Step{feedTried()},
		}
	case "hydraulic":
		return part{
			energies: []Energy{
				{ID: "carriage-electric", Kind: Electrical, Source: "feed pump motor and control", Hazard: "Shock; the pump starts by itself.", Zero: "The pump's start was tried and nothing ran."},
				{ID: "carriage-oil", Kind: Hydraulic, Source: "pump, accumulator, feed cylinder or motor", Stored: true,
					Hazard: "Trapped oil moves the carriage with the pump off; a jet goes through skin.", Relief: "Valve shut and vented, accumulator bled, lever worked both ways.", Zero: "The gauge reads zero and the lever moves nothing."},
			},
			isolators: []isolator{
				feedDisconnect("Feed pump disconnect", "carriage-oil"),
				{Device: Device{ID: "feed-valve", Kind: Valve, Lockable: true, Label: "Feed oil valve", Place: "between pump and cylinder", Cuts: []EnergyID{"carriage-oil", "carriage-moving"}},
					isolate: "Shut the feed oil valve so that it vents to the tank.", restore: "Open the feed oil valve slowly."},
			},
			relieve: []Step{{ID: "feed-bled", Energy: "carriage-oil", Proof: GaugeZero, Text: "Bleed the accumulator. Work the feed lever both ways from the stand, nobody on the track, and back to off. Never feel for a leak by hand."}},
			verify: []Step{feedTried(),
				{ID: "feed-gauge", Energy: "carriage-oil", Proof: GaugeZero, Text: "Gauge at zero and the lever, worked both ways and put back to off, moves nothing. One alone doesn't prove it."}},
		}
	default:
		return part{}
	}
}

func feedDisconnect(label string, also EnergyID) isolator {
	return isolator{
		Device:  Device{ID: "carriage-disconnect", Kind: Disconnect, Lockable: true, Label: label, Place: "at the panel", Cuts: []EnergyID{"carriage-electric", also}},
		isolate: "Pull it to off: " + label + ".", restore: "Back on: " + label + ".",
	}
}

func feedTried() Step {
	return Step{ID: "feed-try", Energy: "carriage-electric", Proof: TryStart,
		Text: "See that nobody is on the track. Try the feed's ordinary start both ways: nothing may move. Control back to off."}
}
