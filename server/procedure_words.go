package server

import (
	"strconv"
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// energyLine is one energy as a page shows it.
type energyLine struct {
	ID, Source, Magnitude, Hazard, Relief, Zero string

	Kind  plain.Sentence
	Turns bool
	Coast string // seconds as measured, "" while not
}

func energyLines(p procedures.Procedure) []energyLine {
	lines := make([]energyLine, len(p.Energies))
	for i, e := range p.Energies {
		lines[i] = energyLine{ID: string(e.ID), Source: e.Source, Magnitude: e.Magnitude, Hazard: e.Hazard, Relief: e.Relief, Zero: e.Zero,
			Kind: e.Kind.Words(), Turns: e.Kind == procedures.Rotation, Coast: seconds(e)}
	}
	return lines
}

// seconds is e's measured coast time as one would type it.
func seconds(e procedures.Energy) string {
	if e.Coast == 0 {
		return ""
	}
	return strconv.FormatFloat(e.Coast.Seconds(), 'f', -1, 64)
}

// deviceLine is one isolating device as a page shows it.
type deviceLine struct {
	ID, Label, Place string

	Number   int
	Kind     plain.Sentence
	Lockable bool
	Cuts     string
	Photo    *markedPhoto
}

func deviceLines(p procedures.Procedure) []deviceLine {
	lines := make([]deviceLine, len(p.Devices))
	for i, d := range p.Devices {
		var cuts []string
		for _, id := range d.Cuts {
			for _, e := range p.Energies {
				if e.ID == id {
					cuts = append(cuts, e.Source)
				}
			}
		}
		lines[i] = deviceLine{ID: string(d.ID), Label: d.Label, Place: d.Place, Number: d.Number, Kind: d.Kind.Words(), Lockable: d.Lockable, Cuts: strings.Join(cuts, "; ")}
	}
	return lines
}

// stageSteps is the steps of one stage, for reading.
type stageSteps struct {
	Words  plain.Sentence
	Clause string
	Steps  []procedures.Step
}

func stagesToRead(p procedures.Procedure) []stageSteps {
	var stages []stageSteps
	for stage := procedures.Prepare; stage <= procedures.NotifyRestored; stage++ {
		one := stageSteps{Words: stage.Words(), Clause: stage.Clause()}
		for _, s := range p.Steps {
			if s.Stage == stage {
				one.Steps = append(one.Steps, s)
			}
		}
		if len(one.Steps) > 0 || stage == procedures.Work {
			stages = append(stages, one)
		}
	}
	return stages
}
