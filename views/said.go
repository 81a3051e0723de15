package views

import (
	"fmt"
	"io"
	"strings"
)

// said is text that is finished: it prints as it is under every verb, so that
// "%.1f" written for a bare number still shows a quantity with its unit.
type said string

// Format writes the text whatever the verb and flags.
func (s said) Format(state fmt.State, _ rune) {
	// The writer is the printer's own buffer, which cannot fail; fmt.Formatter has no way to say so.
	io.WriteString(state, string(s))
}

// Cited is where a rule of the program comes from, with what isn't a title or a
// number in the reader's language: that it was cited from memory, say.
func (f *Frame) Cited(source string) string {
	switch source { // words that may stand in a mill's own text too
	case "statics":
		return f.T("statics")
	case "geometry":
		return f.T("geometry")
	case "this mill's own floor":
		return f.T("this mill's own floor")
	case "the floor entered for this rig":
		return f.T("the floor entered for this rig")
	case "this mill's own margin":
		return f.T("this mill's own margin")
	case "every part of the load path counts":
		return f.T("every part of the load path counts")
	case "what hangs below a part counts as load on it":
		return f.T("what hangs below a part counts as load on it")
	case "no published rating covers a point in wood":
		return f.T("no published rating covers a point in wood")
	}
	return strings.NewReplacer("monthly: common practice, no source", f.T("monthly: common practice, no source"), "common practice, no source", f.T("common practice, no source"),
		"Common practice, no source", f.T("Common practice, no source"), "own choice", f.T("own choice"), "own rule", f.T("own rule"),
		"from memory", f.T("from memory"), "makers' practice", f.T("makers' practice"), "from the geometry", f.T("from the geometry"), "good practice elsewhere", f.T("good practice elsewhere"),
		"chain makers: any stretch is a sign of overload; an eighth of an inch in 3 ft", f.T("chain makers: any stretch is a sign of overload; an eighth of an inch in 3 ft"),
		"least link thickness", f.T("least link thickness"), "minimum allowable chain size", f.T("minimum allowable chain size"),
		"ASME B30.10 as in WAC 296-155-55800; 29 CFR 1910.179(j)(2)(iii) and Alberta OHS Code s. 309 allow 15 % and 10°", f.T("ASME B30.10 as in WAC 296-155-55800; 29 CFR 1910.179(j)(2)(iii) and Alberta OHS Code s. 309 allow 15 % and 10°")).Replace(source)
}
