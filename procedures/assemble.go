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
	restore   []Step // blocks without a device out, before all else of that kind
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

// giveBack is done in three parts, for the locks are off by now: with every
// isolator still at off, whoever goes to the machine takes out what was set by
// hand and puts back what was taken off; then nobody is at it any more, which is
// seen to once more, 29 CFR 1910.147(e)(2)(i); only then energy comes back.
//
// Appendix A of 29 CFR 1910.147 notes that "the removal of some forms of blocking
// may require reenergization of the machine before safe removal". No block of the
// starters does. The carriage is parked empty at its low end and let go last, from
// beside the track; the clamp comes off its rope and the blocks from under arms and
// knees while it is still tied; there is no cant on the headblocks; and the yoke's
// rest has no step, the hoist lifts the yoke off it. A mill where only the feed
// holds the carriage on its slope has to say so in its own version, and move the
// step to after the feed.
func (p part) giveBack() []Step {
	steps := p.byHand()
	powered := slices.ContainsFunc(p.isolators, func(iso isolator) bool { return iso.Kind != Block && iso.restore != "" })
	if len(steps) > 0 && powered {
		steps = append(steps, Step{ID: "clear-again", Clause: ClearPeople.Clause(),
			Text: "Nobody goes to the machine any more. See again with your own eyes that everybody is out of it and out of its way, by name. Only then give it power."})
	}
	return append(steps, p.undone(func(iso isolator) bool { return !iso.byHand() })...)
}

// byHand takes blocks, pins, chocks and tie-downs out again, then puts back what
// was taken off: a belt or a fuse is a way for energy. Of the blocks what keeps a
// whole machine where it stands comes out last: until then nobody at saw or
// headblocks can be run over.
func (p part) byHand() []Step {
	stays := func(iso isolator) bool {
		return slices.ContainsFunc(p.energies, func(e Energy) bool { return e.Kind == Moving && iso.cuts(e.ID) })
	}
	steps := slices.Clone(p.restore)
	slices.Reverse(steps)
	return slices.Concat(steps,
		p.undone(func(iso isolator) bool { return iso.Kind == Block && !stays(iso) }),
		p.undone(func(iso isolator) bool { return iso.Kind == Block && stays(iso) }),
		p.undone(func(iso isolator) bool { return iso.Kind == PartRemoved }))
}

// byHand tells whether somebody has to be at the machine to undo it.
func (iso isolator) byHand() bool { return iso.Kind == Block || iso.Kind == PartRemoved }

// undone undoes the isolators that are meant, the last one first.
func (p part) undone(meant func(isolator) bool) []Step {
	var steps []Step
	for _, iso := range slices.Backward(p.isolators) {
		if iso.restore != "" && meant(iso) {
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
