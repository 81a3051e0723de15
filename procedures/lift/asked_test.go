package lift_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

// Every question asked has a place for its answer, and each of them alone, not
// answered with yes, makes the lift a NO-GO.
func TestEveryQuestionAskedIsJudged(t *testing.T) {
	for name, fresh := range map[string]func(require.TestingT) lift.Lift{"slings": goodLift, "end hooks": hookLift} {
		l := fresh(t)
		asked := l.Rig.Asks()
		require.Len(t, asked, map[string]int{"slings": 5, "end hooks": 6}[name])
		for _, q := range asked {
			require.NotEmpty(t, q.Said.String())
			require.NotEmpty(t, q.Source)
			for _, answer := range []lift.Answer{lift.Unanswered, lift.No, 9} {
				l := fresh(t)
				place := l.Questions.At(q.Field)
				require.NotNil(t, place, q.Field)
				require.Equal(t, lift.Yes, *place)
				*place = answer
				v := lift.Check(l)
				require.False(t, v.Go, "%s: %s", name, q.Field)
				require.Equal(t, []lift.Rule{lift.QuestionRule}, rules(v))
			}
		}
	}
	require.Nil(t, new(lift.Questions).At("anything else"))
}

func TestOnlyASignatureLetsALiftAboveTheMarginGo(t *testing.T) {
	for _, tc := range []struct {
		goes, above, signed, allowed bool
	}{{true, false, false, true}, {true, true, false, false}, {true, true, true, true}, {false, true, true, false}, {false, false, true, false}} {
		v := lift.Verdict{Go: tc.goes, NeedsSupervisor: tc.above}
		require.Equal(t, tc.allowed, v.Allowed(tc.signed), "%+v", tc)
	}
}

// What people wrote into a rig comes out of it and goes back to its place; the
// verdict needs none of it but who stands for the band of the end hooks.
func TestTextsOfARigComeOutAndGoBack(t *testing.T) {
	r := hookLift(t).Rig
	r.Setting, r.Why, r.Links[1].InspectedBy = "third hole", "Quist bent it", "Quist"
	r.Settings = []lift.Setting{{Name: "first hole", YokeWidth: 0.4, LegLength: 0.5}, {Name: "second hole", YokeWidth: 0.5, LegLength: 0.5}}
	bare, texts := r.WithoutTexts()
	require.Equal(t, "third hole", r.Setting) // what it was taken from is left alone
	require.Equal(t, "A1", r.Links[0].Tag)
	require.Len(t, texts, 2+len(r.Links)+2+len(r.Links)+1)
	for _, one := range []string{bare.Setting, bare.EndHookBand.Source, bare.Links[3].Tag, bare.Settings[1].Name, bare.Why, bare.Links[1].InspectedBy} {
		require.Empty(t, one)
	}
	require.Equal(t, r.Links[0].Name, bare.Links[0].Name)
	require.Equal(t, r, bare.WithTexts(texts))
	require.Equal(t, r, bare.WithTexts(append(texts, "one too many")))
	require.Empty(t, bare.WithTexts(texts[:1]).EndHookBand.Source)
	l := hookLift(t)
	l.Rig = bare
	require.Contains(t, rules(lift.Check(l)), lift.GripRule) // a band nobody stands for is none
}

func TestAnswersAndUnitsAreReadBack(t *testing.T) {
	unit, err := lift.ParseUnit(" CM ")
	require.NoError(t, err)
	require.Equal(t, lift.Centimetres, unit)
	_, err = lift.ParseUnit("furlong")
	require.Error(t, err)
	for text, want := range map[string]lift.Answer{"": lift.Unanswered, "  ": lift.Unanswered, "Yes": lift.Yes, "no": lift.No} {
		answer, err := lift.ParseAnswer(text)
		require.NoError(t, err)
		require.Equal(t, want, answer, "%q", text)
	}
	_, err = lift.ParseAnswer("maybe")
	require.Error(t, err)
	require.Equal(t, "unknown", lift.Grade(99).String()) // past the end is unknown, never a name
}

// A kind of which less was published is never taken for lighter than the
// figures there are, and says what was assumed.
func TestFiguresThatWereNotPublishedAreAssumedHeavyAndSaidSo(t *testing.T) {
	weigh := func(s lift.Species, heart float64) lift.Weight {
		w, err := lift.Weigh(lift.Piece{Shape: lift.Squared, Length: 2, Width: 0.3, Height: 0.3, Species: s, Condition: lift.Green, HeartKnown: heart >= 0, HeartShare: max(0, heart)})
		require.NoError(t, err)
		return w
	}
	full := kind(t, "loblolly pine") // heart 33 %, sap 110 %
	all, heart, sap := weigh(full, -1), weigh(full, 1), weigh(full, 0)
	require.Less(t, heart.Expected, all.Expected)
	require.Greater(t, sap.Expected, all.Expected)
	require.Equal(t, all.Upper, heart.Upper) // the wettest counts, whatever the share

	both := full
	both.MeanMoisture = 0
	require.InDelta(t, float64(heart.Expected+sap.Expected)/2, float64(weigh(both, -1).Expected), 1e-9)
	for _, take := range []func(*lift.Species){func(s *lift.Species) { s.HeartMoisture = 0 }, func(s *lift.Species) { s.SapMoisture = 0 }} {
		one := both
		take(&one)
		w := weigh(one, 0.5)
		require.Len(t, w.Notes, 1)
		require.InDelta(t, float64(weigh(one, -1).Expected), float64(w.Expected), 1e-9)
	}
	none := lift.Species{Gravity: full.Gravity, Common: "a kind"}
	w := weigh(none, 0.5)
	require.Len(t, w.Notes, 1)
	require.InDelta(t, 2*470*0.18, float64(w.Expected), 1e-9) // 0.47 at 100 % on 0.18 m³
	require.GreaterOrEqual(t, float64(w.Upper), 1.2*float64(w.Expected))
}
