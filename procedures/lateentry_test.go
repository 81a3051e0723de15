package procedures_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

// stoppedLate is a shop at what is stored, whose stops were entered afterwards, to
// the minute.
func stoppedLate(t require.TestingT) (*shop, time.Time) {
	s := at(t, procedures.ShutDown)
	minute := six.Add(20 * time.Minute)
	for s.l.Stage == procedures.ShutDown {
		e := s.event(s.undone()[0])
		e.Late, e.At = true, minute
		s.do(ada, e)
	}
	s.now = minute.Add(59 * time.Second) // when it really stopped
	return s.to(procedures.Relieve), minute
}

// boxedLate is a shop at work where ben's lock went on the box, entered
// afterwards, nothing said of the keys.
func boxedLate(t require.TestingT) *shop {
	s := at(t, procedures.Work)
	joined := procedures.Event{Kind: procedures.Joined, Person: "ben", Lock: "B-1", Late: true, At: s.now}
	require.NoError(t, s.l.Apply(joined, ben))
	return s
}

// 29 CFR 1910.147(f)(3)(ii)(D): a box nobody looked into protects nobody, whenever
// the lock on it was entered.
func TestNobodyGoesOnWithABoxNobodyLookedInto(t *testing.T) {
	s := boxedLate(t)
	require.True(t, s.l.KeysUnseen())
	seen := "nobody said that the keys are in it"
	s.refused(ben, proof, "29 CFR 1910.147(f)(3)(ii)(D)", "Lock B-1 went on the box, and "+seen)
	s.refused(ada, procedures.Event{Kind: procedures.WorkBegan}, "29 CFR 1910.147(f)(3)(ii)(D)", seen)
	late := proof
	late.Late = true
	s.do(ben, late)
	require.False(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now), "what is entered afterwards is taken, and he stays out")
	require.Contains(t, s.l.StatusOf(s.l.Members[1], s.now).String(), "keys in it not seen: stays out")
	require.True(t, s.l.VerifiedFor("ada", "dogs-and-knees", s.now), "her own locks are on every device")
	looked := proof
	looked.KeysInBox = true
	s.do(ben, looked)
	require.False(t, s.l.KeysUnseen())
	require.True(t, s.l.VerifiedFor("ben", "dogs-and-knees", s.now))
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan})
	again, err := procedures.Replay(s.l.ID, s.l.Procedure, s.l.Events)
	require.NoError(t, err)
	require.Equal(t, s.l, again)

	s = boxedLate(t)
	for i, d := range []procedures.DeviceID{"saw-disconnect", "dogs-valve"} {
		e := procedures.Event{Kind: procedures.LockApplied, Device: d, Lock: "D-" + string(d)}
		if i == 0 {
			e.Kind = procedures.Joined
		}
		s.do(dora, e)
	}
	s.refused(dora, proof, "29 CFR 1910.147(f)(3)(ii)(D)", seen)
	s.do(dora, looked)
	s.do(dora, procedures.Event{Kind: procedures.HandedOver, From: "ada", Told: "two teeth left", KeysInBox: true})
	s.do(ada, procedures.Event{Kind: procedures.LeftJob})
}

// 29 CFR 1910.147(d)(5)(i): a stop entered to the minute may have been at its end.
func TestTheCoastWaitCountsFromTheEndOfAMinuteThatWasTyped(t *testing.T) {
	s, minute := stoppedLate(t)
	e := s.event(s.undone()[0])
	wait := procedures.SawWaitUnmeasured
	e.At = minute.Add(wait + 59*time.Second)
	require.Equal(t, time.Second, s.l.WaitLeft(e.At))
	s.refused(ada, e, "29 CFR 1910.147(d)(5)", "Wait 1s more")
	short := e
	short.Person, short.Late = "ada", true
	gaps := procedures.Broken(s.l, short, procedures.Standing{Person: ada, NoneEntered: true})
	require.Len(t, gaps, 1, "entered late as well it is taken, and said")
	require.Contains(t, gaps[0].Why.String(), "counts from the end of that minute")
	e.At = e.At.Add(time.Second)
	s.do(ada, e)

	s, minute = stoppedLate(t)
	kept := s.event(s.undone()[0])
	kept.Person, kept.At = "ada", minute.Add(wait)
	_, err := procedures.Replay(s.l.ID, s.l.Procedure, append(s.l.Events, kept))
	require.NoError(t, err, "what an earlier Stillsaw took still folds")
}

// 29 CFR 1910.147(e)(1): ben's tools are entered only when everything was counted
// out and found whole.
func TestToolsEnteredAfterTheCountAreSaid(t *testing.T) {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 7})
	early := s.now
	s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
	out := s.event(s.undone()[0])
	out.ToolsOut = 7
	s.do(ada, out)
	standing := procedures.Standing{Person: ben, NoneEntered: true}
	broken := func(e procedures.Event) []procedures.Gap {
		e.Person, e.Late = "ben", true
		gaps := procedures.Broken(s.l, e, standing)
		require.NoError(t, s.l.Apply(e, ben))
		return gaps
	}
	gaps := broken(procedures.Event{Kind: procedures.Joined, Lock: "B-1", KeysInBox: true, ToolsIn: 4, At: early.Add(time.Second)})
	require.Len(t, gaps, 1)
	require.Equal(t, "29 CFR 1910.147(e)(1)", gaps[0].Clause)
	require.Contains(t, gaps[0].Why.String(), "11 tools and parts were in, and 7 were counted out")
	require.Empty(t, broken(procedures.Event{Kind: procedures.LeftJob, At: early.Add(2 * time.Second)}), "none out: said already")
}

// Four in and four out again, both entered afterwards, leave nothing in.
func TestToolsEnteredInAndOutAgainAreNotMissing(t *testing.T) {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 7})
	s.do(ben, procedures.Event{Kind: procedures.Joined, Lock: "B-1", ToolsIn: 4})
	early := s.now
	s.now = s.now.Add(time.Minute)
	asked := procedures.Event{Kind: procedures.LeftJob, Person: "ben", Late: true, At: early.Add(time.Second), ToolsOut: 4}
	require.Empty(t, procedures.Broken(s.l, asked, procedures.Standing{Person: ben, NoneEntered: true}))
	asked.ToolsOut = 5
	gaps := procedures.Broken(s.l, asked, procedures.Standing{Person: ben, NoneEntered: true})
	require.Len(t, gaps, 1)
	require.Contains(t, gaps[0].Why.String(), "You counted 4 tools and parts in, and 5 out")

	s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
	out := s.event(s.undone()[0])
	out.ToolsOut = 11
	s.do(ada, out)
	gaps = procedures.Broken(s.l, asked, procedures.Standing{Person: ben, NoneEntered: true})
	require.Len(t, gaps, 2, "as things stood when it happened, whatever was counted since")
	require.Contains(t, gaps[0].Why.String(), "You counted 4 tools and parts in, and 5 out")
	require.Contains(t, gaps[1].Why.String(), "7 tools and parts were in, and 11 were counted out")
}

// What was done by the placard is a fact: a miscount and a bad tag are taken, and
// each is a departure; now, both are refused.
func TestAMiscountOrABadTagEnteredLateIsADeparture(t *testing.T) {
	s := at(t, procedures.Work)
	s.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 2})
	s.do(ada, procedures.Event{Kind: procedures.WorkEnded})
	out := s.event(s.undone()[0])
	out.Person, out.ToolsOut = "ada", 1
	s.refused(ada, out, "29 CFR 1910.147(e)(1)", "2 tools and parts were counted in, 1 out")
	out.Late, out.At = true, s.now.Add(time.Second)
	gaps := procedures.Broken(s.l, out, procedures.Standing{Person: ada, NoneEntered: true})
	require.Len(t, gaps, 1)
	require.Contains(t, gaps[0].Why.String(), "2 tools and parts were in, and 1 were counted out")
	require.NoError(t, s.l.Apply(out, ada))

	test := at(t, procedures.Work)
	test.do(ada, procedures.Event{Kind: procedures.WorkBegan, ToolsIn: 2})
	asked := procedures.Event{Kind: procedures.TestAsked, Person: "ada", Tools: true, ToolsOut: 1, Late: true, At: test.now.Add(time.Second)}
	gaps = procedures.Broken(test.l, asked, procedures.Standing{Person: ada, NoneEntered: true})
	require.Len(t, gaps, 1)
	require.Equal(t, "29 CFR 1910.147(f)(1)(i)", gaps[0].Clause)
	require.NoError(t, test.l.Apply(asked, ada))

	tagged := hung(t, procedures.Apply)
	bad := goodTag
	bad.Person, bad.At, bad.Tag.Readable, bad.Means = "ada", tagged.now.Add(time.Second), false, nil
	require.ErrorContains(t, tagged.l.Apply(bad, ada), "Only a tag that can be read counts")
	bad.Late = true
	gaps = procedures.Broken(tagged.l, bad, procedures.Standing{Person: ada, NoneEntered: true})
	require.Len(t, gaps, 2)
	require.Contains(t, gaps[0].Why.String(), "Only a tag that can be read counts")
	require.Contains(t, gaps[1].Why.String(), "A tag holds nothing")
	require.NoError(t, tagged.l.Apply(bad, ada))
}

// 29 CFR 1910.147(e)(3): who only reads from now on takes off the lock they have on.
func TestWhoOnlyReadsByNowTakesTheOwnLockOff(t *testing.T) {
	s := at(t, procedures.Work).onBox(ben, "B-1")
	reader := ben
	reader.Role, reader.Authorized = procedures.Reader, false
	s.refused(reader, proof, "29 CFR 1910.147(c)(8)", "isn't of the crew")
	left := reader
	left.Left = true
	s.refused(left, procedures.Event{Kind: procedures.LeftJob}, "29 CFR 1910.147(c)(8)", "isn't of the crew")
	s.do(reader, procedures.Event{Kind: procedures.LeftJob})
	require.False(t, s.l.KeysUnseen())
	require.Len(t, s.l.SignedOn(), 1)

	f, taken := forgotten(t)
	f.do(cleo, taken)
	f.do(reader, procedures.Event{Kind: procedures.ToldOfLock})

	several := at(t, procedures.Work).onDevices(ben)
	several.now = six.Add(5 * time.Hour)
	taken.Lock, taken.Tries[0].At = "Ben-saw-disconnect", several.now
	several.do(cleo, taken)
	several.do(reader, procedures.Event{Kind: procedures.LockRemoved, Lock: "Ben-dogs-valve"})
}
