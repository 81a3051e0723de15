package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func TestYearByPersonCountsEachMonthUpToToday(t *testing.T) {
	now := time.Date(2026, 6, 15, 12, 0, 0, 0, time.UTC)
	ada := procedures.Person{ID: "ada", Name: "Ada", Role: procedures.Operator}
	ben := procedures.Person{ID: "ben", Name: "Ben", Role: procedures.Operator, QualifiedLifting: true, LiftingUntil: now.AddDate(0, -1, 0)}
	cy := procedures.Person{ID: "cy", Name: "Cy", Role: procedures.Operator}
	rows := checklists.YearByPerson(2026, []checklists.SignedDay{
		{Day: "2025-12-31", List: "short", Signer: "ada", Signed: 9},
		{Day: "2026-01-01", List: "short", Signer: "ada", Signed: 2, Late: 1},
		{Day: "2026-01-31", List: "long", Signer: "ada", Signed: 1},
		{Day: "2026-06-15", List: "short", Signer: "ada", Signed: 1, Late: 1},
		{Day: "2026-06-16", List: "short", Signer: "cy", Signed: 1}, // of a clock that ran ahead
		{Day: "2026-13-40", List: "short", Signer: "cy", Signed: 1},
	}, []procedures.Person{ada, ben, cy}, nil, now)
	require.Len(t, rows, 2)
	require.Equal(t, ben, rows[0].Person, "a lapse comes first")
	require.Len(t, rows[0].Lapsed, 1)
	require.Equal(t, ada, rows[1].Person)
	require.Equal(t, checklists.SignedCount{Signed: 4, Late: 2}, rows[1].Whole)
	require.Equal(t, [12]checklists.SignedCount{0: {Signed: 3, Late: 1}, 5: {Signed: 1, Late: 1}}, rows[1].Months)
}
