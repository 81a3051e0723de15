package procedures

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// 29 CFR 1910.147(c)(4)(i), exception: parts 3 and 7 are the employer's word.
func TestOnlyASupervisorDeclaresPartsOfTheException(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	boss, deputy, hand := Person{ID: "sam", Role: Supervisor}, Person{ID: "eve", Role: Operator, Deputy: true}, Person{ID: "ada", Role: Operator, Authorized: true}
	said := Declaration{Equipment: "hoist", FullyDead: true}
	for _, by := range []Person{hand, {ID: "rita", Role: Reader}, {ID: "old", Role: Supervisor, Left: true}, {}} {
		_, err := said.Sign(by, plant, shiftDay)
		require.ErrorContains(t, err, "a supervisor signs it", "%s", by.ID)
	}
	for _, by := range []Person{boss, deputy} {
		signed, err := said.Sign(by, plant, shiftDay)
		require.NoError(t, err)
		require.Equal(t, Declared{FullyDead: by.ID}, signed.Declared())
		require.Equal(t, shiftDay, signed.At)
	}
	for _, nowhere := range []EquipmentID{"site", "nothing", ""} {
		_, err := Declaration{Equipment: nowhere}.Sign(boss, plant, shiftDay)
		require.Equal(t, []string{"equipment"}, fields(err))
	}
	require.Zero(t, Declaration{By: "sam"}.Declared(), "nothing ticked declares nothing")
}

// 29 CFR 1910.147(b) "affected employee", (c)(9): told before and after.
func TestWhoIsAffectedIsNamedAtTheMachineOrElseByTheProgram(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	crew := []Person{{ID: "ada"}, {ID: "ben"}, {ID: "gone", Left: true}}
	program := []Affected{{Equipment: "hoist", People: []PersonID{"ben", "gone"}}, {Equipment: "carriage", People: []PersonID{"ada"}}}
	require.Equal(t, []Affected{{"carriage", []PersonID{"ada"}}, {"hoist", []PersonID{"ben"}}}, plant.AffectedPeople(program, crew))

	named, err := plant.KeepAffected("hoist", []PersonID{"ada", "ada"}, crew)
	require.NoError(t, err)
	require.Equal(t, []Affected{{"carriage", []PersonID{"ada"}}, {"hoist", []PersonID{"ada"}}}, named.AffectedPeople(program, crew))
	nobody, err := named.KeepAffected("hoist", nil, crew)
	require.NoError(t, err)
	require.Equal(t, []Affected{{"carriage", []PersonID{"ada"}}}, nobody.AffectedPeople(program, crew), "nobody is an answer, and the program's is not taken for it")
	hoist, _ := plant.Find("hoist")
	require.Nil(t, hoist.Affected, "the plant given is left as it was")

	for _, who := range [][]PersonID{{"stranger"}, {"gone"}} {
		_, err := plant.KeepAffected("hoist", who, crew)
		require.Equal(t, []string{"affected"}, fields(err))
	}
	_, err = plant.KeepAffected("site", nil, crew)
	require.Equal(t, []string{"piece"}, fields(err))

	written := Procedure{Equipment: []EquipmentID{"hoist"}, Holds: []EquipmentID{"carriage"}}
	require.Equal(t, []PersonID{"ada", "ben"}, WhoToTell(written, plant.AffectedPeople(program, crew)))
	require.Equal(t, []PersonID{"ben"}, WhoToTell(written, plant.AffectedPeople(program, crew), "ada"))
	require.Empty(t, WhoToTell(Procedure{Equipment: []EquipmentID{"head-saw"}}, plant.AffectedPeople(program, crew)))
}

// A shorter time shortens the wait of 29 CFR 1910.147(d)(5)(i), so it is entered
// by who answers for it, of a measurement that was made.
func TestACoastTimeIsEnteredByASupervisorAfterItWasMeasured(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	crew := []Person{{ID: "ann"}, {ID: "sam", Role: Supervisor}}
	m := measuredAt(0, "saw-rotation", 96)
	_, err := m.Enter(crew[1], plant, crew, m.At)
	require.NoError(t, err)
	_, err = m.Enter(crew[0], plant, crew, m.At)
	require.ErrorContains(t, err, "supervisor")
	_, err = m.Enter(crew[1], plant, crew, m.At.Add(-1))
	require.Equal(t, []string{"at"}, fields(err))
	m.By = "stranger"
	_, err = m.Enter(crew[1], plant, crew, m.At)
	require.Equal(t, []string{"by"}, fields(err))
}
