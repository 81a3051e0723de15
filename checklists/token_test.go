package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func TestTokenIsMadeBySupervisorsForAYearAtMost(t *testing.T) {
	now := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	sam, ada := procedures.Person{ID: "sam", Role: procedures.Supervisor}, procedures.Person{ID: "ada", Role: procedures.Operator}
	asked := checklists.Token{Name: " kiln PC ", Use: checklists.TokenWrites, Until: now.Add(24 * time.Hour), Person: "somebody else"}
	made, err := asked.Make("t", sam, ada, now)
	require.NoError(t, err)
	require.Equal(t, checklists.Token{ID: "t", Name: "kiln PC", Use: checklists.TokenWrites, Person: "ada", Until: asked.Until, By: "sam", At: now}, made)
	reads := asked
	reads.Use = checklists.TokenReads
	made, err = reads.Make("t", sam, ada, now)
	require.NoError(t, err)
	require.Empty(t, made.Person, "one that reads is nobody")

	deputy := ada
	deputy.Deputy = true
	for _, by := range []procedures.Person{ada, deputy, {ID: "sam", Role: procedures.Supervisor, Left: true}, {}} {
		_, err = asked.Make("t", by, ada, now)
		var refusal *plain.Refusal
		require.ErrorAs(t, err, &refusal)
	}
	for field, change := range map[string]func(*checklists.Token){
		"name": func(t *checklists.Token) { t.Name = " " }, "use": func(t *checklists.Token) { t.Use = "" },
		"until": func(t *checklists.Token) { t.Until = now.Add(checklists.LongestToken + time.Hour) },
	} {
		wrong := asked
		change(&wrong)
		_, err = wrong.Make("t", sam, ada, now)
		var bad plain.Problems
		require.ErrorAs(t, err, &bad)
		require.NotNil(t, bad.For(field), field)
	}
	_, err = asked.Make("t", sam, procedures.Person{ID: "rita", Role: procedures.Reader}, now)
	require.ErrorContains(t, err, "person")
}

func TestTokenEndsOnItsDayOrWhenTakenBack(t *testing.T) {
	now := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	token := checklists.Token{Until: now.Add(time.Hour)}
	require.True(t, token.Good(now))
	require.False(t, token.Good(token.Until))
	require.False(t, checklists.Token{}.Good(now))
	sam := procedures.Person{ID: "sam", Role: procedures.Supervisor}
	_, err := token.Revoke(procedures.Person{ID: "ada", Role: procedures.Operator}, now)
	require.Error(t, err)
	gone, err := token.Revoke(sam, now)
	require.NoError(t, err)
	require.False(t, gone.Good(now))
	_, err = gone.Revoke(sam, now)
	require.ErrorContains(t, err, "already")
}
