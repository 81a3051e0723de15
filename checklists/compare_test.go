package checklists_test

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
)

// ruled is a list with one stop item from a rule that asks everything there is to
// ask, one of common practice, and one to mend.
func ruled() checklists.List {
	strict := checklists.Item{ID: "S3", Station: "Head saw", Equipment: "head-saw", Prompt: "Longest crack at the rim", How: "Measure.", State: checklists.Stopped,
		Kind: checklists.Number, Severity: checklists.Stop, AlwaysPhoto: true, Source: "WAC 296-78-610(3)",
		Limits: checklists.Limits{Unit: "in", Low: number(0), High: number(2.5), HighOut: true, StopAt: number(2.5), Most: 20},
		Repeat: checklists.Repeat{Per: checklists.PerHook, Count: 2}}
	practice := strict
	practice.ID, practice.Source = "S4", "common practice, no source"
	bin := strict
	bin.ID, bin.Severity, bin.Limits.StopAt = "S5", checklists.Mend, nil
	return checklists.List{ID: "ruled", Version: 1, Title: "Ruled", InForce: at("2025-05-01 12:00"),
		Schedule: checklists.Schedule{Every: checklists.EachShift, Holds: true}, Items: []checklists.Item{strict, practice, bin}}
}

func publishing(before checklists.List, reasons map[checklists.ItemID]string) checklists.Publishing {
	return checklists.Publishing{Plant: aPlant(), SetUp: aSetUp(), Before: before, Version: before.Version + 1, At: underWay, Reasons: reasons}
}

// A mill may not take out or loosen a stop that comes from a rule without a
// supervisor's reason on the record; tightening is free.
func TestStopFromARuleIsLoosenedOnlyWithAReason(t *testing.T) {
	loose := map[string]func(i *checklists.Item){
		"mend":                               func(i *checklists.Item) { i.Severity = checklists.Mend },
		"not fitted":                         func(i *checklists.Item) { i.NotFitted = true },
		"higher":                             func(i *checklists.Item) { i.Limits.High, i.Limits.StopAt = number(3), number(3) },
		"no highest":                         func(i *checklists.Item) { i.Limits.High, i.Limits.StopAt = nil, nil },
		"highest is within":                  func(i *checklists.Item) { i.Limits.HighOut = false },
		"lower":                              func(i *checklists.Item) { i.Limits.Low = nil },
		"stop later":                         func(i *checklists.Item) { i.Limits.StopAt = number(4) },
		"another unit":                       func(i *checklists.Item) { i.Limits.Unit = "mm" },
		"no measurement":                     func(i *checklists.Item) { i.Kind = checklists.Choice },
		"no photo":                           func(i *checklists.Item) { i.AlwaysPhoto = false },
		"of a defect only":                   func(i *checklists.Item) { i.AlwaysPhoto, i.DefectPhoto = false, true },
		"another machine":                    func(i *checklists.Item) { i.Equipment = "hoist" },
		"while it runs":                      func(i *checklists.Item) { i.State = checklists.Running },
		"fewer of them":                      func(i *checklists.Item) { i.Repeat.Count = 1 },
		"only once":                          func(i *checklists.Item) { i.Repeat = checklists.Repeat{} },
		"left to set-up, which counts fewer": func(i *checklists.Item) { i.Repeat = checklists.Repeat{Per: checklists.PerHeadblock} },
		"on a condition":                     func(i *checklists.Item) { i.When = checklists.Condition{Item: "S0", Result: checklists.Found} },
		"said to be no rule":                 func(i *checklists.Item) { i.Source = "Common practice, no source" },
	}
	free := map[string]func(i *checklists.Item){
		"lower limit":       func(i *checklists.Item) { i.Limits.High = number(2) },
		"higher low limit":  func(i *checklists.Item) { i.Limits.Low = number(0.1) },
		"stop earlier":      func(i *checklists.Item) { i.Limits.High, i.Limits.StopAt = number(2), number(2) },
		"locked out":        func(i *checklists.Item) { i.State = checklists.LockedOut },
		"more of them":      func(i *checklists.Item) { i.Repeat.Count = 3 },
		"words":             func(i *checklists.Item) { i.Prompt, i.How = "Longest crack", "By a rule." },
		"another section":   func(i *checklists.Item) { i.Station = "Blade" },
		"another rule":      func(i *checklists.Item) { i.Source = "29 CFR 1910.265" },
		"photo of a defect": func(i *checklists.Item) { i.DefectPhoto = true },
		"its own limits":    func(i *checklists.Item) { i.Limits.SiteSet, i.Limits.Most = true, 10 },
	}
	first := checklists.Item{ID: "S0", Station: "Head saw", Equipment: "head-saw", Prompt: "Saw is on", How: "Look.", State: checklists.Stopped, Kind: checklists.Choice,
		Severity: checklists.Mend, Source: "common practice, no source"}
	whole := ruled()
	whole.Items = append([]checklists.Item{first}, whole.Items...)
	whole, err := whole.Published(publishing(checklists.List{}, nil))
	require.NoError(t, err)
	require.Empty(t, whole.Loosened, "the first version loosens nothing")
	try := func(id checklists.ItemID, change func(i *checklists.Item), reasons map[checklists.ItemID]string) (checklists.List, error) {
		draft := whole.AsDraft()
		for n := range draft.Items {
			if draft.Items[n].ID == id {
				change(&draft.Items[n])
			}
		}
		return draft.Published(publishing(whole, reasons))
	}
	for name, change := range loose {
		_, err := try("S3", change, nil)
		require.NotNil(t, problems(t, err).For("reasons.S3"), "%s", name)
		_, err = try("S3", change, map[checklists.ItemID]string{"S3": " \t"})
		require.NotNil(t, problems(t, err).For("reasons.S3"), "%s: a blank is no reason", name)
		next, err := try("S3", change, map[checklists.ItemID]string{"S3": " the maker says so "})
		require.NoError(t, err, "%s", name)
		require.Equal(t, []checklists.Loosened{{Item: "S3", Prompt: "Longest crack at the rim", Source: "WAC 296-78-610(3)", Reason: "the maker says so"}}, next.Loosened, "%s", name)
		next, err = try("S4", change, nil)
		require.NoError(t, err, "%s: common practice is the mill's own", name)
		require.Empty(t, next.Loosened)
		if name != "stop later" { // which makes it a stop, and so asks more
			next, err = try("S5", change, nil)
			require.NoError(t, err, "%s: of an item to mend", name)
			require.Empty(t, next.Loosened)
		}
	}
	for name, change := range free {
		next, err := try("S3", change, nil)
		require.NoError(t, err, "%s", name)
		require.Empty(t, next.Loosened, "%s", name)
	}

	gone := whole.AsDraft().Without("S3")
	_, err = gone.Published(publishing(whole, nil))
	require.NotNil(t, problems(t, err).For("reasons.S3"), "taken out")
	_, err = whole.AsDraft().Without("S4").Without("S5").Published(publishing(whole, nil))
	require.NoError(t, err)
}

func TestListThatComesRoundLessOftenOrHoldsLessNeedsAReason(t *testing.T) {
	before := ruled()
	for name, tc := range map[string]struct{ was, is checklists.Schedule }{
		"less often":        {before.Schedule, checklists.Schedule{Every: checklists.EachDay, Holds: true}},
		"holds nothing":     {before.Schedule, checklists.Schedule{Every: checklists.EachShift}},
		"holds when late":   {before.Schedule, checklists.Schedule{Every: checklists.EachShift, HoldsLate: true}},
		"of both the first": {checklists.Schedule{Every: checklists.EachShift, Holds: true, HoldsLate: true}, checklists.Schedule{Every: checklists.EachShift, HoldsLate: true}},
		"more days":         {checklists.Schedule{Every: checklists.AfterDays, Days: 60}, checklists.Schedule{Every: checklists.AfterDays, Days: 61}},
		"more hours":        {checklists.Schedule{Every: checklists.AfterHours, Hours: 60, Meter: "m"}, checklists.Schedule{Every: checklists.AfterHours, Hours: 61, Meter: "m"}},
		"another meter":     {checklists.Schedule{Every: checklists.AfterHours, Hours: 60, Meter: "m"}, checklists.Schedule{Every: checklists.AfterHours, Hours: 60, Meter: "n"}},
		"fewer events":      {checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Jam, checklists.Move}}, checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Jam}}},
		"longer idle":       {checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Idle}, Days: 10}, checklists.Schedule{Every: checklists.OnEvent, On: []checklists.EventKind{checklists.Idle}}},
		"longer grace":      {before.Schedule, checklists.Schedule{Every: checklists.EachShift, Holds: true, Grace: 15}},
		"not comparable":    {checklists.Schedule{Every: checklists.EachMonth}, checklists.Schedule{Every: checklists.AfterDays, Days: 10}},
	} {
		before.Schedule = tc.was
		after := before.AsDraft()
		after.Schedule = tc.is
		_, err := after.Published(publishing(before, nil))
		require.NotNil(t, problems(t, err).For("reasons."), "%s", name)
		next, err := after.Published(publishing(before, map[checklists.ItemID]string{"": "agreed"}))
		require.NoError(t, err, "%s", name)
		require.Len(t, next.Loosened, 1)
		require.Empty(t, checklists.Loosens(next, func() checklists.List { next.Schedule = tc.was; return next }()), "%s: and back is free", name)
		if name == "not comparable" || name == "another meter" {
			continue
		}
		back := before.AsDraft()
		stood := before
		stood.Schedule = tc.is
		_, err = back.Published(publishing(stood, nil))
		require.NoError(t, err, "%s: tightening is free", name)
	}
}

// Set-up that counts fewer asks less of a list nobody has changed.
func TestFewerCountedAtSetUpNeedsAReason(t *testing.T) {
	list := ruled()
	list.Items = list.Items[:1]
	list.Items[0].Repeat = checklists.Repeat{Per: checklists.PerHeadblock}
	first := publishing(checklists.List{}, nil)
	first.SetUp.Headblocks = 3
	before, err := list.Published(first)
	require.NoError(t, err)
	second := publishing(before, nil)
	second.SetUp.Headblocks = 2
	_, err = before.AsDraft().Published(second)
	require.NotNil(t, problems(t, err).For("reasons.S3"))
	second.Reasons = map[checklists.ItemID]string{"S3": "one headblock was sold"}
	after, err := before.AsDraft().Published(second)
	require.NoError(t, err)
	require.Equal(t, "one headblock was sold", after.Loosened[0].Reason)
	changes := checklists.Compare(before, after)
	require.Len(t, changes, 1)
	require.Equal(t, []string{"for each headblock, 3 by set-up", "for each headblock, 2 by set-up"}, []string{changes[0].Fields[0].Before.String(), changes[0].Fields[0].After.String()})
	require.Empty(t, checklists.Compare(before, before.AsDraft()), "a draft is not counted yet")
	second.Before, second.Version, second.Reasons, second.SetUp.Headblocks = after, 3, nil, 3
	_, err = after.AsDraft().Published(second)
	require.NoError(t, err, "more is free")
}

// What decides whether a stop from a rule is asked is loosened only with a reason
// either, however little it is a stop itself.
func TestStopThatIsAskedLessBecauseOfAnotherItemNeedsAReason(t *testing.T) {
	gauge := checklists.Item{ID: "Q", Station: "Head saw", Equipment: "head-saw", Prompt: "Play at the rim", How: "Measure.", State: checklists.Stopped,
		Kind: checklists.Number, Severity: checklists.Mend, Source: "common practice, no source", Limits: checklists.Limits{Unit: "in", High: number(1), Most: 10}}
	try := func(when checklists.Condition, change func(l *checklists.List)) error {
		before := ruled()
		before.Items = []checklists.Item{gauge, before.Items[0]}
		before.Items[1].When = when
		before, err := before.Published(publishing(checklists.List{}, nil))
		require.NoError(t, err)
		after := before.AsDraft()
		change(&after)
		_, err = after.Published(publishing(before, nil))
		return err
	}
	found, fine := checklists.Condition{Item: "Q", Result: checklists.Found}, checklists.Condition{Item: "Q", Result: checklists.OK}
	higher := func(l *checklists.List) { l.Items[0].Limits.High = number(9.9) }
	lower := func(l *checklists.List) { l.Items[0].Limits.High = number(0.1) }
	require.NotNil(t, problems(t, try(found, higher)).For("reasons.Q"))
	require.NoError(t, try(found, lower), "asked more often")
	require.NotNil(t, problems(t, try(fine, lower)).For("reasons.Q"), "asked where it is OK: a lower limit asks less")
	require.NoError(t, try(checklists.Condition{}, higher), "nothing hangs on it")
	require.NoError(t, try(found, func(l *checklists.List) { l.Items[0].Prompt = "Play" }))
	require.NoError(t, try(found, func(l *checklists.List) { *l = l.Without("Q"); l.Items[0].When = checklists.Condition{} }), "asked always from now on")
}

func TestRuleIsReadPastTheWordsThatThereIsNone(t *testing.T) {
	both := ruled()
	both.Items[0].Source = "Common practice, no source; 29 CFR 1910.213(s) (from memory)"
	after := both.AsDraft()
	after.Items[0].Severity = checklists.Mend
	_, err := after.Published(publishing(both, nil))
	require.Contains(t, problems(t, err).For("reasons.S3").String(), "29 CFR 1910.213(s)")
	after = both.AsDraft()
	after.Items[0].Source = "common practice, no source"
	_, err = after.Published(publishing(both, nil))
	require.NotNil(t, problems(t, err).For("reasons.S3"))
	rules := 0
	for _, l := range checklists.StarterLists(aSetUp(), aPlant()) {
		l.Version = 1
		for _, i := range l.Items {
			if i.Severity != checklists.Stop || i.Source == "common practice, no source" {
				continue
			}
			rules++
			require.NotEmpty(t, checklists.Loosens(l, l.Without(i.ID)), "%s %s: %s", l.ID, i.ID, i.Source)
		}
	}
	require.Greater(t, rules, 100)
}

func TestComparisonNamesEachItemAndFieldBeforeAndAfter(t *testing.T) {
	before := ruled()
	after := before.AsDraft()
	after.Title = "Ruled anew"
	after.Items[0].Limits.High = number(3)
	after.Items[1].Prompt = "Crack"
	after, added := after.Copied("S4", before)
	after = after.Without("S5").MovedTo("S4", 0)
	changes := checklists.Compare(before, after)
	type line struct {
		item checklists.ItemID
		kind checklists.ChangeKind
	}
	var lines []line
	for _, change := range changes {
		lines = append(lines, line{change.Item, change.Kind})
	}
	require.Equal(t, []line{{"", checklists.Changed}, {"S4", checklists.Changed}, {"S5", checklists.Removed}, {"S3", checklists.Changed}, {added, checklists.Added}}, lines)
	require.Equal(t, "Ruled", changes[0].Fields[0].Before.String())
	require.Equal(t, "Ruled anew", changes[0].Fields[0].After.String())
	require.False(t, changes[1].Moved)
	limit := changes[3]
	require.True(t, limit.Moved, "one of the two changed places, and the comparison picks one")
	require.Len(t, limit.Fields, 2)
	require.Equal(t, []string{"1 of 3", "2 of 3"}, []string{limit.Fields[1].Before.String(), limit.Fields[1].After.String()})
	require.Equal(t, "limits.high", limit.Fields[0].Field)
	require.Equal(t, []string{"2.5 in", "3 in"}, []string{limit.Fields[0].Before.String(), limit.Fields[0].After.String()})
	require.True(t, limit.Loosens && limit.Fields[0].Loosens)
	require.Equal(t, "WAC 296-78-610(3)", limit.Rule)
	require.Empty(t, checklists.Compare(before, before))
	require.Empty(t, checklists.Compare(before, before.Counted(aSetUp()).Anew()), "published anew nothing differs")
}

// Whatever an item says differently is told: each of its fields is changed in turn.
func TestNoFieldOfAnItemChangesUnseen(t *testing.T) {
	before := ruled()
	var fields func(v reflect.Value, visit func(string, reflect.Value))
	fields = func(v reflect.Value, visit func(string, reflect.Value)) {
		for n := range v.NumField() {
			if name := v.Type().Field(n).Name; name == "ID" || name == "Nth" || name == "Times" {
				continue
			}
			if v.Field(n).Kind() == reflect.Struct {
				fields(v.Field(n), visit)
				continue
			}
			visit(v.Type().Field(n).Name, v.Field(n))
		}
	}
	count := 0
	check := func(after *checklists.List, part reflect.Value) {
		fields(part, func(name string, field reflect.Value) {
			was := reflect.ValueOf(field.Interface())
			switch field.Kind() {
			case reflect.String:
				field.SetString(field.String() + "x")
			case reflect.Bool:
				field.SetBool(!field.Bool())
			case reflect.Int:
				field.SetInt(field.Int() + 1)
			case reflect.Float64:
				field.SetFloat(field.Float() + 1)
			case reflect.Pointer:
				field.Set(reflect.ValueOf(number(77)))
			case reflect.Slice:
				field.Set(reflect.MakeSlice(field.Type(), 1, 1))
			}
			count++
			require.Len(t, checklists.Compare(before, *after), 1, "%s", name)
			field.Set(was)
		})
	}
	after := ruled().AsDraft()
	check(&after, reflect.ValueOf(&after.Items[0]).Elem())
	check(&after, reflect.ValueOf(&after.Schedule).Elem())
	require.Greater(t, count, 30)
}

func TestAsFewItemsAsCanBeAreSaidToHaveMoved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before := aList()
		before.Items = before.Items[:8]
		after := before.AsDraft()
		moves := rapid.IntRange(0, 3).Draw(t, "moves")
		for range moves {
			after = after.MovedTo(after.Items[rapid.IntRange(0, 7).Draw(t, "which")].ID, rapid.IntRange(0, 7).Draw(t, "to"))
		}
		changes := checklists.Compare(before, after)
		require.LessOrEqual(t, len(changes), moves)
		again := before // those said to have moved, put where they stand now, make the one of the other
		for _, change := range changes {
			require.Equal(t, checklists.Moved, change.Kind)
			again = again.Without(change.Item)
		}
		var stays []checklists.ItemID
		for _, item := range after.Items {
			if !slices.ContainsFunc(changes, func(c checklists.Change) bool { return c.Item == item.ID }) {
				stays = append(stays, item.ID)
			}
		}
		for n, item := range again.Items {
			require.Equal(t, stays[n], item.ID)
		}
	})
}

func TestVersionIsInForceFromItsTimeAndUntilAHigherOneIs(t *testing.T) {
	from := func(version int, wall string) checklists.List {
		return checklists.List{ID: "l", Version: version, InForce: at(wall)}
	}
	versions := []checklists.List{from(1, "2025-06-01 06:00"), from(2, "2025-06-09 06:00"), from(3, "2025-06-05 06:00"), {ID: "l"}}
	for wall, want := range map[string]int{"2025-06-01 05:59": 0, "2025-06-01 06:00": 1, "2025-06-05 05:59": 1, "2025-06-05 06:00": 3, "2025-06-10 06:00": 3} {
		list, known := checklists.InForceAt(versions, at(wall))
		require.Equal(t, want, list.Version, "%s", wall)
		require.Equal(t, want > 0, known)
	}
	require.Equal(t, versions[2:3], checklists.ToCome(versions, at("2025-06-02 00:00")), "the second never comes to be in force")
	require.Empty(t, checklists.ToCome(versions, at("2025-06-05 06:00")))
	require.Len(t, checklists.ToCome(versions[:2], at("2025-05-01 00:00")), 2)
}

func TestVersionIsPublishedForNowOrLaterAndSaysWhichItRepeats(t *testing.T) {
	before := ruled()
	p := publishing(before, nil)
	for name, from := range map[string]time.Time{"past": underWay.Add(-1), "far off": underWay.Add(checklists.LatestForce + 1)} {
		p.From = from
		_, err := before.AsDraft().Published(p)
		require.NotNil(t, problems(t, err).For("from"), "%s", name)
	}
	p.From = underWay.Add(48 * time.Hour)
	next, err := before.Anew().Published(p)
	require.NoError(t, err)
	require.Equal(t, []any{2, 1, p.From.UTC()}, []any{next.Version, next.Repeats, next.InForce})
	p.From, p.Version = time.Time{}, 1
	_, err = before.AsDraft().Published(p)
	require.NotNil(t, problems(t, err).For("version"))
	p.Version = 2
	next, err = before.AsDraft().Published(p)
	require.NoError(t, err)
	require.Equal(t, underWay.UTC(), next.InForce)
	draft := before.AsDraft()
	draft.Items[0].Equipment = "boiler"
	_, err = draft.Published(p)
	require.NotNil(t, problems(t, err).For("items.S3.equipment"))
	*before.AsDraft().Items[0].Limits.High = 9
	require.Equal(t, 2.5, *before.Items[0].Limits.High, "a draft shares nothing with the version it was made from")
}

func TestDigestIsOfEverythingAListSaysAndOfNoOtherWayToSayIt(t *testing.T) {
	digest := func(l checklists.List) [32]byte {
		sum, err := l.Digest()
		require.NoError(t, err)
		return sum
	}
	list := ruled()
	same := list
	same.InForce = same.InForce.In(time.FixedZone("", 3600))
	same.Loosened, same.Items = []checklists.Loosened{}, slices.Clone(list.Items)
	same.Items[0].Options = []string{}
	require.Equal(t, digest(list), digest(same))
	for name, change := range map[string]func(l *checklists.List){
		"version":  func(l *checklists.List) { l.Version = 2 },
		"in force": func(l *checklists.List) { l.InForce = l.InForce.Add(time.Second) },
		"words":    func(l *checklists.List) { l.Items[0].How = "measure." },
		"order":    func(l *checklists.List) { *l = l.Moved("S3", 1) },
		"loosened": func(l *checklists.List) { l.Loosened = []checklists.Loosened{{Item: "a"}} },
	} {
		other := list
		other.Items = slices.Clone(list.Items)
		change(&other)
		require.NotEqual(t, digest(list), digest(other), "%s", name)
	}
	list.Items[0].Limits.Most = nan()
	_, err := list.Digest()
	require.Error(t, err)
}

func nan() float64 { zero := 0.0; return zero / zero }
