package store

import (
	"crypto/sha256"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// tokened makes a token that reads and one that writes, and takes the first back.
func tokened(t testing.TB, m *Mill, at time.Time) checklists.TokenID {
	t.Helper()
	id, err := m.MakeToken(t.Context(), NewID(), checklists.Token{Name: "kiln PC, says Jo", Use: checklists.TokenReads, Until: at.Add(time.Hour)}, [32]byte{7}, sam, at)
	require.NoError(t, err)
	live, err := m.MakeToken(t.Context(), NewID(), checklists.Token{Name: "scale", Use: checklists.TokenWrites, Person: ada.ID, Until: at.Add(time.Hour)}, [32]byte{8}, sam, at)
	require.NoError(t, err)
	require.NoError(t, m.RevokeToken(t.Context(), NewID(), id, sam, at))
	return live
}

func TestTokenOpensUntilItsEndAndNoLongerThanItsPersonStays(t *testing.T) {
	m := newMill(t)
	at := six
	end := at.Add(24 * time.Hour)
	digest := sha256.Sum256([]byte("secret"))
	id, err := m.MakeToken(t.Context(), NewID(), checklists.Token{Name: "scale", Use: checklists.TokenWrites, Person: ada.ID, Until: end}, digest, sam, at)
	require.NoError(t, err)
	token, person, err := m.TokenFor(t.Context(), digest, at)
	require.NoError(t, err)
	require.Equal(t, id, token.ID)
	require.Equal(t, ada.ID, person.ID)
	all, err := m.Tokens(t.Context())
	require.NoError(t, err)
	require.Equal(t, at, all[0].Used)
	_, _, err = m.TokenFor(t.Context(), digest, end)
	require.ErrorIs(t, err, ErrNotFound)
	_, _, err = m.TokenFor(t.Context(), [32]byte{}, at)
	require.ErrorIs(t, err, ErrNotFound)

	gone, err := m.Person(t.Context(), ada.ID)
	require.NoError(t, err)
	gone.Left = true
	require.NoError(t, m.KeepPerson(t.Context(), NewID(), gone, "", sam, at))
	_, _, err = m.TokenFor(t.Context(), digest, at)
	require.ErrorIs(t, err, ErrNotFound, "who has left does nothing more")
}

func TestTokenTakenBackOpensNothingAndItsSecretIsGone(t *testing.T) {
	m := newMill(t)
	id, err := m.MakeToken(t.Context(), NewID(), checklists.Token{Name: "kiln", Use: checklists.TokenReads, Until: six.Add(time.Hour)}, [32]byte{7}, sam, six)
	require.NoError(t, err)
	_, person, err := m.TokenFor(t.Context(), [32]byte{7}, six)
	require.NoError(t, err)
	require.Zero(t, person, "one that reads is nobody")
	require.Error(t, m.RevokeToken(t.Context(), NewID(), id, procedures.Person{ID: ada.ID, Role: procedures.Operator}, six))
	require.NoError(t, m.RevokeToken(t.Context(), NewID(), id, sam, six))
	_, _, err = m.TokenFor(t.Context(), [32]byte{7}, six)
	require.ErrorIs(t, err, ErrNotFound)
	require.Empty(t, dump(t, m.s.reads, "SELECT * FROM token_secrets"))
}

func TestWrongTokensWaitEverLonger(t *testing.T) {
	m := newMill(t)
	limits := TryLimits{Address: func(failed int) time.Duration { return time.Duration(failed/3) * time.Minute }, Forget: time.Hour}
	for range 3 {
		wait, err := m.WrongToken(t.Context(), "10.0.0.7", limits, six)
		require.NoError(t, err)
		require.Zero(t, wait)
	}
	wait, err := m.WrongToken(t.Context(), "10.0.0.7", limits, six)
	require.NoError(t, err)
	require.Equal(t, time.Minute, wait)
	for _, other := range []struct {
		address string
		at      time.Time
	}{{"10.0.0.8", six}, {"10.0.0.7", six.Add(time.Minute)}, {"10.0.0.7", six.Add(2 * time.Hour)}} {
		wait, err = m.WrongToken(t.Context(), other.address, limits, other.at)
		require.NoError(t, err)
		require.Zero(t, wait, other.address)
	}
}
