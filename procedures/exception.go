package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// Part is one of the eight conditions of 29 CFR 1910.147(c)(4)(i), exception:
// all must hold for a procedure to stay unwritten.
type Part struct {
	Number int // 1 to 8
	Holds  bool
	Why    plain.Sentence // what is against it; empty when it holds
}

// Asks says what the part asks, in our own words.
func (p Part) Asks() plain.Sentence {
	switch p.Number {
	case 1:
		return plain.Say("nothing is stored or left over, and nothing builds up after it is shut down")
	case 2:
		return plain.Say("it has one source of energy, easy to see and to isolate")
	case 3:
		return plain.Say("isolating and locking that one source takes all energy away")
	case 4:
		return plain.Say("it is isolated and locked each time it is served")
	case 5:
		return plain.Say("one lock does it")
	case 6:
		return plain.Say("that lock is the one person's who does the work, and nobody else's")
	case 7:
		return plain.Say("the work makes no hazard for others")
	case 8:
		return plain.Say("nothing ever started or let go there that nobody expected")
	}
	return plain.Say("not one of the eight parts")
}

// Declared is what nothing kept can show: who declares it, by name. Nobody, and
// the part doesn't hold.
type Declared struct {
	FullyDead PersonID // part 3: locking that one source off takes all energy away
	NoHazard  PersonID // part 7: the job makes no hazard for others
}

// Unexpected is a start or a release of energy nobody expected, as it was
// reported.
type Unexpected struct {
	Equipment EquipmentID
	At        time.Time
}

// Kept is what was kept of a mill that the exception is computed from.
type Kept struct {
	Lockouts   []Lockout    // all of them, over or not
	Unexpected []Unexpected // all there ever were
}

// exceptionAsked is a piece and what is known of it.
type exceptionAsked struct {
	plant    Plant
	piece    Equipment
	known    bool
	reached  []EquipmentID
	energies []Energy
	uses     []Lockout
	declared Declared
	kept     Kept
}

// Exception computes the eight parts for one piece of equipment: parts 1, 2 and
// 5 from the register of it and of all that moves or feeds it, 4 and 6 from the
// lockouts kept, 8 from what started or let go unexpectedly, 3 and 7 from who
// declares them. None is ever ticked, and what isn't known doesn't hold. What
// holds tells only that the law lets the procedure stay unwritten; Stillsaw
// writes one for all that, [Plant.DraftProcedure].
func Exception(p Plant, eq EquipmentID, declared Declared, kept Kept) []Part {
	return exceptionBy(exceptionParts(), exceptionOf(p, eq, declared, kept))
}

func exceptionOf(p Plant, eq EquipmentID, declared Declared, kept Kept) exceptionAsked {
	a := exceptionAsked{plant: p, declared: declared, kept: kept}
	a.piece, a.known = p.Find(eq)
	if a.known = a.known && a.piece.Kind != Site; a.known {
		a.reached = p.actingOn([]EquipmentID{eq})
		for _, id := range a.reached {
			e, _ := p.Find(id)
			a.energies = append(a.energies, e.Energies...)
		}
	}
	for _, l := range kept.Lockouts {
		if slices.Contains(l.Procedure.Equipment, eq) && !l.Cancelled {
			a.uses = append(a.uses, l)
		}
	}
	return a
}

func exceptionBy(parts []rule[exceptionAsked, plain.Sentence], a exceptionAsked) []Part {
	var all []Part
	for i, part := range parts {
		why := part.ask(a)
		all = append(all, Part{Number: i + 1, Holds: why.Empty(), Why: why})
	}
	return all
}

// MayStayUnwritten tells whether all eight parts hold. Fewer than eight never do.
func MayStayUnwritten(parts []Part) bool {
	return len(parts) == 8 && !slices.ContainsFunc(parts, func(p Part) bool { return !p.Holds })
}

// exceptionParts says of each part what is against it; nothing, and it holds.
func exceptionParts() []rule[exceptionAsked, plain.Sentence] {
	return []rule[exceptionAsked, plain.Sentence]{
		{"no stored energy", storedAgainst},
		{"one source", func(a exceptionAsked) plain.Sentence {
			return against(len(a.energies) == 1, plain.Say("%d sources are registered for it and what moves or feeds it; exactly one is needed", len(a.energies)))
		}},
		{"fully dead", func(a exceptionAsked) plain.Sentence {
			return against(a.declared.FullyDead != "", plain.Say("nobody declares by name that locking that one source off takes all energy away"))
		}},
		{"locked each time", func(a exceptionAsked) plain.Sentence {
			for _, l := range a.uses {
				if len(l.Locks) == 0 && (!l.Open() || l.Stage > Apply) {
					return plain.Say("the lockout of %s has no lock in it", l.Begun)
				}
			}
			return against(len(a.uses) > 0, plain.Say("no lockout of it is kept yet, so nothing shows that it is locked each time"))
		}},
		{"one device", devicesAgainst},
		{"one person's lock", func(a exceptionAsked) plain.Sentence {
			for _, l := range a.uses {
				for _, lock := range l.Locks {
					if lock.Owner != l.Primary {
						return plain.Say("in the lockout of %s more than one person had a lock", l.Begun)
					}
				}
				for _, m := range l.Members {
					if m.Person != l.Primary {
						return plain.Say("in the lockout of %s more than one person was on the job", l.Begun)
					}
				}
			}
			return against(len(a.uses) > 0, plain.Say("no lockout of it is kept yet, so nothing shows whose lock it is"))
		}},
		{"no hazard for others", func(a exceptionAsked) plain.Sentence {
			return against(a.declared.NoHazard != "", plain.Say("nobody declares by name that the job makes no hazard for others"))
		}},
		{"no start unexpected", func(a exceptionAsked) plain.Sentence {
			for _, u := range a.kept.Unexpected {
				if u.Equipment == a.piece.ID || slices.Contains(a.reached, u.Equipment) {
					return plain.Say("something started or let go there unexpectedly on %s", u.At)
				}
			}
			return against(a.known, plain.Say("no such piece of equipment is registered"))
		}},
	}
}

// against is what is said against a part unless it is ok.
func against(ok bool, why plain.Sentence) plain.Sentence {
	if ok {
		return plain.Sentence{}
	}
	return why
}

// storedAgainst is part 1: nothing stored or left over, and nothing that can
// build up after shutting down.
func storedAgainst(a exceptionAsked) plain.Sentence {
	for _, e := range a.energies {
		if e.lingers() {
			return plain.Say("%[1]s (%[2]s) is still there, or builds up again, when it is shut down", e.Source, e.Kind.Words())
		}
	}
	return against(len(a.energies) > 0, plain.Say("no energy is registered for it, so nothing is known of what is left over"))
}

// lingers tells whether e can be there when what feeds it is off: marked so,
// coasting, building up again, or of a kind that does.
func (e Energy) lingers() bool {
	return e.Stored || e.Coast > 0 || e.Recheck > 0 || e.Kind.leftOver() ||
		e.Kind == Hydraulic || e.Kind == Pneumatic || e.Kind == Engine || e.Kind == Chemical || !e.Kind.known()
}

// devicesAgainst is part 5: one device cuts it off, and takes a lock.
func devicesAgainst(a exceptionAsked) plain.Sentence {
	cutting := a.cutting()
	if len(cutting) != 1 {
		return plain.Say("%d devices keep its energy away; exactly one is needed", len(cutting))
	}
	if !cutting[0].Lockable {
		return plain.Say("%s takes no lock", cutting[0].Label)
	}
	for _, e := range a.energies {
		if !cutting[0].cuts(e.ID) {
			return plain.Say("%[1]s doesn't keep %[2]s away", cutting[0].Label, e.Source)
		}
	}
	return plain.Sentence{}
}

// cutting is every device that keeps some of it away.
func (a exceptionAsked) cutting() []Device {
	var cutting []Device
	for _, e := range a.plant {
		for _, d := range e.Devices {
			if slices.ContainsFunc(a.energies, func(energy Energy) bool { return d.cuts(energy.ID) }) {
				cutting = append(cutting, d)
			}
		}
	}
	return cutting
}
