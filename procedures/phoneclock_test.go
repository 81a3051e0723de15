package procedures_test

import (
	"fmt"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
)

func TestPhoneClockIsSetAgainstTheServers(t *testing.T) {
	newYork, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	zone := func(hours int) *time.Location { return time.FixedZone("", hours*3600) }
	at := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC) // 06:00 at the mill, five hours behind UTC
	// Daylight saving time in New York begins 2026-03-08 07:00 UTC and ends
	// 2026-11-01 06:00 UTC (IANA time zone database, rule US).
	spring, autumn := time.Date(2026, 3, 8, 7, 0, 0, 0, time.UTC), time.Date(2026, 11, 1, 6, 0, 0, 0, time.UTC)
	for name, tc := range map[string]struct {
		at, phone time.Time
		skew      time.Duration
		told      string
	}{
		"they agree":                        {at, at.In(zone(-5)), 0, "[]"},
		"a slow form is no skew":            {at, at.Add(-119 * time.Second).In(zone(-5)), -119 * time.Second, "[]"},
		"behind":                            {at, at.Add(-6 * time.Minute).In(zone(-5)), -6 * time.Minute, "[phone 6m0s behind the server]"},
		"ahead, at the bound":               {at, at.Add(2 * time.Minute).In(zone(-5)), 2 * time.Minute, "[phone 2m0s ahead of the server]"},
		"another zone, the same moment":     {at, at.In(zone(-6)), 0, "[phone set to the zone -06:00, the mill's was -05:00]"},
		"an hour off by hand, zone right":   {at, at.Add(time.Hour).In(zone(-5)), time.Hour, "[phone 1h0m0s ahead of the server]"},
		"the clock not told, scripts off":   {at, time.Time{}, 0, "[]"},
		"just before summer time":           {spring.Add(-time.Second), spring.Add(-time.Second).In(zone(-5)), 0, "[]"},
		"just after":                        {spring, spring.In(zone(-4)), 0, "[]"},
		"a phone that missed summer time":   {spring.Add(time.Hour), spring.Add(time.Hour).In(zone(-5)), 0, "[phone set to the zone -05:00, the mill's was -04:00]"},
		"the hour that comes twice, first":  {autumn.Add(-time.Minute), autumn.Add(-time.Minute).In(zone(-4)), 0, "[]"},
		"the hour that comes twice, second": {autumn.Add(time.Minute), autumn.Add(time.Minute).In(zone(-5)), 0, "[]"},
	} {
		c := procedures.PhoneClock{At: tc.at, Phone: tc.phone, Mill: newYork}
		require.Equal(t, tc.skew, c.Skew(), name)
		require.Equal(t, tc.told, fmt.Sprint(c.Told()), name)
	}
	require.Equal(t, "The phone's clock is not known.", procedures.PhoneClock{At: at, Mill: newYork}.Said().String())
	require.Contains(t, procedures.PhoneClock{At: at, Phone: at, Mill: time.UTC}.Said().String(), "agreed")
	require.Equal(t, "Two clocks: [phone 6m0s behind the server].", procedures.PhoneClock{At: at, Phone: at.Add(-6 * time.Minute), Mill: time.UTC}.Said().String())
}

func TestEntryIsLateByMoreThanAMinute(t *testing.T) {
	at := time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)
	require.Zero(t, procedures.Late(at, at.Add(-time.Minute)))
	require.Equal(t, 61*time.Second, procedures.Late(at, at.Add(-61*time.Second)))
	require.Equal(t, -time.Hour, procedures.Late(at, at.Add(time.Hour)))
	require.Zero(t, procedures.Late(at, time.Time{}), "where it isn't known when it happened")
	require.True(t, procedures.LateSaid(at, at).Empty())
	require.Contains(t, procedures.LateSaid(at, at.Add(-150*time.Minute)).String(), "entered 2h30m0s late")
	require.Contains(t, procedures.LateSaid(at, at.Add(time.Hour)).String(), "dated 1h0m0s after its entry")
}
