package lift

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Which of the three inspections each kind of part owes, when it was last passed
// and when it comes round, with the words and the source of each.
func TestRoundsOfEachKindOfPart(t *testing.T) {
	day := func(n int) time.Time { return atWork.AddDate(0, 0, n) }
	look := func(every Every, fit bool, n int) Looked {
		return Looked{Link: "part", Every: every, Fit: fit, At: day(n)}
	}
	other, elsewhere := look(EveryYear, true, 5), look(EveryYear, true, 5)
	other.Link, elsewhere.Elsewhere = "another", true
	for name, tc := range map[string]struct {
		kind   Kind
		looked []Looked
		owed   [3]bool
		last   [3]int
	}{
		"hook":                 {HoistHook, nil, [3]bool{false, true, true}, [3]int{0, 0, 0}},
		"beam":                 {Beam, nil, [3]bool{false, true, true}, [3]int{0, 0, 0}},
		"trolley":              {Trolley, nil, [3]bool{false, true, true}, [3]int{0, 0, 0}},
		"hoist":                {Hoist, nil, [3]bool{false, true, true}, [3]int{0, 0, 0}},
		"nobody knows":         {KindUnknown, nil, [3]bool{false, true, true}, [3]int{0, 0, 0}},
		"leg":                  {Leg, nil, [3]bool{false, false, true}, [3]int{0, 0, 0}},
		"yoke":                 {Yoke, nil, [3]bool{false, false, true}, [3]int{0, 0, 0}},
		"end hook":             {EndHook, nil, [3]bool{false, false, true}, [3]int{0, 0, 0}},
		"fitting":              {Fitting, nil, [3]bool{false, false, true}, [3]int{0, 0, 0}},
		"asked weekly":         {Leg, []Looked{look(EveryWeek, true, 5)}, [3]bool{true, false, true}, [3]int{5, 0, 0}},
		"asked monthly":        {Leg, []Looked{look(EveryMonth, true, 5)}, [3]bool{false, true, true}, [3]int{5, 5, 0}},
		"yearly does for all":  {Leg, []Looked{look(EveryWeek, true, 2), look(EveryMonth, true, 3), look(EveryYear, true, 5)}, [3]bool{true, true, true}, [3]int{5, 5, 5}},
		"in any order":         {Leg, []Looked{look(EveryYear, true, 5), look(EveryMonth, true, 3), look(EveryWeek, true, 2)}, [3]bool{true, true, true}, [3]int{5, 5, 5}},
		"not fit":              {Leg, []Looked{look(EveryMonth, false, 5)}, [3]bool{false, true, true}, [3]int{0, 0, 0}},
		"before its own":       {Leg, []Looked{look(EveryYear, true, -5)}, [3]bool{false, false, true}, [3]int{0, 0, 0}},
		"before a shift":       {Leg, []Looked{look(EveryShift, true, 5)}, [3]bool{false, false, true}, [3]int{0, 0, 0}},
		"past what is known":   {Leg, []Looked{look(EveryYear+1, true, 5)}, [3]bool{false, false, true}, [3]int{0, 0, 0}},
		"another or elsewhere": {Leg, []Looked{other, elsewhere}, [3]bool{false, false, true}, [3]int{0, 0, 0}},
	} {
		l := Link{ID: "part", Kind: tc.kind, Inspected: day(0), InspectionDue: day(100)}
		for i, one := range l.Rounds(tc.looked) {
			every := EveryWeek + Every(i)
			require.Equal(t, every, one.Every)
			require.Equal(t, tc.owed[i], one.Owed, "%s %v", name, every)
			require.Equal(t, day(tc.last[i]), one.Last, "%s %v", name, every)
			due := time.Time{}
			switch {
			case every == EveryYear:
				due = day(100) // as the rig has it, for the inspection that passed later too
				if tc.last[2] > 0 {
					due = day(105)
				}
			case tc.owed[i]:
				due = every.After(day(tc.last[i]))
			}
			require.Equal(t, due, one.Due, "%s %v", name, every)
		}
	}
	told := func(kind Kind, looked ...Looked) (all [3]string) {
		l := Link{ID: "part", Kind: kind, Inspected: day(0)}
		for i, one := range l.Rounds(looked) {
			all[i] = one.Said.String() + " | " + one.Source
		}
		return all
	}
	require.Equal(t, [3]string{"none owed: the look before each shift is more often | own choice", "owed each month | 29 CFR 1910.179(j)(1)(ii)(a), (j)(2)", "owed each year, or sooner where the rig says so | 29 CFR 1910.179(j)(3)"}, told(Hoist))
	require.Equal(t, [3]string{"none owed: the look before each shift is more often | own choice", "none owed: looked at before each shift, inspected each year | 29 CFR 1910.184(d), (e)(3)(i)", "owed each year, or sooner where the rig says so | 29 CFR 1910.184(e)(3)(i)"}, told(Leg))
	require.Equal(t, [3]string{"owed again, as it was entered before | own rule", "owed again, as it was entered before | own rule", "owed each year, or sooner where the rig says so | own choice"}, told(Yoke, look(EveryWeek, false, 1), look(EveryMonth, false, 1)))
	nameless := Link{Kind: Leg, Inspected: day(0)}
	require.Equal(t, day(0), nameless.Rounds([]Looked{{Every: EveryYear, Fit: true, At: day(5)}})[2].Last)
	unknown := Link{ID: "part", Kind: Hoist}
	require.Zero(t, unknown.Rounds(nil)[1].Due)
}

// A yearly inspection that passed later renews the date, as often as the rig has it.
func TestRenewedDateKeepsTheRigsOwnInterval(t *testing.T) {
	day := func(n int) time.Time { return atWork.AddDate(0, 0, n) }
	yearly := Looked{Link: "part", Every: EveryYear, Fit: true, At: day(50)}
	for name, tc := range map[string]struct {
		link   Link
		looked Looked
		last   time.Time
		due    time.Time
	}{
		"a year":      {Link{ID: "part", Inspected: day(0), InspectionDue: day(365)}, yearly, day(50), day(415)},
		"longer":      {Link{ID: "part", Inspected: day(0), InspectionDue: day(800)}, yearly, day(50), EveryYear.After(day(50))},
		"quarterly":   {Link{ID: "part", Inspected: day(0), InspectionDue: day(90)}, yearly, day(50), day(140)},
		"never dated": {Link{ID: "part"}, yearly, day(50), EveryYear.After(day(50))},
		"no due date": {Link{ID: "part", Inspected: day(0)}, yearly, day(50), EveryYear.After(day(50))},
		"same moment": {Link{ID: "part", Inspected: day(50), InspectionDue: day(90)}, yearly, day(50), day(90)},
		"nameless":    {Link{Inspected: day(0), InspectionDue: day(90)}, Looked{Every: EveryYear, Fit: true, At: day(50)}, day(0), day(90)},
	} {
		l := tc.link
		l.renew([]Looked{tc.looked})
		require.Equal(t, tc.last, l.Inspected, name)
		require.Equal(t, tc.due, l.InspectionDue, name)
	}
	for name, one := range map[string]Looked{"other": {Link: "another", Every: EveryYear, Fit: true, At: day(50)}, "not fit": {Link: "part", Every: EveryYear, At: day(50)},
		"elsewhere": {Link: "part", Every: EveryYear, Fit: true, Elsewhere: true, At: day(50)}, "monthly": {Link: "part", Every: EveryMonth, Fit: true, At: day(50)}} {
		l := Link{ID: "part", Inspected: day(0), InspectionDue: day(90)}
		l.renew([]Looked{one})
		require.Equal(t, day(0), l.Inspected, name)
		require.Equal(t, day(90), l.InspectionDue, name)
	}
	// The sooner of a monthly round and the date; unknown stays unknown.
	r := Rig{Links: []Link{{ID: "part", Kind: Hoist, State: InService, Inspected: day(0), InspectionDue: day(365)}, {ID: "other", Kind: Leg, State: StateUnknown}}}
	by := r.Registered([]Looked{{Link: "other", Every: EveryYear, At: day(1)}}, nil)
	require.Equal(t, day(0).AddDate(0, 1, 0), by.Links[0].InspectionDue)
	require.Equal(t, day(365), r.Links[0].InspectionDue)
	require.Zero(t, by.Links[1].InspectionDue)
	require.Equal(t, StateUnknown, by.Links[1].State, "what isn't known to be in service isn't made so")
}

// The same steel is told by its tag on a part of the same kind, or by its id in a
// rig begun from the other; what was kept on purpose passes there as here.
func TestSameSteelIsToldByTagOrByDescent(t *testing.T) {
	part := func(id, tag string, kind Kind) Link { return Link{ID: id, Tag: tag, Kind: kind} }
	rig := func(id, begun string, links ...Link) Rig { return Rig{ID: id, Begun: begun, Links: links} }
	mine := rig("one", "", part("hook", "A 1", HoistHook))
	for name, tc := range map[string]struct {
		all  []Version
		want []Shared
	}{
		"itself":                 {[]Version{{mine, true}}, nil},
		"like tag":               {[]Version{{rig("two", "", part("h2", " a  1 ", HoistHook)), true}}, []Shared{{"hook", "two", "h2", false}}},
		"like tag, long ago":     {[]Version{{rig("two", "", part("h2", "A 1", HoistHook)), false}}, []Shared{{"hook", "two", "h2", false}}},
		"like tag, another kind": {[]Version{{rig("two", "", part("h2", "A 1", EndHook)), true}}, nil},
		"same id":                {[]Version{{rig("two", "", part("hook", "", HoistHook)), true}}, []Shared{{"hook", "two", "hook", false}}},
		"same id, long ago":      {[]Version{{rig("two", "", part("hook", "", HoistHook)), false}}, nil},
		"same id, other tag":     {[]Version{{rig("two", "", part("hook", "B", HoistHook)), true}}, nil},
		"same id, other kind":    {[]Version{{rig("two", "", part("hook", "", Hoist)), true}}, nil},
		"begun from it":          {[]Version{{rig("two", "one", part("hook", "", HoistHook)), true}}, []Shared{{"hook", "two", "hook", true}}},
		"begun, other tag":       {[]Version{{rig("two", "one", part("hook", "B", HoistHook)), true}}, []Shared{{"hook", "two", "hook", false}}},
		"begun, long ago":        {[]Version{{rig("two", "one", part("hook", "", HoistHook)), false}}, []Shared{{"hook", "two", "hook", false}}},
		"first old, then kept":   {[]Version{{rig("two", "one", part("hook", "", HoistHook)), false}, {rig("two", "one", part("hook", "", HoistHook)), true}}, []Shared{{"hook", "two", "hook", true}}},
		"first kept, then old":   {[]Version{{rig("two", "one", part("hook", "", HoistHook)), true}, {rig("two", "one", part("hook", "B", HoistHook)), true}}, []Shared{{"hook", "two", "hook", true}}},
		"no id":                  {[]Version{{rig("two", "one", part("", "A 1", HoistHook)), true}}, nil},
		"own, another id":        {[]Version{{rig("one", "", part("h0", "A 1", HoistHook)), false}}, []Shared{{"hook", "one", "h0", false}}},
		"own, untagged":          {[]Version{{rig("one", "", part("h0", "", HoistHook)), false}}, nil},
	} {
		require.Equal(t, tc.want, mine.Shared(tc.all), name)
	}
	bare := rig("one", "", part("hook", "", HoistHook))
	old := rig("one", "", part("h0", "", HoistHook))
	require.Equal(t, []Shared{{"hook", "one", "h0", false}}, bare.Shared([]Version{{old, false}, {bare, true}}), "in the place of one without a tag")
	require.Empty(t, bare.Shared([]Version{{rig("one", "", part("h0", "", EndHook)), false}}))
	both := rig("one", "", part("hook", "", HoistHook), part("h0", "", HoistHook))
	require.Empty(t, both.Shared([]Version{{old, false}}), "the other is still there")
	later := []Version{{old, false}, {rig("one", "", part("h0", "B", HoistHook)), false}}
	require.Empty(t, bare.Shared(later), "as it stood last it had a tag")
	// Descent over a third rig, and in a circle, which ends.
	third := []Version{{rig("two", "root", part("hook", "", HoistHook)), true}, {rig("root", ""), true}}
	child := rig("one", "root", part("hook", "", HoistHook))
	require.Equal(t, []Shared{{"hook", "two", "hook", true}}, child.Shared(third))
	grandchild := rig("three", "two", part("hook", "", HoistHook))
	require.Equal(t, []Shared{{"hook", "two", "hook", true}}, grandchild.Shared(third))
	circle := rig("one", "two", part("hook", "", HoistHook))
	require.NotPanics(t, func() { circle.Shared([]Version{{rig("two", "one", part("hook", "", HoistHook)), true}}) })
}

// What the register knows of another entry of the same steel is told of this one.
func TestRegisterGathersWhatIsKnownOfTheSteel(t *testing.T) {
	part := func(id, tag string) Link {
		return Link{ID: id, Tag: tag, Kind: HoistHook, State: InService}
	}
	mine := Rig{ID: "one", Links: []Link{part("hook", "A")}}
	kept := Rig{ID: "two", Begun: "one", Links: []Link{part("hook", "A")}}
	alike := Rig{ID: "six", Links: []Link{part("h6", "A")}}
	g := Register{
		Versions: []Version{{mine, true}, {kept, true}, {alike, true}},
		Looked:   []Looked{{Rig: "one", Link: "hook", Every: EveryWeek}, {Rig: "two", Link: "hook", Every: EveryMonth}, {Rig: "six", Link: "h6", Every: EveryYear}, {Rig: "six", Link: "x"}, {Rig: "nine", Link: "hook"}},
		Taken:    []Taken{{Rig: "one", Link: "hook", Value: 1}, {Rig: "two", Link: "hook", Value: 2}, {Rig: "six", Link: "h6", Value: 6}, {Rig: "nine", Link: "hook"}},
		Uses:     map[string][]time.Time{"one": {atWork}, "two": {atWork.Add(1)}, "six": {atWork.Add(2)}},
	}
	looked, taken := g.Of(&mine)
	require.Equal(t, []Looked{{Rig: "one", Link: "hook", Every: EveryWeek}, {Rig: "one", Link: "hook", Every: EveryMonth}, {Rig: "one", Link: "hook", Every: EveryYear, Elsewhere: true}}, looked)
	require.Equal(t, []Taken{{Rig: "one", Link: "hook", Value: 1}, {Rig: "one", Link: "hook", Value: 2}, {Rig: "one", Link: "hook", Value: 6, Elsewhere: true}}, taken)
	shared := mine.Shared(g.Versions)
	require.Equal(t, []time.Time{atWork, atWork.Add(1)}, mine.uses(g, shared, "hook", true))
	require.Equal(t, []time.Time{atWork, atWork.Add(1), atWork.Add(2)}, mine.uses(g, shared, "hook", false))
	require.Equal(t, []time.Time{atWork}, mine.uses(g, shared, "yoke", false))
	// Destroyed in any version, out of service in the one in force.
	for name, tc := range map[string]struct {
		was     State
		inForce bool
		is      State
		want    State
	}{
		"destroyed":             {Destroyed, true, InService, Destroyed},
		"destroyed long ago":    {Destroyed, false, InService, Destroyed},
		"out":                   {OutOfService, true, InService, OutOfService},
		"out long ago":          {OutOfService, false, InService, InService},
		"out, here unknown":     {OutOfService, true, StateUnknown, StateUnknown},
		"destroyed, here out":   {Destroyed, true, OutOfService, Destroyed},
		"out, here destroyed":   {OutOfService, true, Destroyed, Destroyed},
		"in service, here out":  {InService, true, OutOfService, OutOfService},
		"unknown, here working": {StateUnknown, true, InService, InService},
	} {
		other := alike
		other.Links = []Link{part("h6", "A")}
		other.Links[0].State = tc.was
		r := mine
		r.Links = []Link{part("hook", "A"), part("spare", "B")}
		r.Links[0].State = tc.is
		r.standing([]Version{{other, tc.inForce}, {kept, true}}, r.Shared([]Version{{other, tc.inForce}}))
		require.Equal(t, tc.want, r.Links[0].State, name)
		require.Equal(t, InService, r.Links[1].State, name)
	}
}
