package procedures

import "slices"

// part is what one machine, or one side of it, adds to a procedure: energies,
// isolators, and the steps no other machine has. Steps to isolate, lock and
// unlock follow from the isolators.
type part struct {
	energies  []Energy
	isolators []isolator
	stop      []Step // shut down
	relieve   []Step
	verify    []Step
	off       []Step // controls to off before locks come off
	guards    []Step // inspect the area
	restore   []Step // blocks out, before power comes back
}

// isolator is a device with what to do at it.
type isolator struct {
	Device
	isolate, restore string
}

// and is both parts, p first.
func (p part) and(q part) part {
	return part{
		energies:  slices.Concat(p.energies, q.energies),
		isolators: slices.Concat(p.isolators, q.isolators),
		stop:      slices.Concat(p.stop, q.stop),
		relieve:   slices.Concat(p.relieve, q.relieve),
		verify:    slices.Concat(p.verify, q.verify),
		off:       slices.Concat(p.off, q.off),
		guards:    slices.Concat(p.guards, q.guards),
		restore:   slices.Concat(p.restore, q.restore),
	}
}

// onto registers the part's energies and devices with e.
func (p part) onto(e Equipment) Equipment {
	e.Energies = p.energies
	for i, iso := range p.isolators {
		iso.Number = i + 1
		e.Devices = append(e.Devices, iso.Device)
	}
	return e
}

// draft writes the procedure that controls the part, with the plant's own
// energies and devices where it has them.
func draft(plant Plant, a Answers, id ProcedureID, title string, p part, equipment, holds []EquipmentID) Procedure {
	draft := Procedure{
		ID: id, Title: title, Equipment: equipment, Holds: holds,
		Purpose:       "To keep everybody who reaches into this machine from being hurt by a start, by movement or by energy let go that they didn't expect.",
		Scope:         "All mending, cleaning, greasing, setting up, clearing of jams, tooth or blade changes and looks by hand at this machine, and any work with a guard off. Not for ordinary sawing from the stand.",
		Authorization: "Only people whom the supervisor has recorded as authorized to lock out carry out these steps. Everybody else on the site stays out and never tries to start a locked machine.",
		Rules:         "One person, one lock, one key, kept in that person's pocket. Every step in its order. Nobody takes off another's lock. Handed over: the one who comes puts an own lock on and proves zero before the one who goes takes theirs off. Where a step can't be done as written, stop and ask the supervisor.",
		Techniques:    "Shut down, isolate, lock, let out or hold what is stored, wait until the saw or fan stands still, try the start and put the control back to off. Whoever joins puts an own lock on and proves zero again.",
		Enforcement:   "The supervisor watches this procedure being used at least once a year. Whoever works without it is stopped, trained again, and dealt with by the mill's own rules.",
		Sources:       []string{"29 CFR 1910.147 (c)(4), (d), (e) and Appendix A", "The machine makers' manuals, to be read beside this draft"},
	}
	for _, e := range p.energies {
		draft.Energies = append(draft.Energies, plant.energy(e))
	}
	for i, iso := range p.isolators {
		d := plant.device(iso.Device)
		d.Number = i + 1
		draft.Devices = append(draft.Devices, d)
	}
	draft.Steps = slices.Concat(opening(a), staged(ShutDown, p.stop), p.isolate(), staged(Relieve, p.waits(draft.Energies)),
		staged(Verify, p.verify), closing(p), staged(ControlsOff, p.off), p.unlock(), staged(Restore, p.giveBack()),
		[]Step{{ID: "tell-restored", Stage: NotifyRestored, Proof: Tick, Clause: NotifyRestored.Clause(),
			Text: "Tell the same people again: the locks are off and the machine may start."}})
	return draft
}

// opening is what comes ahead of shutting down.
func opening(a Answers) []Step {
	text := "Read the list of energies: what kind, how big (where it says not yet measured, take it for large), how it hurts, what controls it. Have your own numbered locks, tags and blocks with you."
	if a.Portable {
		text += " See that the mill stands level on its jacks with the wheels chocked."
	}
	if a.IsolatorCutsPower {
		text += " Isolating also cuts the power to the PC: take the printed placard, go on with that, and enter the steps afterwards as late."
	}
	return []Step{
		{ID: "read-energies", Stage: Prepare, Proof: Tick, Clause: Prepare.Clause(), Text: text},
		{ID: "tell-before", Stage: Notify, Proof: Tick, Clause: Notify.Clause(),
			Text: "Tell everybody who runs it or works near it that it is going to be shut down and locked, and why."},
	}
}

// closing is what comes between the work and the controls.
func closing(p part) []Step {
	guards := staged(InspectArea, p.guards)
	return append(guards,
		Step{ID: "count-tools", Stage: InspectArea, Proof: Tick, Clause: InspectArea.Clause(),
			Text: "Count tools, rags, bolts and old parts out of the machine against what went in. See that it is whole."},
		Step{ID: "people-clear", Stage: ClearPeople, Proof: Tick, Clause: ClearPeople.Clause(),
			Text: "See with your own eyes that everybody is out of the machine and out of its way, by name."})
}

// staged puts steps into a stage, with its clause where they have none.
func staged(s Stage, steps []Step) []Step {
	steps = slices.Clone(steps)
	for i := range steps {
		steps[i].Stage = s
		if steps[i].Clause == "" {
			steps[i].Clause = s.Clause()
		}
		if steps[i].Proof == "" {
			steps[i].Proof = Tick
		}
	}
	return steps
}

// isolate is a step at each isolator, then a lock on each; where none fits, a
// tag. Blocks without a lock go in later, when what they hold stands still.
func (p part) isolate() []Step {
	var off, on []Step
	for _, iso := range p.isolators {
		if iso.Kind == Block && !iso.Lockable {
			continue
		}
		off = append(off, Step{ID: "isolate-" + StepID(iso.ID), Stage: Isolate, Device: iso.ID, Proof: Tick, Clause: Isolate.Clause(), Text: iso.isolate})
		lock := Step{ID: "lock-" + StepID(iso.ID), Stage: Apply, Device: iso.ID, Proof: Tick, Clause: Clause("(d)(4)(i)"),
			Text: "Your own lock and tag on: " + iso.Label + ". Key in your pocket."}
		if iso.Adapter {
			lock.Text = "Fit its adapter, then your own lock and tag on: " + iso.Label + ". Key in your pocket."
		}
		if !iso.Lockable {
			lock.Clause, lock.Text = Clause("(c)(2)(i)"), "Your tag on: "+iso.Label+". Keep the part with you."
		}
		on = append(on, lock)
	}
	return append(off, on...)
}

// unlock takes the locks and tags off again.
func (p part) unlock() []Step {
	var steps []Step
	for _, iso := range p.isolators {
		if iso.Kind == Block && !iso.Lockable {
			continue
		}
		text := "Take your own lock and tag off: " + iso.Label + "."
		if !iso.Lockable {
			text = "Take your tag off: " + iso.Label + "."
		}
		steps = append(steps, Step{ID: "unlock-" + StepID(iso.ID), Stage: RemoveLocks, Device: iso.ID, Proof: Tick, Clause: RemoveLocks.Clause(), Text: text})
	}
	return steps
}

// giveBack undoes the isolators, the last one first: what was pinned when it
// stood still is free again before it gets power.
func (p part) giveBack() []Step {
	steps := slices.Clone(p.restore)
	for _, iso := range slices.Backward(p.isolators) {
		if iso.restore != "" {
			steps = append(steps, Step{ID: "restore-" + StepID(iso.ID), Device: iso.ID, Text: iso.restore})
		}
	}
	return steps
}

// waits is the relieve steps with their waits stretched to measured coast times.
func (p part) waits(energies []Energy) []Step {
	steps := slices.Clone(p.relieve)
	for i, s := range steps {
		for _, e := range energies {
			if e.ID != s.Energy || e.Kind != Rotation {
				continue
			}
			steps[i].Wait = CoastWait(e.Coast, s.Wait)
			if s.Proof != MarkStill {
				continue
			}
			steps[i].Text += EnglishWaitNote().of(e.Coast, steps[i].Wait)
		}
	}
	return steps
}

// energy is the plant's own entry for e, or e.
func (p Plant) energy(e Energy) Energy {
	for _, equipment := range p {
		for _, own := range equipment.Energies {
			if own.ID == e.ID {
				return own
			}
		}
	}
	return e
}

// device is the plant's own entry for d, or d.
func (p Plant) device(d Device) Device {
	for _, equipment := range p {
		for _, own := range equipment.Devices {
			if own.ID == d.ID {
				return own
			}
		}
	}
	return d
}
