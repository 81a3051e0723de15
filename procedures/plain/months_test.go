package plain_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures/plain"
)

// Months and years on by the calendar, in a common and in a leap year.
func TestMonthsOnStayWithinTheMonthTheyReach(t *testing.T) {
	for from, want := range map[string]map[int]string{
		"2026-01-31": {1: "2026-02-28", 2: "2026-03-31", 3: "2026-04-30", 6: "2026-07-31", 12: "2027-01-31", 25: "2028-02-29", 0: "2026-01-31", -1: "2025-12-31", -2: "2025-11-30"},
		"2026-01-29": {1: "2026-02-28", 25: "2028-02-29"},
		"2026-01-28": {1: "2026-02-28"},
		"2026-08-31": {1: "2026-09-30", 6: "2027-02-28"},
		"2028-02-29": {12: "2029-02-28", 48: "2032-02-29", -12: "2027-02-28"},
		"2026-12-31": {2: "2027-02-28"},
		"2026-03-31": {-1: "2026-02-28"},
		"2026-03-02": {1: "2026-04-02", 12: "2027-03-02"},
	} {
		for months, day := range want {
			at, err := time.Parse(time.DateOnly, from)
			require.NoError(t, err)
			at = at.Add(12*time.Hour + 34*time.Minute)
			require.Equal(t, day+" 12:34", plain.MonthsOn(at, months).Format("2006-01-02 15:04"), "%s and %d months", from, months)
		}
	}
}

// In every zone and at every hour: the month meant, the same day or the month's
// last, the same zone, and never later than the calendar of the library runs over to.
func TestMonthsOnAreNeverLaterThanMeant(t *testing.T) {
	var zones []*time.Location
	for _, name := range []string{"UTC", "America/New_York", "America/Sao_Paulo", "Australia/Lord_Howe"} {
		zone, err := time.LoadLocation(name)
		require.NoError(t, err)
		zones = append(zones, zone)
	}
	rapid.Check(t, func(t *rapid.T) {
		zone := rapid.SampledFrom(zones).Draw(t, "zone")
		from := time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "from"), 0).In(zone)
		months := rapid.IntRange(-30, 30).Draw(t, "months")
		got := plain.MonthsOn(from, months)
		require.False(t, got.After(from.AddDate(0, months, 0)))
		y, m, d := from.Date()
		noon := time.Date(y, m+time.Month(months), 1, 12, 0, 0, 0, zone)
		last := noon.AddDate(0, 1, -1).Day()
		require.WithinDuration(t, time.Date(noon.Year(), noon.Month(), min(d, last), from.Hour(), from.Minute(), from.Second(), 0, zone), got, 0)
		require.Equal(t, zone, got.Location())
	})
}
