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

// base is the number of a check in the pre-shift table: "K1-2" and "S1-speed"
// are parts of K1 and S1.
func base(id checklists.ItemID) string {
	head, _, _ := strings.Cut(string(id), "-")
	return head
}

func fullest() checklists.SetUp {
	s := aSetUp()
	s.Drive, s.Dogs, s.Collector, s.Headblocks, s.EntryPoints = "engine", "power", "bag-house", 3, 4
	return s
}

func starter(t *testing.T, s checklists.SetUp) checklists.List {
	lists := checklists.StarterLists(s, procedures.StarterPlant(s.Answers()))
	require.NotEmpty(t, lists)
	require.NoError(t, lists[0].Validate(procedures.StarterPlant(s.Answers())))
	return lists[0]
}

// The table of pre-shift checks: number, machine state, severity, photo with a
// defect (d) or always (a), the rule it rests on.
var preShift = []struct {
	id       string
	state    checklists.MachineState
	severity checklists.Severity
	photo    string
	source   string
}{
	{"C1", checklists.Stopped, checklists.Stop, "", "1910.265(e)(1)(vii)"},
	{"C2", checklists.Stopped, checklists.Stop, "d", "1910.265(e)(1)(i)"},
	{"C3", checklists.Stopped, checklists.Stop, "d", "1910.265(e)(1)(i)"},
	{"C4", checklists.Stopped, checklists.Mend, "", "1910.265(e)(1)(vii)"},
	{"C5", checklists.LockedOut, checklists.Stop, "d", "1910.265(e)(1)(iii)"},
	{"C6", checklists.Stopped, checklists.Stop, "", "1910.265(e)(1)(iv)"},
	{"C7", checklists.Stopped, checklists.Stop, "a", "1910.265(e)(1)(v)"},
	{"C8", checklists.Running, checklists.Stop, "", "common practice"},
	{"K1", checklists.LockedOut, checklists.Stop, "", "1910.265(e)(1)(viii)"},
	{"K2", checklists.LockedOut, checklists.Stop, "", "1910.265(e)(1)(viii)"},
	{"K3", checklists.LockedOut, checklists.Stop, "", "common practice"},
	{"K4", checklists.Stopped, checklists.Mend, "", "common practice"},
	{"K5", checklists.Stopped, checklists.Stop, "", "common practice"},
	{"K6", checklists.Stopped, checklists.Stop, "", "408.15234(2)"},
	{"S1", checklists.LockedOut, checklists.Stop, "", "WAC 296-78-575"},
	{"S2", checklists.LockedOut, checklists.Stop, "d", "1910.213(s)"},
	{"S3", checklists.LockedOut, checklists.Stop, "", "WAC 296-78-610"},
	{"S4", checklists.LockedOut, checklists.Stop, "", "1910.213(a)(2)"},
	{"S5", checklists.LockedOut, checklists.Stop, "d", "common practice"},
	{"S6", checklists.LockedOut, checklists.Mend, "", "1910.265(e)(2)(iii)"},
	{"S7", checklists.LockedOut, checklists.Stop, "", ""},
	{"S8", checklists.Stopped, checklists.Stop, "", "1910.212(a)(1)"},
	{"S9", checklists.Stopped, checklists.Stop, "", "WAC 296-78-56511(7)"},
	{"S10", checklists.Stopped, checklists.Stop, "d", "1910.219"},
	{"S11", "", checklists.Stop, "", "common practice"},
	{"S12", checklists.Running, checklists.Stop, "", "1910.213(a)(1)"},
	{"H1", checklists.Stopped, checklists.Stop, "", "1910.184(e)(1)"},
	{"H2", checklists.Stopped, checklists.Stop, "d", "1910.179(j)(2)"},
	{"H3", checklists.Stopped, checklists.Stop, "d", "1910.265(c)(24)(ix)"},
	{"H4", checklists.Stopped, checklists.Stop, "", "1910.184(d)"},
	{"H5", checklists.Stopped, checklists.Stop, "d", "ASME B30.20"},
	{"H6", checklists.Stopped, checklists.Stop, "d", "1910.265(c)(24)(ii)"},
	{"H7", checklists.Running, checklists.Stop, "", "1910.179(n)(4)"},
	{"H8", checklists.Running, checklists.Stop, "", "ASME B30.16"},
	{"H9", checklists.Stopped, checklists.Stop, "", "ASME B30.16"},
	{"X1", checklists.Stopped, checklists.Stop, "a", "common practice"},
	{"X2", checklists.Stopped, checklists.Mend, "", "common practice"},
	{"X3", checklists.Stopped, checklists.Stop, "", "NFPA 664"},
	{"X4", checklists.Stopped, checklists.Mend, "", "1910.265(c)(20)(iii)"},
	{"X5", checklists.Running, "", "", "1910.265(c)(20)"},
	{"X6", checklists.Running, checklists.Mend, "", "common practice"},
	{"A1", checklists.Stopped, checklists.Stop, "", "1910.22(a)"},
	{"A2", checklists.Stopped, checklists.Mend, "", "1910.22"},
	{"A3", checklists.Stopped, checklists.Mend, "", "1910.265(c)(9)"},
	{"A4", checklists.Stopped, checklists.Stop, "", "1910.132"},
	{"A5", checklists.Stopped, checklists.Stop, "", "1910.157"},
	{"E1", checklists.Running, checklists.Stop, "", "WAC 296-78-56511(5)"},
	{"E2", checklists.Running, checklists.Stop, "", "common practice"},
	{"E3", checklists.Stopped, checklists.Stop, "", "WAC 296-78-71501(6)"},
	{"E4", checklists.Stopped, checklists.Stop, "", "1910.147"},
}

func TestFullestMillIsAskedEveryCheckOfTheTable(t *testing.T) {
	require.Len(t, preShift, 50)
	list := starter(t, fullest())
	require.Equal(t, checklists.Schedule{Every: checklists.EachShift, Holds: true}, list.Schedule)
	require.Zero(t, list.Version, "a draft until somebody reads and publishes it")
	for _, want := range preShift {
		var asked int
		for _, got := range list.Items {
			if base(got.ID) != want.id {
				continue
			}
			asked++
			if want.state != "" {
				require.Equal(t, want.state, got.State, "%s", got.ID)
			}
			if want.severity != "" {
				require.Equal(t, want.severity, got.Severity, "%s", got.ID)
			}
			require.Equal(t, want.photo == "d", got.DefectPhoto, "%s", got.ID)
			require.Equal(t, want.photo == "a", got.AlwaysPhoto, "%s", got.ID)
			if !strings.Contains(string(got.ID), "-") || want.id[0] == 'K' || want.id[0] == 'C' {
				require.Contains(t, got.Source, want.source, "%s", got.ID)
			}
		}
		require.Positive(t, asked, "%s is not asked", want.id)
	}
}

func TestEveryCombinationOfAnswersGivesAListThatCanBePublished(t *testing.T) {
	for _, drive := range []string{"electric", "engine", "tractor-shaft", "", "water"} {
		for _, feed := range []string{"mandrel", "own-motor", "hydraulic", "hand", ""} {
			for _, dogs := range []string{"hand", "power", ""} {
				for _, hoist := range []string{"electric", "hand-chain", ""} {
					for _, collector := range []string{"none", "cyclone", "bag-house", "open-bag", ""} {
						for _, portable := range []bool{false, true} {
							s := checklists.SetUp{Drive: drive, Feed: feed, Dogs: dogs, Hoist: hoist, Collector: collector,
								Portable: portable, IsolatorCutsPower: portable, Headblocks: len(feed) % 4, EntryPoints: len(dogs) % 3}
							for _, item := range starter(t, s).Items {
								require.NotEmpty(t, item.Source)
								require.NotContains(t, item.Source, "(M)")
								require.NotContains(t, item.Prompt+item.How, "%!")
							}
						}
					}
				}
			}
		}
	}
}

func TestStarterOrderLetsNothingRunBeforeLockedAndStoppedItemsAreDone(t *testing.T) {
	list := starter(t, fullest())
	var states []checklists.MachineState
	for _, item := range list.Items {
		states = append(states, item.State)
	}
	states = slices.Compact(states)
	require.Equal(t, []checklists.MachineState{checklists.LockedOut, checklists.Stopped, checklists.Running}, states)
	first := slices.IndexFunc(list.Items, func(i checklists.Item) bool { return i.State == checklists.Running })
	require.Equal(t, "E1", base(list.Items[first].ID), "the stops are tried first")
}

func count(list checklists.List, id string) (n int) {
	for _, item := range list.Items {
		if base(item.ID) == id {
			n++
		}
	}
	return n
}

func TestStarterFollowsTheSetUpAnswers(t *testing.T) {
	full := starter(t, fullest())
	require.Equal(t, 3, count(full, "K1"), "one upper dog item a headblock, 29 CFR 1910.265(e)(1)(viii)")
	require.Equal(t, 3, count(full, "K2"))
	require.Equal(t, 4, count(full, "C7"), "one barrier and sign item a way in, 29 CFR 1910.265(e)(1)(v)")
	require.Equal(t, 1, count(full, "C2"))
	require.Equal(t, 1, count(full, "C3"), "both ends are items of their own")

	s := fullest()
	s.Drive, s.Dogs, s.Hoist, s.Collector, s.SpindleSpeed = "electric", "hand", "hand-chain", "none", 0
	small := starter(t, s)
	for _, gone := range []string{"S11", "K6", "H7", "X2", "X4", "X5", "X6"} {
		require.Zero(t, count(small, gone), "%s", gone)
	}
	require.Equal(t, procedures.EquipmentID("site"), item(t, small, "X3").Equipment, "dust lies about without a collector too")
	_, speed := small.Item("S1-speed")
	require.False(t, speed, "no limit is made up for a spindle speed nobody stated")
	require.Contains(t, item(t, small, "S1").Prompt, "not under the spindle's")

	s.EntryPoints, s.Headblocks = 1_000_000, -5
	require.NoError(t, starter(t, s).Validate(procedures.StarterPlant(s.Answers())))
	require.Equal(t, 1, count(starter(t, s), "K1"))

	require.Contains(t, item(t, full, "C8").How, "saw turns with the feed")
	s.Feed = "hydraulic"
	require.Contains(t, item(t, starter(t, s), "C8").How, "Saw stopped")
	s.Drive = "tractor-shaft"
	require.Equal(t, procedures.EquipmentID("tractor"), item(t, starter(t, s), "S11").Equipment)
	require.Equal(t, 600.0, *item(t, full, "S1-speed").Limits.Low)
}

// A machine the starter has no checks of its own for still gets one: what
// nobody checks may never run.
func TestStarterAsksSomethingOfEveryMachine(t *testing.T) {
	plant := append(aPlant(), procedures.Equipment{ID: "air", PartOf: "site", Kind: procedures.Supply, Name: "Compressor"})
	list := checklists.StarterLists(aSetUp(), plant)[0]
	require.NoError(t, list.Validate(plant))
	require.True(t, list.Covers("air"))
	require.Empty(t, checklists.StarterLists(aSetUp(), nil))
	alone := plant[:2] // the site and the saw
	require.NoError(t, checklists.StarterLists(aSetUp(), alone)[0].Validate(alone))

	engineless := fullest()
	list = checklists.StarterLists(engineless, aPlant())[0]
	require.Equal(t, procedures.EquipmentID("head-saw"), item(t, list, "S11").Equipment, "an engine that is no equipment of its own goes with the saw")
}

// WAC 296-78-610(3): a crack equal to the length in the table puts a circular
// saw of that diameter out of use.
func TestCrackLimitIsThatOfTheTable(t *testing.T) {
	for _, row := range []struct{ diameter, crack float64 }{
		{10, 0.5}, {12, 0.5}, {12.5, 1}, {24, 1}, {30, 1.5}, {36, 1.5}, {48, 2}, {48.1, 2.5}, {54, 2.5}, {60, 2.5}, {60.5, 3}, {72, 3},
		{0, 0.5}, {-1, 0.5}, // not stated: the strictest
	} {
		s := aSetUp()
		s.SawDiameter = plain.Metres(row.diameter) * plain.Inch
		limits := item(t, starter(t, s), "S3").Limits
		require.False(t, limits.Within(row.crack), "%v in saw, %v in crack", row.diameter, row.crack)
		require.True(t, limits.Within(row.crack-0.01), "%v in saw, just under %v in", row.diameter, row.crack)
	}
}

// Depth of dry dust 1/8 in: NFPA 664, from memory. Dog gap, knee difference,
// guide clearance (about 1/32 in, US Army sawmill manual) and the rest are start
// values each mill sets.
func TestStartLimitsOfNumberItems(t *testing.T) {
	list := starter(t, fullest())
	for _, tc := range []struct {
		id        checklists.ItemID
		good, bad float64
		siteSet   bool
	}{
		{"K3", 0.5, 0.49, true}, {"K4", 1.0 / 16, 0.07, true}, {"K6", 5, 5.1, true}, {"S6", 1.0 / 32, 0.1, true},
		{"S7-gap", 1, 1.1, true}, {"X2", 75, 76, false}, {"X3", 0.125, 0.126, false}, {"X6", 3, 6.5, true}, {"S1-speed", 600, 599, false},
	} {
		limits := item(t, list, tc.id).Limits
		require.True(t, limits.Within(tc.good), "%s %v", tc.id, tc.good)
		require.False(t, limits.Within(tc.bad), "%s %v", tc.id, tc.bad)
		require.Equal(t, tc.siteSet, limits.SiteSet, "%s", tc.id)
	}
}

func TestSetUpOutsideItsChoicesIsRefusedByField(t *testing.T) {
	require.NoError(t, fullest().Validate())
	for field, change := range map[string]func(*checklists.SetUp){
		"law":           func(s *checklists.SetUp) { s.Law = "moon" },
		"drive":         func(s *checklists.SetUp) { s.Drive = "water" },
		"entry_points":  func(s *checklists.SetUp) { s.EntryPoints = 0 },
		"saw_diameter":  func(s *checklists.SetUp) { s.SawDiameter = -1 },
		"spindle_speed": func(s *checklists.SetUp) { s.SpindleSpeed = 1e9 },
	} {
		s := fullest()
		change(&s)
		var bad plain.Problems
		require.ErrorAs(t, s.Validate(), &bad)
		require.Len(t, bad, 1)
		require.NotNil(t, bad.For(field), "%s", field)
	}
}
