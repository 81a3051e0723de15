package checklists_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Every check of the tables of checks by interval: its number, the list it is
// asked in, the rule it rests on; or why it is another part of the product.
var roundTables = []struct{ id, list, source, elsewhere string }{
	{"W1", "weekly", "1910.265(c)(24)(ix)", ""},
	{"W2", "weekly", "1910.265(c)(24)(v)", ""},
	{"W3", "weekly", "common practice", ""},
	{"W4", "weekly", "common practice", ""},
	{"W5", "weekly", "34 Pa. Code 45.41", ""},
	{"W6", "weekly", "Forest Products Laboratory", ""},
	{"W7", "weekly", "extension guide", ""},
	{"W8", "weekly", "NFPA 664 (from memory)", ""},
	{"W9", "weekly", "OSHA advice", ""},
	{"W10", "weekly", "1910.265(c)(20)(iii)", ""},
	{"W11", "weekly", "common practice", ""},
	{"W12", "weekly", "common practice", ""},
	{"B1", "sixty-day", "1910.219(p)(1)", ""},
	{"B2", "sixty-day", "1910.219(p)(4)", ""},
	{"B3", "sixty-day", "1910.219", ""},
	{"B4", "sixty-day", "common practice", ""},
	{"B5", "sixty-day", "common practice", ""},
	{"M1", "monthly", "1910.179(j)(2)", ""},
	{"M2", "monthly", "1910.179(j)(2)", ""},
	{"M3", "monthly", "1910.157(e)(2)", ""},
	{"M4", "monthly", "1910.151", ""},
	{"M5", "monthly", "1910.147(c)(5)", ""},
	{"M6", "monthly", "1910.265(e)(1)(v)", ""},
	{"M7", "monthly", "1910.212(b)", ""},
	{"M8", "monthly", "1910.303", ""},
	{"M9", "monthly", "common practice", ""},
	{"M10", "monthly", "common practice", ""},
	{"Y1", "", "", "the yearly inspection of each lockout procedure is signed on the procedure, with its certificate of four fields"},
	{"Y2", "", "", "the review with each authorized person is part of that certificate"},
	{"Y3", "yearly", "1910.184(e)(3)", ""},
	{"Y4", "yearly", "ASME B30.16", ""},
	{"Y5", "yearly", "ASME B30.20", ""},
	{"Y6", "yearly", "1910.157(e)(3)", ""},
	{"Y7", "yearly", "1910.95", ""},
	{"Y8", "yearly", "1910.95", ""},
	{"Y9", "yearly", "OSHA advice", ""},
	{"Y10", "yearly", "common practice", ""},
	{"Y11", "yearly", "1910.213(b)(3)", ""},
	{"Y12", "yearly", "1910.38 (from memory)", ""},
	{"Y13", "yearly", "WAC 296-78-56511(7)", ""},
	{"Y14", "yearly", "1910.132(d)", ""},
	{"Y15", "yearly", "1910.147(c)(2)(iii)", ""},
	{"Y16", "yearly", "1910.147(a)(2)(ii)", ""},
}

func listed(lists []checklists.List, id checklists.ListID) checklists.List {
	for _, l := range lists {
		if l.ID == id {
			return l
		}
	}
	return checklists.List{}
}

// A mill with everything: a tractor's shaft and an engine's lines are asked by
// their own drives, so the table is looked for in both.
func TestEveryCheckOfTheTablesIsInAStarterListOrSaidToBeElsewhere(t *testing.T) {
	engine, tractor := fullest(), fullest()
	tractor.Drive = "tractor-shaft"
	var numbers []string
	for _, row := range preShift {
		numbers = append(numbers, row.id)
		require.Positive(t, count(starter(t, engine), row.id), "%s", row.id)
	}
	for _, row := range roundTables {
		numbers = append(numbers, row.id)
		var asked int
		for _, s := range []checklists.SetUp{engine, tractor} {
			lists := checklists.StarterLists(s, procedures.StarterPlant(s.Answers()))
			if row.list == "" {
				require.NotEmpty(t, row.elsewhere)
				for _, l := range lists {
					require.Zero(t, count(l, row.id), "%s is asked after all", row.id)
				}
				continue
			}
			for _, item := range listed(lists, checklists.ListID(row.list)).Items {
				if base(item.ID) == row.id {
					asked++
					require.True(t, strings.Contains(item.Source, row.source) || item.ID == "W5-rim", "%s: %s", item.ID, item.Source)
				}
			}
		}
		require.Equal(t, row.list != "", asked > 0, "%s is in no list", row.id)
	}
	require.Len(t, slices.Compact(slices.Sorted(slices.Values(numbers))), 50+12+5+10+16, "no row twice, none left out")
}

func TestStarterListsFallDueAsTheTablesSay(t *testing.T) {
	lists := checklists.StarterLists(fullest(), procedures.StarterPlant(fullest().Answers()))
	require.Len(t, lists, 12)
	for id, want := range map[checklists.ListID]checklists.Schedule{
		"pre-shift":          {Every: checklists.EachShift, Holds: true},
		"weekly":             {Every: checklists.AfterDays, Days: 7, HoldsLate: true},  // chains "weekly": 8 days ago is late
		"sixty-day":          {Every: checklists.AfterDays, Days: 60, HoldsLate: true}, // day 61 is late, 1910.219(p)(1)
		"monthly":            {Every: checklists.AfterDays, Days: 31, HoldsLate: true}, // day 32 is late
		"yearly":             {Every: checklists.AfterDays, Days: 365},
		"after-blade-change": {Every: checklists.OnEvent, On: []checklists.EventKind{checklists.BladeChange, checklists.Filing}, Holds: true},
		"after-jam":          {Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Jam}, Holds: true},
		"after-repair":       {Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Repair}, Holds: true},
		"after-move":         {Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Move}, Holds: true},
		"after-shock-load":   {Every: checklists.OnEvent, On: []checklists.EventKind{checklists.ShockLoad}, Holds: true},
		"after-power-loss":   {Every: checklists.OnEvent, On: []checklists.EventKind{checklists.PowerLoss}, Holds: true},
		"after-idle":         {Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Idle}, Days: 30, Holds: true},
	} {
		require.Equal(t, want, listed(lists, id).Schedule, "%s", id)
	}
	// A new start after any jam, blade change or power loss repeats C6, the saw
	// as far as lock allows, E1 and E3.
	for _, id := range []checklists.ListID{"after-blade-change", "after-jam", "after-power-loss"} {
		for _, again := range []string{"C6", "S2", "S3", "S4", "S6", "S7", "S8", "S12", "E1", "E3"} {
			require.Positive(t, count(listed(lists, id), again), "%s: %s", id, again)
		}
	}
	for _, again := range []string{"M1", "M2"} { // idle a month: what is daily to monthly first, 1910.179(j)(4)
		require.Positive(t, count(listed(lists, "after-idle"), again))
	}
}

func TestEveryStarterListOfEveryMillCanBePublished(t *testing.T) {
	for _, drive := range []string{"electric", "engine", "tractor-shaft", ""} {
		for _, feed := range []string{"mandrel", "own-motor", "hydraulic", "hand"} {
			for _, dogs := range []string{"hand", "power"} {
				for _, collector := range []string{"none", "bag-house"} {
					for _, offBearing := range []string{"none", "powered"} {
						s := aSetUp()
						s.Drive, s.Feed, s.Dogs, s.Collector, s.OffBearing = drive, feed, dogs, collector, offBearing
						s.Portable, s.SawDiameter = dogs == "hand", plain.Metres(len(feed)%2)
						plant := procedures.StarterPlant(s.Answers())
						for _, l := range checklists.StarterLists(s, plant) {
							require.NoError(t, l.Validate(plant), "%s", l.ID)
							for _, item := range l.Items {
								require.True(t, strings.Contains(item.Source, "common practice, no source") || strings.ContainsAny(item.Source, "0123456789") ||
									strings.Contains(item.Source, "OSHA advice") || strings.Contains(item.Source, "lesson"), "%s %s: %s", l.ID, item.ID, item.Source)
								require.NotContains(t, item.Source, "(M)")
							}
						}
					}
				}
			}
		}
	}
	small := aSetUp()
	small.Collector, small.Drive = "none", "electric"
	week := listed(checklists.StarterLists(small, procedures.StarterPlant(small.Answers())), "weekly")
	for _, gone := range []string{"W4", "W9", "W11"} {
		require.Zero(t, count(week, gone), "%s", gone)
	}
}

// 34 Pa. Code 45.41: at most 10,000 ft/min at the rim. π × 60 in ÷ 12 × 650 rpm =
// 10,210 ft/min is over it, 636 rpm is 9,990.
func TestSpindleLimitIsThatOfTheRim(t *testing.T) {
	s := fullest()
	s.SawDiameter = 60 * plain.Inch
	limits := item(t, listed(checklists.StarterLists(s, procedures.StarterPlant(s.Answers())), "weekly"), "W5").Limits
	require.False(t, limits.Within(650))
	require.False(t, limits.Within(637))
	require.True(t, limits.Within(636))
}

func TestMillThatIsSetUpGetsOnlyTheStartersItLacks(t *testing.T) {
	plant := aPlant()
	require.Len(t, checklists.MissingStarters(aSetUp(), plant, []checklists.ListID{checklists.PreShift, checklists.Monthly}), 10)
	require.Empty(t, checklists.MissingStarters(aSetUp(), nil, nil))
}
