package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// longestWait bounds the wait of a step: the longest coast time there is, and a
// quarter more.
const longestWait = CoastMost + CoastMost/4

// stepAsked is a step to be kept in a draft.
type stepAsked struct {
	p Procedure
	s Step
}

// KeepStep returns the draft with s: changed in its place where it has a step
// of that id and stage, else as the last of its stage. A draft may have gaps
// for all that; [Procedure.Validate] names them. Its error is a [plain.Problems]
// for "step" (its id), "stage", "text", "device", "energy", "proof", "wait",
// "recheck" and "clause", or a [plain.Refusal] for a published version, which
// stays as it is.
func (p Procedure) KeepStep(s Step) (Procedure, error) {
	s.Text, s.Clause = strings.TrimSpace(s.Text), strings.TrimSpace(s.Clause)
	if err := p.editable(); err != nil {
		return p, err
	}
	if err := problemsBy(stepEditRules(), stepAsked{p, s}); err != nil {
		return p, err
	}
	if at := p.stepAt(s.ID); at >= 0 && p.Steps[at].Stage == s.Stage {
		p.Steps = slices.Clone(p.Steps)
		p.Steps[at] = s
		return p, nil
	}
	p.Steps = slices.DeleteFunc(slices.Clone(p.Steps), func(own Step) bool { return own.ID == s.ID })
	at := len(p.Steps)
	for i := range p.Steps {
		if p.Steps[i].Stage > s.Stage {
			at = i
			break
		}
	}
	p.Steps = slices.Insert(p.Steps, at, s)
	return p, nil
}

func stepEditRules() []rule[stepAsked, plain.Problems] {
	return []rule[stepAsked, plain.Problems]{
		{"own id", func(a stepAsked) plain.Problems { return want(a.s.ID != "", "step", plain.Say("its own name, once")) }},
		{"stage", func(a stepAsked) plain.Problems {
			return want(a.s.Stage.written(), "stage", plain.Say("a stage of the sequence other than the work itself"))
		}},
		{"text", func(a stepAsked) plain.Problems {
			return want(a.s.Text != "" && len(a.s.Text) <= longestText, "text", plain.Say("say what to do, not too long to read on a phone"))
		}},
		{"device", func(a stepAsked) plain.Problems {
			_, known := a.p.device(a.s.Device)
			return want(known || a.s.Device == "", "device", plain.Say("a device of this procedure"))
		}},
		{"energy", func(a stepAsked) plain.Problems {
			return want(a.s.Energy == "" || a.p.hasEnergy(a.s.Energy), "energy", plain.Say("an energy of this procedure"))
		}},
		{"proof", func(a stepAsked) plain.Problems {
			return want(a.s.Proof.known(), "proof", plain.Say("a proof from the list"))
		}},
		{"wait", func(a stepAsked) plain.Problems {
			return want(a.s.Wait >= 0 && a.s.Wait <= longestWait, "wait", plain.Say("no wait, or one of at most %s", longestWait))
		}},
		{"recheck", func(a stepAsked) plain.Problems {
			ok := a.s.Recheck == 0 || a.s.Stage == Verify && a.s.Recheck >= leastRecheck && a.s.Recheck <= VerificationLasts
			return want(ok, "recheck", plain.Say("%[1]s to %[2]s, and only for a proof at zero, 29 CFR 1910.147(d)(5)(ii)", time.Duration(leastRecheck), VerificationLasts))
		}},
		{"clause", func(a stepAsked) plain.Problems {
			return want(a.s.Clause != "" && len(a.s.Clause) <= longestName, "clause", plain.Say("the clause that asks for it"))
		}},
	}
}

// written tells whether a procedure has steps of that stage: every one but the
// work itself.
func (s Stage) written() bool { return s >= Prepare && s <= NotifyRestored && s != Work }

// DropStep returns the draft without that step.
func (p Procedure) DropStep(id StepID) (Procedure, error) {
	if err := p.editable(); err != nil {
		return p, err
	}
	at := p.stepAt(id)
	if at < 0 {
		return p, noStep()
	}
	p.Steps = slices.Delete(slices.Clone(p.Steps), at, at+1)
	return p, nil
}

// MoveStep returns the draft with that step by so many places further down, or
// up where by is negative, among the steps of its stage and never out of it:
// the order of the stages is fixed, 29 CFR 1910.147(d).
func (p Procedure) MoveStep(id StepID, by int) (Procedure, error) {
	if err := p.editable(); err != nil {
		return p, err
	}
	at := p.stepAt(id)
	if at < 0 {
		return p, noStep()
	}
	p.Steps = slices.Clone(p.Steps)
	var places []int // of the steps of its stage
	from := 0
	for i, s := range p.Steps {
		if s.Stage != p.Steps[at].Stage {
			continue
		}
		if i == at {
			from = len(places)
		}
		places = append(places, i)
	}
	down := 1
	if by < 0 {
		down = -1
	}
	for to := min(max(from+min(max(by, -len(places)), len(places)), 0), len(places)-1); from != to; from += down {
		i, j := places[from], places[from+down]
		p.Steps[i], p.Steps[j] = p.Steps[j], p.Steps[i]
	}
	return p, nil
}

// editable refuses to change a published version, 29 CFR 1910.147(c)(4)(i).
func (p Procedure) editable() error {
	if p.Version == 0 {
		return nil
	}
	return plain.Refuse(Clause("(c)(4)(i)"), "A published version stays as it is: lockouts were done by it. Change the draft of the next one.")
}

func (p Procedure) stepAt(id StepID) int {
	return slices.IndexFunc(p.Steps, func(s Step) bool { return s.ID == id })
}

func noStep() error {
	return plain.Problems{{Field: "step", Want: plain.Say("a step of this procedure")}}
}
