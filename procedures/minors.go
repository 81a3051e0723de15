package procedures

import (
	"time"

	"stillsaw/procedures/plain"
)

// What federal law of the United States bars people under 18 from. Orders 5 and
// 7 were read in the code itself (Order 5 at 29 CFR 1500.55, its earlier number),
// Order 4 in Haw. Code R. 12-25-56 and Wis. Admin. Code DWD 270.12(17), which
// repeat it.
const (
	// Sawmilling, with some yard work outside the sawmill building left open.
	millOrder = "29 CFR 570.54 (Order 4, sawmilling)"
	// Operating, feeding, setting up, adjusting, repairing, oiling or cleaning
	// power-driven woodworking machines, and off-bearing from circular saws.
	woodworkingOrder = "29 CFR 570.55 (Order 5, power-driven woodworking machines)"
	// Operating, tending, riding on, repairing or servicing a power-driven hoist.
	hoistOrder = "29 CFR 570.58 (Order 7, power-driven hoists)"
)

// MinorRule is what a mill's law lets people under 18 do. The zero rule, of a mill
// whose law nobody has entered, lets them do nothing.
type MinorRule struct {
	Law Law
	// Allowed: a supervisor has signed that the law there lets them do it. It counts
	// for nothing under the law of the United States, which bars it.
	Allowed bool
	// HandHoist: the hoist is worked by a hand chain, so it is not power-driven.
	HandHoist bool
}

// Settled tells whether the law itself answers, so that nothing is left for the
// supervisor to say.
func (r MinorRule) Settled() bool { return r.Law == LawUSFederal || r.Law == LawUSState }

// Bars tells whether people under 18 are barred from work at the machines.
func (r MinorRule) Bars() bool { return r.Settled() || r.Law == "" || !r.Allowed }

// Clause is the rule that bars work on equipment of that kind, "" where the law
// isn't one Stillsaw knows the rule of.
func (r MinorRule) Clause(kind EquipmentKind) string {
	if !r.Settled() {
		return ""
	}
	switch kind {
	case Hoist:
		if r.HandHoist {
			return millOrder
		}
		return hoistOrder
	case HeadSaw, Carriage, DogsAndKnees, OffBearing:
		return woodworkingOrder
	}
	return millOrder
}

// May returns nil unless p is under 18 at now and the law bars p from work on
// equipment of that kind, "" for the mill as a whole; the error is a
// [plain.Refusal] with the clause. It is asked of work and of signing for work.
// Stopping a machine and telling what went wrong are anybody's at any age.
func (r MinorRule) May(p Person, kind EquipmentKind, now time.Time) error {
	if !p.UnderAge(now) || !r.Bars() {
		return nil
	}
	if clause := r.Clause(kind); clause != "" {
		return plain.Refuse(clause, "%s is under 18, and the law bars people under 18 from this. Somebody else does it and signs.", p.Name)
	}
	return plain.Refuse("", "%s is under 18. Nobody has signed yet that the law here lets people under 18 do this, so they may not. Somebody else does it and signs.", p.Name)
}

// MayBe returns nil when somebody may be kept as p at now, else a
// [plain.Problems] for the fields "role", "deputy", "authorized",
// "qualified_electrical" and "qualified_lifting": who is barred from the work can't
// answer for it.
func (r MinorRule) MayBe(p Person, now time.Time) error {
	if !p.UnderAge(now) || !r.Bars() || p.Left {
		return nil
	}
	var bad plain.Problems
	for _, one := range []struct {
		field string
		is    bool
		kind  EquipmentKind
	}{{"role", p.Role == Supervisor, Site}, {"deputy", p.Deputy, Site}, {"authorized", p.Authorized, HeadSaw}, {"qualified_electrical", p.QualifiedElectrical, Site}, {"qualified_lifting", p.QualifiedLifting, Hoist}} {
		if clause := r.Clause(one.kind); clause != "" {
			bad.Unless(!one.is, one.field, "left out for somebody under 18: %s", clause)
			continue
		}
		bad.Unless(!one.is, one.field, "left out for somebody under 18, until a supervisor has signed that the law here allows it")
	}
	return bad.Err()
}
