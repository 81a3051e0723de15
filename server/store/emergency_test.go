package store

import (
	"context"
	"crypto/sha256"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func millsCard() checklists.EmergencyCard {
	return checklists.EmergencyCard{Address: "412 Sprague Brook Road", Numbers: []checklists.Call{{Who: "Ambulance", Number: "911"}}, FirstAiders: []string{"Jo Firth"},
		Meets: "Ben at the road", Contacts: []checklists.Call{{Who: "Walter Quist", Number: "802 555 0134"}}}
}

// mailed sets mail up, with one in the outbox, and a calendar.
func mailed(t testing.TB, m *Mill, at time.Time) (mail, calendar string) {
	t.Helper()
	secret := "hunter-of-sawdust"
	require.NoError(t, m.KeepMailSettings(t.Context(), checklists.MailSettings{Host: "mail.example.com", Port: 587, From: "saw@example.com", On: true}, &secret, sam, at))
	require.NoError(t, m.KeepMailRecipient(t.Context(), ada.ID, "ada@example.com", ada, at))
	require.NoError(t, m.PostMail(t.Context(), Mail{Person: ada.ID, Occasion: "day 2026-03-03", State: MailQueued, Made: at, Subject: "s", Body: "b"}, []string{"x"}))
	require.NoError(t, m.OpenCalendar(t.Context(), NewID(), ada.ID, [32]byte{1}, ada, at))
	out, err := m.Outbox(t.Context(), 1)
	require.NoError(t, err)
	all, err := m.Calendars(t.Context())
	require.NoError(t, err)
	return out[0].ID, all[0].ID
}

func TestCardOnTheRecordHoldsNoWordInTheLeaf(t *testing.T) {
	m := newMill(t)
	require.NoError(t, m.SignEmergencyCard(t.Context(), NewID(), Mark(checklists.EmergencyCard{}), millsCard(), sam, six))
	require.ErrorIs(t, m.SignEmergencyCard(t.Context(), NewID(), Mark(checklists.EmergencyCard{}), millsCard(), sam, six), ErrChanged)
	entries, _, err := m.Entries(t.Context(), Filter{Kind: KindEmergencyCard, Limit: 1})
	require.NoError(t, err)
	card := entries[0].Body.(checklists.EmergencyCard)
	require.Equal(t, []string{"Jo Firth"}, card.FirstAiders)
	_, leaf, err := m.Leaf(t.Context(), entries[0].Seq)
	require.NoError(t, err)
	for _, word := range []string{"Sprague", "Firth", "Quist"} {
		require.NotContains(t, string(leaf), word)
	}
	kept, err := m.EmergencyCard(t.Context())
	require.NoError(t, err)
	require.Equal(t, card, kept)
}

func TestMailOfOneOccasionIsPostedOnceAndTriedWithABackOff(t *testing.T) {
	m := newMill(t)
	ctx := t.Context()
	mail := Mail{Person: ada.ID, Occasion: "day 2026-03-03", State: MailQueued, Made: six, Subject: "s", Body: "b"}
	require.NoError(t, m.PostMail(ctx, mail, []string{"x"}))
	require.NoError(t, m.PostMail(ctx, mail, []string{"x", "y"}))
	told, posted, err := m.MailTold(ctx, ada.ID, mail.Occasion)
	require.NoError(t, err)
	require.True(t, posted)
	require.Equal(t, map[string]bool{"x": true, "y": true}, told)
	due, err := m.MailDue(ctx, six)
	require.NoError(t, err)
	require.Len(t, due, 1)
	id := due[0].ID
	try, err := m.BeginMail(ctx, id, six)
	require.NoError(t, err)
	require.Equal(t, 1, try)
	again, err := m.BeginMail(ctx, id, six)
	require.NoError(t, err)
	require.Zero(t, again, "a try under way is not made twice")
	require.NoError(t, m.EndMail(ctx, id, "451 later", false, six))
	require.Len(t, dueAt(t, m, six.Add(59*time.Second)), 0)
	require.Len(t, dueAt(t, m, six.Add(time.Minute)), 1)
	_, err = m.BeginMail(ctx, id, six.Add(time.Minute))
	require.NoError(t, err)
	require.NoError(t, m.EndMail(ctx, id, "", false, six.Add(time.Minute)))
	require.Len(t, dueAt(t, m, six.AddDate(1, 0, 0)), 0)
	out, err := m.Outbox(ctx, 10)
	require.NoError(t, err)
	require.Equal(t, MailSent, out[0].State)
	require.Equal(t, 2, out[0].Tries)
}

func dueAt(t *testing.T, m *Mill, now time.Time) []Mail {
	t.Helper()
	due, err := m.MailDue(t.Context(), now)
	require.NoError(t, err)
	return due
}

func TestNothingOfTheMailsStandsInTheRecord(t *testing.T) {
	m := newMill(t)
	ctx := t.Context()
	before, err := m.Head(ctx)
	require.NoError(t, err)
	secret := "hunter-of-sawdust"
	s := checklists.MailSettings{Host: "mail.example.com", Port: 587, From: "saw@example.com", On: true}
	require.NoError(t, m.KeepMailSettings(ctx, s, &secret, sam, six))
	require.Error(t, m.KeepMailSettings(ctx, s, nil, ada, six))
	require.NoError(t, m.KeepMailSettings(ctx, s, nil, sam, six))
	kept, err := m.MailSecret(ctx)
	require.NoError(t, err)
	require.Equal(t, secret, kept, "left alone")
	doc, err := marshal(s)
	require.NoError(t, err)
	require.False(t, strings.Contains(doc, secret))
	require.NoError(t, m.KeepMailRecipient(ctx, ada.ID, "ada@example.com", ada, six))
	require.Error(t, m.KeepMailRecipient(ctx, ada.ID, "sam@example.com", sam, six), "a supervisor can't ask for somebody")
	require.ErrorContains(t, m.KeepMailRecipient(ctx, ben.ID, "ben", ben, six), "address")
	require.NoError(t, m.KeepMailRecipient(ctx, ada.ID, "", sam, six))
	all, err := m.MailRecipients(ctx)
	require.NoError(t, err)
	require.Empty(t, all)
	after, err := m.Head(ctx)
	require.NoError(t, err)
	require.Equal(t, before, after)
}

func TestCalendarEndsWhenItIsTakenBackOrThePersonLeaves(t *testing.T) {
	m := newMill(t)
	ctx := t.Context()
	open := func(token string, who procedures.PersonID, by procedures.Person) error {
		return m.OpenCalendar(ctx, NewID(), who, sha256.Sum256([]byte(token)), by, six)
	}
	find := func(token string) error {
		_, err := m.CalendarFor(ctx, sha256.Sum256([]byte(token)), six)
		return err
	}
	require.NoError(t, open("one", ada.ID, ada))
	require.NoError(t, open("two", ben.ID, sam))
	require.Error(t, open("three", ben.ID, ada))
	require.NoError(t, find("one"))
	require.ErrorIs(t, find("three"), ErrNotFound)
	all, err := m.Calendars(ctx)
	require.NoError(t, err)
	require.Len(t, all, 2)
	for _, c := range all {
		if c.Person == ben.ID {
			require.Error(t, m.CloseCalendar(ctx, c.ID, ada))
			require.NoError(t, m.CloseCalendar(ctx, c.ID, ben))
		}
	}
	require.ErrorIs(t, find("two"), ErrNotFound)
	gone := ada
	gone.Left = true
	require.NoError(t, m.KeepPerson(context.WithoutCancel(ctx), NewID(), gone, "", sam, six))
	require.ErrorIs(t, find("one"), ErrNotFound)
}
