package procedures

import (
	"strconv"

	"stillsaw/procedures/plain"
)

// Validate returns nil or a [plain.Problems] with every gap that keeps p from
// being published, 29 CFR 1910.147(c)(4)(ii): its six texts; for each energy an
// isolate or block step and a verify step, for each stored one a relieve step;
// for each device that takes a lock its isolate, apply and remove steps; a
// clause for every step. At least one device takes a lock.
func (p Procedure) Validate() error { return problemsBy(procedureRules(), p) }

// procedureRules are the demands on a written procedure.
func procedureRules() []rule[Procedure, plain.Problems] {
	return []rule[Procedure, plain.Problems]{
		{"six texts", textGaps},
		{"intended use", func(p Procedure) plain.Problems {
			return append(want(!blank(p.Title), "title", plain.Say("give it a name")),
				want(len(p.Equipment) > 0, "equipment", plain.Say("name what it is for"))...)
		}},
		{"energies listed", listGaps},
		{"each energy isolated or blocked", func(p Procedure) plain.Problems {
			return p.eachEnergy(p.holds, plain.Say("a step that isolates or blocks it, 29 CFR 1910.147(c)(4)(ii)(B)"))
		}},
		{"each stored energy relieved", func(p Procedure) plain.Problems {
			return p.eachEnergy(func(e Energy) bool { return !e.Stored || p.has(Relieve, e.ID) }, plain.Say("a step that relieves what is stored, 29 CFR 1910.147(d)(5)"))
		}},
		{"what turns waited for", func(p Procedure) plain.Problems {
			return p.eachEnergy(p.waitedFor, plain.Say("the measured coast time and a quarter more as its wait, 29 CFR 1910.147(d)(5)"))
		}},
		{"each energy proven at zero", func(p Procedure) plain.Problems {
			return p.eachEnergy(func(e Energy) bool { return p.has(Verify, e.ID) }, plain.Say("a step that proves it at zero, 29 CFR 1910.147(c)(4)(ii)(D)"))
		}},
		{"built up again, proven again", func(p Procedure) plain.Problems {
			return p.eachEnergy(p.rechecked, plain.Say("a proof at zero that is given again as often as it can build up, 29 CFR 1910.147(d)(5)(ii)"))
		}},
		{"devices isolate", deviceGaps},
		{"each device used", func(p Procedure) plain.Problems {
			return p.eachDevice(func(d Device) bool { return p.uses(d, UnknownStage) }, plain.Say("a step that uses it, 29 CFR 1910.147(d)(3)"))
		}},
		{"each lockable device set to off", func(p Procedure) plain.Problems {
			return p.eachDevice(func(d Device) bool { return !d.Lockable || p.uses(d, Isolate) }, plain.Say("a step that sets it to off, 29 CFR 1910.147(d)(3)"))
		}},
		{"each lock put on and taken off", func(p Procedure) plain.Problems {
			return p.eachDevice(func(d Device) bool { return !d.Lockable || p.uses(d, Apply) && p.uses(d, RemoveLocks) },
				plain.Say("a step that puts the lock on and one that takes it off, 29 CFR 1910.147(c)(4)(ii)(C)"))
		}},
		{"something takes a lock", func(p Procedure) plain.Problems {
			lockable := false
			for _, d := range p.Devices {
				lockable = lockable || d.Lockable
			}
			return want(lockable, "devices", plain.Say("at least one that takes a lock"))
		}},
		{"steps whole", stepGaps},
		{"every stage", func(p Procedure) plain.Problems {
			var bad plain.Problems
			for _, stage := range []Stage{Prepare, Notify, ShutDown, InspectArea, ClearPeople, ControlsOff, NotifyRestored} {
				bad.Unless(len(p.stage(stage)) > 0, "steps", "at least one for: %s", stage.Words())
			}
			return bad
		}},
	}
}

func textGaps(p Procedure) plain.Problems {
	const want = "say it; the written procedure must, 29 CFR 1910.147(c)(4)(ii)"
	var bad plain.Problems
	bad.Unless(!blank(p.Purpose), "purpose", want)
	bad.Unless(!blank(p.Scope), "scope", want)
	bad.Unless(!blank(p.Authorization), "authorization", want)
	bad.Unless(!blank(p.Rules), "rules", want)
	bad.Unless(!blank(p.Techniques), "techniques", want)
	bad.Unless(!blank(p.Enforcement), "enforcement", want)
	return bad
}

func listGaps(p Procedure) plain.Problems {
	var bad plain.Problems
	bad.Unless(len(p.Energies) > 0, "energies", "list the energies of the equipment, 29 CFR 1910.147(d)(1)")
	seen := map[EnergyID]bool{}
	for _, e := range p.Energies {
		bad.Unless(e.ID != "" && !seen[e.ID], "energy "+string(e.ID), "its own name, once")
		seen[e.ID] = true
	}
	return bad
}

func deviceGaps(p Procedure) plain.Problems {
	var bad plain.Problems
	seen := map[DeviceID]bool{}
	for _, d := range p.Devices {
		field := "device " + string(d.ID)
		bad.Unless(d.ID != "" && !seen[d.ID], field, "its own name, once")
		seen[d.ID] = true
		if _, err := ParseDeviceKind(string(d.Kind)); err != nil {
			bad.Add(field, err)
		}
	}
	return bad
}

func stepGaps(p Procedure) plain.Problems {
	var bad plain.Problems
	seen := map[StepID]bool{}
	for i, s := range p.Steps {
		field := "step " + strconv.Itoa(i+1)
		bad.Unless(s.ID != "" && !seen[s.ID], field, "its own name, once")
		seen[s.ID] = true
		bad.Unless(s.Stage.written(), field, "a stage of the sequence other than the work itself")
		bad.Unless(!blank(s.Text), field, "say what to do")
		bad.Unless(!blank(s.Clause), field, "the clause that asks for it")
		bad.Unless(s.Proof.known(), field, "a proof from the list")
		bad.Unless(s.Wait >= 0 && s.Recheck >= 0, field, "no wait, or one that is longer than nothing")
		_, known := p.device(s.Device)
		bad.Unless(known || s.Device == "", field, "a device of this procedure")
		bad.Unless(s.Energy == "" || p.hasEnergy(s.Energy), field, "an energy of this procedure")
	}
	return bad
}

// eachEnergy asks something of every energy.
func (p *Procedure) eachEnergy(ok func(Energy) bool, said plain.Sentence) plain.Problems {
	var bad plain.Problems
	for _, e := range p.Energies {
		bad = append(bad, want(ok(e), "energy "+string(e.ID), said)...)
	}
	return bad
}

// eachDevice asks something of every device.
func (p *Procedure) eachDevice(ok func(Device) bool, said plain.Sentence) plain.Problems {
	var bad plain.Problems
	for _, d := range p.Devices {
		bad = append(bad, want(ok(d), "device "+string(d.ID), said)...)
	}
	return bad
}

// holds tells whether a step isolates e, or blocks it before it is proven.
func (p *Procedure) holds(e Energy) bool {
	for _, s := range p.Steps {
		d, _ := p.device(s.Device)
		if d.cuts(e.ID) && (s.Stage == Isolate || d.Kind == Block && s.Stage < Verify) ||
			s.Energy == e.ID && s.Proof == BlockIn && s.Stage < Verify {
			return true
		}
	}
	return false
}

// waitedFor tells whether nobody relieves what turns, or sets a locked pin in
// it, before it had its coast time and a quarter more.
func (p *Procedure) waitedFor(e Energy) bool {
	for _, s := range p.Steps {
		d, _ := p.device(s.Device)
		near := s.Stage == Relieve && s.Energy == e.ID || s.Stage == Isolate && d.Kind == Block && d.cuts(e.ID)
		if e.Kind == Rotation && near && (s.Wait <= 0 || s.Wait < CoastWait(e.Coast, 1)) {
			return false
		}
	}
	return true
}

// rechecked tells whether e is proven again as often as it can build up.
func (p *Procedure) rechecked(e Energy) bool {
	for _, s := range p.stage(Verify) {
		if e.Recheck > 0 && s.Energy == e.ID && s.Recheck > 0 && s.Recheck <= e.Recheck {
			return true
		}
	}
	return e.Recheck <= 0
}

// has tells whether some step of that stage is about that energy.
func (p *Procedure) has(stage Stage, id EnergyID) bool {
	for _, s := range p.stage(stage) {
		if s.Energy == id {
			return true
		}
	}
	return false
}

// uses tells whether some step of that stage is at d; of any, for UnknownStage.
func (p *Procedure) uses(d Device, stage Stage) bool {
	for _, s := range p.Steps {
		if s.Device == d.ID && (stage == UnknownStage || s.Stage == stage) {
			return true
		}
	}
	return false
}

func (p *Procedure) hasEnergy(id EnergyID) bool {
	for _, e := range p.Energies {
		if e.ID == id {
			return true
		}
	}
	return false
}
