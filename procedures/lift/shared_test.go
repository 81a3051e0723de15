package lift_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/lift"
)

// twoRigs are a rig whose legs carry that tag and another, begun from nothing,
// whose legs carry the second.
func twoRigs(tag, other string) (one, two lift.Rig) {
	one = registeredRig()
	for i := range one.Links {
		one.Links[i].Tag = "one-" + one.Links[i].ID
	}
	two = lift.BeginRig("yard", "Yard crane", lift.Rig{})
	for i := range two.Links {
		id := two.Links[i].ID
		two.Links[i] = one.Links[i]
		two.Links[i].ID, two.Links[i].Tag = id, "two-"+id
	}
	one.Links[5].Tag, two.Links[5].Tag = tag, other
	return one, two
}

func inForce(rigs ...lift.Rig) (all []lift.Version) {
	for _, r := range rigs {
		all = append(all, lift.Version{Rig: r, InForce: true})
	}
	return all
}

func registerOf(rigs ...lift.Rig) lift.Register {
	g := lift.Register{Versions: inForce(rigs...), Uses: map[string][]time.Time{}}
	for _, r := range rigs {
		g.Uses[r.ID] = daysFrom(0, 1)
	}
	return g
}

func TestWhatSpeaksAgainstAPartSpeaksAgainstItInEveryRig(t *testing.T) {
	now := looked.AddDate(0, 0, 2)
	one, two := twoRigs("Leg  set 4", " leg set 4 ")
	bad := look(lift.EveryMonth, false, 0)
	bad.Rig = one.ID
	state := func(g lift.Register) lift.State { return legOf(two.By(g, now)).State }
	g := registerOf(one, two)
	require.Equal(t, lift.InService, state(g))
	g.Looked = []lift.Looked{bad}
	require.Equal(t, lift.OutOfService, state(g), "unfit")
	good := look(lift.EveryMonth, true, 1)
	good.Rig = one.ID
	g.Looked = []lift.Looked{bad, good}
	require.Equal(t, lift.InService, legOf(one.By(g, now)).State)
	require.Equal(t, lift.OutOfService, state(g), "a tag that reads alike is not proof enough to pass it")
	good.Rig, good.Link = two.ID, two.Links[5].ID
	g.Looked = []lift.Looked{bad, good}
	require.Equal(t, lift.InService, state(g), "passed under its own rig")

	g = registerOf(one, two)
	worn := gauged(0.30, 0, true)
	worn.Rig = one.ID
	g.Taken = []lift.Taken{worn}
	require.Equal(t, lift.OutOfService, state(g), "worn")

	for _, is := range []lift.State{lift.OutOfService, lift.Destroyed} {
		was := one
		was.Links = append([]lift.Link(nil), one.Links...)
		was.Links[5].State = is
		require.Equal(t, is, state(registerOf(was, two)))
		g := registerOf(one, two)
		g.Versions = append([]lift.Version{{Rig: was}}, g.Versions...)
		want := lift.InService // was out of service in an earlier version
		if is == lift.Destroyed {
			want = is
			require.Error(t, two.KeepsDestroyed(g.Versions))
		}
		require.Equal(t, want, state(g))
	}
	apart, alone := twoRigs("Leg set 4", "leg set 5")
	g = registerOf(apart, alone)
	g.Looked = []lift.Looked{bad}
	require.Equal(t, lift.InService, legOf(alone.By(g, now)).State, "another set")
	require.Empty(t, alone.Shared(g.Versions))
}

// A rig put in force today is no use of a chain that hung idle in another.
func TestIdlePartIsIdleInANewRig(t *testing.T) {
	one, two := twoRigs("leg set 4", "leg set 4")
	now := looked.AddDate(0, 0, 60)
	g := registerOf(one, two)
	g.Uses[two.ID] = daysFrom(60)
	require.Equal(t, lift.EveryMonth, legOf(two.By(g, now)).IdleOwes)
	require.Equal(t, lift.EveryUnknown, two.By(g, now).Links[4].IdleOwes, "the yoke is another")
	g.Uses[one.ID], g.Uses[two.ID] = daysFrom(0, 20, 40, 60), daysFrom(0, 60)
	require.Equal(t, lift.EveryMonth, legOf(two.By(g, now)).IdleOwes, "only the tag is alike: the worse of the two")
}

func TestRigBegunFromAnotherSharesItsHoist(t *testing.T) {
	one, _ := twoRigs("leg set 4", "")
	two := lift.BeginRig("yard", "Yard crane", one)
	require.Equal(t, one.Links[:4], two.Links[:4])
	require.Equal(t, []lift.Kind{lift.Yoke, lift.Leg, lift.EndHook}, []lift.Kind{two.Links[4].Kind, two.Links[5].Kind, two.Links[6].Kind})
	for _, l := range two.Links[4:] {
		for _, k := range one.Links {
			require.NotEqual(t, k.ID, l.ID)
		}
	}
	now := looked.AddDate(0, 0, 2)
	bad := lift.Looked{Rig: two.ID, Link: "hoist-hook", Every: lift.EveryMonth, At: looked}
	good := lift.Looked{Rig: one.ID, Link: "hoist-hook", Every: lift.EveryMonth, Fit: true, At: looked.AddDate(0, 0, 1)}
	g := registerOf(one, two)
	g.Looked = []lift.Looked{bad}
	require.Equal(t, lift.OutOfService, one.By(g, now).Links[3].State)
	g.Looked = []lift.Looked{bad, good}
	require.Equal(t, lift.InService, one.By(g, now).Links[3].State)
	require.Equal(t, lift.InService, two.By(g, now).Links[3].State, "the same steel on purpose")

	hookless := one
	hookless.Links = one.Links[5:]
	require.Empty(t, lift.BeginRig("x", "X", hookless).Begun)
}

// Two rigs of an older program have the same ids for other steel.
func TestSameIdAloneProvesNoSameSteel(t *testing.T) {
	one, two := twoRigs("", "")
	two.Links[5].ID = "legs"
	now := looked.AddDate(0, 0, 3)
	bad, good := look(lift.EveryMonth, false, 0), look(lift.EveryMonth, true, 1)
	bad.Rig, good.Rig = one.ID, two.ID
	g := registerOf(one, two)
	g.Looked = []lift.Looked{bad}
	require.Equal(t, lift.OutOfService, legOf(two.By(g, now)).State, "no tag tells them apart")
	g.Looked = []lift.Looked{bad, good}
	require.Equal(t, lift.OutOfService, legOf(one.By(g, now)).State, "and none makes them one")
	one.Links[5].Tag, two.Links[5].Tag = "4", "5"
	g = registerOf(one, two)
	g.Looked = []lift.Looked{bad}
	require.Equal(t, lift.InService, legOf(two.By(g, now)).State)
}

func TestPartTakenOutAndPutBackUnderAnotherIdIsTheSame(t *testing.T) {
	for _, tag := range []string{"leg set 4", ""} {
		was, _ := twoRigs(tag, "")
		now, _ := twoRigs(tag, "")
		now.Links[5].ID = "new"
		bad := look(lift.EveryShift, false, 0)
		bad.Rig = was.ID
		g := registerOf(now)
		g.Versions = append([]lift.Version{{Rig: was}}, g.Versions...)
		g.Looked = []lift.Looked{bad}
		require.Equal(t, lift.OutOfService, legOf(now.By(g, looked.AddDate(0, 0, 2))).State, "tag %q", tag)
		now.Links[5].Tag = "leg set 9"
		require.Equal(t, lift.InService, legOf(now.By(g, looked.AddDate(0, 0, 2))).State)
	}
}
