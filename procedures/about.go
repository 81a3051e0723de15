package procedures

import (
	"errors"

	"stillsaw/procedures/plain"
)

// refusedAbout is refusedBy of an act's rules; the refusal says which part of
// the act it is about, so that a form can mark it.
func refusedAbout(rules []rule[asked, error], a asked) error {
	for _, r := range rules {
		err := r.ask(a)
		if err == nil {
			continue
		}
		var refusal *plain.Refusal
		if errors.As(err, &refusal) && refusal.About == "" {
			refusal.About = partOf(r.name)
		}
		return err
	}
	return nil
}

// partOf names the part of an act that the rule of that name looks at, "" where
// it looks at the act as a whole.
func partOf(rule string) string {
	switch rule {
	case "(c)(9) told before", "(e)(2)(ii) told after", "(f)(4) the state told":
		return "told"
	case "(f)(4) told by the one going off", "(f)(4) told by somebody of this lockout":
		return "from"
	case "(f)(4) keys into the box", "(f)(3)(ii)(D) keys seen in the box", "(f)(3)(ii)(D) keys seen before going on":
		return "keys"
	case "(e)(1) tools counted", "(f)(1)(i) tools out":
		return "tools"
	case "(e)(1) as many out as in", "(f)(1)(i) as many out as in", "(e)(1) no more out than in":
		return "tools_out"
	case "(f)(1)(ii) everybody seen clear", "(d) called off with nobody in", "(e)(2)(i) nobody in since the test":
		return "clear"
	case "(f)(1)(iv) from where it is run":
		return "where"
	case "(f)(1)(iv) what moves":
		return "moves"
	case "(f)(1)(v) control off", "Appendix A-7 control back at off":
		return "offback"
	case "(e)(3)(i) made sure the owner isn't here":
		return "not_here"
	case "(e)(3)(ii) tried to reach the owner", "(e)(3)(ii) tried to reach the primary", "(e)(3)(ii) each try told":
		return "tries"
	case "(c)(5)(ii)(A) tag readable":
		return "tag-read"
	case "(c)(5)(ii)(C)(2) tag fastened":
		return "tag-tied"
	case "(d)(4)(iii)(B) where the tag hangs":
		return "tag-where"
	case "(c)(3)(ii) one more means":
		return "tag-means"
	case "until when it stays locked", "a later end than before":
		return "until"
	case "photo where the step asks for one":
		return "photo"
	}
	return ""
}
