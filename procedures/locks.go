package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// LockKind is what keeps an isolating device where it was set. The zero value
// is none and refused.
type LockKind string

const (
	KeyedPadlock LockKind = "keyed-padlock"
	Combination  LockKind = "combination" // only where the mill's program says so
)

// ParseLockKind returns the kind s names, or a [plain.Refusal] that says why
// that is no lock, 29 CFR 1910.147(c)(5)(ii)(C)(1).
func ParseLockKind(s string) (LockKind, error) {
	if kind := LockKind(s); kind == KeyedPadlock || kind == Combination {
		return kind, nil
	}
	if said := strings.ToLower(s); strings.Contains(said, "tie") || strings.Contains(said, "wire") || strings.Contains(said, "tape") {
		return "", plain.Refuse(Clause("(c)(5)(ii)(C)(1)"), "A tie, wire or tape isn't a lock: it comes off by hand or with a knife. It only fastens a tag.")
	}
	return "", plain.Refuse(Clause("(c)(5)(ii)(C)(1)"), "Use a keyed padlock: only force, or cutters, may take it off.")
}

// Condition is how a lock is. The zero value isn't good.
type Condition string

const (
	LockGood Condition = "good"
	LockBad  Condition = "bad"
)

// LockItem is one lock of the mill's register. Its number is its own for ever,
// 29 CFR 1910.147(c)(5)(ii): a lock that is retired keeps it.
type LockItem struct {
	Number    string    `json:"number"`
	Kind      LockKind  `json:"kind"`
	Colour    string    `json:"colour"`
	Owner     PersonID  `json:"owner"`
	OnlyHere  bool      `json:"only_here"` // used for energy control and nothing else
	Condition Condition `json:"condition"`
	Issued    time.Time `json:"issued"`
	Retired   time.Time `json:"retired,omitzero"`
	Untold    LockoutID `json:"untold,omitzero"`     // taken off in that lockout while its owner was away, who hasn't said to know
	FirstSeen bool      `json:"first_seen,omitzero"` // put on in a lockout, and entered by nobody: kind, colour, use and condition are taken for right, not known
	By        PersonID  `json:"by"`
	At        time.Time `json:"at"`
}

// UntoldOf returns the locks of a person that were taken off and of which they
// haven't said to know, 29 CFR 1910.147(e)(3)(iii).
func UntoldOf(person PersonID, register []LockItem) []LockItem {
	return slices.DeleteFunc(slices.Clone(register), func(l LockItem) bool { return l.Owner != person || l.Untold == "" })
}

// LockNumber is how a number is compared: without outer blanks, small letters
// as capitals.
func LockNumber(typed string) string { return strings.ToUpper(strings.TrimSpace(typed)) }

// FindLock returns the lock of that number in the register.
func FindLock(register []LockItem, number string) (LockItem, bool) {
	for _, item := range register {
		if LockNumber(item.Number) == LockNumber(number) {
			return item, true
		}
	}
	return LockItem{}, false
}

// NewNumber returns nil when no lock of the register has or had that number,
// else a [plain.Problems] for "number".
func NewNumber(number string, register []LockItem) error {
	var bad plain.Problems
	_, known := FindLock(register, number)
	bad.Unless(!known, "number", "a number no lock has or had, 29 CFR 1910.147(c)(5)(ii)")
	return bad.Err()
}

// OffStandard returns what of item keeps its owner from putting it on here: its
// kind, colour, condition or use, each as [MayUse] would refuse it. A lock that
// is retired isn't put on at all.
func (item LockItem) OffStandard(std Program) []plain.Sentence {
	if !item.Retired.IsZero() {
		return nil
	}
	var off []plain.Sentence
	for _, r := range lockRules() {
		if why := refusal(r.ask(lockAsked{item, Person{ID: item.Owner}, std})); why != nil {
			off = append(off, why.Why)
		}
	}
	return off
}

// lockAsked is one lock somebody wants to put on, as the register has it.
type lockAsked struct {
	item LockItem
	by   Person
	std  Program
}

// MayUse returns the lock of that number when by may put it on, and whether it
// is new to the register: a number nobody has is by's own from its first use.
// Its error is a [plain.Refusal], 29 CFR 1910.147(c)(5)(ii).
func MayUse(number string, by Person, register []LockItem, std Program, now time.Time) (item LockItem, first bool, err error) {
	item, known := FindLock(register, number)
	if !known {
		return LockItem{Number: strings.TrimSpace(number), Kind: KeyedPadlock, Colour: std.LockColour, Owner: by.ID, OnlyHere: true,
			Condition: LockGood, Issued: now, FirstSeen: true, By: by.ID, At: now}, true, nil
	}
	return item, false, refusedBy(lockRules(), lockAsked{item, by, std})
}

func lockRules() []rule[lockAsked, error] {
	return []rule[lockAsked, error]{
		{"not retired", func(a lockAsked) error {
			if a.item.Retired.IsZero() {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)"), "Lock %[1]s was retired on %[2]s; its number isn't used again. Take another lock.", a.item.Number, plain.Day(a.item.Retired))
		}},
		{"own lock", func(a lockAsked) error {
			if a.item.Owner == a.by.ID {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)(D)"), "Lock %s belongs to somebody else. Put your own on.", a.item.Number)
		}},
		{"in good condition", func(a lockAsked) error {
			if a.item.Condition == LockGood {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)(A)(1)"), "Lock %s isn't recorded as in good condition. Take another, or have it looked at.", a.item.Number)
		}},
		{"for energy control only", func(a lockAsked) error {
			if a.item.OnlyHere {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)"), "Lock %s is used for something else too. Take one that is only for locking out.", a.item.Number)
		}},
		{"substantial", func(a lockAsked) error {
			if _, err := ParseLockKind(string(a.item.Kind)); err != nil {
				return err
			}
			if a.item.Kind == Combination && !a.std.Combinations {
				return plain.Refuse(Clause("(c)(5)(ii)(C)(1)"), "Lock %s opens with a number anybody may know. This mill's program asks for a key.", a.item.Number)
			}
			return nil
		}},
		{"of the mill's colour", func(a lockAsked) error {
			if blank(a.std.LockColour) || strings.EqualFold(strings.TrimSpace(a.item.Colour), strings.TrimSpace(a.std.LockColour)) {
				return nil
			}
			return plain.Refuse(Clause("(c)(5)(ii)(B)"), "Lock %[1]s is recorded as %[2]s; locks for locking out are %[3]s here.", a.item.Number, a.item.Colour, a.std.LockColour)
		}},
	}
}

// Keep returns item as by enters it at now, new to the register or in place of
// before (the zero LockItem for a new one). on is the locks reported on in open
// lockouts. Its errors are a [plain.Problems] for the fields "number", "kind",
// "colour", "owner" and "condition", or a [plain.Refusal].
func (item LockItem) Keep(before LockItem, by Person, people []Person, on []Lock, std Program, now time.Time) (LockItem, error) {
	item.Number, item.Colour = strings.TrimSpace(item.Number), strings.TrimSpace(item.Colour)
	item.By, item.At, item.FirstSeen = by.ID, now, false
	if before.Number != "" {
		item.Number, item.Untold = before.Number, before.Untold
		if !before.Issued.IsZero() { // zero: put on before there was a register
			item.Issued = before.Issued
		}
	}
	if err := mayKeepLock(item, before, by, on); err != nil {
		return LockItem{}, err
	}
	var bad plain.Problems
	bad.Unless(item.Number != "" && len(item.Number) <= longestName, "number", "the number on the lock")
	_, err := ParseLockKind(string(item.Kind))
	bad.At("kind", err)
	bad.Unless(item.Kind != Combination || std.Combinations, "kind", "a keyed padlock: the program of this mill allows no other")
	bad.Unless(blank(std.LockColour) || strings.EqualFold(item.Colour, strings.TrimSpace(std.LockColour)), "colour", "%s, as this mill's locks for locking out are, 29 CFR 1910.147(c)(5)(ii)(B)", std.LockColour)
	bad.Unless(slices.ContainsFunc(people, func(p Person) bool { return p.ID == item.Owner && p.Works() }), "owner", "whose lock it is, of the crew")
	bad.Unless(item.Condition == LockGood || item.Condition == LockBad, "condition", "good or bad")
	bad.Unless(!item.Issued.IsZero() && !item.Issued.After(now), "issued", "the day it was issued, today or before")
	if err := bad.Err(); err != nil {
		return LockItem{}, err
	}
	return item, nil
}

func mayKeepLock(item, before LockItem, by Person, on []Lock) error {
	clause := Clause("(c)(5)(ii)")
	switch {
	case !by.Works() || !by.Supervises() && item.Owner != by.ID:
		return plain.Refuse(clause, "A supervisor enters locks of others; you may enter your own.")
	case before.Number == "":
		return nil
	case !by.Supervises() && before.Owner != by.ID:
		return plain.Refuse(clause, "This lock is somebody else's. A supervisor may change that.")
	case !before.Retired.IsZero():
		return plain.Refuse(clause, "Lock %s was retired. Its number isn't used again; give the new lock another.", before.Number)
	case item.Owner != before.Owner && before.Untold != "":
		return plain.Refuse(Clause("(e)(3)(iii)"), "Lock %s was taken off, and its owner hasn't said to know. It changes hands after that.", before.Number)
	case item.Owner != before.Owner && slices.ContainsFunc(on, func(l Lock) bool { return LockNumber(l.Number) == LockNumber(before.Number) }):
		return plain.Refuse(Clause("(c)(5)(ii)(D)"), "Lock %s is reported on. It changes hands when it is off.", before.Number)
	}
	return nil
}
