package store

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func TestSettingsAreEachPersonsOwnAndChangeNothingOfTheRecord(t *testing.T) {
	m := newMill(t)
	before, err := m.Head(t.Context())
	require.NoError(t, err)
	_, chose, err := m.Settings(t.Context(), ada.ID)
	require.NoError(t, err)
	require.False(t, chose)
	first := Settings{Language: "es", Units: checklists.Metric, Mark: "comma", Scheme: "dark", Size: "large"}
	require.NoError(t, m.KeepSettings(t.Context(), ada.ID, first, six))
	require.NoError(t, m.KeepSettings(t.Context(), sam.ID, Settings{Scheme: "sun"}, six))
	kept, chose, err := m.Settings(t.Context(), ada.ID)
	require.NoError(t, err)
	require.True(t, chose)
	require.Equal(t, first, kept)
	require.NoError(t, m.KeepSettings(t.Context(), ada.ID, Settings{}, six))
	kept, chose, err = m.Settings(t.Context(), ada.ID)
	require.NoError(t, err)
	require.True(t, chose, "to leave it to the browser is a choice too")
	require.Zero(t, kept)
	require.ErrorIs(t, m.KeepSettings(t.Context(), procedures.PersonID("nobody"), first, six), ErrNotFound)
	after, err := m.Head(t.Context())
	require.NoError(t, err)
	require.Equal(t, before.Size, after.Size)
}
