package procedures

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// 29 CFR 1910.147(c)(7)(iv): each employee's name and dates; (c)(7)(iii)(C).
func TestTrainingSaysWhoWhatAndWhen(t *testing.T) {
	p := hoistProcedure()
	kept, err := goodTraining(p).Enter(samSup, shiftDay)
	require.NoError(t, err)
	require.Equal(t, samSup.ID, kept.By)
	require.Equal(t, shiftDay, kept.At)

	_, err = Training{Again: true}.Enter(samSup, shiftDay)
	require.ElementsMatch(t, []string{"person", "level", "on", "trainer", "procedures", "covered"}, fields(err))

	_, err = goodTraining(p).Enter(depOp, shiftDay)
	require.Equal(t, Clause("(c)(7)(iv)"), clauseOf(err), "a deputy makes nobody authorized")
	told := goodTraining(p)
	told.Level = AffectedLevel
	_, err = told.Enter(depOp, shiftDay)
	require.NoError(t, err)
	_, err = told.Enter(annOp, shiftDay)
	require.Equal(t, Clause("(c)(7)(iv)"), clauseOf(err))
}

func TestOwnWordIsOnlyForOneself(t *testing.T) {
	own := goodTraining(hoistProcedure())
	own.OwnWord, own.Trainer, own.Person = true, "", samSup.ID
	_, err := own.Enter(samSup, shiftDay)
	require.NoError(t, err)
	own.Person = annOp.ID
	_, err = own.Enter(samSup, shiftDay)
	require.Equal(t, []string{"trainer"}, fields(err))
}

func TestFirstSupervisorsOwnWordLetsThemBeginByEveryProcedure(t *testing.T) {
	answers := Answers{Drive: "engine", Feed: "mandrel", Dogs: "power", Headblocks: 2, Hoist: "electric", Collector: "bag-house"}
	drafts := StarterProcedures(StarterPlant(answers), answers)
	own, err := OwnTraining(samSup, drafts, shiftDay).Enter(samSup, shiftDay)
	require.NoError(t, err)
	for _, p := range drafts {
		require.Empty(t, Learned{Person: samSup.ID, Trainings: []Training{own}}.Gaps(version(p, 1), shiftDay), p.ID)
		require.NotEmpty(t, Learned{Person: samSup.ID, Trainings: []Training{own}}.Gaps(version(p, 2), shiftDay), p.ID)
	}
}

// (c)(7)(i)(A): type and magnitude of the energy, and the means to control it.
func TestNobodyBeginsWithoutEveryEnergyKindCovered(t *testing.T) {
	p := hoistProcedure()
	require.Equal(t, []EnergyKind{Electrical, Gravity, Spring}, p.Kinds())
	k := Learned{Person: annOp.ID, Trainings: []Training{goodTraining(p)}}
	require.Empty(t, k.Gaps(p, shiftDay))
	k.Trainings[0].EnergyKinds = []EnergyKind{Electrical, Spring}
	gaps := k.Gaps(p, shiftDay)
	require.Len(t, gaps, 1)
	require.Equal(t, Clause("(c)(7)(i)(A)"), gaps[0].Clause)
	require.Contains(t, gaps[0].Why.String(), "gravity")

	// The kind was gone through on another machine: type and size on site.
	other := goodTraining(p)
	other.Procedures, other.EnergyKinds = []TrainedOn{{"carriage", 1}}, []EnergyKind{Gravity}
	k.Trainings = append(k.Trainings, other)
	require.Empty(t, k.Gaps(p, shiftDay))
}

func TestKindOfEnergyNewWithAVersionUntrains(t *testing.T) {
	p := hoistProcedure()
	k := Learned{Person: annOp.ID, Trainings: []Training{goodTraining(p)}, Editions: []Edition{
		{Procedure: p.ID, Version: 1, Kinds: p.Kinds()}, {Procedure: p.ID, Version: 2, Wording: true, Kinds: []EnergyKind{Pneumatic}}}}
	next := version(p, 2)
	next.Energies = append(next.Energies[:len(next.Energies):len(next.Energies)], Energy{ID: "air", Kind: Pneumatic})
	gaps := k.Gaps(next, shiftDay)
	require.Len(t, gaps, 1, "also when its author called it a change of wording")
	require.Equal(t, Clause("(c)(7)(iii)(A)"), gaps[0].Clause)
}

// (c)(7)(iii)(A): a change in the procedure.
func TestChangeOfSubstanceUntrainsAndOfWordingDoesNot(t *testing.T) {
	p := hoistProcedure()
	k := Learned{Person: annOp.ID, Trainings: []Training{goodTraining(p)}}
	gaps := k.Gaps(version(p, 2), shiftDay)
	require.Len(t, gaps, 1, "a version nobody said anything of counts as of substance")
	require.Equal(t, Clause("(c)(7)(iii)(A)"), gaps[0].Clause)

	k.Editions = []Edition{{Procedure: p.ID, Version: 2, Wording: true}}
	require.Empty(t, k.Gaps(version(p, 2), shiftDay))
	require.Len(t, k.Gaps(version(p, 3), shiftDay), 1)

	again := goodTraining(p)
	again.Procedures, again.On, again.Again, again.Covered = []TrainedOn{{p.ID, 3}}, shiftDay, true, "the new order of the steps"
	k.Trainings = append(k.Trainings, again)
	require.Empty(t, k.Gaps(version(p, 3), shiftDay))
}

// (c)(7)(iii)(B): an inspection shows deviations from, or gaps in knowledge of, the procedure.
func TestFindingSuspendsUntilRetrained(t *testing.T) {
	p := hoistProcedure()
	for _, kind := range []FindingKind{Deviation, Knowledge} {
		k := Learned{Person: annOp.ID, Trainings: []Training{goodTraining(p)}, Inspections: []ProcedureInspection{found(p, kind)}}
		gaps := k.Gaps(p, shiftDay)
		require.Len(t, gaps, 1)
		require.Equal(t, Clause("(c)(7)(iii)(B)"), gaps[0].Clause)

		again := goodTraining(p)
		again.On, again.At = found(p, kind).On, found(p, kind).At
		k.Trainings = []Training{goodTraining(p), again}
		require.Len(t, k.Gaps(p, shiftDay), 1, "trained on the day, before the certificate was signed")
		k.Trainings[1].At = shiftDay
		require.Empty(t, k.Gaps(p, shiftDay))
		k.Person, k.Trainings[0].Person, k.Trainings[1].Person = benOp.ID, benOp.ID, benOp.ID
		require.Empty(t, k.Gaps(p, shiftDay), "it is Ann's finding")
	}
	for _, kind := range []FindingKind{WrongText, WrongGear} {
		k := Learned{Person: annOp.ID, Trainings: []Training{goodTraining(p)}, Inspections: []ProcedureInspection{found(p, kind)}}
		require.Empty(t, k.Gaps(p, shiftDay))
	}
}

func TestTrainingThatRanOutIsAGap(t *testing.T) {
	p := hoistProcedure()
	k := Learned{Person: annOp.ID, Trainings: []Training{goodTraining(p)}}
	k.Trainings[0].Expires = shiftDay
	require.NotEmpty(t, k.Gaps(p, shiftDay))
	require.Empty(t, k.Gaps(p, shiftDay.AddDate(0, 0, -1)))
}

// (c)(7)(ii)(A)–(F).
func TestTagTrainingNeedsAllSixPoints(t *testing.T) {
	require.Len(t, TagPoints(), 6)
	p := tagProcedure()
	tags := goodTraining(p)
	for left := range TagPoints() {
		tags.Tags, tags.TagPoints = true, nil
		for i, point := range TagPoints() {
			if i != left {
				tags.TagPoints = append(tags.TagPoints, point)
			}
		}
		_, err := tags.Enter(samSup, shiftDay)
		require.Equal(t, []string{"tag_points"}, fields(err))
		require.Len(t, Learned{Person: annOp.ID, Trainings: []Training{tags}}.Gaps(p, shiftDay), 1)
	}
	tags.TagPoints = TagPoints()
	_, err := tags.Enter(samSup, shiftDay)
	require.NoError(t, err)
	require.Empty(t, Learned{Person: annOp.ID, Trainings: []Training{tags}}.Gaps(p, shiftDay))
}

// (c)(7)(i)(B): a gap is shown; it stands in nobody's way.
func TestAffectedPersonWithoutTrainingShowsAsAGap(t *testing.T) {
	p := hoistProcedure()
	affected := []Affected{{Equipment: "hoist", People: []PersonID{annOp.ID, calOp.ID}}, {Equipment: "carriage", People: []PersonID{benOp.ID}}}
	gaps := AffectedGaps("hoist", affected, []Procedure{p}, []Training{goodTraining(p)}, shiftDay)
	require.Len(t, gaps, 1, "Ann is trained to lock out, which is more")
	require.Equal(t, calOp.ID, gaps[0].Person)
	require.Equal(t, Clause("(c)(7)(i)(B)"), gaps[0].Clause)
	told := goodAffected()
	told.Person = calOp.ID
	require.Empty(t, AffectedGaps("hoist", affected, []Procedure{p}, []Training{goodTraining(p), told}, shiftDay))
}

// (c)(7)(i)(C).
func TestBeingToldIsEnoughForPresenceAndNotForALock(t *testing.T) {
	p := hoistProcedure()
	told := goodTraining(p)
	told.Level = OtherLevel
	require.False(t, MayBePresent(annOp.ID, nil, shiftDay))
	require.True(t, MayBePresent(annOp.ID, []Training{told}, shiftDay))
	require.NotEmpty(t, Learned{Person: annOp.ID, Trainings: []Training{told}}.Gaps(p, shiftDay))
}

// More training never untrains: what one more valid training on the newest
// version, of today and without an end, leaves as a gap was one before.
func TestMoreTrainingNeverMakesAGap(t *testing.T) {
	p := hoistProcedure()
	rapid.Check(t, func(t *rapid.T) {
		k := Learned{Person: annOp.ID}
		for range rapid.IntRange(0, 4).Draw(t, "trainings") {
			one := goodTraining(p)
			one.Level = rapid.SampledFrom(Levels()).Draw(t, "level")
			one.Procedures = []TrainedOn{{p.ID, rapid.IntRange(1, 4).Draw(t, "version")}}
			one.EnergyKinds = p.Kinds()[:rapid.IntRange(0, len(p.Kinds())).Draw(t, "kinds")]
			one.On = shiftDay.AddDate(0, 0, -rapid.IntRange(0, 400).Draw(t, "ago"))
			one.At = one.On
			if rapid.Bool().Draw(t, "ends") {
				one.Expires = one.On.AddDate(0, 0, rapid.IntRange(1, 400).Draw(t, "lasts"))
			}
			k.Trainings = append(k.Trainings, one)
		}
		for v := 2; v <= 4; v++ {
			k.Editions = append(k.Editions, Edition{Procedure: p.ID, Version: v, Wording: rapid.Bool().Draw(t, "wording")})
		}
		if rapid.Bool().Draw(t, "found") {
			k.Inspections = []ProcedureInspection{found(p, Deviation)}
		}
		newest := version(p, rapid.IntRange(1, 4).Draw(t, "newest"))
		before := len(k.Gaps(newest, shiftDay))
		full := goodTraining(p)
		full.Procedures, full.On, full.At = []TrainedOn{{p.ID, newest.Version}}, shiftDay, shiftDay
		k.Trainings = append(k.Trainings, full)
		after := k.Gaps(newest, shiftDay)
		require.LessOrEqual(t, len(after), before)
		require.Empty(t, after, "a full training of today leaves nothing")
	})
}
