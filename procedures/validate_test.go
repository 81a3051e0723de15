package procedures_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// 29 CFR 1910.147(c)(4)(ii): what a written procedure must hold.
func TestAProcedureWithAGapIsNotPublished(t *testing.T) {
	without := func(gone func(s procedures.Step) bool) func(p *procedures.Procedure) {
		return func(p *procedures.Procedure) { p.Steps = slices.DeleteFunc(slices.Clone(p.Steps), gone) }
	}
	stage := func(stage procedures.Stage) func(p *procedures.Procedure) {
		return without(func(s procedures.Step) bool { return s.Stage == stage })
	}
	step := func(id procedures.StepID) func(p *procedures.Procedure) {
		return without(func(s procedures.Step) bool { return s.ID == id })
	}
	for name, tc := range map[string]struct {
		spoil func(p *procedures.Procedure)
		want  string
	}{
		"title":           {func(p *procedures.Procedure) { p.Title = "" }, "title: "},
		"purpose":         {func(p *procedures.Procedure) { p.Purpose = " " }, "purpose: "},
		"scope":           {func(p *procedures.Procedure) { p.Scope = "" }, "scope: "},
		"authorization":   {func(p *procedures.Procedure) { p.Authorization = "" }, "authorization: "},
		"rules":           {func(p *procedures.Procedure) { p.Rules = "" }, "rules: "},
		"techniques":      {func(p *procedures.Procedure) { p.Techniques = "" }, "techniques: "},
		"enforcement":     {func(p *procedures.Procedure) { p.Enforcement = "" }, "enforcement: "},
		"equipment":       {func(p *procedures.Procedure) { p.Equipment = nil }, "equipment: "},
		"energies":        {func(p *procedures.Procedure) { p.Energies = nil }, "energies: "},
		"isolate":         {step("isolate-saw-disconnect"), "device saw-disconnect: "},
		"energy isolated": {step("isolate-saw-disconnect"), "energy saw-electric: a step that isolates"},
		"block":           {step("carriage-chocked"), "energy carriage-slope: a step that relieves"},
		"lock on":         {step("lock-saw-disconnect"), "device saw-disconnect: "},
		"lock off":        {step("unlock-saw-disconnect"), "device saw-disconnect: "},
		"relieve":         {step("saw-cool"), "energy saw-heat: a step that relieves"},
		"verify":          {step("saw-try"), "energy saw-electric: a step that proves"},
		"prepare":         {stage(procedures.Prepare), "steps: at least one for: Know every energy"},
		"notify":          {stage(procedures.Notify), "steps: at least one for: Tell those it touches"},
		"shut down":       {stage(procedures.ShutDown), "steps: at least one for: Shut down"},
		"inspect":         {stage(procedures.InspectArea), "steps: at least one for: Look the area over"},
		"people":          {stage(procedures.ClearPeople), "steps: at least one for: Everybody clear"},
		"controls":        {stage(procedures.ControlsOff), "steps: at least one for: Controls to off"},
		"told after":      {stage(procedures.NotifyRestored), "steps: at least one for: Tell them it is back"},
		"clause":          {func(p *procedures.Procedure) { p.Steps[0].Clause = "" }, "step 1: the clause"},
		"text":            {func(p *procedures.Procedure) { p.Steps[0].Text = "" }, "step 1: say what to do"},
		"proof":           {func(p *procedures.Procedure) { p.Steps[0].Proof = "" }, "step 1: a proof"},
		"stage":           {func(p *procedures.Procedure) { p.Steps[0].Stage = procedures.Work }, "step 1: a stage"},
		"step twice":      {func(p *procedures.Procedure) { p.Steps[1].ID = p.Steps[0].ID }, "step 2: its own name"},
		"unknown device":  {func(p *procedures.Procedure) { p.Steps[0].Device = "luck" }, "step 1: a device"},
		"unknown energy":  {func(p *procedures.Procedure) { p.Steps[0].Energy = "luck" }, "step 1: an energy"},
		"negative wait":   {func(p *procedures.Procedure) { p.Steps[0].Wait = -1 }, "step 1: no wait"},
		"unused device": {func(p *procedures.Procedure) {
			p.Devices = append(p.Devices, procedures.Device{ID: "x", Kind: procedures.Block})
		}, "device x: a step that uses it"},
		"stop button":      {func(p *procedures.Procedure) { p.Devices[0].Kind = "stop-button" }, "stop button isn't an isolator"},
		"no lock anywhere": {func(p *procedures.Procedure) { p.Devices = nil }, "devices: at least one"},
		"no coast wait": {func(p *procedures.Procedure) {
			for i := range p.Steps {
				p.Steps[i].Wait = 0
			}
		}, "energy saw-rotation: the measured coast time"},
		"wait shorter than the coast time": {func(p *procedures.Procedure) {
			for i := range p.Energies {
				p.Energies[i].Coast = procedures.SawWaitUnmeasured
			}
		}, "energy saw-rotation: the measured coast time"},
	} {
		p := starter(t, "head-saw", answers("electric", "mandrel"))
		tc.spoil(&p)
		_, err := p.Publish(2)
		require.ErrorContains(t, err, tc.want, name)
	}
	_, err := starter(t, "head-saw", answers("electric", "mandrel")).Publish(0)
	require.ErrorContains(t, err, "version: ")
}
