package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// registered enters a saw that is looked over and fitted, and an extinguisher
// that is looked at.
func registered(t testing.TB, m *Mill, at time.Time) checklists.BladeID {
	t.Helper()
	none := plain.Metres(0)
	id, err := m.KeepBlade(t.Context(), NewID(), "", checklists.Blade{Serial: "A-1", Diameter: 52 * plain.Inch, Gauge: "8", Marked: 700, Teeth: 40, Kind: checklists.InsertedTeeth, Note: "bought of Walter Quist"}, ada, at)
	require.NoError(t, err)
	require.NoError(t, m.BladeDone(t.Context(), NewID(), checklists.BladeAct{Blade: id, Work: checklists.BladeFiled, On: at, Crack: &none, Who: "Walter Quist", Note: "swaged too"}, ada, at))
	require.NoError(t, m.BladeDone(t.Context(), NewID(), checklists.BladeAct{Blade: id, Work: checklists.BladeFitted, On: at}, ada, at))
	item, err := m.KeepSafetyItem(t.Context(), NewID(), "", checklists.SafetyItem{Kind: checklists.ExtinguisherKind, Place: "By the stand", Size: "10 lb", Type: "dry-stored", Made: at.AddDate(-1, 0, 0)}, sam, at)
	require.NoError(t, err)
	require.NoError(t, m.CheckSafetyItem(t.Context(), NewID(), checklists.SafetyCheck{Item: item, Work: checklists.SafetyMaintenance, On: at, Right: true, Who: "Walter Quist", Note: "new seal"}, ada, at))
	return id
}

func TestSawRegisterReachesReadiness(t *testing.T) {
	m := newMill(t)
	id := registered(t, m, six)
	facts, err := m.Facts(t.Context(), six)
	require.NoError(t, err)
	require.Len(t, facts.Blades, 1)
	require.Len(t, facts.BladeActs, 2)
	all, err := m.Blades(t.Context())
	require.NoError(t, err)
	on, some := checklists.FittedBlade(all)
	require.True(t, some)
	require.Equal(t, id, on.ID)
	require.ErrorIs(t, m.BladeDone(t.Context(), NewID(), checklists.BladeAct{Blade: "none", Work: checklists.BladeFitted, On: six}, ada, six), ErrNotFound)
	_, err = m.KeepBlade(t.Context(), NewID(), "an old mark", on.Blade, sam, six)
	require.ErrorIs(t, err, ErrChanged)
	entries, _, err := m.Entries(t.Context(), Filter{Kind: KindBladeAct, Equipment: "head-saw", Limit: 5})
	require.NoError(t, err)
	require.Len(t, entries, 2, "found under the machine it has to do with")
}

func kid() procedures.Person {
	return procedures.Person{ID: "kit", Name: "Kit Moss", Role: procedures.Operator, Minor: true, MinorUntil: six.AddDate(1, 0, 0)}
}

// 29 CFR 570.54, 570.55, 570.58: whoever is under 18 does no work at the machines
// and signs for none, and may stop a machine and tell.
func TestUnder18NothingIsDoneOrSignedAtTheMachines(t *testing.T) {
	m := newMill(t)
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), kid(), "digest", sam, six))
	id := registered(t, m, six)
	item, err := m.KeepSafetyItem(t.Context(), NewID(), "", checklists.SafetyItem{Kind: checklists.EyewashKind, Place: "Filing room"}, sam, six)
	require.NoError(t, err)
	defect, err := m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "hoist", What: "hook bent"}, ada, six)
	require.NoError(t, err)
	walk, err := m.BeginWalk(t.Context(), NewID(), "short", ada, six)
	require.NoError(t, err)
	authorized := kid()
	authorized.Authorized = true
	ctx := t.Context()
	for name, tc := range map[string]struct {
		do     func() error
		clause string
	}{
		"begin a walk": {func() error { _, err := m.BeginWalk(ctx, NewID(), "short", kid(), six); return err }, "570.54"},
		"sign a walk":  {func() error { _, err := m.SignInspection(ctx, NewID(), walk, kid(), six, six); return err }, "570.54"},
		"a run check":  {func() error { return m.AllowRunCheckOf(ctx, NewID(), defect, kid(), six) }, "570.58"},
		"mend":         {func() error { return m.MendDefect(ctx, NewID(), defect, "new hook", "", kid(), six) }, "570.58"},
		"return":       {func() error { return m.ReturnDefect(ctx, NewID(), defect, checklists.Recheck{}, kid(), six) }, "570.58"},
		"lift": {func() error {
			_, err := m.KeepLift(ctx, NewID(), Lift{Rig: "main-hoist", RigVersion: 1, Hoist: "hoist", LandsOn: "carriage"}, kid(), six, nil)
			return err
		}, "570.58"},
		"lock out": {func() error {
			_, err := m.BeginLockout(ctx, NewID(), "hoist", "grease", six.Add(time.Hour), authorized, six)
			return err
		}, "570.58"},
		"inspect gear": {func() error {
			_, err := m.KeepGearInspection(ctx, NewID(), GearInspection{Rig: "main-hoist", Link: "yoke"}, false, kid(), six)
			return err
		}, "570.58"},
		"file a saw": {func() error {
			return m.BladeDone(ctx, NewID(), checklists.BladeAct{Blade: id, Work: checklists.BladeTakenOff, On: six}, kid(), six)
		}, "570.55"},
		"look at an eyewash": {func() error {
			return m.CheckSafetyItem(ctx, NewID(), checklists.SafetyCheck{Item: item, Work: checklists.SafetyLook, On: six, Right: true}, kid(), six)
		}, "570.54"},
	} {
		var no *plain.Refusal
		require.ErrorAs(t, tc.do(), &no, name)
		require.Contains(t, no.Clause, tc.clause, name)
	}
	answered := m.TakeAnswers(ctx, walk, answers(six), kid(), six)
	require.ErrorContains(t, answered, "under 18")
	_, err = m.StopIt(ctx, NewID(), checklists.Defect{Equipment: "head-saw", What: "smoke"}, kid(), six)
	require.NoError(t, err, "anybody stops a machine")
	_, err = m.EnterDeparture(ctx, NewID(), checklists.Departure{Equipment: "hoist", What: "lifted while held", Happened: six}, kid(), six)
	require.NoError(t, err, "anybody of the crew tells")

	var bad plain.Problems
	require.ErrorAs(t, m.KeepPerson(ctx, NewID(), authorized, "", sam, six), &bad)
	require.NotNil(t, bad.For("authorized"))
	require.Error(t, m.AllowMinors(ctx, NewID(), true, sam, six), "no supervisor allows what the law bars")
	grown := kid()
	grown.MinorUntil = six
	_, err = m.BeginWalk(ctx, NewID(), "short", grown, six)
	require.NoError(t, err, "18 today")
}

func TestUnderAnotherLawASupervisorSignsForThoseUnder18(t *testing.T) {
	m := newMill(t)
	other := millOf(m.id)
	other.SetUp.Law = "other"
	require.NoError(t, m.ChangeMill(t.Context(), NewID(), other, sam, six))
	_, err := m.BeginWalk(t.Context(), NewID(), "short", kid(), six)
	require.Error(t, err, "nobody has said it is allowed")
	require.Error(t, m.AllowMinors(t.Context(), NewID(), true, ada, six))
	require.NoError(t, m.AllowMinors(t.Context(), NewID(), true, sam, six))
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), kid(), "digest", sam, six))
	_, err = m.BeginWalk(t.Context(), NewID(), "short", kid(), six)
	require.NoError(t, err)
}

// What ends on a day has ended for whoever signs in that day.
func TestSessionIsOfThePersonAsOfNow(t *testing.T) {
	m := newMill(t)
	dee := procedures.Person{ID: "dee", Name: "Dee", Role: procedures.Operator, Deputy: true, QualifiedLifting: true, LiftingUntil: six.Add(time.Hour), LiftingNote: "course of 2024", DeputyUntil: six.Add(2 * time.Hour)}
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), dee, "digest", sam, six))
	kept, err := m.Person(t.Context(), "dee")
	require.NoError(t, err)
	require.Equal(t, "course of 2024", kept.LiftingNote)
	require.NoError(t, m.OpenSession(t.Context(), Session{Token: [32]byte{1}, Person: "dee", Made: six, Expires: six.AddDate(0, 0, 1)}))
	for after, want := range map[time.Duration][2]bool{0: {true, true}, time.Hour: {false, true}, 2 * time.Hour: {false, false}} {
		p, err := m.Session(t.Context(), [32]byte{1}, six.Add(after))
		require.NoError(t, err)
		require.Equal(t, want, [2]bool{p.QualifiedLifting, p.Supervises()}, after)
	}
}
