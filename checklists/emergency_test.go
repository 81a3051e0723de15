package checklists_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func wholeCard() checklists.EmergencyCard {
	return checklists.EmergencyCard{Address: "412 Sprague Brook Road", FindIt: "44.1002 N, 72.8541 W; second gate", Numbers: []checklists.Call{{Who: "Ambulance", Number: "911"}},
		Hospital: "Ashmere General", FirstAiders: []string{"Ada Rook"}, Kit: "by the office door", Extinguishers: "saw house, both ends", Isolators: "pole at the gate",
		Fuel: "valve at the tank", Muster: "flagpole", Meets: "Bo Lind, at the road", Contacts: []checklists.Call{{Who: "Sam Ordway", Number: "+1 (802) 555-0134"}}}
}

func TestEmergencyCardIsSignedByASupervisorAndSaysWhatItLeavesOut(t *testing.T) {
	now := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	boss, hand := procedures.Person{ID: "sam", Role: procedures.Supervisor}, procedures.Person{ID: "ada", Role: procedures.Operator}
	_, err := wholeCard().Sign(hand, now)
	require.Error(t, err)
	card, err := wholeCard().Sign(boss, now)
	require.NoError(t, err)
	require.True(t, card.Made())
	require.Empty(t, card.Missing())
	require.Len(t, checklists.EmergencyCard{}.Missing(), 12)
	require.False(t, card.Old(now.Add(checklists.CardYear-time.Second)))
	require.True(t, card.Old(now.Add(checklists.CardYear)))
	for field, spoilt := range map[string]func(*checklists.EmergencyCard){
		"address":      func(c *checklists.EmergencyCard) { c.Address = "" },
		"numbers":      func(c *checklists.EmergencyCard) { c.Numbers = nil },
		"muster":       func(c *checklists.EmergencyCard) { c.Muster = strings.Repeat("x", 201) },
		"first_aiders": func(c *checklists.EmergencyCard) { c.FirstAiders = make([]string, 13) },
		"contacts":     func(c *checklists.EmergencyCard) { c.Contacts[0].Number = "none" },
	} {
		bad := wholeCard()
		spoilt(&bad)
		_, err := bad.Sign(boss, now)
		require.ErrorContains(t, err, field)
	}
	least, err := checklists.EmergencyCard{Address: "here", Numbers: card.Numbers}.Sign(boss, now)
	require.NoError(t, err)
	require.Len(t, least.Missing(), 10)
}

func TestCallsAreReadOneALine(t *testing.T) {
	calls, err := checklists.ReadCalls("numbers", "Ambulance: 911\n\n Poison: centre : 1-800-222-1222 \n")
	require.NoError(t, err)
	require.Equal(t, []checklists.Call{{Who: "Ambulance", Number: "911"}, {Who: "Poison: centre", Number: "1-800-222-1222"}}, calls)
	require.Equal(t, "+18025550134", checklists.Call{Number: "+1 (802) 555-0134"}.Dial())
	for _, typed := range []string{"911", "Ambulance:", ": 911", "Ambulance: ask Sam"} {
		_, err := checklists.ReadCalls("numbers", typed)
		require.ErrorContains(t, err, "numbers", typed)
	}
}

func TestNothingSomebodyWroteOnACardStaysInTheBareOne(t *testing.T) {
	card := wholeCard()
	bare, texts := card.WithoutTexts()
	require.NotEmpty(t, card.Numbers[0].Who, "the card itself is left alone")
	require.Equal(t, checklists.EmergencyCard{Numbers: make([]checklists.Call, 1), FirstAiders: make([]string, 1), Contacts: make([]checklists.Call, 1)}, bare)
	require.Equal(t, card, bare.WithTexts(texts))
	require.Equal(t, bare, bare.WithTexts(nil))
}
