package procedures

import "stillsaw/procedures/plain"

// rule is one demand of a clause. It has a name so that a test can leave it out
// of its own copy of the rules and see what then passes.
type rule[C, R any] struct {
	name string
	ask  func(C) R
}

// problemsBy are the problems every rule finds with what was entered, or nil.
func problemsBy[C any](rules []rule[C, plain.Problems], about C) error {
	var bad plain.Problems
	for _, r := range rules {
		bad = append(bad, r.ask(about)...)
	}
	return bad.Err()
}

// refusedBy is what the first rule against an act says, or nil.
func refusedBy[C any](rules []rule[C, error], about C) error {
	for _, r := range rules {
		if err := r.ask(about); err != nil {
			return err
		}
	}
	return nil
}

// want makes the problems of one demand.
func want(ok bool, field string, said plain.Sentence) plain.Problems {
	if ok {
		return nil
	}
	return plain.Problems{{Field: field, Want: said}}
}
