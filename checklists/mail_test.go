package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

func TestMailSettingsAreRefusedByField(t *testing.T) {
	good := checklists.MailSettings{Host: "mail.example.com", Port: 587, From: "saw@example.com", Hour: 6}
	kept, err := good.Keep(theBoss, at("2025-05-14 09:00"))
	require.NoError(t, err)
	require.Equal(t, theBoss.ID, kept.By)
	_, err = good.Keep(theHand, at("2025-05-14 09:00"))
	require.Error(t, err)
	for field, spoil := range map[string]func(*checklists.MailSettings){
		"host": func(s *checklists.MailSettings) { s.Host = "mail.example.com/x" }, "port": func(s *checklists.MailSettings) { s.Port = 65536 },
		"security": func(s *checklists.MailSettings) { s.Security = "hope" }, "from": func(s *checklists.MailSettings) { s.From = "saw" },
		"hour": func(s *checklists.MailSettings) { s.Hour = 24 },
	} {
		bad := good
		spoil(&bad)
		_, err := bad.Keep(theBoss, at("2025-05-14 09:00"))
		require.ErrorContains(t, err, field)
	}
	for address, ok := range map[string]bool{"a@b": true, "ada.rook+saw@mill.example": true, "@b": false, "a@": false, "a b@c": false, "a@b\r\nBcc: x": false, "a@b>": false, "a<b@c": false, "": false} {
		require.Equal(t, ok, checklists.MailAddress(address), address)
	}
}

// The day's mail goes out once a day of the mill's clock, also when that skips or
// repeats its hour: 9 March and 2 November 2025 in New York.
func TestDaysMailGoesOutOnceADayOfTheMillsClock(t *testing.T) {
	loc, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	for _, hour := range []int{0, 1, 2, 6, 23} {
		s := checklists.MailSettings{On: true, Hour: hour}
		for _, day := range []time.Time{time.Date(2025, 3, 9, 0, 0, 0, 0, loc), time.Date(2025, 11, 2, 0, 0, 0, 0, loc), time.Date(2025, 5, 14, 0, 0, 0, 0, loc)} {
			names, next := map[string]bool{}, day.AddDate(0, 0, 1)
			for now := day; now.Before(next); now = now.Add(10 * time.Minute) {
				if name := s.Daily(now, loc); name != "" {
					names[name] = true
					require.GreaterOrEqual(t, now.In(loc).Hour(), hour)
				}
			}
			require.Equal(t, map[string]bool{"day " + day.Format(time.DateOnly): true}, names, "%s at %d", day, hour)
		}
	}
	require.Empty(t, checklists.MailSettings{}.Daily(time.Date(2025, 5, 14, 22, 0, 0, 0, loc), loc), "off")
}

func TestMailIsTriedAgainLessAndLessOftenAndNotForEver(t *testing.T) {
	last, tries := time.Duration(0), 0
	for try := 1; ; try++ {
		wait, again := checklists.MailWait(try)
		if !again {
			break
		}
		require.Greater(t, wait, last)
		last, tries = wait, tries+1
	}
	require.Equal(t, 7, tries)
	_, again := checklists.MailWait(0)
	require.False(t, again)
}
