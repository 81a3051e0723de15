package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// Placard is what one page at the machine holds of a published procedure, in
// its order from top to bottom. 29 CFR 1910.147(c)(4)(ii), (c)(5)(iii).
type Placard struct {
	Title     string
	Version   int       // 0: a draft, not to be hung
	Published time.Time // the day of that version
	Cautions  []plain.Sentence
	Energies  []Energy
	Points    []PlacardPoint // by the number painted at the machine
	Stages    []PlacardStage
	HandOver  plain.Sentence // how it is handed over, the same by every procedure
}

// HandingOver says how a lockout is handed over, as (f)(4) has it: what a
// written procedure says of transfer, 29 CFR 1910.147(c)(4)(ii)(C).
func HandingOver() plain.Sentence {
	return plain.Say("To hand it over: whoever takes over puts their own lock on every device, proves every energy at zero, is told how things stand, and then answers for it. Only then does the one going off take their own locks off.")
}

// PlacardPoint is one isolating device as the placard shows it, and what its
// tag says.
type PlacardPoint struct {
	Device Device
	Legend Legend
	Hazard string // what happens if it is worked
}

// PlacardStage is the steps of one stage; none for the work itself.
type PlacardStage struct {
	Stage  Stage
	Clause string
	Steps  []PlacardStep
}

// PlacardStep is one step with its number, counted through the whole page.
type PlacardStep struct {
	Number int
	Step   Step
	Point  int // number of its device, 0 without one
}

// Placard returns what a placard of p holds.
func (p Procedure) Placard(published time.Time) Placard {
	card := Placard{Title: p.Title, Version: p.Version, Published: published, Cautions: Cautions(), Energies: slices.Clone(p.Energies), HandOver: HandingOver()}
	for _, d := range p.Devices {
		card.Points = append(card.Points, PlacardPoint{Device: d, Legend: d.Legend(), Hazard: p.tagHazard(d)})
	}
	slices.SortStableFunc(card.Points, func(a, b PlacardPoint) int { return a.Device.Number - b.Device.Number })
	number := 0
	for stage := Prepare; stage <= NotifyRestored; stage++ {
		part := PlacardStage{Stage: stage, Clause: stage.Clause()}
		for _, s := range p.stage(stage) {
			number++
			d, _ := p.device(s.Device)
			part.Steps = append(part.Steps, PlacardStep{Number: number, Step: s, Point: d.Number})
		}
		card.Stages = append(card.Stages, part)
	}
	return card
}

// Legend is which of the five legends the tag at d carries, 29 CFR
// 1910.147(c)(5)(iii). Which suits which device is common practice, no source.
func (d Device) Legend() Legend {
	switch d.Kind {
	case Disconnect, Plug:
		return DoNotEnergize
	case Valve, FuelValve:
		return DoNotOpen
	case BatteryLock:
		return DoNotStart
	default:
		return DoNotOperate
	}
}

// TagAt returns what the tag at a device says: its legend and the hazard.
func (p Procedure) TagAt(id DeviceID) (Legend, string) {
	d, _ := p.device(id)
	return d.Legend(), p.tagHazard(d)
}

// tagHazard is the hazard line of the tag at d: what the energies it keeps away
// do to people.
func (p *Procedure) tagHazard(d Device) string {
	var said []string
	for _, e := range p.Energies {
		if d.cuts(e.ID) && !blank(e.Hazard) && !slices.Contains(said, e.Hazard) {
			said = append(said, e.Hazard)
		}
	}
	if len(said) == 0 {
		return "People are in the machine and get hurt."
	}
	return strings.Join(said, " ")
}
