package server

import (
	"log/slog"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// Through the screens and an encrypted line: set up, asked for, sent once a day.
func TestDaysRemindersArriveOnceOverAnEncryptedLine(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	office := newPostOffice(t, true)
	m.server.mailTrust = office.trust
	sam, ada := m.as("sam"), m.as("ada")
	form := with(sam.get("/mill/mail").filled(t, "/mill/mail"), "host", "127.0.0.1", "port", "0", "user", "saw", "password", postSecret, "from", "saw@mill.example", "hour", "6", "security", "starttls", "pin", testSecrets["sam"])
	require.Equal(t, http.StatusUnprocessableEntity, sam.post("/mill/mail", form).Status)
	reply := sam.post("/mill/mail", with(form, "port", itoa(int64(office.port))))
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	reply.says(t, "Send a test")
	require.Equal(t, http.StatusOK, sam.post("/mill/mail/test", map[string][]string{"to": {"sam@mill.example"}}).Status)
	require.Len(t, office.mails(), 1)
	require.Contains(t, office.mails()[0].Subject, "a test mail")
	require.Equal(t, http.StatusUnprocessableEntity, ada.post("/reminders/mail", map[string][]string{"address": {"ada"}}).Status)
	ada.post("/reminders/mail", map[string][]string{"address": {"ada@mill.example"}}).says(t, "go to that address")

	m.stop("bo", "hoist", "hook <bent> & “worn”")
	m.clock.Advance(-time.Minute) // 05:59
	m.round()
	require.Len(t, office.mails(), 1, "before its hour nothing goes out")
	m.clock.Advance(time.Minute)
	m.reminderArrives(office, "ada", "hook <bent> & “worn”")
	mail := office.mails()[1]
	require.True(t, mail.Encrypted)
	require.Equal(t, "saw", mail.User)
	require.Contains(t, mail.Subject, "Fernhollow")
	require.Contains(t, mail.Body, "http://mill.test/defects/")
	require.NotContains(t, mail.Body, "emergency card", "that is for supervisors")
	m.round()
	m.clock.Advance(3 * time.Hour)
	again, err := New(Config{Store: m.store, Now: m.clock.Now, Log: slog.New(slog.NewTextHandler(t.Output(), nil)), MailTrust: office.trust})
	require.NoError(t, err)
	for _, one := range office.mails() {
		require.NotContains(t, one.Body, postSecret)
	}
	require.NoError(t, again.mailRound(t.Context()))
	require.NoError(t, again.Stop())
	day := 0
	for _, one := range office.mails() {
		if strings.Contains(one.Subject, "in all") || strings.Contains(one.Subject, "for you") {
			day++
		}
	}
	require.Equal(t, 1, day, "once a day, also after a restart")
	require.NotContains(t, sam.get("/mill/mail").Body, postSecret)
	m.clock.Advance(21 * time.Hour)
	m.round()
	require.Greater(t, len(office.mails()), 2, "and the next day anew")
	m.as("ada").post("/reminders/mail", map[string][]string{"off": {"yes"}})
	n := len(office.mails())
	m.clock.Advance(24 * time.Hour)
	m.round()
	require.Len(t, office.mails(), n)
}

func TestWhatIsNewlyOverdueIsSaidOnceMore(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	office := newPostOffice(t, true)
	m.mailing(office, "sam")
	id := m.stop("bo", "hoist", "lamp out")
	require.NoError(t, m.desk().AssignDefect(t.Context(), store.NewID(), id, m.people["sam"].ID, m.clock.Now().Add(2*time.Hour), m.people["sam"], m.clock.Now()))
	m.reminderArrives(office, "sam", "lamp out")
	first := len(office.mails())
	m.clock.Advance(30 * time.Minute)
	m.round()
	require.Len(t, office.mails(), first)
	m.clock.Advance(30 * 24 * time.Hour)
	m.round() // the day's mail says it
	said := len(office.mails())
	m.round()
	require.Len(t, office.mails(), said)
	late := m.stop("bo", "hoist", "chain rusty")
	require.NoError(t, m.desk().AssignDefect(t.Context(), store.NewID(), late, m.people["sam"].ID, m.clock.Now().Add(time.Hour), m.people["sam"], m.clock.Now()))
	m.clock.Advance(2 * time.Hour)
	m.reminderArrives(office, "sam", "chain rusty")
	require.Contains(t, office.mails()[said].Subject, "newly overdue")
	require.NotContains(t, office.mails()[said].Body, "lamp out")
	m.round()
	require.Len(t, office.mails(), said+1)
}

func TestMailThatIsRefusedIsTriedAgainAndShownToTheSupervisor(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	office := newPostOffice(t, true)
	m.mailing(office, "ada")
	office.refuse = []error{&smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 3, 0}, Message: "come back later"}}
	m.stop("bo", "hoist", "hook bent")
	m.round()
	require.Empty(t, office.mails())
	page := m.as("sam").get("/mill/mail")
	page.says(t, "come back later")
	require.Contains(t, page.title(), "did not go out")
	m.clock.Advance(30 * time.Second)
	m.round()
	require.Equal(t, 1, office.asked, "it waits")
	m.clock.Advance(30 * time.Second)
	m.round()
	require.Len(t, office.mails(), 1)
	m.clock.Advance(20 * time.Minute)
	m.round()
	require.Equal(t, 2, office.asked)
	require.NotContains(t, m.as("sam").get("/mill/mail").Body, "come back later")

	m.clock.Advance(24 * time.Hour)
	office.refuse = []error{&smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "nobody of that name"}}
	m.round()
	m.clock.Advance(30 * time.Minute)
	m.round()
	require.Equal(t, 3, office.asked, "refused for good is not tried again")
	sam := m.as("sam")
	sam.get("/mill/mail").says(t, "nobody of that name")
	sam.post("/mill/mail/retry", nil)
	m.round()
	require.Len(t, office.mails(), 2)
	require.NotEqual(t, office.mails()[0].ID, office.mails()[1].ID)
}

// Without encryption nothing is sent, and above all not the password.
func TestPasswordNeverGoesOverAnOpenLine(t *testing.T) {
	for security, want := range map[checklists.MailSecurity]string{checklists.MailStartTLS: "STARTTLS", checklists.MailOffered: "AUTH"} {
		m := newMill(t)
		office := newPostOffice(t, false)
		settings := office.settings()
		settings.Security = security
		secret := postSecret
		require.NoError(t, m.desk().KeepMailSettings(t.Context(), settings, &secret, m.people["sam"], m.clock.Now()))
		page := m.as("sam").post("/mill/mail/test", map[string][]string{"to": {"sam@mill.example"}})
		require.Equal(t, http.StatusUnprocessableEntity, page.Status)
		page.says(t, want)
		require.Empty(t, office.mails())
	}
}
