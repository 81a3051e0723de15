package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// slowly lets two wrong tries of a person and five of an address go free, then
// asks for a minute; an address forgets in an hour.
func slowly() TryLimits {
	after := func(free int) func(int) time.Duration {
		return func(failed int) time.Duration {
			if failed < free {
				return 0
			}
			return time.Minute
		}
	}
	return TryLimits{Person: after(2), Address: after(5), Forget: time.Hour}
}

// try is a wrong try, or the wait before it.
func try(t *testing.T, m *Mill, who procedures.PersonID, at time.Time) TryWait {
	t.Helper()
	wait, err := m.MayTry(t.Context(), who, "phone", slowly(), at)
	require.NoError(t, err)
	if wait.None() {
		require.NoError(t, m.WrongTry(t.Context(), who, "phone", slowly(), at))
	}
	return wait
}

func TestFreeTriesAreUsedUpAndThenEachWaits(t *testing.T) {
	m := setUp(t, open(t), fernhollow)
	wait, err := m.MayTry(t.Context(), ada.ID, "phone", slowly(), six)
	require.NoError(t, err)
	require.Equal(t, TryWait{}, wait, "nothing failed")
	require.True(t, try(t, m, ada.ID, six).None())
	require.True(t, try(t, m, ada.ID, six).None())
	require.Equal(t, TryWait{Person: time.Minute, Failed: true}, try(t, m, ada.ID, six).atLeastNothing())
	require.True(t, try(t, m, ada.ID, six.Add(time.Minute)).None())
	require.False(t, try(t, m, ada.ID, six.Add(time.Minute)).None(), "one more, and the wait begins again")
}

// Where somebody is signed in their tries are counted by themselves, and no address is.
func TestTriesWhereSomebodyIsSignedInAreCountedByThemselves(t *testing.T) {
	m := setUp(t, open(t), fernhollow)
	may := func(address string) bool {
		wait, err := m.MayTry(t.Context(), ada.ID, address, slowly(), six)
		require.NoError(t, err)
		return wait.None()
	}
	for range 2 {
		require.True(t, may(""))
		require.NoError(t, m.WrongTry(t.Context(), ada.ID, "", slowly(), six))
	}
	require.False(t, may(""))
	require.True(t, may("phone"))
	m.RightTry(ada.ID, "phone")
	require.NoError(t, m.WrongTry(t.Context(), ben.ID, "phone", slowly(), six))
	require.False(t, may(""), "a right try elsewhere takes nothing back here")
	m.RightTry(ada.ID, "")
	require.NoError(t, m.WrongTry(t.Context(), ben.ID, "phone", slowly(), six))
	require.True(t, may(""))
}

// atLeastNothing leaves only the waits that are to come.
func (w TryWait) atLeastNothing() TryWait {
	return TryWait{max(w.Person, 0), max(w.Address, 0), w.Failed}
}

func TestRightTryIsTakenBackAndHalvesThoseOfTheAddress(t *testing.T) {
	m := setUp(t, open(t), fernhollow)
	for _, who := range []procedures.PersonID{"ada", "ada", "ben", "ben"} {
		require.True(t, try(t, m, who, six).None())
	}
	m.RightTry(sam.ID, "phone") // four failed: two are left
	require.True(t, try(t, m, sam.ID, six).None())
	require.True(t, try(t, m, sam.ID, six).None())
	require.False(t, try(t, m, sam.ID, six).None(), "sam's own")
	require.True(t, try(t, m, rita.ID, six).None(), "the fifth of the address")
	require.Equal(t, TryWait{Address: time.Minute, Failed: true}, try(t, m, "eve", six).atLeastNothing())
	m.RightTry("nobody", "nowhere")
	require.NoError(t, m.WrongTry(t.Context(), "nobody", "nowhere", slowly(), six))
}

// What a PIN was given for and the try taken back are one commit.
func TestRightTryWaitsForTheNextCommand(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	m := setUp(t, s, fernhollow)
	tried := func() int64 {
		var n int64
		require.NoError(t, m.gorm().Model(&attemptRow{}).Where("mill = ? AND who = ?", m.id, sam.ID).Count(&n).Error)
		return n
	}
	require.True(t, try(t, m, sam.ID, six).None())
	before := m.s.writer.counts.commits.Load()
	m.RightTry(sam.ID, "phone")
	require.Equal(t, int64(1), tried())
	_, err = m.StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "hoist"}, sam, six)
	require.NoError(t, err)
	require.Zero(t, tried())
	require.Equal(t, before+1, m.s.writer.counts.commits.Load())

	require.True(t, try(t, m, sam.ID, six).None())
	m.RightTry(sam.ID, "phone")
	require.NoError(t, m.s.Close())
	again, err := Open(t.Context(), dir)
	require.NoError(t, err)
	m = again.Of(m.id)
	t.Cleanup(func() { require.NoError(t, again.Close()) })
	require.Zero(t, tried(), "nothing came before the end")
}

func TestAddressForgetsAndPersonDoesNot(t *testing.T) {
	m := setUp(t, open(t), fernhollow)
	for _, who := range []procedures.PersonID{"ada", "ada", "ben", "ben", "sam"} {
		require.True(t, try(t, m, who, six).None())
	}
	require.False(t, try(t, m, rita.ID, six).None())
	later := six.Add(time.Hour)
	require.True(t, try(t, m, rita.ID, later).None())
	require.True(t, try(t, m, ada.ID, later).None(), "the minute is long over")
	require.False(t, try(t, m, ada.ID, later).None(), "but ada's tries are still counted")
	require.True(t, try(t, m, ben.ID, later).None())
	require.True(t, try(t, m, rita.ID, later).None())
	require.True(t, try(t, m, sam.ID, later).None(), "the fifth")
	require.False(t, try(t, m, sam.ID, later).None())
}

func TestNewPINForgetsFailedTries(t *testing.T) {
	m := setUp(t, open(t), fernhollow)
	edit := func() error {
		now, err := m.Person(t.Context(), ben.ID)
		require.NoError(t, err)
		return m.EditPerson(t.Context(), NewID(), Mark(now), now, "digest", sam, six)
	}
	for name, reset := range map[string]func() error{
		"by supervisor": func() error { return m.ResetPIN(t.Context(), NewID(), ben.ID, "digest", "by-supervisor", sam.ID, six) },
		"by owner":      func() error { return m.ResetPIN(t.Context(), NewID(), ben.ID, "digest", "by-owner", ben.ID, six) },
		"at the PC":     func() error { return m.ResetPIN(t.Context(), NewID(), ben.ID, "digest", "at-the-pc", "", six) },
		"edited":        edit,
	} {
		for range 2 {
			wait, err := m.MayTry(t.Context(), ben.ID, name, slowly(), six)
			require.NoError(t, err)
			require.True(t, wait.None(), name)
			require.NoError(t, m.WrongTry(t.Context(), ben.ID, name, slowly(), six))
		}
		require.NoError(t, reset(), name)
	}
}

func TestDeputyGoesNoWayRoundTheRules(t *testing.T) {
	m := setUp(t, open(t), fernhollow)
	deputy := ben
	deputy.Deputy = true
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), deputy, "", sam, six))
	promoted := deputy
	promoted.Role, promoted.Deputy = procedures.Supervisor, false
	before := clean(t, m.s)
	for name, act := range map[string]func() error{
		"keep":     func() error { return m.KeepPerson(t.Context(), NewID(), promoted, "digest", deputy, six) },
		"edit":     func() error { return m.EditPerson(t.Context(), NewID(), Mark(deputy), promoted, "digest", deputy, six) },
		"password": func() error { return m.KeepPerson(t.Context(), NewID(), sam, "digest", deputy, six) },
		"reset":    func() error { return m.ResetPIN(t.Context(), NewID(), sam.ID, "digest", "by-supervisor", ben.ID, six) },
		"of ada":   func() error { return m.ResetPIN(t.Context(), NewID(), ada.ID, "digest", "by-supervisor", ben.ID, six) },
	} {
		var refusal *plain.Refusal
		require.ErrorAs(t, act(), &refusal, name)
	}
	require.Error(t, m.ResetPIN(t.Context(), NewID(), sam.ID, "digest", "by-owner", ben.ID, six))
	require.Error(t, m.ResetPIN(t.Context(), NewID(), sam.ID, "digest", "at-the-pc", ben.ID, six))
	require.Error(t, m.ResetPIN(t.Context(), NewID(), sam.ID, "digest", "somehow", "", six))
	require.Equal(t, before, clean(t, m.s))
	digest, err := m.Digest(t.Context(), sam.ID)
	require.NoError(t, err)
	require.Equal(t, "digest of sam", digest)
	require.NoError(t, m.ResetPIN(t.Context(), NewID(), ben.ID, "digest", "by-supervisor", sam.ID, six), "a supervisor may")
}

// Two mills in one file may give out the same token and count the same address.
func TestEveryRowIsAMillsOwn(t *testing.T) {
	s := open(t)
	for _, table := range tables(t, s.reads) {
		columns, err := columnsIn(s.reads, table)
		require.NoError(t, err)
		keyed := map[string]bool{}
		for _, column := range columns {
			keyed[column.Name] = column.PK > 0
		}
		if column := millColumn(table); column != "" {
			require.True(t, keyed[column], "the key of %s has the mill", table)
		}
	}
}
