package server

import (
	"fmt"
	"math"
	"time"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

// keptSentence is a sentence as it stands in the record: its English format and
// its values with their kinds, so that it is read back in any language and units.
type keptSentence struct {
	Format string    `json:"format"`
	Args   []keptArg `json:"args"`
}

// keptArg is one value; Kind says which of the others counts.
type keptArg struct {
	Kind   string        `json:"kind"` // "text", "count", "number", "m", "kg", "N", "degrees", "m3", "kg/m3", "share", "seconds", "time", "sentence", "wood"
	Text   string        `json:"text,omitempty"`
	Number float64       `json:"number,omitempty"`
	Time   *time.Time    `json:"time,omitempty"`
	Said   *keptSentence `json:"said,omitempty"`
}

func keepSentence(s plain.Sentence) keptSentence {
	kept := keptSentence{Format: s.Format, Args: []keptArg{}}
	for _, arg := range s.Args {
		kept.Args = append(kept.Args, keepArg(arg))
	}
	return kept
}

func keepArg(arg any) keptArg {
	as := func(kind string, x float64) keptArg {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return keptArg{Kind: "text", Text: fmt.Sprint(arg)}
		}
		return keptArg{Kind: kind, Number: x}
	}
	switch arg := arg.(type) {
	case plain.Metres:
		return as("m", float64(arg))
	case plain.Gauged:
		return as("gauged m", float64(arg))
	case plain.Kilograms:
		return as("kg", float64(arg))
	case plain.Newtons:
		return as("N", float64(arg))
	case plain.Degrees:
		return as("degrees", float64(arg))
	case plain.CubicMetres:
		return as("m3", float64(arg))
	case plain.KilogramsPerCubic:
		return as("kg/m3", float64(arg))
	case plain.Fraction:
		return as("share", float64(arg))
	case time.Duration:
		return as("seconds", arg.Seconds())
	case float64:
		return as("number", arg)
	case int:
		return as("count", float64(arg))
	case time.Time:
		at := arg.UTC()
		return keptArg{Kind: "time", Time: &at}
	case lift.Wood:
		return keptArg{Kind: "wood", Text: string(arg)}
	case plain.Sentence:
		said := keepSentence(arg)
		return keptArg{Kind: "sentence", Said: &said}
	}
	return keptArg{Kind: "text", Text: fmt.Sprint(arg)}
}

func (k keptSentence) sentence() plain.Sentence {
	s := plain.Sentence{Format: k.Format}
	for _, arg := range k.Args {
		s.Args = append(s.Args, arg.value())
	}
	return s
}

func (k keptArg) value() any {
	switch k.Kind {
	case "m":
		return plain.Metres(k.Number)
	case "gauged m":
		return plain.Gauged(k.Number)
	case "kg":
		return plain.Kilograms(k.Number)
	case "N":
		return plain.Newtons(k.Number)
	case "degrees":
		return plain.Degrees(k.Number)
	case "m3":
		return plain.CubicMetres(k.Number)
	case "kg/m3":
		return plain.KilogramsPerCubic(k.Number)
	case "share":
		return plain.Fraction(k.Number)
	case "seconds":
		return time.Duration(k.Number * float64(time.Second))
	case "number":
		return k.Number
	case "count":
		return int(k.Number)
	case "time":
		if k.Time != nil {
			return *k.Time
		}
	case "wood":
		return lift.Wood(k.Text)
	case "sentence":
		if k.Said != nil {
			return k.Said.sentence()
		}
	}
	return k.Text
}
