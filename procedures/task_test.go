package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// minorTask is setting the guides by hand from outside the shield, all answered.
func minorTask(change func(*Task)) Task {
	t := Task{ID: "guides", Title: "Move the guides by hand", Equipment: []EquipmentID{"head-saw"}, Kind: MinorServicing,
		GuardOff: No, BodyIn: No, Routine: Yes, Repetitive: Yes, Integral: Yes, Protected: Yes,
		Measure: "Saw stopped, feed lever latched, shield in place, from outside it.", By: samSup.ID, Reviewed: shiftDay}
	change(&t)
	return t
}

func productionTask(change func(*Task)) Task {
	t := Task{ID: "saw", Title: "Saw", Equipment: []EquipmentID{"head-saw"}, Kind: Production, GuardOff: No, BodyIn: No, Measure: "nobody in the travel", By: samSup.ID, Reviewed: shiftDay}
	change(&t)
	return t
}

func servicingTask(change func(*Task)) Task {
	t := Task{ID: "teeth", Title: "Change teeth", Equipment: []EquipmentID{"head-saw"}, Kind: Servicing, Procedure: "head-saw"}
	change(&t)
	return t
}

func kept(t Task) error {
	a := registerAnswers("electric")
	_, err := t.Keep(StarterPlant(a), published(a), samSup, shiftDay)
	return err
}

// 29 CFR 1910.147(a)(1)(i).
func TestTaskWhereThereIsEnergyIsServicingUntilSaidOtherwise(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	for _, e := range plant[1:] {
		require.Equal(t, Servicing, plant.NewTask("x", "Look", e.ID).Kind, e.ID)
	}
	bare := Plant{plant[0], {ID: "bench", PartOf: "site", Kind: OffBearing, Name: "Bench"}, {ID: "fed", PartOf: "site", Kind: OffBearing, Name: "Fed"},
		{ID: "pack", PartOf: "site", Kind: Supply, Name: "Pack", Energies: []Energy{{ID: "oil", Kind: Hydraulic}}, Links: []Link{{Supplies, "fed"}}}}
	require.NoError(t, bare.Validate())
	require.Empty(t, bare.NewTask("x", "Sweep", "bench").Kind, "still to be said")
	require.Equal(t, Servicing, bare.NewTask("x", "Look", "fed").Kind, "energy comes from the pack")
	require.Equal(t, Servicing, bare.NewTask("x", "Look", "nowhere").Kind, "what isn't known may hold one")
	require.Equal(t, Servicing, Task{}.Treated(shiftDay), "the safe answer")
}

// 29 CFR 1910.147(a)(2)(i).
func TestTaskHasOneOfThreeKinds(t *testing.T) {
	require.Equal(t, []TaskKind{Servicing, Production, MinorServicing}, TaskKinds())
	require.NoError(t, kept(servicingTask(func(*Task) {})))
	require.NoError(t, kept(productionTask(func(*Task) {})))
	require.NoError(t, kept(minorTask(func(*Task) {})))
	for _, kind := range []TaskKind{"", "cleaning"} {
		require.Contains(t, fields(kept(servicingTask(func(t *Task) { t.Kind = kind }))), "kind")
		require.Equal(t, Servicing, productionTask(func(t *Task) { t.Kind = kind }).Treated(shiftDay))
	}
	require.Equal(t, []string{"title"}, fields(kept(servicingTask(func(t *Task) { t.Title = " " }))))
	require.Contains(t, fields(kept(servicingTask(func(t *Task) { t.Equipment = nil }))), "equipment")
	require.Contains(t, fields(kept(servicingTask(func(t *Task) { t.Equipment = []EquipmentID{"edger"} }))), "equipment")
}

// 29 CFR 1910.147(a)(2)(iii)(B): nobody gets around a lockout by calling the job
// a hot tap.
func TestHotTapIsNoKindOfTask(t *testing.T) {
	for _, kind := range []TaskKind{"hot-tap", "hot tap", "hottap"} {
		require.NotContains(t, TaskKinds(), kind)
		require.Contains(t, fields(kept(servicingTask(func(t *Task) { t.Kind = kind }))), "kind")
		require.Equal(t, Servicing, minorTask(func(t *Task) { t.Kind = kind }).Treated(shiftDay))
	}
}

// 29 CFR 1910.147(a)(2)(ii), (A) and (B).
func TestProductionWithAYesIsServicing(t *testing.T) {
	for clause, change := range map[string]func(*Task){
		"(a)(2)(ii)(A)": func(t *Task) { t.GuardOff = Yes },
		"(a)(2)(ii)(B)": func(t *Task) { t.BodyIn = Yes },
	} {
		for _, task := range []Task{productionTask(change), minorTask(change)} {
			require.Equal(t, Clause(clause), clauseOf(kept(task)))
			require.Equal(t, Servicing, task.Treated(shiftDay))
		}
	}
	require.Equal(t, Production, productionTask(func(*Task) {}).Treated(shiftDay))
	require.Equal(t, []string{"guard_off", "body_in"}, fields(kept(productionTask(func(t *Task) { t.GuardOff, t.BodyIn = "", "perhaps" }))), "both are asked")
	require.Equal(t, Servicing, productionTask(func(t *Task) { t.GuardOff = "" }).Treated(shiftDay))
	require.Equal(t, Clause("(a)(2)(ii)"), clauseOf(kept(productionTask(func(t *Task) { t.Measure = "" }))), "and the condition is named")
}

// 29 CFR 1910.147(a)(2)(ii) note.
func TestMinorServicingNeedsAllFourAMeasureANameAndAReview(t *testing.T) {
	now := shiftDay
	require.Equal(t, MinorServicing, minorTask(func(*Task) {}).Treated(now))
	for name, change := range map[string]func(*Task){
		"routine": func(t *Task) { t.Routine = No }, "repetitive": func(t *Task) { t.Repetitive = No },
		"integral": func(t *Task) { t.Integral = No }, "protected": func(t *Task) { t.Protected = No }, "measure": func(t *Task) { t.Measure = " " },
	} {
		require.Equal(t, Clause("(a)(2)(ii)"), clauseOf(kept(minorTask(change))), name)
		require.Equal(t, Servicing, minorTask(change).Treated(now), name)
	}
	require.Equal(t, []string{"routine", "repetitive", "integral", "protected"},
		fields(kept(minorTask(func(t *Task) { t.Routine, t.Repetitive, t.Integral, t.Protected = "", "", "", "" }))), "three of four, or none, are not four")
	require.Equal(t, Servicing, minorTask(func(t *Task) { t.By = "" }).Treated(now), "no supervisor's name")
	require.Equal(t, Servicing, minorTask(func(t *Task) { t.Reviewed = time.Time{} }).Treated(now), "no date")
}

func TestMinorServicingNotReviewedForAYearIsServicing(t *testing.T) {
	task := minorTask(func(*Task) {})
	require.Equal(t, MinorServicing, task.Treated(shiftDay.AddDate(1, 0, 0).Add(-time.Second)))
	require.Equal(t, Servicing, task.Treated(shiftDay.AddDate(1, 0, 0)))
	require.Equal(t, Servicing, task.Treated(shiftDay.Add(-time.Second)), "nor before it was looked at")
	a := registerAnswers("electric")
	require.NoError(t, task.Validate(StarterPlant(a), published(a)), "what was kept reads well for ever")
}

// Less than servicing is a supervisor's word, with name and day.
func TestOnlyASupervisorKeepsATask(t *testing.T) {
	a := registerAnswers("electric")
	task := minorTask(func(t *Task) { t.By, t.Reviewed = "ann", shiftDay.AddDate(-3, 0, 0) })
	_, err := task.Keep(StarterPlant(a), published(a), annOp, shiftDay)
	require.Equal(t, Clause("(a)(2)"), clauseOf(err))
	now := shiftDay.AddDate(0, 1, 0)
	reviewed, err := task.Keep(StarterPlant(a), published(a), samSup, now)
	require.NoError(t, err)
	require.Equal(t, samSup.ID, reviewed.By, "whatever was typed")
	require.Equal(t, now, reviewed.Reviewed)
	servicing, err := servicingTask(func(t *Task) { t.By = "ann" }).Keep(StarterPlant(a), published(a), samSup, now)
	require.NoError(t, err)
	require.Empty(t, servicing.By)
}

// 29 CFR 1910.147(c)(4): servicing follows a published procedure for all of it.
func TestServicingNeedsAPublishedProcedureForItsEquipment(t *testing.T) {
	a := registerAnswers("electric")
	plant, all := StarterPlant(a), published(a)
	keep := func(task Task, all []Procedure) []string {
		_, err := task.Keep(plant, all, samSup, shiftDay)
		return fields(err)
	}
	require.Empty(t, keep(servicingTask(func(*Task) {}), all))
	require.Equal(t, []string{"procedure"}, keep(servicingTask(func(t *Task) { t.Procedure = "" }), all))
	require.Equal(t, []string{"procedure"}, keep(servicingTask(func(t *Task) { t.Procedure = "hoist" }), all))
	require.Equal(t, []string{"procedure"}, keep(servicingTask(func(t *Task) { t.Equipment = []EquipmentID{"head-saw", "carriage"} }), all), "the saw's own doesn't serve the carriage")
	require.Equal(t, []string{"procedure"}, keep(servicingTask(func(*Task) {}), StarterProcedures(plant, a)), "drafts are none")
}
