package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// Law is what a mill works under, 29 CFR 1910.147(a)(1)(ii). The values are
// those a mill answers when it is set up.
type Law string

const (
	LawUSFederal Law = "us-federal"
	LawUSState   Law = "us-state"
	LawCanada    Law = "canada"
	LawUK        Law = "uk"
	LawFarm      Law = "farm" // or an owner without employees
	LawOther     Law = "other"
)

// Laws returns every law, in the order a form offers them.
func Laws() []Law {
	return []Law{LawUSFederal, LawUSState, LawCanada, LawUK, LawFarm, LawOther}
}

// Program is what a mill has said of its control of hazardous energy as a
// whole, 29 CFR 1910.147(a)(3)(i), (c)(1) and Appendix A. The zero Program is
// that of a mill that has said nothing yet.
type Program struct {
	Purpose      string     `json:"purpose"`
	Duty         string     `json:"duty"`      // that everybody keeps to it
	InCharge     PersonID   `json:"in_charge"` // who answers for it
	Scope        string     `json:"scope"`
	Enforcement  string     `json:"enforcement"` // what follows for who doesn't
	Law          Law        `json:"law"`
	AbsentOwner  string     `json:"absent_owner"` // how an absent person's lock comes off, (e)(3); "": not written, so it doesn't
	LockColour   string     `json:"lock_colour"`
	TagStandard  string     `json:"tag_standard"`
	Combinations bool       `json:"combinations"` // combination locks are allowed
	Affected     []Affected `json:"affected"`
	By           PersonID   `json:"by"`
	At           time.Time  `json:"at"`
}

// SetUp tells whether anybody has entered the program yet.
func (p Program) SetUp() bool { return !p.At.IsZero() }

// programAsked is a program about to be signed.
type programAsked struct {
	p      Program
	people []Person
	plant  Plant
}

// Keep returns p signed by by at now. Its errors are a [plain.Problems] for the
// fields "purpose", "duty", "in_charge", "scope", "enforcement", "law",
// "lock_colour", "tag_standard", "absent_owner" and "affected", or a
// [plain.Refusal].
func (p Program) Keep(by Person, people []Person, plant Plant, now time.Time) (Program, error) {
	if by.Role != Supervisor || !by.Supervises() {
		return Program{}, plain.Refuse(Clause("(c)(1)"), "The program is the employer's word: a supervisor signs it.")
	}
	p.By, p.At = by.ID, now
	p.LockColour, p.TagStandard = strings.TrimSpace(p.LockColour), strings.TrimSpace(p.TagStandard)
	if err := problemsBy(programRules(), programAsked{p, people, plant}); err != nil {
		return Program{}, err
	}
	return p, nil
}

func programRules() []rule[programAsked, plain.Problems] {
	said := func(field string, text func(Program) string, asked plain.Sentence) func(programAsked) plain.Problems {
		return func(a programAsked) plain.Problems {
			return want(!blank(text(a.p)) && len(text(a.p)) <= longestText, field, asked)
		}
	}
	return []rule[programAsked, plain.Problems]{
		{"purpose", said("purpose", func(p Program) string { return p.Purpose }, plain.Say("what it is for, 29 CFR 1910.147 Appendix A"))},
		{"duty", said("duty", func(p Program) string { return p.Duty }, plain.Say("that everybody keeps to it, 29 CFR 1910.147 Appendix A"))},
		{"scope", said("scope", func(p Program) string { return p.Scope }, plain.Say("which machines and which work, 29 CFR 1910.147(a)(3)(i)"))},
		{"enforcement", said("enforcement", func(p Program) string { return p.Enforcement }, plain.Say("what follows for whoever doesn't keep to it, 29 CFR 1910.147 Appendix A"))},
		{"who is in charge", func(a programAsked) plain.Problems {
			return want(slices.ContainsFunc(a.people, func(p Person) bool { return p.ID == a.p.InCharge && p.Works() }),
				"in_charge", plain.Say("who of the crew answers for it, 29 CFR 1910.147(a)(3)(i)"))
		}},
		{"law", func(a programAsked) plain.Problems {
			return want(slices.Contains(Laws(), a.p.Law), "law", plain.Say("which law the mill works under, 29 CFR 1910.147(a)(1)(ii)"))
		}},
		{"one look of locks and tags", func(a programAsked) plain.Problems {
			return append(want(a.p.LockColour != "" && len(a.p.LockColour) <= longestName, "lock_colour", plain.Say("the colour of all locks for locking out, 29 CFR 1910.147(c)(5)(ii)(B)")),
				want(a.p.TagStandard != "" && len(a.p.TagStandard) <= longestText, "tag_standard", plain.Say("how all tags look and are printed, 29 CFR 1910.147(c)(5)(ii)(B)"))...)
		}},
		{"absent owner's text fits", func(a programAsked) plain.Problems {
			return want(len(a.p.AbsentOwner) <= longestText, "absent_owner", plain.Say("in fewer words"))
		}},
		{"affected people of this mill", func(a programAsked) plain.Problems {
			var bad plain.Problems
			for _, one := range a.p.Affected {
				_, known := a.plant.Find(one.Equipment)
				strangers := slices.ContainsFunc(one.People, func(id PersonID) bool {
					return !slices.ContainsFunc(a.people, func(p Person) bool { return p.ID == id })
				})
				bad = append(bad, want(known && !strangers, "affected", plain.Say("people and equipment of this mill"))...)
			}
			return bad
		}},
	}
}

// Basis says how the clauses named by the program's screens and prints bind
// under that law. Nothing on record changes with it.
func (l Law) Basis() plain.Sentence {
	switch l {
	case LawUSFederal:
		return plain.Say("29 CFR 1910.147 is the law here.")
	case LawUSState:
		return plain.Say("Your state's own rule is the law here; it asks for at least what 29 CFR 1910.147 does, whose clauses are named.")
	case LawFarm:
		return plain.Say("29 CFR 1910.147 leaves out farms, and owners without employees. Its clauses are named as good practice.")
	case LawCanada, LawUK, LawOther:
		return plain.Say("29 CFR 1910.147 isn't the law here. Its clauses are named as good practice; your own law comes first.")
	}
	return plain.Say("Nobody has said yet which law the mill works under. The clauses of 29 CFR 1910.147 are named.")
}

// Light is one of the three things a procedure needs before anybody services by
// it, (c)(1): on, or why not.
type Light struct {
	On  bool
	Gap Gap // empty when On
}

// Lights is how one procedure stands.
type Lights struct {
	Written, Trained, Inspected Light
	Lacking                     []PersonGap // of each authorized person, for showing
}

// Ready tells whether all three are on.
func (l Lights) Ready() bool { return l.Written.On && l.Trained.On && l.Inspected.On }

// ProgramState returns how p stands, (c)(1). trained is what is known of each
// of the people who may lock out by it, see [AuthorizedFor]; due is of its
// inspection. The zero Lights is none on.
func ProgramState(p Procedure, trained []Learned, due InspectionDue, now time.Time) Lights {
	return lightsBy(lightRules(), lightAsked{p, trained, due, now})
}

type lightAsked struct {
	p       Procedure
	trained []Learned
	due     InspectionDue
	now     time.Time
}

func lightRules() []rule[lightAsked, []PersonGap] {
	return []rule[lightAsked, []PersonGap]{
		{"written", func(a lightAsked) []PersonGap {
			if a.p.Version >= 1 {
				return nil
			}
			return []PersonGap{{Gap: Gap{plain.Say("not written: still a draft"), Clause("(c)(4)(i)")}}}
		}},
		{"trained", func(a lightAsked) []PersonGap {
			if len(a.trained) == 0 {
				return []PersonGap{{Gap: Gap{plain.Say("nobody here is trained on it and authorized"), Clause("(c)(7)(i)(A)")}}}
			}
			var gaps []PersonGap
			for _, k := range a.trained {
				for _, g := range k.Gaps(a.p, a.now) {
					gaps = append(gaps, PersonGap{k.Person, g})
				}
			}
			return gaps
		}},
		{"inspected", func(a lightAsked) []PersonGap {
			if a.due.State == DueLater || a.due.State == DueSoon {
				return nil
			}
			return []PersonGap{{Gap: Gap{a.due.Words(), Clause("(c)(6)(i)")}}}
		}},
	}
}

func lightsBy(rules []rule[lightAsked, []PersonGap], a lightAsked) Lights {
	lights := Lights{Written: Light{On: true}, Trained: Light{On: true}, Inspected: Light{On: true}}
	for _, r := range rules {
		gaps := r.ask(a)
		if len(gaps) == 0 {
			continue
		}
		light := Light{Gap: gaps[0].Gap}
		switch r.name {
		case "written":
			lights.Written = light
		case "trained":
			lights.Trained, lights.Lacking = light, gaps
		case "inspected":
			lights.Inspected = light
		}
	}
	return lights
}
