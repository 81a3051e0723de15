package checklists_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// moreKinds is a list of the kinds that ask more than a tick, published a month
// before; every item is about the hoist, which then nothing else covers.
func moreKinds() checklists.List {
	item := func(id checklists.ItemID, kind checklists.AnswerKind) checklists.Item {
		return checklists.Item{ID: id, Station: "Hoist", Equipment: "hoist", Prompt: "Look at " + string(id), How: "Look.", State: checklists.Stopped,
			Kind: kind, Severity: checklists.Stop, Source: "common practice, no source"}
	}
	changed := item("B1", checklists.Choice)
	changed.Options = []string{"the same chain", "another chain"}
	tag := item("B2", checklists.Photo)
	tag.When = checklists.Condition{Item: "B1", Choice: "another chain"}
	hours := item("B3", checklists.MeterReading)
	hours.Meter, hours.Limits = "hoist-hours", checklists.Limits{Unit: "h", Most: 100_000}
	person := item("B4", checklists.Somebody)
	person.Qualified = checklists.ForLifting
	hook := item("B5", checklists.Choice)
	hook.Repeat = checklists.Repeat{Per: checklists.PerHook}
	crack := item("B6", checklists.Number)
	crack.Repeat, crack.When = hook.Repeat, checklists.Condition{Item: "B5", Result: checklists.Found}
	crack.Limits = checklists.Limits{Unit: "in", High: number(0.1), Most: 5}
	oil := item("B7", checklists.Choice)
	oil.When = checklists.Condition{Item: "B3", From: number(1000)}
	list := checklists.List{ID: "more", Version: 1, Title: "More kinds", InForce: at("2025-05-01 12:00"),
		Schedule: checklists.Schedule{Every: checklists.EachShift, Holds: true}, Items: []checklists.Item{changed, tag, hours, person, hook, crack, oil}}
	return list.Counted(aSetUp())
}

func moreFacts() checklists.Facts {
	f := under(nil, nil)
	rigger := helper()
	rigger.QualifiedLifting = true
	f.People = []procedures.Person{sawyer(), rigger, reader(), {ID: "lou", Role: procedures.Operator, QualifiedLifting: true, Left: true}}
	f.Lists = []checklists.List{moreKinds()}
	return f
}

func moreAnswers() map[checklists.ItemID]checklists.Answer {
	ok := checklists.Answer{Result: checklists.OK}
	return map[checklists.ItemID]checklists.Answer{
		"B1": {Text: "the same chain"}, "B3": {Number: number(412)}, "B4": {Result: checklists.OK, Person: "ben"}, "B5#1": ok, "B5#2": ok,
	}
}

// taken is the answers as taken, in no order of importance.
func taken(t require.TestingT, f checklists.Facts, given map[checklists.ItemID]checklists.Answer, now time.Time) (all []checklists.Answer) {
	for id, a := range given {
		kept, err := checklists.Take(f.Lists[0], id, a, sawyer(), f, now)
		require.NoError(t, err, "%s", id)
		all = append(all, kept)
	}
	return all
}

func complete(list checklists.List, answers []checklists.Answer, now time.Time) (checklists.Inspection, []checklists.Defect, error) {
	return checklists.Complete(list, answers, sawyer(), counter(), aMill(), now.Add(-30*time.Minute), now, now, nil)
}

func TestListOfMoreKindsIsSoundAndItsShortestWalkIsComplete(t *testing.T) {
	f := moreFacts()
	require.NoError(t, f.Lists[0].Validate(f.Plant))
	in, found, err := complete(f.Lists[0], taken(t, f, moreAnswers(), beforeShift), beforeShift)
	require.NoError(t, err)
	require.Empty(t, found)
	require.Len(t, in.Answers, 5, "what isn't asked is not answered")
	f.Inspections = []checklists.Inspection{in}
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status)
}

func TestRepeatedItemIsAskedOnceForEachAndDefectsNameWhich(t *testing.T) {
	f, given := moreFacts(), moreAnswers()
	given["B5#2"] = checklists.Answer{Result: checklists.Found, Note: "opened"}
	answers := taken(t, f, given, beforeShift)
	_, _, err := complete(f.Lists[0], answers, beforeShift)
	require.NotNil(t, problems(t, err).For("B6#2"), "the second hook is a defect: its crack is asked")
	require.Nil(t, problems(t, err).For("B6#1"), "and not that of the first")
	given["B6#2"] = checklists.Answer{Number: number(0)}
	_, found, err := complete(f.Lists[0], taken(t, f, given, beforeShift), beforeShift)
	require.NoError(t, err)
	require.Len(t, found, 1)
	require.Equal(t, checklists.ItemID("B5#2"), found[0].Item)

	delete(given, "B5#1")
	_, _, err = complete(f.Lists[0], taken(t, f, given, beforeShift), beforeShift)
	require.NotNil(t, problems(t, err).For("B5#1"))
	for _, id := range []checklists.ItemID{"B5", "B5#0", "B5#3", "B5#02", "B5#+1", "B5#", "B1#1"} {
		_, err := checklists.Take(f.Lists[0], id, checklists.Answer{Result: checklists.OK}, sawyer(), f, beforeShift)
		refusal(t, err)
	}
}

func TestRepeatsAreCountedAtSetUpUnlessTheItemSaysHowMany(t *testing.T) {
	setUp := aSetUp() // 2 headblocks, 2 entry points
	setUp.Headblocks, setUp.EntryPoints = 3, 4
	for per, want := range map[checklists.RepeatPer]int{checklists.PerDog: 6, checklists.PerHeadblock: 3, checklists.PerEntryPoint: 4, checklists.PerHook: 2} {
		list := checklists.List{Items: []checklists.Item{{ID: "A", Repeat: checklists.Repeat{Per: per}}, {ID: "B", Repeat: checklists.Repeat{Per: per, Count: 1}}}}
		list = list.Counted(setUp)
		require.Len(t, list.Asks(), want+1, "%s", per)
		for _, asked := range list.Asks() {
			require.False(t, asked.Which().Empty())
		}
		require.Len(t, list.Counted(checklists.SetUp{}).Asks(), per.Counted(checklists.SetUp{})+1, "nothing counted: asked all the same")
		require.GreaterOrEqual(t, per.Counted(checklists.SetUp{}), 1)
	}
	dogs := checklists.List{Items: []checklists.Item{{ID: "K1", Prompt: "Sharp", Repeat: checklists.Repeat{Per: checklists.PerDog}}}}.Counted(setUp).Asks()
	require.Equal(t, "Sharp (upper dog of headblock 1)", dogs[0].Said().String())
	require.Equal(t, "Sharp (lower dog of headblock 3)", dogs[5].Said().String())
}

func TestHeadblockAddedSinceTheListWasPublishedHolds(t *testing.T) {
	f := moreFacts()
	list := f.Lists[0]
	list.Items = slices.Clone(list.Items[:1])
	list.Items[0].Repeat = checklists.Repeat{Per: checklists.PerHeadblock}
	list = list.Counted(f.Mill.SetUp)
	in, _, err := complete(list, taken(t, checklists.Facts{Lists: []checklists.List{list}}, map[checklists.ItemID]checklists.Answer{
		"B1#1": {Text: "the same chain"}, "B1#2": {Text: "the same chain"}}, beforeShift), beforeShift)
	require.NoError(t, err)
	f.Lists, f.Inspections = []checklists.List{list}, []checklists.Inspection{in}
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status)
	f.Mill.SetUp.Headblocks = 3
	require.Contains(t, kinds(readiness(t, f, underWay)["hoist"]), checklists.HeldUnread)
}

// A condition that can't be told drops nothing: neither from the walk nor from
// what holds.
func TestConditionNobodyCanTellKeepsTheItemAskedAndTheHold(t *testing.T) {
	f, given := moreFacts(), moreAnswers()
	given["B1"] = checklists.Answer{Result: checklists.NotChecked, Note: "dark"}
	answers := taken(t, f, given, beforeShift)
	_, _, err := complete(f.Lists[0], answers, beforeShift)
	require.NotNil(t, problems(t, err).For("B2"), "it may be another chain")

	given["B2"] = checklists.Answer{Result: checklists.NotChecked, Note: "dark"}
	in, _, err := complete(f.Lists[0], taken(t, f, given, beforeShift), beforeShift)
	require.NoError(t, err)
	f.Inspections = []checklists.Inspection{in}
	held := readiness(t, f, underWay)["hoist"]
	require.Equal(t, checklists.Held, held.Status)
	require.Len(t, held.Holds, 2, "the word and the photo: %v", held.Holds)

	seen := taken(t, f, map[checklists.ItemID]checklists.Answer{"B1": {Text: "the same chain"}}, underWay)
	am, _, err := checklists.Amend(in, f.Lists[0], seen, sawyer(), counter(), underWay, nil)
	require.NoError(t, err)
	f.Amendments = []checklists.Amendment{am}
	require.Equal(t, checklists.MayRun, readiness(t, f, underWay)["hoist"].Status, "the same chain: its tag was never asked")

	seen = taken(t, f, map[checklists.ItemID]checklists.Answer{"B1": {Text: "another chain"}}, underWay)
	am, _, err = checklists.Amend(in, f.Lists[0], seen, sawyer(), counter(), underWay, nil)
	require.NoError(t, err)
	f.Amendments = []checklists.Amendment{am}
	require.Equal(t, []checklists.HoldKind{checklists.HeldUnchecked}, kinds(readiness(t, f, underWay)["hoist"]))
}

func TestConditionsAreMetAsTheyAreSaid(t *testing.T) {
	list := moreKinds()
	found := checklists.Answer{Result: checklists.Found}
	unchecked := checklists.Answer{Result: checklists.NotChecked}
	for _, tc := range []struct {
		when   checklists.Condition
		answer checklists.Answer
		want   checklists.Asking
	}{
		{checklists.Condition{Result: checklists.Found}, found, checklists.IsAsked},
		{checklists.Condition{Result: checklists.Found}, checklists.Answer{Result: checklists.OK}, checklists.NotAsked},
		{checklists.Condition{Result: checklists.Found}, unchecked, checklists.Waits},
		{checklists.Condition{Result: checklists.NotChecked}, unchecked, checklists.IsAsked},
		{checklists.Condition{Result: checklists.NotChecked}, found, checklists.NotAsked},
		{checklists.Condition{Result: checklists.Found}, checklists.Answer{}, checklists.Waits},
		{checklists.Condition{Choice: "a"}, checklists.Answer{Result: checklists.OK, Text: "a"}, checklists.IsAsked},
		{checklists.Condition{Choice: "a"}, checklists.Answer{Result: checklists.OK, Text: "b"}, checklists.NotAsked},
		{checklists.Condition{Choice: "a"}, found, checklists.Waits},
		{checklists.Condition{From: number(2), To: number(3)}, checklists.Answer{Result: checklists.OK, Number: number(2)}, checklists.IsAsked},
		{checklists.Condition{From: number(2), To: number(3)}, checklists.Answer{Result: checklists.Found, Number: number(3)}, checklists.IsAsked},
		{checklists.Condition{From: number(2), To: number(3)}, checklists.Answer{Result: checklists.OK, Number: number(3.1)}, checklists.NotAsked},
		{checklists.Condition{From: number(2)}, checklists.Answer{Result: checklists.OK, Number: number(1.9)}, checklists.NotAsked},
		{checklists.Condition{From: number(2)}, found, checklists.Waits},
		{checklists.Condition{}, found, checklists.Waits},
	} {
		tc.when.Item = "B1"
		list.Items[1].When = tc.when
		require.Equal(t, tc.want, list.Askings(map[checklists.ItemID]checklists.Answer{"B1": tc.answer})["B2"], "%+v", tc)
	}
	list.Items[1].When = checklists.Condition{Item: "B1", Result: checklists.Found}
	list.Items[6].When = checklists.Condition{Item: "B2", Result: checklists.OK}
	asked := list.Askings(map[checklists.ItemID]checklists.Answer{"B1": {Result: checklists.OK}})
	require.Equal(t, checklists.NotAsked, asked["B7"], "what hangs on an item that isn't asked isn't either")
	require.Equal(t, checklists.Waits, list.Askings(nil)["B7"])
	list.Items[1].When.Item = "B7"
	require.Equal(t, checklists.Waits, list.Askings(nil)["B7"], "a circle decides nothing")
	list.Items[0].NotFitted, list.Items[1].When.Item = true, "B1"
	require.Equal(t, checklists.Waits, list.Askings(nil)["B2"], "an answer nobody gives decides nothing")
	list.Items[1].When.Item = "gone"
	require.Equal(t, checklists.Waits, list.Askings(nil)["B2"])
}

func TestAnswerToAnItemThatTurnsOutNotAskedIsKept(t *testing.T) {
	f, given := moreFacts(), moreAnswers()
	given["B2"] = checklists.Answer{Result: checklists.Found, Note: "no tag", Photo: "p"}
	in, found, err := complete(f.Lists[0], taken(t, f, given, beforeShift), beforeShift)
	require.NoError(t, err)
	require.Len(t, in.Answers, 6)
	require.Len(t, found, 1, "what somebody saw is a fact")
}

func TestConditionThatCannotBeAnsweredIsRefusedByField(t *testing.T) {
	for field, change := range map[string]func(l *checklists.List){
		"items.B2.when.item":         func(l *checklists.List) { l.Items[1].When.Item = "B9" },
		"items.B2.when.item\x00":     func(l *checklists.List) { l.Items[1].When.Item = "B2" },
		"items.B2.when.item\x00\x00": func(l *checklists.List) { l.Items[1].When = checklists.Condition{Item: "B3", From: number(1)} }, // walked later
		"items.B1.when.item":         func(l *checklists.List) { l.Items[0].When = checklists.Condition{Item: "B2", Result: checklists.OK} },
		"items.B2.when.item\x01":     func(l *checklists.List) { l.Items[0].NotFitted = true },
		"items.B2.when.item\x02":     func(l *checklists.List) { l.Items[0].State = checklists.Running },
		"items.B2.when.choice":       func(l *checklists.List) { l.Items[1].When.Choice = "a third chain" },
		"items.B2.when.result":       func(l *checklists.List) { l.Items[1].When.Result = checklists.OK },
		"items.B6.when.result":       func(l *checklists.List) { l.Items[5].When.Result = "fine" },
		"items.B7.when.result":       func(l *checklists.List) { l.Items[6].When.From = nil },
		"items.B7.when.to":           func(l *checklists.List) { l.Items[6].When.To = number(1) },
		"items.B7.when.from":         func(l *checklists.List) { l.Items[6].When.Item = "B1" },
		"items.B3.meter":             func(l *checklists.List) { l.Items[2].Meter = " " },
		"items.B3.limits.unit":       func(l *checklists.List) { l.Items[2].Limits.Unit = "" },
		"items.B3.limits.high":       func(l *checklists.List) { l.Items[2].Limits.High = number(3) },
		"items.B3.repeat":            func(l *checklists.List) { l.Items[2].Repeat = checklists.Repeat{Per: checklists.PerDog} },
		"items.B4.qualified":         func(l *checklists.List) { l.Items[3].Qualified = "juggling" },
		"items.B5.repeat":            func(l *checklists.List) { l.Items[4].Repeat.Per = "cat" },
		"items.B5.repeat.count":      func(l *checklists.List) { l.Items[4].Repeat.Count = 49 },
		"items.B1.options":           func(l *checklists.List) { l.Items[0].Options = []string{"one"} },
		"items.#2.id":                func(l *checklists.List) { l.Items[1].ID = "B#1" },
	} {
		list := moreKinds()
		change(&list)
		require.NotNil(t, problems(t, list.Validate(aPlant())).For(trimMarks(field)), "%q: %v", field, list.Validate(aPlant()))
	}
}

func trimMarks(field string) string {
	for field[len(field)-1] < ' ' {
		field = field[:len(field)-1]
	}
	return field
}

func TestMeterDoesNotRunBackwards(t *testing.T) {
	f := moreFacts()
	f.Readings = []checklists.Reading{{Meter: "hoist-hours", Value: 412, At: beforeShift.Add(-24 * time.Hour), By: "ben"}, {Meter: "other", Value: 9000, At: beforeShift.Add(-time.Hour)}}
	take := func(a checklists.Answer) (checklists.Answer, error) {
		return checklists.Take(f.Lists[0], "B3", a, sawyer(), f, beforeShift)
	}
	_, err := take(checklists.Answer{Number: number(411.9)})
	require.NotNil(t, problems(t, err).For("number"))
	_, err = take(checklists.Answer{Number: number(3), Replaced: true})
	require.NotNil(t, problems(t, err).For("note"), "a reason is said")
	_, err = take(checklists.Answer{Result: checklists.Found, Note: "glass broken", Number: number(3)})
	require.NotNil(t, problems(t, err).For("number"), "not by calling it a defect either")
	a, err := take(checklists.Answer{Number: number(412)})
	require.NoError(t, err, "standing still is not backwards")
	require.Equal(t, checklists.MeterID("hoist-hours"), a.Meter)
	replaced, err := take(checklists.Answer{Number: number(3), Replaced: true, Note: "new meter fitted"})
	require.NoError(t, err)
	require.True(t, replaced.Replaced)

	given := moreAnswers()
	given["B3"] = checklists.Answer{Number: number(3), Replaced: true, Note: "new meter fitted"}
	in, _, err := complete(f.Lists[0], taken(t, f, given, beforeShift), beforeShift)
	require.NoError(t, err)
	require.Equal(t, []checklists.Reading{{Meter: "hoist-hours", Value: 3, At: beforeShift, By: "ann", Replaced: true}}, checklists.Readings([]checklists.Inspection{in}, nil))
	f.Inspections = []checklists.Inspection{in}
	_, err = checklists.Take(f.Lists[0], "B3", checklists.Answer{Number: number(4)}, sawyer(), f, underWay)
	require.NoError(t, err, "counted on from the new one")
	_, err = checklists.Take(f.Lists[0], "B1", checklists.Answer{Text: "the same chain", Meter: "forged", Number: number(1), Replaced: true, Person: "ben"}, sawyer(), f, underWay)
	require.NoError(t, err)
	kept, err := checklists.Take(f.Lists[0], "B1", checklists.Answer{Text: "the same chain", Meter: "forged", Number: number(1), Replaced: true, Person: "ben"}, sawyer(), f, underWay)
	require.NoError(t, err)
	require.Equal(t, checklists.Answer{Item: "B1", Result: checklists.OK, Text: "the same chain", By: "ann", At: underWay}, kept, "what belongs to another kind is dropped")
}

func TestWhatTheNewKindsLackIsNamedByField(t *testing.T) {
	f := moreFacts()
	ok := func(change func(*checklists.Answer)) checklists.Answer {
		a := checklists.Answer{Result: checklists.OK}
		change(&a)
		return a
	}
	for _, tc := range []struct {
		item  checklists.ItemID
		a     checklists.Answer
		field string
	}{
		{"B1", ok(func(*checklists.Answer) {}), "text"},
		{"B1", ok(func(a *checklists.Answer) { a.Text = "a third chain" }), "text"},
		{"B2", ok(func(*checklists.Answer) {}), "photo"},
		{"B2", checklists.Answer{Result: checklists.Found, Note: "gone"}, "photo"},
		{"B3", ok(func(*checklists.Answer) {}), "number"},
		{"B3", checklists.Answer{Number: number(100_001)}, "number"},
		{"B4", ok(func(*checklists.Answer) {}), "person"},
		{"B4", ok(func(a *checklists.Answer) { a.Person = "nobody" }), "person"},
		{"B4", ok(func(a *checklists.Answer) { a.Person = "ann" }), "person"}, // of the crew, not qualified
		{"B4", ok(func(a *checklists.Answer) { a.Person = "ray" }), "person"}, // a reader
		{"B4", ok(func(a *checklists.Answer) { a.Person = "lou" }), "person"}, // left
	} {
		_, err := checklists.Take(f.Lists[0], tc.item, tc.a, sawyer(), f, beforeShift)
		require.NotNil(t, problems(t, err).For(tc.field), "%+v", tc)
	}
	f.People = nil
	_, err := checklists.Take(f.Lists[0], "B4", checklists.Answer{Result: checklists.OK, Person: "ben"}, sawyer(), f, beforeShift)
	require.NotNil(t, problems(t, err).For("person"), "a crew nobody knows has nobody in it")
}

// However conditions hang together and whatever is answered: a stop item that is
// neither answered nor told to be unneeded by answers that tell holds.
func TestNoConditionEverFreesAMachineByLackOfAnAnswer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := moreFacts()
		list := f.Lists[0]
		for n := range list.Items { // conditions on any item, sound or not
			list.Items[n].When = checklists.Condition{}
			if rapid.Bool().Draw(t, "condition") {
				list.Items[n].When = checklists.Condition{Item: list.Items[rapid.IntRange(0, len(list.Items)-1).Draw(t, "on")].ID,
					Result: rapid.SampledFrom([]checklists.Result{checklists.OK, checklists.Found, checklists.NotChecked}).Draw(t, "result")}
			}
		}
		given := map[checklists.ItemID]checklists.Answer{}
		for _, item := range list.Asks() {
			if a := (checklists.Answer{Item: item.ID, Result: rapid.SampledFrom([]checklists.Result{"", checklists.OK, checklists.Found, checklists.NotChecked}).Draw(t, string(item.ID))}); a.Result != "" {
				given[item.ID] = a
			}
		}
		for _, item := range list.Asks() {
			if list.Askings(given)[item.ID] != checklists.NotAsked {
				continue
			}
			earlier, _ := list.Item(item.When.Item)
			told := false
			for id, a := range given {
				of, _ := list.Item(id)
				sameNth := item.Nth == 0 || of.Nth == 0 || of.Nth == item.Nth || of.Repeat.Per != item.Repeat.Per
				told = told || (id == earlier.ID || sameNth && string(id[:2]) == string(earlier.ID)) && a.Result != item.When.Result
			}
			told = told || list.Askings(given)[earlier.ID] == checklists.NotAsked || list.Askings(given)[earlier.ID+"#1"] == checklists.NotAsked
			require.True(t, told, "%s isn't asked, and nothing says so", item.ID)
		}
		require.Empty(t, func() (dropped []checklists.ItemID) {
			for id, asked := range list.Askings(nil) {
				if asked == checklists.NotAsked {
					dropped = append(dropped, id)
				}
			}
			return dropped
		}(), "with nothing answered nothing is dropped")
	})
}
