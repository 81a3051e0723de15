package procedures

import (
	"slices"

	"stillsaw/procedures/plain"
)

// Renewal is its author's word on a new version of a procedure: whether what is
// done changed, and why. 29 CFR 1910.147(c)(7)(iii)(A): a change of substance
// makes who was trained on an earlier version train again; one of words doesn't.
type Renewal struct {
	Said      bool   `json:"said"`      // the author answered; without an answer nothing is published
	Substance bool   `json:"substance"` // what is done changed
	Why       string `json:"why"`
}

// renewalAsked is a renewal and what it renews.
type renewalAsked struct {
	r    Renewal
	diff []Difference
}

// Validate returns nil when the differences may be published with that word.
// Its error is a [plain.Problems] for "substance" and "why", or a
// [plain.Refusal]: nothing changed, or a change of what is done called one of
// words.
func (r Renewal) Validate(diff []Difference) error {
	asked := renewalAsked{r, diff}
	if err := problemsBy(renewalWords(), asked); err != nil {
		return err
	}
	return refusedBy(renewalRules(), asked)
}

func renewalWords() []rule[renewalAsked, plain.Problems] {
	return []rule[renewalAsked, plain.Problems]{
		{"author's word", func(a renewalAsked) plain.Problems {
			return want(a.r.Said, "substance", plain.Say("whether what is done changed, or only words, 29 CFR 1910.147(c)(7)(iii)(A)"))
		}},
		{"why", func(a renewalAsked) plain.Problems {
			return want(!blank(a.r.Why) && len(a.r.Why) <= longestText, "why", plain.Say("why it was changed, in a sentence"))
		}},
	}
}

func renewalRules() []rule[renewalAsked, error] {
	return []rule[renewalAsked, error]{
		{"something changed", func(a renewalAsked) error {
			if len(a.diff) > 0 {
				return nil
			}
			return plain.Refuse("", "Nothing differs from the version there is.")
		}},
		{"substance is substance", func(a renewalAsked) error {
			at := slices.IndexFunc(a.diff, func(d Difference) bool { return d.Kind != OfWords })
			if a.r.Substance || at < 0 {
				return nil
			}
			return plain.Refuse(Clause("(c)(7)(iii)(A)"), "What is done changed (%s), so it can't be called a change of words: who uses it trains again.", a.diff[at].What)
		}},
	}
}

// SubstanceVersion is the newest version whose change was of substance, 0 when
// there is none: training on it or a later one counts for the newest. The first
// version always is of substance, whatever was said of it.
func SubstanceVersion(editions []Edition) int {
	newest, first := 0, 0
	for _, e := range editions {
		if first == 0 || e.Version < first {
			first = e.Version
		}
		if !e.Wording {
			newest = max(newest, e.Version)
		}
	}
	return max(newest, first)
}
