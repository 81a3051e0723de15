package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// keyed names a key, replaces it and puts a checkpoint by.
func keyed(t testing.TB, m *Mill, at time.Time) {
	t.Helper()
	_, err := m.EnsureKey(t.Context(), at)
	require.NoError(t, err)
	require.NoError(t, m.RotateKey(t.Context(), NewID(), "Jo took the old PC home", sam, at))
	c, err := m.Checkpoint(t.Context())
	require.NoError(t, err)
	require.NoError(t, m.KeepCheckpoint(t.Context(), c, KeptInPassing, at))
}
