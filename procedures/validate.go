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
func (p Procedure) Validate() error {
	var bad plain.Problems
	p.checkTexts(&bad)
	p.checkEnergies(&bad)
	p.checkDevices(&bad)
	p.checkSteps(&bad)
	return bad.Err()
}

func (p *Procedure) checkTexts(bad *plain.Problems) {
	const want = "say it; the written procedure must, 29 CFR 1910.147(c)(4)(ii)"
	bad.Unless(!blank(p.Title), "title", "give it a name")
	bad.Unless(!blank(p.Purpose), "purpose", want)
	bad.Unless(!blank(p.Scope), "scope", want)
	bad.Unless(!blank(p.Authorization), "authorization", want)
	bad.Unless(!blank(p.Rules), "rules", want)
	bad.Unless(!blank(p.Techniques), "techniques", want)
	bad.Unless(!blank(p.Enforcement), "enforcement", want)
	bad.Unless(len(p.Equipment) > 0, "equipment", "name what it is for")
}

func (p *Procedure) checkEnergies(bad *plain.Problems) {
	bad.Unless(len(p.Energies) > 0, "energies", "list the energies of the equipment, 29 CFR 1910.147(d)(1)")
	seen := map[EnergyID]bool{}
	for _, e := range p.Energies {
		field := "energy " + string(e.ID)
		bad.Unless(e.ID != "" && !seen[e.ID], field, "its own name, once")
		seen[e.ID] = true
		var held, relieved, verified bool
		for _, s := range p.Steps {
			d, _ := p.device(s.Device)
			held = held || d.cuts(e.ID) && (s.Stage == Isolate || d.Kind == Block && s.Stage < Verify) ||
				s.Energy == e.ID && s.Proof == BlockIn && s.Stage < Verify
			relieved = relieved || s.Energy == e.ID && s.Stage == Relieve
			verified = verified || s.Energy == e.ID && s.Stage == Verify
			if s.Energy == e.ID && s.Stage == Relieve && e.Kind == Rotation {
				bad.Unless(s.Wait > 0 && s.Wait >= CoastWait(e.Coast, 1), field, "the measured coast time and a quarter more as its wait, 29 CFR 1910.147(d)(5)")
			}
		}
		bad.Unless(held, field, "a step that isolates or blocks it, 29 CFR 1910.147(c)(4)(ii)(B)")
		bad.Unless(relieved || !e.Stored, field, "a step that relieves what is stored, 29 CFR 1910.147(d)(5)")
		bad.Unless(verified, field, "a step that proves it at zero, 29 CFR 1910.147(c)(4)(ii)(D)")
	}
}

func (p *Procedure) checkDevices(bad *plain.Problems) {
	lockable := false
	seen := map[DeviceID]bool{}
	for _, d := range p.Devices {
		field := "device " + string(d.ID)
		bad.Unless(d.ID != "" && !seen[d.ID], field, "its own name, once")
		seen[d.ID] = true
		if _, err := ParseDeviceKind(string(d.Kind)); err != nil {
			bad.Add(field, err)
		}
		var used, isolated, applied, removed bool
		for _, s := range p.Steps {
			used = used || s.Device == d.ID
			isolated = isolated || s.Device == d.ID && s.Stage == Isolate
			applied = applied || s.Device == d.ID && s.Stage == Apply
			removed = removed || s.Device == d.ID && s.Stage == RemoveLocks
		}
		bad.Unless(used, field, "a step that uses it, 29 CFR 1910.147(d)(3)")
		if lockable = lockable || d.Lockable; d.Lockable {
			bad.Unless(isolated, field, "a step that sets it to off, 29 CFR 1910.147(d)(3)")
			bad.Unless(applied && removed, field, "a step that puts the lock on and one that takes it off, 29 CFR 1910.147(c)(4)(ii)(C)")
		}
	}
	bad.Unless(lockable, "devices", "at least one that takes a lock")
}

func (p *Procedure) checkSteps(bad *plain.Problems) {
	seen := map[StepID]bool{}
	for i, s := range p.Steps {
		field := "step " + strconv.Itoa(i+1)
		bad.Unless(s.ID != "" && !seen[s.ID], field, "its own name, once")
		seen[s.ID] = true
		bad.Unless(s.Stage >= Prepare && s.Stage <= NotifyRestored && s.Stage != Work, field, "a stage of the sequence other than the work itself")
		bad.Unless(!blank(s.Text), field, "say what to do")
		bad.Unless(!blank(s.Clause), field, "the clause that asks for it")
		bad.Unless(s.Proof.known(), field, "a proof from the list")
		bad.Unless(s.Wait >= 0, field, "no wait, or one that is longer than nothing")
		_, known := p.device(s.Device)
		bad.Unless(known || s.Device == "", field, "a device of this procedure")
		bad.Unless(s.Energy == "" || p.hasEnergy(s.Energy), field, "an energy of this procedure")
	}
	for _, stage := range []Stage{Prepare, Notify, ShutDown, InspectArea, ClearPeople, ControlsOff, NotifyRestored} {
		bad.Unless(len(p.stage(stage)) > 0, "steps", "at least one for: %s", stage.Words())
	}
}

func (p *Procedure) hasEnergy(id EnergyID) bool {
	for _, e := range p.Energies {
		if e.ID == id {
			return true
		}
	}
	return false
}
