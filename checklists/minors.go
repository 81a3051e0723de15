package checklists

import "stillsaw/procedures"

// MinorRule is what the law of the mill lets people under 18 do: that of its
// lockout program where it names one, else the one answered at set-up.
func (m Mill) MinorRule(program procedures.Program) procedures.MinorRule {
	rule := procedures.MinorRule{Law: procedures.Law(m.SetUp.Law), Allowed: m.MinorsAllowed, HandHoist: m.SetUp.Hoist == "hand-chain"}
	if program.Law != "" {
		rule.Law = program.Law
	}
	return rule
}
