package server

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// The words are those of the catalogues; the order of a date and the 24 hours of
// Spanish and French are those of Unicode CLDR (from memory).
func TestMailIsInTheLanguageOfWhoGetsIt(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	office := newPostOffice(t, true)
	m.mailing(office, "sam", "ada", "bo")
	for name, language := range map[string]string{"ada": "es", "bo": "fr"} {
		require.NoError(t, m.desk().KeepSettings(t.Context(), m.people[name].ID, store.Settings{Language: language}, m.clock.Now()))
	}
	m.stop("bo", "hoist", "crochet tordu")
	m.round()
	got := map[string]posted{}
	for _, one := range office.mails() {
		got[strings.TrimSuffix(one.To, "@mill.example")] = one
	}
	require.Len(t, got, 3)
	for name, says := range map[string][]string{
		"sam": {"overdue: 8, reminders in all: 10", "Pre-shift check", "before anything runs, look at Stillsaw", "3 Mar 2026, 6:00 am", "You asked for this mail"},
		"ada": {"recordatorios", "antes de poner nada en marcha, mire Stillsaw", "3 mar 2026, 06:00", "Usted pidió este correo"},
		"bo":  {"rappels", "avant que quoi que ce soit tourne, regardez Stillsaw", "3 mars 2026, 06 h 00", "Vous avez demandé ce courriel"},
	} {
		all := strings.ReplaceAll(got[name].Subject+"\n"+got[name].Body, "\u00a0", " ")
		for _, said := range says {
			require.Contains(t, all, said, name)
		}
		require.Contains(t, all, "crochet tordu", "the mill's own words stay as typed")
	}
	for _, name := range []string{"ada", "bo"} {
		for _, english := range []string{"overdue", "reminders", "due", "Stopped", "look at"} {
			require.NotContains(t, got[name].Body, english, name)
		}
	}
}

// A language that was left to the browser is kept when mail or a calendar is asked
// for: neither has a browser.
func TestWhoAsksForMailGetsItAsTheyReadThePage(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	office := newPostOffice(t, true)
	m.mailing(office)
	ada := m.as("ada")
	ada.accepts = "fr-CA"
	ada.post("/reminders/mail", map[string][]string{"address": {"ada@mill.example"}})
	chosen, _, err := m.desk().Settings(t.Context(), m.people["ada"].ID)
	require.NoError(t, err)
	require.Equal(t, store.Settings{Language: "fr"}, chosen)
	bo := m.as("bo")
	bo.accepts = "es"
	made := bo.post("/calendar", bo.get("/calendar").filled(t, "/calendar"))
	at := calendarAddress.FindStringSubmatch(made.Body)
	require.NotNil(t, at, made.Body)
	feed := m.phone().get(at[1])
	require.Equal(t, http.StatusOK, feed.Status)
	unfolded := strings.ReplaceAll(feed.Body, "\r\n ", "")
	require.Contains(t, unfolded, "recordatorios para")
	require.Contains(t, unfolded, "Antes de poner nada en marcha")
	require.NotContains(t, unfolded, "Before anything runs")
	require.Contains(t, unfolded, "PRODID:-//Stillsaw//Reminders//ES")
}

func TestLettersMeasureAsWhoGetsThemDoes(t *testing.T) {
	m := newMill(t)
	mill := checklists.Mill{Name: "Fernhollow", Units: checklists.InchPound}
	say := func(chosen store.Settings) string {
		return m.server.frameOf(chosen, mill, time.UTC).Say(plain.Say("%s in all", plain.Kilograms(1234.5)))
	}
	require.Equal(t, "2,722 lb in all", say(store.Settings{}))
	require.Equal(t, "1,234 kg in all", say(store.Settings{Units: checklists.Metric}))
	require.Contains(t, say(store.Settings{Units: checklists.Metric, Language: "fr"}), "1\u00a0234\u00a0kg")
	require.Contains(t, say(store.Settings{Language: "es", Mark: "point"}), "2\u00a0722 lb")
}
