package server

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// Setting a mill up is its first supervisor's own word on being trained, and
// nobody else's, 29 CFR 1910.147(c)(7)(i)(A).
func TestSettingUpDeclaresTheFirstSupervisorsTrainingAndNobodyElses(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	all, err := m.desk().Trainings(t.Context())
	require.NoError(t, err)
	require.Len(t, all, 3)
	own := 0
	for _, one := range all {
		if one.OwnWord {
			own++
			require.Equal(t, m.people["sam"].ID, one.Person)
		}
	}
	require.Equal(t, 1, own)

	cal := procedures.Person{ID: procedures.PersonID(store.NewID()), Name: "Cal Weir", Role: procedures.Operator, Authorized: true}
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), cal, testDigests()["ada"], m.people["sam"], m.clock.Now()))
	begin := func(by procedures.Person, procedure procedures.ProcedureID) error {
		_, err := m.desk().BeginLockout(t.Context(), store.NewID(), procedure, "grease", m.clock.Now().Add(time.Hour), by, m.clock.Now())
		return err
	}
	require.ErrorContains(t, begin(cal, "hoist"), "(c)(7)(i)(A)")
	require.NoError(t, begin(m.people["sam"], "hoist"))
	m.phone().get("/record").says(t, "Sign in") // told to nobody who hasn't signed in
	m.as("sam").get("/record?kind=training").says(t, "Sam Ordway declares their own training")
}
