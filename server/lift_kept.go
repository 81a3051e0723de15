package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// judged is a lift with its answer, just given or read back from the record.
type judged struct {
	Lift     lift.Lift
	Verdict  lift.Verdict
	SignedBy procedures.PersonID // who signed for more than the house margin
	Track    track               // what it is set down on, where that is a carriage
}

func (j *judged) allowed() bool { return j.Verdict.Allowed(j.SignedBy != "") }

// keptAsk is version 1 of what a lift was judged on, as it stands in the
// record. Package lift's own field names are part of it: a test pins them. What
// people wrote on the rig stands apart: it may name somebody.
type keptAsk struct {
	Version   int            `json:"version"`
	Piece     lift.Piece     `json:"piece"`
	Rig       lift.Rig       `json:"rig"` // with the tags that could not be read at the hook
	Span      float64        `json:"span"`
	Placing   lift.Placing   `json:"placing"`
	Questions lift.Questions `json:"questions"`
	Now       time.Time      `json:"now"`

	Carriage    bool      `json:"carriage,omitzero"` // it was to be set down on one; its headblocks as they stood
	Headblocks  []float64 `json:"headblocks,omitempty"`
	LandingMark float64   `json:"landing_mark,omitzero"`
}

// keptVerdict is version 1 of an answer in the record. A ratio over an unknown
// limit is null, which JSON has for infinity. What was said of holds stands
// apart, in the same order as their findings: it may quote a person's words.
// The source of a finding is empty where it is the band of the rig's end hooks.
type keptVerdict struct {
	Version         int                 `json:"version"`
	Go              bool                `json:"go"`
	NeedsSupervisor bool                `json:"needs_supervisor"`
	SignedBy        procedures.PersonID `json:"signed_by"`
	Volume          float64             `json:"volume"`
	Expected        float64             `json:"expected"`
	Upper           float64             `json:"upper"`
	Parts           []keptPart          `json:"parts"`
	Notes           []keptSentence      `json:"notes"`
	Angle           float64             `json:"angle"`
	LegAngle        [2]float64          `json:"leg_angle,omitzero"`
	Height          float64             `json:"height"`
	Balance         float64             `json:"balance"`
	FirstHook       float64             `json:"first_hook"`
	Tilt            float64             `json:"tilt"`
	LegTension      []float64           `json:"leg_tension"`
	Inward          float64             `json:"inward"`
	Findings        []keptFinding       `json:"findings"`
	Bars            []keptBar           `json:"bars"`
	Weakest         string              `json:"weakest"`
}

type keptPart struct {
	Said keptSentence `json:"said"`
	Mass float64      `json:"mass"`
}

type keptFinding struct {
	Rule   lift.Rule    `json:"rule"`
	Link   string       `json:"link"`
	Load   float64      `json:"load"`
	Limit  float64      `json:"limit"`
	Ratio  *float64     `json:"ratio"`
	Said   keptSentence `json:"said"`
	Source string       `json:"source"`
	Blocks bool         `json:"blocks"`
}

type keptBar struct {
	Name  string    `json:"name"`
	Kind  lift.Kind `json:"kind"`
	Load  float64   `json:"load"`
	Limit float64   `json:"limit"`
	Ratio *float64  `json:"ratio"`
}

// ask is what the lift was judged on, for the record, and what people wrote on
// the rig.
func (j *judged) ask() (asked json.RawMessage, rigTexts []string, err error) {
	l := j.Lift
	rig, rigTexts := l.Rig.WithoutTexts()
	asked, err = json.Marshal(keptAsk{Version: 1, Piece: l.Piece, Rig: rig, Span: l.Span, Placing: l.Placing, Questions: l.Questions, Now: l.Now,
		Carriage: j.Track.Carriage, Headblocks: j.Track.Headblocks, LandingMark: j.Track.Mark})
	return asked, rigTexts, err
}

// keep is the answer for the record, with what it was given on.
func (j *judged) keep() (store.Judged, error) {
	v := j.Verdict
	kept := keptVerdict{Version: 1, Go: v.Go, NeedsSupervisor: v.NeedsSupervisor, SignedBy: j.SignedBy,
		Volume: float64(v.Weight.Volume), Expected: float64(v.Weight.Expected), Upper: float64(v.Weight.Upper),
		Angle: float64(v.Angle), LegAngle: [2]float64{float64(v.LegAngle[0]), float64(v.LegAngle[1])}, Height: float64(v.Height), Balance: float64(v.Balance), FirstHook: float64(v.FirstHook),
		Tilt: float64(v.Tilt), Inward: float64(v.Inward), Weakest: v.Weakest}
	for _, p := range v.Weight.Parts {
		kept.Parts = append(kept.Parts, keptPart{keepSentence(p.Said), float64(p.Mass)})
	}
	for _, n := range v.Weight.Notes {
		kept.Notes = append(kept.Notes, keepSentence(n))
	}
	for _, n := range v.LegTension {
		kept.LegTension = append(kept.LegTension, float64(n))
	}
	holds := []keptSentence{}
	for _, f := range v.Findings {
		one := keptFinding{Rule: f.Rule, Link: f.Link, Load: float64(f.Load), Limit: float64(f.Limit), Ratio: finite(f.Ratio), Source: f.Source, Blocks: f.Blocks}
		if f.Rule == lift.GripRule && f.Source == j.Lift.Rig.EndHookBand.Source {
			one.Source = ""
		}
		if f.Rule == lift.HoldRule {
			holds = append(holds, keepSentence(f.Said))
		} else {
			one.Said = keepSentence(f.Said)
		}
		kept.Findings = append(kept.Findings, one)
	}
	for _, b := range v.Bars {
		kept.Bars = append(kept.Bars, keptBar{b.Name, b.Kind, float64(b.Load), float64(b.Limit), finite(b.Ratio)})
	}
	asked, rigTexts, err := j.ask()
	verdict, also := json.Marshal(kept)
	err = errors.Join(err, also)
	said, also := json.Marshal(holds)
	return store.Judged{Asked: asked, RigTexts: rigTexts, Verdict: verdict, Holds: string(said), Go: j.allowed()}, errors.Join(err, also)
}

// readLift reads a lift back from the record.
func readLift(l store.Lift) (judged, error) {
	var ask keptAsk
	var kept keptVerdict
	if err := errors.Join(json.Unmarshal(l.Asked, &ask), json.Unmarshal(l.Verdict, &kept)); err != nil {
		return judged{}, fmt.Errorf("lift %s can't be read: %w", l.ID, err)
	}
	if ask.Version != 1 || kept.Version != 1 {
		return judged{}, fmt.Errorf("lift %s was kept by another Stillsaw (versions %d, %d)", l.ID, ask.Version, kept.Version)
	}
	var holds []keptSentence
	if l.Holds != "" {
		if err := json.Unmarshal([]byte(l.Holds), &holds); err != nil {
			return judged{}, fmt.Errorf("the holds of lift %s can't be read: %w", l.ID, err)
		}
	}
	rig := ask.Rig.WithTexts(l.RigTexts)
	j := judged{SignedBy: kept.SignedBy, Verdict: kept.verdict(holds, rig.EndHookBand), Track: track{Carriage: ask.Carriage, Headblocks: ask.Headblocks, Mark: ask.LandingMark}}
	j.Lift = lift.Lift{Piece: ask.Piece, Rig: rig, Span: ask.Span, Placing: ask.Placing, Questions: ask.Questions, Now: ask.Now}
	return j, nil
}

func (k *keptVerdict) verdict(holds []keptSentence, band lift.Band) lift.Verdict {
	v := lift.Verdict{Go: k.Go, NeedsSupervisor: k.NeedsSupervisor, Angle: plain.Degrees(k.Angle), LegAngle: [2]plain.Degrees{plain.Degrees(k.LegAngle[0]), plain.Degrees(k.LegAngle[1])}, Height: plain.Metres(k.Height),
		Balance: plain.Metres(k.Balance), FirstHook: plain.Metres(k.FirstHook), Tilt: plain.Degrees(k.Tilt), Inward: plain.Newtons(k.Inward), Weakest: k.Weakest,
		Weight: lift.Weight{Volume: plain.CubicMetres(k.Volume), Expected: plain.Kilograms(k.Expected), Upper: plain.Kilograms(k.Upper)}}
	for _, p := range k.Parts {
		v.Weight.Parts = append(v.Weight.Parts, lift.Part{Said: p.Said.sentence(), Mass: plain.Kilograms(p.Mass)})
	}
	for _, n := range k.Notes {
		v.Weight.Notes = append(v.Weight.Notes, n.sentence())
	}
	for _, n := range k.LegTension {
		v.LegTension = append(v.LegTension, plain.Newtons(n))
	}
	for _, f := range k.Findings {
		said := f.Said.sentence()
		if f.Rule == lift.HoldRule {
			said = plain.Say("Held from elsewhere in the mill; what was said of it is withheld.")
			if len(holds) > 0 {
				said, holds = holds[0].sentence(), holds[1:]
			}
		}
		if f.Rule == lift.GripRule && f.Source == "" {
			f.Source = band.Source
		}
		v.Findings = append(v.Findings, lift.Finding{Rule: f.Rule, Link: f.Link, Load: plain.Kilograms(f.Load), Limit: plain.Kilograms(f.Limit),
			Ratio: ratioOf(f.Ratio), Said: said, Source: f.Source, Blocks: f.Blocks})
	}
	for _, b := range k.Bars {
		v.Bars = append(v.Bars, lift.Bar{Name: b.Name, Kind: b.Kind, Load: plain.Kilograms(b.Load), Limit: plain.Kilograms(b.Limit), Ratio: ratioOf(b.Ratio)})
	}
	return v
}

func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

func ratioOf(x *float64) float64 {
	if x == nil {
		return math.Inf(1)
	}
	return *x
}
