package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// CoastMost is the longest coast time a form takes for a measurement. Common
// practice, no source: a saw or fan that turns longer than this after shutting
// down was not shut down, or a unit was mistaken.
const CoastMost = 30 * time.Minute

// Wording is what a supervisor may change on a draft without changing the order
// or the kind of its steps: words, sizes as measured at the mill, and how devices
// are marked. Whether a version that differs in them may be called one of words is
// for [Compare] to say.
type Wording struct {
	Title, Purpose, Scope, Authorization, Rules, Techniques, Enforcement string

	Sizes   map[EnergyID]string
	Coasts  map[EnergyID]time.Duration // 0: not yet measured
	Devices map[DeviceID]Marking
	Steps   map[StepID]string

	Notes []WaitNote // the languages besides English a step may say in where its wait comes from
}

// Marking is how a device is found at the machine.
type Marking struct {
	Label, Place string
	Number       int
}

// Wording returns p's own, to be changed and given to [Procedure.Reworded].
func (p Procedure) Wording() Wording {
	w := Wording{Title: p.Title, Purpose: p.Purpose, Scope: p.Scope, Authorization: p.Authorization, Rules: p.Rules, Techniques: p.Techniques, Enforcement: p.Enforcement,
		Sizes: map[EnergyID]string{}, Coasts: map[EnergyID]time.Duration{}, Devices: map[DeviceID]Marking{}, Steps: map[StepID]string{}}
	for _, e := range p.Energies {
		w.Sizes[e.ID], w.Coasts[e.ID] = e.Magnitude, e.Coast
	}
	for _, d := range p.Devices {
		w.Devices[d.ID] = Marking{Label: d.Label, Place: d.Place, Number: d.Number}
	}
	for _, s := range p.Steps {
		w.Steps[s.ID] = s.Text
	}
	return w
}

// Reworded returns the draft p with w's words, the waits of its steps following
// the coast times. Its error is a [plain.Problems] for the fields "coast.",
// "label." and "number." followed by the id. A draft may have gaps otherwise;
// [Procedure.Validate] finds them before it is published.
func (p Procedure) Reworded(w Wording) (Procedure, error) {
	var bad plain.Problems
	p.Title, p.Purpose, p.Scope, p.Authorization = w.Title, w.Purpose, w.Scope, w.Authorization
	p.Rules, p.Techniques, p.Enforcement = w.Rules, w.Techniques, w.Enforcement
	p.Energies, p.Devices, p.Steps = slices.Clone(p.Energies), slices.Clone(p.Devices), slices.Clone(p.Steps)
	for i := range p.Steps {
		p.Steps[i].Text = strings.TrimSpace(w.Steps[p.Steps[i].ID])
	}
	for i := range p.Energies {
		e := &p.Energies[i]
		e.Magnitude = strings.TrimSpace(w.Sizes[e.ID])
		coast := w.Coasts[e.ID]
		bad.Unless(coast >= 0 && coast <= CoastMost, "coast."+string(e.ID), "the seconds it takes to stand still, at most %s; empty while not yet measured", CoastMost)
		p.measured(e, coast, append([]WaitNote{EnglishWaitNote()}, w.Notes...))
	}
	numbers := map[int]bool{}
	for i := range p.Devices {
		d := &p.Devices[i]
		m := w.Devices[d.ID]
		d.Label, d.Place, d.Number = strings.TrimSpace(m.Label), strings.TrimSpace(m.Place), m.Number
		for _, wrong := range append(d.named(), d.noControl()...) {
			bad = append(bad, plain.Problem{Field: "label." + string(d.ID), Want: wrong.Want})
		}
		bad.Unless(d.Number >= 1 && d.Number <= 99 && !numbers[d.Number], "number."+string(d.ID), "1 to 99, as painted at the machine, each number once")
		numbers[d.Number] = true
	}
	return p, bad.Err()
}

// measured sets e's coast time and the waits and words that follow from it. A
// measurement taken back leaves the longest wait there is without one. A note on
// where a wait comes from is written anew in the language it stands in.
func (p *Procedure) measured(e *Energy, coast time.Duration, notes []WaitNote) {
	changed := coast != e.Coast
	e.Coast = coast
	if e.Kind != Rotation {
		return
	}
	for i := range p.Steps {
		s := &p.Steps[i]
		if s.Energy != e.ID || s.Stage != Relieve && s.Wait == 0 {
			continue
		}
		if changed {
			s.Wait = CoastWait(coast, max(SawWaitUnmeasured, FanWaitUnmeasured))
		}
		for _, note := range notes {
			if text, said := note.cut(s.Text); said {
				s.Text = text + note.of(coast, s.Wait)
				break
			}
		}
	}
}
