package procedures

// enginePart keeps the engine from being started.
func enginePart() part { return startPart("engine", "Engine", "engine") }

// tractorPart keeps the tractor from being started. With its shaft off it can't
// reach the saw; whoever works at the tractor or the shaft needs this besides.
func tractorPart() part { return startPart("tractor", "Tractor", "tractor's engine") }

// startPart keeps an engine from being started: battery and fuel, never the key.
func startPart(id, name, called string) part {
	start, heat := EnergyID(id+"-start"), EnergyID(id+"-heat")
	cuts := []EnergyID{start, heat}
	step := func(what string) StepID { return StepID(id + "-" + what) }
	return part{
		energies: []Energy{
			{ID: start, Kind: Engine, Source: called + ": battery, fuel, compression", Stored: true,
				Hazard: "Started by another hand, rolled or pushed into life without a key; kicks back when turned.",
				Relief: "Let the engine come to rest; vent an air or spring starter.",
				Zero:   "The starter was tried with battery and fuel locked and nothing turned."},
			{ID: heat, Kind: Thermal, Source: called + ": exhaust and cooling water", Stored: true,
				Hazard: "Burns; the cap throws hot water.", Relief: "Let it cool; cap stays on.", Zero: "No heat to the back of a hand held near."},
		},
		isolators: []isolator{
			{Device: Device{ID: DeviceID(id + "-battery"), Kind: BatteryLock, Lockable: true, Label: name + " battery switch", Place: "at the battery", Cuts: cuts},
				isolate: "Battery switch to off. Vent an air or spring starter. Taking the key isolates nothing.", restore: "Battery switch on."},
			{Device: Device{ID: DeviceID(id + "-fuel"), Kind: FuelValve, Lockable: true, Label: name + " fuel valve", Place: "under the tank", Cuts: cuts},
				isolate: "Shut the fuel valve.", restore: "Open the fuel valve."},
		},
		relieve: []Step{
			{ID: step("rest"), Energy: start, Text: "See the engine's fan and flywheel stand still. Air or spring starter empty."},
			{ID: step("cool"), Energy: heat, Text: "Let the engine cool, or keep it covered and off the job. Cap stays on."},
		},
		verify: []Step{
			{ID: step("try"), Energy: start, Proof: TryStart,
				Text: "See that nobody is near. Turn the key to start: nothing may turn. Key back to off."},
			{ID: step("cold"), Energy: heat, Text: "Back of the hand near the exhaust: no heat, or it is shielded."},
		},
		off: []Step{{ID: step("control-off"), Text: name + " key and throttle at off."}},
	}
}
