package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// EvidenceKind says what sort of thing answers a clause.
type EvidenceKind string

const (
	ByInspection          EvidenceKind = "inspection"           // Ref: the signed check
	ByGear                EvidenceKind = "gear"                 // Ref: rig, Part: the part of it
	BySafetyItem          EvidenceKind = "safety"               // Ref: the item of the register
	ByProcedure           EvidenceKind = "procedure"            // Ref: the procedure in force
	ByProcedureInspection EvidenceKind = "procedure-inspection" // Ref: the certificate
	ByTraining            EvidenceKind = "training"             // Ref: the person
	ByProgram             EvidenceKind = "program"
)

// Evidence is one thing on the record that answers a clause: what, the day it was
// last done and by whom, and the day it falls due again.
type Evidence struct {
	Kind      EvidenceKind
	Ref, Part string
	What      plain.Sentence
	On        time.Time // zero: nobody has entered it
	By        procedures.PersonID
	Who       string    // where that is nobody of this mill
	Due       time.Time // zero: no day is known
}

// ClauseGap is what is missing for a clause, whom it is about if anybody, and
// what, named as in [Evidence]; no kind: a list would have to ask for it.
type ClauseGap struct {
	Said      plain.Sentence
	Person    procedures.PersonID
	Kind      EvidenceKind
	Ref, Part string
}

// gapAbout is a gap of that evidence.
func gapAbout(e Evidence, said plain.Sentence) ClauseGap {
	return ClauseGap{Said: said, Kind: e.Kind, Ref: e.Ref, Part: e.Part}
}

// ClauseRow is one clause with what stands for it.
type ClauseRow struct {
	Clause string
	Asks   plain.Sentence // in our own words
	Often  plain.Sentence
	Basis  plain.Sentence // whether the text was read
	// NotHere says why the clause asks nothing of this mill, where that is known.
	NotHere  plain.Sentence
	Gaps     []ClauseGap
	Evidence []Evidence
}

// NotYet tells whether something that answers the clause was never done and is not
// yet due: no gap, and no answer either.
func (r ClauseRow) NotYet() bool {
	return slices.ContainsFunc(r.Evidence, func(e Evidence) bool { return e.On.IsZero() && !e.Due.IsZero() })
}

// Due is the first day on which something falls due again, zero for none.
func (r ClauseRow) Due() time.Time {
	var due time.Time
	for _, e := range r.Evidence {
		if !e.Due.IsZero() && (due.IsZero() || e.Due.Before(due)) {
			due = e.Due
		}
	}
	return due
}

// clause is what one clause asks. What answers it names one of its citations:
// the source of a list's item, the rule an inspection of gear or of safety
// equipment is owed by. Nothing else counts as an answer.
type clause struct {
	clause string
	cites  []string
	asks   plain.Sentence
	often  plain.Sentence
	days   int // longest time from one to the next; 0: the clause names none
	needs  procedures.EquipmentKind
	read   basis
	gather func(*gathering, *ClauseRow) // instead of by citation
}

// basis is how the text of a clause is known here.
type basis uint8

const (
	fromMemory basis = iota
	summaryRead
	textRead
)

func (b basis) words() plain.Sentence {
	switch b {
	case textRead:
		return plain.Say("text read")
	case summaryRead:
		return plain.Say("read in a public summary only")
	}
	return plain.Say("from memory")
}

// clauses is the table: pre-shift and in-service checks, lifting gear, lockout,
// fire and first aid. An interval a rule doesn't name is said to be practice.
func clauses() []clause {
	each := plain.Say("each shift; common practice, the rule names no interval")
	const rule = "29 CFR 1910."
	own := func(number string, more ...string) []string {
		cites := []string{rule + number}
		for _, one := range more {
			cites = append(cites, rule+one)
		}
		return cites
	}
	return []clause{
		{clause: rule + "265(e)(1)", cites: own("265(e)(1)"), needs: procedures.Carriage, read: textRead, often: each,
			asks: plain.Say("Carriage: a stop at both ends, covered sheaves, something that keeps it from moving by itself, barriers and signs, sweeps on the rails, dogs that hold")},
		{clause: rule + "265(e)(2)(iii)", cites: own("265(e)(2)(iii)"), needs: procedures.HeadSaw, read: summaryRead, often: each,
			asks: plain.Say("Circular head saw: never over the speed etched on it, guides that are set by hand, splitter or spreader wheel")},
		{clause: rule + "265(c)(4), (c)(9); " + rule + "22(a)", cites: own("265(c)(4)", "265(c)(9)", "22(a)"), often: each,
			asks: plain.Say("Firm, clear footing and enough light where people stand")},
		{clause: rule + "265(c)(20)", cites: own("265(c)(20)"), needs: procedures.DustCollection, read: textRead, often: each,
			asks: plain.Say("Dust and refuse are drawn off or cleared, at the saw and around it")},
		{clause: "NFPA 664", cites: []string{"NFPA 664"}, often: plain.Say("each shift, overhead each week; common practice"),
			asks: plain.Say("No layer of dry dust thick enough to burn in a flash, on ledges, motors and overhead")},
		{clause: rule + "212(a)(1)", cites: own("212(a)(1)"), read: textRead, often: each,
			asks: plain.Say("Guards over the saw, in-running nips and turning parts, for who runs it and who is near")},
		{clause: rule + "213(a)", cites: own("213(a)"), needs: procedures.HeadSaw, read: textRead, often: each,
			asks: plain.Say("The saw runs without shaking, and its mandrel has no play")},
		{clause: rule + "213(b)(3)", cites: own("213(b)(3)"), read: fromMemory, often: plain.Say("each year and after work on the controls; common practice"),
			asks: plain.Say("Nothing starts by itself when power comes back")},
		{clause: rule + "219(p)", cites: own("219(p)"), read: summaryRead, days: 60, often: plain.Say("at least every 60 days"),
			asks: plain.Say("Shafts, belts, pulleys, chains and their bearings looked over")},
		{clause: rule + "265(c)(24)(ii)", cites: own("265(c)(24)(ii)"), needs: procedures.Hoist, read: textRead, often: plain.Say("each shift and each lift; common practice"),
			asks: plain.Say("No open hook where slack could let it off")},
		{clause: rule + "265(c)(24)(v)", cites: own("265(c)(24)(v)"), needs: procedures.Hoist, read: textRead, days: 7, often: plain.Say("each week in use"),
			asks: plain.Say("Wire ropes: broken wires counted, no kink, no rust; where there are any")},
		{clause: rule + "265(c)(24)(ix)", cites: own("265(c)(24)(ix)"), needs: procedures.Hoist, read: textRead, days: 7, often: plain.Say("before first use and each week"),
			asks: plain.Say("Load chains and chain slings looked over, stretch measured")},
		{clause: rule + "184(d)", cites: own("184(d)"), needs: procedures.Hoist, read: textRead, days: 1, often: plain.Say("each day before use"),
			asks: plain.Say("Slings and everything on them looked at by somebody the mill named for it")},
		{clause: rule + "184(e)(1)", cites: own("184(e)(1)"), needs: procedures.Hoist, read: textRead, often: each,
			asks: plain.Say("Chain slings carry a tag one can read: size, grade, rated load, reach")},
		{clause: rule + "184(e)(3)", cites: own("184(e)(3)"), needs: procedures.Hoist, read: textRead, days: 366, often: plain.Say("at least every 12 months, sooner in hard use"),
			asks: plain.Say("Alloy chain slings inspected thoroughly, and the month of the last time on record")},
		{clause: rule + "179(j)(2)", cites: own("179(j)(2)"), needs: procedures.Hoist, read: summaryRead, days: 31, often: plain.Say("daily to monthly, by what it is"),
			asks: plain.Say("Hooks, load chains and what works on the hoist looked at. Written for overhead and gantry cranes; other hoists follow it as good practice")},
		{clause: rule + "179(j)(2)(iii), (iv)", cites: append(own("179(j)(2)(iii)", "179(j)(2)(iv)"), rule+"179(j)(1)(ii)(a), (j)(2)"), needs: procedures.Hoist, read: summaryRead, days: 31, often: plain.Say("each month"),
			asks: plain.Say("A signed record with the day that names the hook and the chain")},
		{clause: rule + "179(j)(3); ASME B30.16", cites: append(own("179(j)(3)"), "ASME B30.16"), needs: procedures.Hoist, read: summaryRead, days: 366, often: plain.Say("each month to each year, by use"),
			asks: plain.Say("The hoist gone over as a whole: load-bearing parts, brake, limit, wiring")},
		{clause: rule + "179(n)(4)", cites: own("179(n)(4)"), needs: procedures.Hoist, read: fromMemory, days: 1, often: plain.Say("at the start of each shift"),
			asks: plain.Say("The upper limit tried with the empty hook")},
		{clause: "ASME B30.10", cites: []string{"ASME B30.10"}, needs: procedures.Hoist, read: fromMemory, days: 366, often: plain.Say("each year at least"),
			asks: plain.Say("Hooks measured: throat, twist, wear, latch")},
		{clause: "ASME B30.20", cites: []string{"ASME B30.20"}, needs: procedures.Hoist, read: fromMemory, days: 366, often: plain.Say("each lift looked at, each year gone over"),
			asks: plain.Say("Yoke and end hooks: rated load marked, welds sound, points sharp")},
		{clause: rule + "147(c)(1)", read: textRead, often: plain.Say("at all times"), gather: (*gathering).program,
			asks: plain.Say("A program of energy control: written procedures, training and inspections")},
		{clause: rule + "147(c)(4)(i)", read: textRead, often: plain.Say("at all times"), gather: (*gathering).procedures,
			asks: plain.Say("A written procedure for each machine that holds energy")},
		{clause: rule + "147(c)(5)", cites: own("147(c)(5)"), read: textRead, often: plain.Say("each month; common practice, the rule names no interval"),
			asks: plain.Say("Locks, hasps and tags enough, sound, of one look, and each marked with whose it is")},
		{clause: rule + "147(c)(6)(i)", read: textRead, days: 366, often: plain.Say("at least once a year, each procedure"), gather: (*gathering).inspected,
			asks: plain.Say("Each procedure inspected by an authorized person who isn't using it, gone over with who uses it, and certified")},
		{clause: rule + "147(c)(7)(i)", read: textRead, often: plain.Say("before the first lockout"), gather: (*gathering).trained,
			asks: plain.Say("Who locks out is trained on the energies and the procedures, who works beside it is told of them")},
		{clause: rule + "147(c)(7)(iii)", read: textRead, often: plain.Say("after a change, or when an inspection shows a gap"), gather: (*gathering).retrained,
			asks: plain.Say("Trained again after a change of work, machine or procedure, and where somebody didn't know it")},
		{clause: rule + "157(e)(2)", cites: own("157(e)(2)"), read: textRead, days: 31, often: plain.Say("each month"),
			asks: plain.Say("Each extinguisher looked at")},
		{clause: rule + "157(e)(3)", cites: own("157(e)(3)"), read: textRead, days: 366, often: plain.Say("each year"),
			asks: plain.Say("Each extinguisher maintained, with its date on record")},
		{clause: rule + "157(e)(4), (f)(2)", cites: own("157(e)(4)", "157(f)(2)"), read: textRead, often: plain.Say("every 5, 6 or 12 years, by its type"),
			asks: plain.Say("Extinguishers emptied and tested under pressure")},
		{clause: rule + "151(b)", cites: own("151(b)"), read: fromMemory, often: plain.Say("always ready; each month is common practice"),
			asks: plain.Say("First-aid supplies at hand, and somebody trained where no clinic is near")},
		{clause: rule + "151(c)", cites: own("151(c)"), read: fromMemory, often: plain.Say("each week, ANSI/ISEA Z358.1"),
			asks: plain.Say("Water for eyes and body, where anything corrosive is used"), gather: (*gathering).eyewash},
		{clause: rule + "132(d)", cites: own("132(d)"), read: fromMemory, often: plain.Say("when work changes; each year is common practice"),
			asks: plain.Say("What could hurt whom was gone through in writing and signed")},
		{clause: rule + "132 to .138", cites: own("132 to .138"), read: fromMemory, often: each,
			asks: plain.Say("Everybody wears what protects eyes, ears, head, hands and feet")},
		{clause: rule + "95", cites: own("95"), read: fromMemory, often: plain.Say("worn each shift; at 85 decibels and more tested and trained each year"),
			asks: plain.Say("Noise: ears covered where it is loud, hearing tested, people trained, the noise measured again on a change")},
		{clause: rule + "38", cites: own("38"), read: fromMemory, often: plain.Say("each year; common practice"),
			asks: plain.Say("What to do in an emergency, gone through with everybody")},
	}
}
