package procedures_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
)

var gearDay = time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)

func datedRig() lift.Rig {
	r := lift.StarterRig()
	for i := range r.Links {
		l := &r.Links[i]
		l.State, l.Tag, l.TagReadable, l.RatedLoad, l.OwnMass = lift.InService, "T-"+l.ID, true, 1000, 10
		l.Inspected, l.InspectionDue = gearDay, gearDay.AddDate(1, 0, 0)
		if l.Kind == lift.Leg {
			l.Grade, l.Size, l.MarkedFor = lift.Grade80, lift.Chain3_8, lift.OneLeg
		}
	}
	return r
}

func changed(r lift.Rig, change func(*lift.Rig)) lift.Rig {
	r.Links = append([]lift.Link(nil), r.Links...)
	change(&r)
	return r
}

func fieldsOf(t *testing.T, err error) (fields []string) {
	t.Helper()
	if err == nil {
		return nil
	}
	var bad plain.Problems
	require.ErrorAs(t, err, &bad)
	for _, one := range bad {
		fields = append(fields, one.Field)
	}
	return fields
}

var (
	boss    = procedures.Person{Role: procedures.Supervisor}
	trusted = procedures.Person{Role: procedures.Supervisor, QualifiedLifting: true}
)

func TestDayOfInspectionIsPutInForceByTheQualifiedAlone(t *testing.T) {
	rig := datedRig()
	g := lift.Register{Versions: []lift.Version{{Rig: rig, InForce: true}}}
	for field, change := range map[string]func(*lift.Rig){
		"link-6-inspected": func(r *lift.Rig) {
			r.Links[5].Inspected = gearDay.AddDate(0, 0, 1)
			r.Links[5].InspectedBy = "somebody"
		},
		"link-8-inspected": func(r *lift.Rig) {
			r.Links = append(r.Links, lift.Link{ID: "new", Inspected: gearDay, InspectedBy: "somebody"})
		},
		"link-6-due": func(r *lift.Rig) { r.Links[5].InspectionDue = gearDay.AddDate(2, 0, 0) },
	} {
		c := procedures.RigChange{Before: rig, After: changed(rig, change), Register: g}
		require.Equal(t, []string{field}, fieldsOf(t, procedures.MayPublishRig(c, boss)))
		require.NoError(t, procedures.MayPublishRig(c, trusted))
	}
	out := changed(rig, func(r *lift.Rig) { r.Links[5].State = lift.OutOfService })
	c := procedures.RigChange{Before: out, After: rig, Register: lift.Register{Versions: []lift.Version{{Rig: out, InForce: true}}}}
	require.Equal(t, []string{"link-6-state"}, fieldsOf(t, procedures.MayPublishRig(c, boss)), "a part is returned to service")
	require.NoError(t, procedures.MayPublishRig(c, trusted))
	same := changed(rig, func(r *lift.Rig) {
		r.Links[5].RatedLoad, r.Links[5].InspectionDue, r.Links[5].State = 900, gearDay.AddDate(0, 6, 0), lift.OutOfService
		r.Links = append(r.Links, lift.Link{ID: "new"})
	})
	require.NoError(t, procedures.MayPublishRig(procedures.RigChange{Before: rig, After: same, Register: g}, boss), "the rest is a supervisor's")
}

func TestFreshMillBeginsByNamingWhoInspected(t *testing.T) {
	bare, rig := lift.StarterRig(), datedRig()
	c := procedures.RigChange{Before: bare, After: rig, Register: lift.Register{Versions: []lift.Version{{Rig: bare, InForce: true}}}}
	require.Len(t, fieldsOf(t, procedures.MayPublishRig(c, boss)), len(rig.Links))
	require.Equal(t, "link-1-inspected-by", fieldsOf(t, procedures.MayPublishRig(c, boss))[0])
	c.After = changed(rig, func(r *lift.Rig) {
		for i := range r.Links {
			r.Links[i].InspectedBy = "the hoist's maker, report 12"
		}
	})
	require.NoError(t, procedures.MayPublishRig(c, boss))
	c.Register.Versions = append(c.Register.Versions, lift.Version{Rig: lift.Rig{ID: "another", Links: rig.Links}, InForce: true})
	require.Len(t, fieldsOf(t, procedures.MayPublishRig(c, boss)), len(rig.Links), "the mill has begun")
}

func TestPartOutOfUseIsTakenOutByTheQualifiedWithAReason(t *testing.T) {
	rig := datedRig()
	g := lift.Register{Versions: []lift.Version{{Rig: rig, InForce: true}}, Looked: []lift.Looked{{Rig: rig.ID, Link: "legs", Every: lift.EveryShift, At: gearDay}}}
	for field, change := range map[string]func(*lift.Rig){
		"links":        func(r *lift.Rig) { r.Links = append(r.Links[:5:5], r.Links[6:]...) },
		"link-6-tag":   func(r *lift.Rig) { r.Links[5].Tag = "other" },
		"link-6-grade": func(r *lift.Rig) { r.Links[5].Grade = lift.NotChain },
		"link-6-size":  func(r *lift.Rig) { r.Links[5].Size = lift.Chain7_32 },
		"link-6-kind":  func(r *lift.Rig) { r.Links[5].Kind = lift.Fitting },
	} {
		c := procedures.RigChange{Before: rig, After: changed(rig, change), Register: g}
		require.Equal(t, []string{field, "why"}, fieldsOf(t, procedures.MayPublishRig(c, boss)))
		require.Equal(t, []string{"why"}, fieldsOf(t, procedures.MayPublishRig(c, trusted)))
		c.After.Why = "cut up"
		require.NoError(t, procedures.MayPublishRig(c, trusted))
		require.Error(t, procedures.MayPublishRig(c, boss))
	}
	require.NoError(t, procedures.MayPublishRig(procedures.RigChange{Before: rig, After: rig, Register: g}, boss))
}

func TestSizeAsNewIsChangedByTheQualifiedAlone(t *testing.T) {
	hand := procedures.Person{Role: procedures.Operator}
	skilled := procedures.Person{Role: procedures.Operator, QualifiedLifting: true}
	require.NoError(t, procedures.MayMeasureGear(hand, 0.03, 0))
	require.NoError(t, procedures.MayMeasureGear(hand, 0, 0.03))
	require.NoError(t, procedures.MayMeasureGear(hand, 0.0301, 0.03), "the same in another unit")
	require.Equal(t, []string{"new"}, fieldsOf(t, procedures.MayMeasureGear(hand, 0.032, 0.03)))
	require.NoError(t, procedures.MayMeasureGear(skilled, 0.032, 0.03))
	require.Error(t, procedures.MayMeasureGear(procedures.Person{Role: procedures.Reader}, 0, 0))
}

// Whatever people who are not qualified enter, measure and put in force after a
// part was found not fit or past its limit: its steel stays out of use in every
// rig it is in.
func TestNoActsOfUnqualifiedPeopleClearAPart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rig := datedRig()
		g := lift.Register{Versions: []lift.Version{{Rig: rig, InForce: true}}, Uses: map[string][]time.Time{rig.ID: {gearDay}}}
		now := gearDay.Add(time.Hour)
		asNew := map[string]float64{}
		if rapid.Bool().Draw(t, "worn") {
			g.Taken = []lift.Taken{{Rig: rig.ID, Link: "legs", What: "link", Value: 0.005, At: now, Qualified: true}}
		} else {
			every := lift.Every(rapid.IntRange(1, 4).Draw(t, "found at"))
			g.Looked = []lift.Looked{{Rig: rig.ID, Link: "legs", Every: every, At: now}}
		}
		by := rapid.SampledFrom([]procedures.Person{boss, {Role: procedures.Operator}, {Role: procedures.Operator, Deputy: true}, {Role: procedures.Reader, QualifiedLifting: true}})
		for range rapid.IntRange(0, 25).Draw(t, "acts") {
			now = now.Add(time.Duration(rapid.IntRange(0, 30).Draw(t, "hours")) * time.Hour)
			who := by.Draw(t, "by")
			rig = g.Versions[len(g.Versions)-1].Rig
			link := lift.Link{ID: "legs"} // mostly: it is these that have to stay out
			if rapid.IntRange(0, 3).Draw(t, "another part") == 0 {
				link = rapid.SampledFrom(rig.Links).Draw(t, "part")
			}
			switch rapid.IntRange(0, 3).Draw(t, "act") {
			case 0:
				every, fit := lift.Every(rapid.IntRange(1, 4).Draw(t, "every")), rapid.Bool().Draw(t, "fit")
				if procedures.MayEnterGear(who, every.Thorough(), fit) == nil {
					g.Looked = append(g.Looked, lift.Looked{Rig: rig.ID, Link: link.ID, Every: every, Fit: fit, At: now})
				}
			case 1:
				what := rapid.SampledFrom([]string{"link", "reach", "throat"}).Draw(t, "what")
				size := rapid.SampledFrom([]float64{0, 0.01, 0.03, 1}).Draw(t, "new")
				if procedures.MayMeasureGear(who, size, asNew[link.ID+what]) == nil {
					g.Taken = append(g.Taken, lift.Taken{Rig: rig.ID, Link: link.ID, What: what, Value: rapid.SampledFrom([]float64{0.004, 0.0095, 0.03, 1}).Draw(t, "value"), New: size, At: now, Qualified: who.QualifiedLifting})
					asNew[link.ID+what] = max(asNew[link.ID+what], size)
				}
			default:
				next := changed(rig, func(r *lift.Rig) { meddle(t, r, now) })
				if who.Supervises() && next.KeepsDestroyed(g.Versions) == nil && procedures.MayPublishRig(procedures.RigChange{Before: rig, After: next, Register: g}, who) == nil {
					g.Versions[len(g.Versions)-1].InForce = false
					g.Versions = append(g.Versions, lift.Version{Rig: next, InForce: true})
					g.Uses[rig.ID] = append(g.Uses[rig.ID], now)
				}
			}
			last := g.Versions[len(g.Versions)-1].Rig
			told := last.By(g, now.Add(time.Minute))
			for i := range told.Links {
				if l := &told.Links[i]; l.ID == "legs" && l.State == lift.InService {
					t.Fatalf("the legs are back in service")
				}
			}
			if len(told.Faults(now.Add(time.Minute))) == 0 {
				t.Fatalf("nothing stands against the rig")
			}
		}
	})
}

// meddle changes a rig as somebody at its form might.
func meddle(t *rapid.T, r *lift.Rig, now time.Time) {
	i := rapid.IntRange(0, len(r.Links)-1).Draw(t, "place")
	for j := range r.Links {
		if r.Links[j].ID == "legs" && rapid.Bool().Draw(t, "the legs") {
			i = j
		}
	}
	l := &r.Links[i]
	switch rapid.IntRange(0, 6).Draw(t, "change") {
	case 0:
		l.ID = rapid.StringMatching(`[a-z]{4}`).Draw(t, "id")
	case 1:
		l.Tag = rapid.SampledFrom([]string{"", "T-legs", "t-LEGS ", "other"}).Draw(t, "tag")
	case 2:
		l.Kind = lift.Kind(rapid.IntRange(0, 8).Draw(t, "kind"))
	case 3:
		l.Grade, l.Size = lift.Grade(rapid.IntRange(0, 6).Draw(t, "grade")), lift.ChainSize(rapid.IntRange(0, 10).Draw(t, "size"))
	case 4:
		l.Inspected, l.InspectionDue = now, now.AddDate(1, 0, 0)
	case 5:
		l.State = lift.State(rapid.IntRange(0, 2).Draw(t, "state"))
	case 6:
		r.Links = append(r.Links[:i:i], r.Links[i+1:]...)
		if len(r.Links) == 0 {
			r.Links = datedRig().Links[:1]
		}
	}
	r.Why = rapid.SampledFrom([]string{"", "because"}).Draw(t, "why")
}
