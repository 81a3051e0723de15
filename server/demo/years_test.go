package demo_test

import (
	"context"
	"os"
	"regexp"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server/demo"
	"stillsaw/server/store"
)

var yearsEnd = time.Date(2026, 5, 12, 14, 0, 0, 0, time.UTC)

// The first day and night of the long history, made and found clean.
func TestYearsBeginWithThreeShiftsThatKeepToTheRules(t *testing.T) {
	if testing.Short() {
		t.Skip("a day of three shifts takes a while")
	}
	t.Parallel()
	st, err := store.Open(t.Context(), t.TempDir())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	ctx, enough := context.WithCancel(t.Context())
	var told demo.Told
	_, err = demo.FillYears(ctx, st, yearsEnd, 10, func(now demo.Told) {
		told = now
		enough()
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Greater(t, told.Entries, int64(400))
	require.WithinDuration(t, yearsEnd.AddDate(-10, 0, 0), told.At, 8*24*time.Hour)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	require.Len(t, mill.Shifts, 3)
	entries, _, err := st.Of(mill.ID).Entries(t.Context(), store.Filter{Kind: store.KindInspection, Limit: 9})
	require.NoError(t, err)
	require.Len(t, entries, 3, "each shift was checked")
	reports, err := st.Verify(t.Context())
	require.NoError(t, err)
	report := reports[mill.ID]
	require.True(t, report.OK(), "%+v", report.Faults)
}

// Ten years, or STILLSAW_YEARS of them, made and verified in 256 MB: by hand only.
func TestTenYearsOfThreeShiftsAreMadeAndVerified(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("an hour or so; STILLSAW_LONG=1 runs it")
	}
	years := 10
	if asked, err := strconv.Atoi(os.Getenv("STILLSAW_YEARS")); err == nil {
		years = asked
	}
	st, err := store.Open(t.Context(), t.TempDir())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	begun, said := time.Now(), time.Now()
	_, err = demo.FillYears(t.Context(), st, yearsEnd, years, func(now demo.Told) {
		if time.Since(said) > time.Minute {
			said = time.Now()
			t.Logf("%s: %d entries", now.At.Format(time.DateOnly), now.Entries)
		}
	})
	require.NoError(t, err)
	made := time.Since(begun)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	begun = time.Now()
	reports, err := st.Verify(t.Context())
	require.NoError(t, err)
	report := reports[mill.ID]
	require.True(t, report.OK(), "%+v", report.Faults)
	require.Greater(t, report.Entries, int64(80_000*years))
	t.Logf("%d entries made in %s and verified in %s; most memory so far: %s", report.Entries, made, time.Since(begun), mostMemory(t))
}

// mostMemory is the peak of resident memory of this process, where the system says.
func mostMemory(t *testing.T) string {
	t.Helper()
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return "not known here"
	}
	if found := regexp.MustCompile(`VmHWM:\s+(.*)`).FindSubmatch(status); found != nil {
		return string(found[1])
	}
	return "not known here"
}
