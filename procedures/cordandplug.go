package procedures

import "stillsaw/procedures/plain"

// MayBeCordAndPlug tells whether a piece of equipment may be served with its
// plug pulled and held by the one who works, and nothing locked: 29 CFR
// 1910.147(a)(2)(iii)(A). It may when its one energy is electrical, nothing is
// stored, nothing else moves or feeds it, and a plug is the one thing that cuts
// it off. The error is a [plain.Refusal] that says what is against it.
//
// The other exemption of (a)(2)(iii), hot taps, is not offered at all.
func (p Plant) MayBeCordAndPlug(eq EquipmentID) error {
	return refusedBy(cordRules(), exceptionOf(p, eq, Declared{}, Kept{}))
}

func cordRules() []rule[exceptionAsked, error] {
	clause := Clause("(a)(2)(iii)(A)")
	return []rule[exceptionAsked, error]{
		{"known", func(a exceptionAsked) error {
			if a.known {
				return nil
			}
			return plain.Refuse(clause, "No such piece of equipment is registered.")
		}},
		{"nothing stored", func(a exceptionAsked) error {
			if why := storedAgainst(a); !why.Empty() {
				return plain.Refuse(clause, "A pulled plug isn't enough: %s. Lock it out.", why)
			}
			return nil
		}},
		{"one electrical source", func(a exceptionAsked) error {
			if len(a.energies) == 1 && a.energies[0].Kind == Electrical {
				return nil
			}
			return plain.Refuse(clause, "A pulled plug is enough only where electricity is all there is. Lock it out.")
		}},
		{"a plug cuts it off", func(a exceptionAsked) error {
			if cutting := a.cutting(); len(cutting) == 1 && cutting[0].Kind == Plug {
				return nil // in the hand it needs no hole for a lock
			}
			return plain.Refuse(clause, "A plug must be the one thing that cuts it off. Lock it out.")
		}},
	}
}
