package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

const liftUsage = `stillsaw lift works out what one piece weighs and judges it against a rig by the
same rules as the server's page. Quantities carry their unit. It prints GO or
NO-GO with every reason; the exit status is 0 for GO, 1 for NO-GO, 2 where the
input can't be understood. What is unknown is NO-GO. README.md shows a rig file.

  stillsaw lift -shape round -species "northern red oak" -length 8ft -small 14in -large "15 1/2in"
  stillsaw lift -shape round -species "sugar maple" -length 8ft -girth -middle "56 1/2in" -bark off -ice 1/4in
  stillsaw lift -shape cant -species "Quercus alba" -state green -length "7ft 6in" -small 18in -large 19in -slab "3 1/2in,3.5in,0,0" -bark off -rig rig.json -asked -json

`

// liftAnswer is the answer to one lift in SI units, as -json prints it.
type liftAnswer struct {
	Go              bool          `json:"go"`
	NeedsSupervisor bool          `json:"needs_supervisor"` // all that is missing is a supervisor's signature, given on the server's page
	VolumeM3        float64       `json:"volume_m3"`        // of the wood, without bark
	ExpectedKg      float64       `json:"expected_kg"`
	UpperKg         float64       `json:"upper_kg"` // what the answer rests on
	Spread          []answerPart  `json:"spread"`   // from expected to upper
	Notes           []string      `json:"notes"`
	HalfLengthM     float64       `json:"half_length_m"`
	BalanceM        float64       `json:"balance_m"` // from the small end; 0 where it was not worked out
	AngleDeg        float64       `json:"angle_deg"` // of the legs from level, piece level; 0 where not worked out
	TiltDeg         float64       `json:"tilt_deg"`
	InwardN         float64       `json:"inward_n"` // level pull at each hook point
	Legs            []answerLeg   `json:"legs"`     // the one nearer the small end first
	Findings        []answerFound `json:"findings"` // worst first
	Remedies        []answerMend  `json:"remedies"` // of a NO-GO: each, all its steps done, is a GO
	LoadPath        []answerBar   `json:"load_path"`
	Weakest         string        `json:"weakest"`

	weightAlone bool // no rig was named
}

type answerPart struct {
	Said string  `json:"said"`
	Kg   float64 `json:"kg"`
}

type answerLeg struct {
	AngleDeg float64 `json:"angle_deg"` // from level, with the piece tilted as far as it would
	TensionN float64 `json:"tension_n"`
}

type answerFound struct {
	Rule    lift.Rule `json:"rule"`
	Blocks  bool      `json:"blocks"`
	Said    string    `json:"said"`
	Source  string    `json:"source"`
	Link    string    `json:"link"`
	LoadKg  float64   `json:"load_kg"`
	LimitKg float64   `json:"limit_kg"`
	Ratio   *float64  `json:"ratio"` // null over an unknown limit
}

type answerBar struct {
	Name    string   `json:"name"`
	LoadKg  float64  `json:"load_kg"`
	LimitKg float64  `json:"limit_kg"`
	Ratio   *float64 `json:"ratio"`
}

// answerMend is what would make a NO-GO a GO, as entered and worked out again.
type answerMend struct {
	Said            string       `json:"said"`
	NeedsSupervisor bool         `json:"needs_supervisor"` // one signs as well
	Steps           []answerStep `json:"steps"`            // all of them
}

type answerStep struct {
	Kind lift.RemedyKind `json:"kind"`
	Link string          `json:"link"`
	Said string          `json:"said"`
}

// answer asks the rules. Where nobody said whether the bark is on, the verdict
// and the upper weight count it and the expected weight doesn't.
func (f *liftFlags) answer(l lift.Lift) (liftAnswer, error) {
	wood := l.Piece
	wood.Bark = false
	bare, err := lift.Weigh(wood)
	if err != nil {
		return liftAnswer{}, err
	}
	v := lift.Check(l)
	a := liftAnswer{Go: v.Allowed(false), NeedsSupervisor: v.Go && v.NeedsSupervisor, VolumeM3: float64(bare.Volume),
		ExpectedKg: float64(v.Weight.Expected), UpperKg: float64(v.Weight.Upper), Spread: []answerPart{}, Notes: []string{},
		HalfLengthM: l.Piece.Length / 2, BalanceM: float64(v.Balance), AngleDeg: float64(v.Angle), TiltDeg: float64(v.Tilt), InwardN: float64(v.Inward), weightAlone: f.rig == "",
		Legs: legsOf(&v), Findings: []answerFound{}, Remedies: []answerMend{}, LoadPath: []answerBar{}, Weakest: v.Weakest}
	for _, part := range v.Weight.Parts {
		a.Spread = append(a.Spread, answerPart{part.Said.String(), float64(part.Mass)})
	}
	for _, note := range v.Weight.Notes {
		a.Notes = append(a.Notes, note.String())
	}
	if l.Piece.Bark && f.bark == "" {
		a.ExpectedKg = float64(bare.Expected)
		a.Spread = append(a.Spread, answerPart{"the bark, which nobody said is off", float64(v.Weight.Expected - bare.Expected)})
	}
	for _, found := range v.Findings {
		a.Findings = append(a.Findings, answerFound{found.Rule, found.Blocks, found.Said.String(), found.Source, found.Link,
			float64(found.Load), float64(found.Limit), finite(found.Ratio)})
	}
	if !a.weightAlone { // what is unknown of a rig is no change to it
		a.Remedies = remediesOf(l)
	}
	for _, bar := range v.Bars {
		a.LoadPath = append(a.LoadPath, answerBar{bar.Name, float64(bar.Load), float64(bar.Limit), finite(bar.Ratio)})
	}
	return a, nil
}

func remediesOf(l lift.Lift) []answerMend {
	remedies := []answerMend{}
	for _, found := range lift.Remedies(l) {
		mend := answerMend{Said: found.Said().String(), NeedsSupervisor: found.NeedsSupervisor, Steps: []answerStep{}}
		for _, step := range found.Steps {
			mend.Steps = append(mend.Steps, answerStep{step.Kind, step.Link, step.Said.String()})
		}
		remedies = append(remedies, mend)
	}
	return remedies
}

// legsOf is each leg with its angle from the horizontal, piece level, and its
// pull, the one nearer the small end first.
func legsOf(v *lift.Verdict) []answerLeg {
	legs := []answerLeg{}
	for i, tension := range v.LegTension {
		legs = append(legs, answerLeg{float64(v.LegAngle[i]), float64(tension)})
	}
	return legs
}

func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

func (a liftAnswer) json(out io.Writer) error {
	encoder := json.NewEncoder(out)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false)
	return encoder.Encode(a)
}

// weights is a mass both ways.
func weights(kg float64) string {
	return fmt.Sprintf("%s (%.0f lb)", plain.Kilograms(kg), math.Ceil(kg/float64(plain.Pound)))
}

func (a liftAnswer) text(out io.Writer) error {
	w := lines{out: out}
	word := "NO-GO"
	if a.Go {
		word = "GO"
	}
	w.line("%s: reckoned no heavier than %s, %s expected, %s of wood", word, weights(a.UpperKg), weights(a.ExpectedKg), plain.CubicMetres(a.VolumeM3))
	for _, found := range a.Findings {
		if a.weightAlone && found.Rule != lift.HoldRule {
			continue // all that is unknown follows from there being no rig
		}
		mark := "-"
		if found.Blocks {
			mark = "!"
		}
		w.line("  %s %s", mark, found.Said)
		if found.Source != "" {
			w.line("      rule: %s", found.Source)
		}
	}
	if len(a.Remedies) > 0 {
		w.line("What would make it a GO, as entered and worked out again:")
	}
	for _, remedy := range a.Remedies {
		w.line("  * %s", remedy.Said)
	}
	if a.NeedsSupervisor {
		w.line("  Above the house margin: a supervisor who looked at it signs on the server's page.")
	}
	for i, leg := range a.Legs {
		w.line("Leg %d: %s from level, pull %s", i+1, plain.Degrees(leg.AngleDeg), plain.Newtons(leg.TensionN))
	}
	for _, bar := range a.LoadPath {
		share := "limit not known"
		if bar.Ratio != nil {
			share = fmt.Sprintf("of %s, %s", plain.Kilograms(bar.LimitKg), plain.Fraction(*bar.Ratio))
		}
		w.line("  %-24s %s %s", bar.Name, plain.Kilograms(bar.LoadKg), share)
	}
	w.line("Half length %s; balance point %s from the small end", plain.Metres(a.HalfLengthM), plain.Metres(a.BalanceM))
	w.line("From expected to upper weight:")
	for _, part := range a.Spread {
		w.line("  %+.1f kg  %s", part.Kg, part.Said)
	}
	for _, note := range a.Notes {
		w.line("  note: %s", note)
	}
	w.line("Nobody under the load or beside it. The marks on the gear, its makers and qualified people come first.")
	return w.err
}

// lines prints until the first error, which it keeps.
type lines struct {
	out io.Writer
	err error
}

func (w *lines) line(format string, args ...any) {
	if w.err == nil {
		_, w.err = fmt.Fprintf(w.out, format+"\n", args...)
	}
}
