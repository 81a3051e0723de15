package procedures

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func energyBroken(name string, e Energy) brokenRule {
	return brokenRule{name, func(left string) bool {
		return problemsBy(without(energyRules(), left), energyAsked{StarterPlant(registerAnswers("electric")), "hoist", e}) != nil
	}}
}

func deviceBroken(name string, d Device) brokenRule {
	return brokenRule{name, func(left string) bool {
		return problemsBy(without(deviceRules(), left), deviceAsked{StarterPlant(registerAnswers("electric")), "hoist", d}) != nil
	}}
}

func measuredBroken(name string, m CoastMeasured) brokenRule {
	return brokenRule{name, func(left string) bool {
		return problemsBy(without(measuredRules(), left), measuredAsked{StarterPlant(registerAnswers("electric")), m}) != nil
	}}
}

// writtenBroken is the hoist's procedure with a gap.
func writtenBroken(name string, change func(*Procedure)) brokenRule {
	return brokenRule{name, func(left string) bool {
		p := hoistDraft()
		p.Energies, p.Devices, p.Steps = slices.Clone(p.Energies), slices.Clone(p.Devices), slices.Clone(p.Steps)
		change(&p)
		return problemsBy(without(procedureRules(), left), p) != nil
	}}
}

func withoutSteps(gone func(Step) bool) func(*Procedure) {
	return func(p *Procedure) { p.Steps = slices.DeleteFunc(p.Steps, gone) }
}

func taskBroken(name string, task Task) brokenRule {
	return brokenRule{name, func(left string) bool {
		a := registerAnswers("electric")
		asked := taskAsked{task, StarterPlant(a), published(a), shiftDay}
		return problemsBy(without(taskRules(), left), asked) != nil || refusedBy(without(lesserRules(), left), asked) != nil
	}}
}

// unanswered is a question not answered; what stands on the answer fails with it.
func unanswered(name string, task Task) brokenRule {
	return brokenRule{name, func(left string) bool {
		return problemsBy(without(taskRules(), left), taskAsked{t: task, plant: StarterPlant(registerAnswers("electric"))}) != nil
	}}
}

func partBroken(name string, change func(*Plant, *Declared, *Kept)) brokenRule {
	return brokenRule{name, func(left string) bool {
		a := goodException(change)
		for _, part := range exceptionParts() {
			if part.name != left && !part.ask(a).Empty() {
				return true
			}
		}
		return false
	}}
}

func cordBroken(name string, change func(*Plant)) brokenRule {
	return brokenRule{name, func(left string) bool {
		return refusedBy(without(cordRules(), left), exceptionOf(plugged(change), "lamps", Declared{}, Kept{})) != nil
	}}
}

func renewalBroken(name string, r Renewal, diff []Difference) brokenRule {
	return brokenRule{name, func(left string) bool {
		asked := renewalAsked{r, diff}
		return problemsBy(without(renewalWords(), left), asked) != nil || refusedBy(without(renewalRules(), left), asked) != nil
	}}
}

// comparedBroken is an edit one comparison alone finds.
func comparedBroken(name, edit string) brokenRule {
	return brokenRule{name, func(left string) bool {
		p := compared()
		if change, ok := structural()[edit]; ok {
			change(&p)
		} else {
			worded()[edit](&p)
		}
		return len(compareBy(without(comparisons(), left), versions{compared(), p})) > 0
	}}
}

func stepBroken(name string, change func(*Step)) brokenRule {
	return brokenRule{name, func(left string) bool {
		return problemsBy(without(stepEditRules(), left), stepAsked{hoistDraft(), goodStep(change)}) != nil
	}}
}

// registerClauses is the part of the clause table that the register, written
// procedures, tasks and the ways around a procedure answer.
func registerClauses() []clauseRow {
	return slices.Concat(scopeClauses(), deviceClauses(), writtenClauses(), exceptionClauses())
}

func scopeClauses() []clauseRow {
	return []clauseRow{
		{"(a)(1)(i)", "TestTaskWhereThereIsEnergyIsServicingUntilSaidOtherwise", []brokenRule{
			{"kind said", func(left string) bool {
				return refusedBy(without(lesserRules(), left), taskAsked{t: productionTask(func(t *Task) { t.Kind = "" }), now: shiftDay}) != nil
			}}}},
		{"(a)(2)(i)", "TestTaskHasOneOfThreeKinds", []brokenRule{
			unanswered("one of three kinds", productionTask(func(t *Task) { t.Kind = "cleaning" })),
			{"kind said", func(left string) bool {
				return refusedBy(without(lesserRules(), left), taskAsked{t: productionTask(func(t *Task) { t.Kind = "" }), now: shiftDay}) != nil
			}},
			taskBroken("title", servicingTask(func(t *Task) { t.Title = "" })),
			unanswered("equipment", productionTask(func(t *Task) { t.Equipment = []EquipmentID{"edger"} }))}},
		{"(a)(2)(ii)", "TestProductionWithAYesIsServicing", []brokenRule{
			unanswered("guard and body asked", productionTask(func(t *Task) { t.GuardOff = "" })),
			taskBroken("a measure named", productionTask(func(t *Task) { t.Measure = "" }))}},
		{"(a)(2)(ii)(A)", "TestProductionWithAYesIsServicing", []brokenRule{
			taskBroken("no guard off", productionTask(func(t *Task) { t.GuardOff = Yes }))}},
		{"(a)(2)(ii)(B)", "TestProductionWithAYesIsServicing", []brokenRule{
			taskBroken("no body in", productionTask(func(t *Task) { t.BodyIn = Yes }))}},
		{"(a)(2)(ii) Note", "TestMinorServicingNeedsAllFourAMeasureANameAndAReview", []brokenRule{
			taskBroken("all four", minorTask(func(t *Task) { t.Integral = No })),
			unanswered("four asked of minor servicing", minorTask(func(t *Task) { t.Integral = "" })),
			taskBroken("a measure named", minorTask(func(t *Task) { t.Measure = "" })),
			taskBroken("a supervisor's name", minorTask(func(t *Task) { t.By = "" })),
			taskBroken("reviewed within a year", minorTask(func(t *Task) { t.Reviewed = shiftDay.AddDate(-1, 0, 0) }))}},
		{"(a)(2)(iii)(A)", "TestPulledPlugIsNotEnoughWhereAnythingIsStoredOrThereIsMore", []brokenRule{
			cordBroken("nothing stored", func(p *Plant) { (*p)[1].Energies[0].Stored = true }),
			cordBroken("one electrical source", func(p *Plant) { (*p)[1].Energies[0].Kind = Shaft }),
			cordBroken("a plug cuts it off", func(p *Plant) { (*p)[1].Devices[0].Kind = Disconnect })}},
		{"(a)(2)(iii)(B)", "TestHotTapIsNoKindOfTask", []brokenRule{
			unanswered("one of three kinds", productionTask(func(t *Task) { t.Kind = "hot-tap" }))}},
		{"(a)(3)(ii)", "TestProcedureCarriesMoreThanOneClause", []brokenRule{
			stepBroken("clause", func(s *Step) { s.Clause = "" })}},
		{"(b) normal production operations", "TestProductionWithAYesIsServicing", nil},
		{"(b) servicing and/or maintenance", "TestGreasingJamsCleaningToothAndBladeChangesAndSettingUpAreServicing", nil},
		{"(b) setting up", "TestGreasingJamsCleaningToothAndBladeChangesAndSettingUpAreServicing", nil},
	}
}

func deviceClauses() []clauseRow {
	return []clauseRow{
		{"(b) capable of being locked out", "TestDeviceSaysHowItTakesALock", []brokenRule{
			deviceBroken("adapter for a lock", goodDevice(func(d *Device) { d.Lockable, d.Adapter = false, true }))}},
		{"(b) energy isolating device", "TestControlIsRefusedAsAnIsolatorWithTheReason", []brokenRule{
			deviceBroken("a kind that isolates", goodDevice(func(d *Device) { d.Kind = "pendant" })),
			deviceBroken("named as no control", goodDevice(func(d *Device) { d.Label = "Stop button" })),
			deviceBroken("a block holds nothing electrical", goodDevice(func(d *Device) { d.Kind = Block })),
			deviceBroken("keeps something away", goodDevice(func(d *Device) { d.Cuts = nil })),
			writtenBroken("devices isolate", func(p *Procedure) { p.Devices[0].Kind = "stop-button" })}},
		{"(c)(2)(iii)", "TestDeviceThatTakesNoLockIsToBeMadeLockable", nil},
		{"(d)(1)", "TestEnergyIsKeptOnlyWhole", []brokenRule{
			energyBroken("kind", goodEnergy(func(e *Energy) { e.Kind = "luck" })),
			energyBroken("source and hazard", goodEnergy(func(e *Energy) { e.Hazard = "" })),
			writtenBroken("energies listed", func(p *Procedure) { p.Energies = append(p.Energies, p.Energies[0]) })}},
		{"(d)(5)(i)", "TestProcedureWithAShorterWaitIsToBeRenewed", []brokenRule{
			energyBroken("left over by nature", goodEnergy(func(e *Energy) { e.Kind, e.Relief = Gravity, "land it" })),
			energyBroken("relief", goodEnergy(func(e *Energy) { e.Stored = true })),
			energyBroken("coast time", goodEnergy(func(e *Energy) { e.Coast = time.Minute })),
			measuredBroken("something that turns", measuredAt(0, "saw-heat", 9)),
			measuredBroken("a time", measuredAt(0, "saw-rotation", 0)),
			measuredBroken("who, when and how", CoastMeasured{Energy: "saw-rotation", Seconds: 9}),
			stepBroken("wait", func(s *Step) { s.Wait = -1 }),
			writtenBroken("each stored energy relieved", withoutSteps(func(s Step) bool { return s.ID == "brake-held" })),
			{"what turns waited for", func(left string) bool {
				p := compared()
				changedEnergy("saw-rotation", func(e *Energy) { e.Coast = 3 * time.Minute })(&p)
				return problemsBy(without(procedureRules(), left), p) != nil
			}}}},
		{"(d)(5)(ii)", "TestProcedureForWhatBuildsUpAgainProvesItAgain", []brokenRule{
			energyBroken("building up again", goodEnergy(func(e *Energy) { e.Recheck = time.Hour })),
			stepBroken("recheck", func(s *Step) { s.Recheck = time.Second }),
			writtenBroken("built up again, proven again", func(p *Procedure) { p.Energies[0].Recheck = time.Hour })}},
		{"(d)(6)", "TestEnergyIsKeptOnlyWhole", []brokenRule{
			energyBroken("zero", goodEnergy(func(e *Energy) { e.Zero = "" })),
			stepBroken("proof", func(s *Step) { s.Proof = "" })}},
	}
}

func writtenClauses() []clauseRow {
	words := []Difference{{Field: "purpose", Kind: OfWords}}
	substance := []Difference{{Field: "step.x"}}
	return []clauseRow{
		{"(c)(4)(i)", "TestPublishedVersionStaysAsItIs", []brokenRule{
			taskBroken("servicing has its procedure", servicingTask(func(t *Task) { t.Procedure = "" }))}},
		{"(c)(4)(ii)", "TestAProcedureWithAGapIsNotPublished", []brokenRule{
			writtenBroken("six texts", func(p *Procedure) { p.Enforcement = "" })}},
		{"(c)(4)(ii)(A)", "TestAProcedureWithAGapIsNotPublished", []brokenRule{
			writtenBroken("six texts", func(p *Procedure) { p.Purpose = "" }),
			writtenBroken("intended use", func(p *Procedure) { p.Equipment = nil })}},
		{"(c)(4)(ii)(B)", "TestDraftIsolatesAllThatMovesOrFeedsIt", []brokenRule{
			writtenBroken("each energy isolated or blocked", func(p *Procedure) { p.Devices[0].Cuts = p.Devices[0].Cuts[1:] }),
			writtenBroken("each lockable device set to off", func(p *Procedure) {
				p.Devices = append(p.Devices, Device{ID: "more", Kind: Disconnect, Lockable: true})
				p.Steps = append(p.Steps, Step{ID: "a", Stage: Apply, Device: "more", Text: "x", Clause: "x", Proof: Tick}, Step{ID: "b", Stage: RemoveLocks, Device: "more", Text: "x", Clause: "x", Proof: Tick})
			}),
			writtenBroken("each device used", func(p *Procedure) { p.Devices = append(p.Devices, Device{ID: "idle", Kind: Block}) }),
			writtenBroken("every stage", withoutSteps(func(s Step) bool { return s.Stage == ShutDown })),
			stepBroken("stage", func(s *Step) { s.Stage, s.Recheck = Work, 0 }),
			stepBroken("text", func(s *Step) { s.Text = "" }),
			stepBroken("device", func(s *Step) { s.Device = "saw-pin" }),
			stepBroken("energy", func(s *Step) { s.Energy = "saw-heat" }),
			writtenBroken("steps whole", func(p *Procedure) { p.Steps[0].Text = "" })}},
		{"(c)(4)(ii)(C)", "TestAProcedureWithAGapIsNotPublished", []brokenRule{
			writtenBroken("each lock put on and taken off", withoutSteps(func(s Step) bool { return s.ID == "unlock-hoist-disconnect" })),
			writtenBroken("something takes a lock", func(p *Procedure) { p.Devices[0].Lockable = false })}},
		{"(c)(4)(ii)(D)", "TestDraftFromAnyRegisterIsWholeButForWhatIsNotThere", []brokenRule{
			writtenBroken("each energy proven at zero", withoutSteps(func(s Step) bool { return s.ID == "hoist-try" }))}},
		{"(c)(4) grouping", "TestEnergyTheRegisterGainedIsLeftOutOfWhatWasWritten", nil},
		{"(c)(5)(iii)", "TestEveryPointHasALegendAndAHazardLine", nil},
		{"(c)(7)(iii)(A)", "TestChangeOfSubstanceIsNeverCalledOneOfWords", []brokenRule{
			renewalBroken("author's word", Renewal{Why: "clearer"}, words),
			renewalBroken("why", Renewal{Said: true}, words),
			renewalBroken("something changed", Renewal{Said: true, Why: "clearer"}, nil),
			renewalBroken("substance is substance", Renewal{Said: true, Why: "clearer"}, substance),
			comparedBroken("texts", "purpose"), comparedBroken("equipment", "holds.carriage"), comparedBroken("energies", "energy.saw-heat"),
			comparedBroken("devices", "device.saw-pin.lockable"), comparedBroken("steps", "step.saw-try.proof"), comparedBroken("order of steps", "order.saw-cool")}},
	}
}

func exceptionClauses() []clauseRow {
	const test = "TestEachOfTheEightPartsIsComputedAndNoneTicked"
	return []clauseRow{
		{"(c)(4)(i) Exception 1", test, []brokenRule{
			partBroken("no stored energy", func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Energies[0].Kind = Rotation })}},
		{"(c)(4)(i) Exception 2", test, []brokenRule{
			partBroken("one source", func(p *Plant, _ *Declared, _ *Kept) {
				(*p)[1].Energies = append((*p)[1].Energies, Energy{ID: "second", Kind: Electrical})
				(*p)[1].Devices[0].Cuts = append((*p)[1].Devices[0].Cuts, "second")
			})}},
		{"(c)(4)(i) Exception 3", test, []brokenRule{
			partBroken("fully dead", func(_ *Plant, d *Declared, _ *Kept) { d.FullyDead = "" })}},
		{"(c)(4)(i) Exception 4", test, []brokenRule{
			partBroken("locked each time", func(_ *Plant, _ *Declared, k *Kept) { k.Lockouts[0].Locks = nil })}},
		{"(c)(4)(i) Exception 5", test, []brokenRule{
			partBroken("one device", func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Devices[0].Lockable = false })}},
		{"(c)(4)(i) Exception 6", test, []brokenRule{
			partBroken("one person's lock", func(_ *Plant, _ *Declared, k *Kept) {
				k.Lockouts[0].Members = append(k.Lockouts[0].Members, Member{Person: benOp.ID})
			})}},
		{"(c)(4)(i) Exception 7", test, []brokenRule{
			partBroken("no hazard for others", func(_ *Plant, d *Declared, _ *Kept) { d.NoHazard = "" })}},
		{"(c)(4)(i) Exception 8", test, []brokenRule{
			partBroken("no start unexpected", func(_ *Plant, _ *Declared, k *Kept) { k.Unexpected = []Unexpected{{"lamps", shiftDay}} })}},
	}
}

func TestEachClauseOfTheRegisterFailsWithoutItsRule(t *testing.T) {
	for _, row := range registerClauses() {
		for _, b := range row.broken {
			assert.True(t, b.refused(""), "%s: %s refuses", row.clause, b.name)
			assert.False(t, b.refused(b.name), "%s: without %q it passes", row.clause, b.name)
		}
	}
}

func TestEachRuleOfTheRegisterStandsBehindAClause(t *testing.T) {
	var shown []string
	for _, row := range registerClauses() {
		for _, b := range row.broken {
			shown = append(shown, b.name)
		}
	}
	all := slices.Concat(names(energyRules()), names(deviceRules()), names(measuredRules()), names(procedureRules()), names(stepEditRules()), names(comparisons()),
		names(renewalWords()), names(renewalRules()), names(taskRules()), names(lesserRules()), names(exceptionParts()), names(cordRules()))
	// What asks only that a thing is named and its words are bounded answers to
	// no clause; the tests of forms show these.
	plainForm := []string{"at a piece", "own id", "own number", "how it is found", "photo and point", "texts fit", "known"}
	for _, name := range all {
		if !slices.Contains(plainForm, name) {
			require.Contains(t, shown, name)
		}
	}
}

func TestEachTestOfTheRegistersClauseTableExists(t *testing.T) {
	var source strings.Builder
	files, err := filepath.Glob("*_test.go")
	require.NoError(t, err)
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		source.Write(text)
	}
	for _, row := range registerClauses() {
		require.Regexp(t, regexp.MustCompile(`(?m)^func `+row.test+`\(`), source.String(), row.clause)
	}
}

// 29 CFR 1910.147(a)(3)(ii): another standard's clause stands beside this one's,
// and the placard prints every one.
func TestProcedureCarriesMoreThanOneClause(t *testing.T) {
	p, err := hoistDraft().KeepStep(goodStep(func(s *Step) { s.Clause = "29 CFR 1910.265(c)(24), 29 CFR 1910.147(d)(6)" }))
	require.NoError(t, err)
	require.NoError(t, p.Validate())
	printed := map[string]bool{}
	for _, stage := range p.Placard(shiftDay).Stages {
		for _, s := range stage.Steps {
			printed[s.Step.Clause] = true
		}
	}
	require.True(t, printed["29 CFR 1910.265(c)(24), 29 CFR 1910.147(d)(6)"])
	require.Greater(t, len(printed), 8)
}
