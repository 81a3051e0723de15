package procedures

import (
	"time"

	"stillsaw/procedures/plain"
)

// ProcedureID names one energy control procedure through all its versions.
type ProcedureID string

// StepID names one step within a procedure.
type StepID string

// Stage is where in the fixed order of 29 CFR 1910.147(d) and (e) a step stands.
type Stage int

const (
	UnknownStage   Stage = iota
	Prepare              // (d)(1) know kind, size, hazard and control of each energy
	Notify               // (c)(9) tell affected people
	ShutDown             // (d)(2)
	Isolate              // (d)(3)
	Apply                // (d)(4) own lock and tag on each device
	Relieve              // (d)(5) stored energy relieved or restrained
	Verify               // (d)(6) proven at zero
	Work                 // servicing may be done
	InspectArea          // (e)(1) tools out, guards back
	ClearPeople          // (e)(2)(i)
	ControlsOff          // Appendix A: controls in neutral before locks come off
	RemoveLocks          // (e)(3) each by its owner
	Restore              // power back, blocks that stayed until then out
	NotifyRestored       // (e)(2)(ii)
)

// Proof is what a step asks for beside a tick.
type Proof string

const (
	Tick      Proof = "tick"
	TryStart  Proof = "try-start"  // normal start pressed, nothing moves, control back to off
	MarkStill Proof = "mark-still" // marked part seen still for the coast time
	BlockIn   Proof = "block-in"   // block, pin or chock in place
	GaugeZero Proof = "gauge-zero" // gauge at zero and lever worked without motion
	HookEmpty Proof = "hook-empty"
	MeterDead Proof = "meter-dead" // by a person recorded as qualified, only
)

// Step is one thing a person does, in words for the machine's side.
type Step struct {
	ID     StepID        `json:"id"`
	Stage  Stage         `json:"stage"`
	Text   string        `json:"text"`
	Device DeviceID      `json:"device"` // Isolate and Apply steps: which device
	Energy EnergyID      `json:"energy"` // Relieve and Verify steps: which energy
	Proof  Proof         `json:"proof"`
	Wait   time.Duration `json:"wait"` // least time since shut-down, the measured coast time plus a quarter
	Clause string        `json:"clause"`
	// Recheck: a Verify step done again at least this often while work goes on,
	// (d)(5)(ii). 0: once is enough.
	Recheck time.Duration `json:"recheck,omitzero"`
	// AsksPhoto: whoever does the step takes a picture of it.
	AsksPhoto bool `json:"asks_photo,omitzero"`
}

// Procedure is one published version of a written energy control procedure, or
// the draft of the next (Version 0). The six texts are those 29 CFR
// 1910.147(c)(4)(ii) asks for.
type Procedure struct {
	ID            ProcedureID   `json:"id"`
	Version       int           `json:"version"`
	Title         string        `json:"title"`
	Equipment     []EquipmentID `json:"equipment"`
	Holds         []EquipmentID `json:"holds"` // not serviced under it, but locked off by its steps and so held too
	Purpose       string        `json:"purpose"`
	Scope         string        `json:"scope"`
	Authorization string        `json:"authorization"`
	Rules         string        `json:"rules"`
	Techniques    string        `json:"techniques"`
	Enforcement   string        `json:"enforcement"`
	Energies      []Energy      `json:"energies"` // copied from the register when the version was made
	Devices       []Device      `json:"devices"`
	Steps         []Step        `json:"steps"`
	Sources       []string      `json:"sources"`
}

// Clause shortens a paragraph of 29 CFR 1910.147 to its full name.
func Clause(paragraph string) string { return "29 CFR 1910.147" + paragraph }

// Cautions are shown on every screen and print of a lockout.
func Cautions() []plain.Sentence {
	return []plain.Sentence{
		plain.Say("A record is not a lock. Only the lock on the isolator, put there by you, with the key in your pocket, protects you."),
		plain.Say("Local codes, the machine's maker and qualified people come before this list. Electrical work only by a qualified person."),
		plain.Say("A stop button, a key or a clutch lever is not an isolator. The saw coasts: sound, sight of the rim or touch prove nothing."),
	}
}

// Publish returns p as that version, or what Validate finds missing. Versions
// count from 1.
func (p Procedure) Publish(version int) (Procedure, error) {
	if err := p.Validate(); err != nil {
		return Procedure{}, err
	}
	if version < 1 {
		return Procedure{}, plain.Problems{{Field: "version", Want: plain.Say("1 or more; 0 is the draft")}}
	}
	p.Version = version
	return p, nil
}

// stage returns the steps of s in their order.
func (p *Procedure) stage(s Stage) []Step {
	var steps []Step
	for _, step := range p.Steps {
		if step.Stage == s {
			steps = append(steps, step)
		}
	}
	return steps
}

func (p *Procedure) step(id StepID) (Step, bool) {
	for _, step := range p.Steps {
		if step.ID == id {
			return step, true
		}
	}
	return Step{}, false
}

func (p *Procedure) device(id DeviceID) (Device, bool) {
	for _, d := range p.Devices {
		if d.ID == id {
			return d, true
		}
	}
	return Device{}, false
}

// proves tells whether some verify step asks for that proof.
func (p *Procedure) proves(proof Proof) bool {
	for _, step := range p.Steps {
		if step.Stage == Verify && step.Proof == proof {
			return true
		}
	}
	return false
}
