package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What reminders follow from is read once for a head of the log, and anew after any
// entry and where what was kept is let go of.
func TestRegistersAreReadAnewAfterAnEntry(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	m.s.kept.checked = 0
	at := six.Add(time.Hour)
	asked := func() *registers {
		r, err := m.registers(t.Context(), at)
		require.NoError(t, err)
		return r
	}
	first := asked()
	require.NotEmpty(t, first.Safety)
	require.NotEmpty(t, first.Trainings)
	require.NotEmpty(t, first.Gear)
	require.Same(t, first, asked())
	_, err := m.KeepGearMeasurement(t.Context(), NewID(), GearMeasurement{Rig: "main-hoist", Link: "legs", What: "thickness", Value: 0.0093, New: 0.0099}, ada, at)
	require.NoError(t, err)
	second := asked()
	require.NotSame(t, first, second)
	require.Same(t, second, asked())
	m.s.kept.forget()
	require.NotSame(t, second, asked())
}

// Kept registers that the tables no longer say are told of where they are held
// against them.
func TestRegistersThatTheTablesDoNotSayAreTold(t *testing.T) {
	m := newMill(t)
	fill(t, m)
	m.s.kept.checked = 1
	_, err := m.registers(t.Context(), six)
	require.NoError(t, err)
	_, err = m.registers(t.Context(), six.Add(300*24*time.Hour))
	require.NoError(t, err, "no later moment changes them")
	require.NoError(t, m.s.writes.Exec("DELETE FROM trainings WHERE mill = ?", m.id).Error)
	_, err = m.registers(t.Context(), six)
	require.ErrorContains(t, err, "registers kept in memory differ")
}
