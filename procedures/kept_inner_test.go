package procedures

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A step keeps its place when it is changed, goes behind the last of its stage when
// it is new or comes from another, and the draft it was taken from stays as it was.
func TestStepGoesToItsPlace(t *testing.T) {
	p := Procedure{Devices: []Device{{ID: "d"}}, Energies: []Energy{{ID: "e"}}}
	for _, s := range []struct {
		id    StepID
		stage Stage
	}{{"a", Prepare}, {"b", Isolate}, {"c", Isolate}, {"d", Verify}, {"e", NotifyRestored}} {
		p.Steps = append(p.Steps, Step{ID: s.id, Stage: s.stage, Text: "Do it.", Proof: Tick, Clause: "c"})
	}
	before := slices.Clone(p.Steps)
	said := func(p Procedure, err error) string {
		require.NoError(t, err)
		var all []string
		for _, s := range p.Steps {
			all = append(all, string(s.ID))
		}
		return strings.Join(all, "")
	}
	keep := func(id StepID, stage Stage) (Procedure, error) {
		return p.KeepStep(Step{ID: id, Stage: stage, Text: " Anew. ", Proof: Tick, Clause: "c"})
	}
	for want, tc := range map[string]struct {
		id    StepID
		stage Stage
	}{
		"abcde": {"a", Prepare}, "acbde": {"b", Relieve}, "abcdxe": {"x", Verify}, "abcdex": {"x", NotifyRestored}, "abcxde": {"x", Apply},
		"axbcde": {"x", Notify}, "bcdae": {"a", InspectArea}, "acdbe": {"b", Verify}, "adbce": {"d", Prepare},
	} {
		got, err := keep(tc.id, tc.stage)
		require.Equal(t, want, said(got, err))
		s, _ := got.step(tc.id)
		require.Equal(t, Step{ID: tc.id, Stage: tc.stage, Text: "Anew.", Proof: Tick, Clause: "c"}, s)
		require.Equal(t, before, p.Steps, "the draft it came from")
	}
	move := func(id StepID, by int) string { return said(p.MoveStep(id, by)) }
	p.Steps = append(p.Steps[:3:3], append([]Step{{ID: "x", Stage: Isolate}}, p.Steps[3:]...)...)
	before = slices.Clone(p.Steps)
	for want, tc := range map[string][]any{"abcxde": {"b", 0}, "acbxde": {"b", 1}, "acxbde": {"b", 2}, "abxcde": {"x", -1}, "axbcde": {"x", -2}} {
		require.Equal(t, want, move(StepID(tc[0].(string)), tc[1].(int)))
		require.Equal(t, before, p.Steps)
	}
	require.Equal(t, "acxbde", move("b", 3), "no further than its stage")
	require.Equal(t, "abcxde", move("a", -1))
	require.Equal(t, "abcxde", move("e", 1))
	dropped, err := p.DropStep("a")
	require.Equal(t, "bcxde", said(dropped, err))
	require.Equal(t, before, p.Steps)
}

// What is changed of a plant stands in the plant that is given back, in its place,
// and nothing of the one it came from.
func TestWhatIsKeptOfAPlantStandsInItsPlace(t *testing.T) {
	plant := StarterPlant(registerAnswers("electric"))
	find := func(p Plant) Equipment { e, _ := p.Find("hoist"); return e }
	was := find(plant)
	for i, e := range was.Energies {
		e.Source, e.Stored, e.Relief = "again", true, "wait"
		changed, err := plant.KeepEnergy("hoist", e)
		require.NoError(t, err)
		require.Len(t, find(changed).Energies, len(was.Energies))
		require.Equal(t, "again", find(changed).Energies[i].Source)
	}
	for i, d := range was.Devices {
		d.Label = "again"
		changed, err := plant.KeepDevice("hoist", d)
		require.NoError(t, err)
		require.Len(t, find(changed).Devices, len(was.Devices))
		require.Equal(t, "again", find(changed).Devices[i].Label)
	}
	added, err := plant.KeepEnergy("hoist", goodEnergy(func(*Energy) {}))
	require.NoError(t, err)
	require.Equal(t, append(slices.Clone(was.Energies), goodEnergy(func(*Energy) {})), find(added).Energies)
	require.True(t, added.Holds("hoist", "edger-power"))
	require.False(t, added.Holds("carriage", "edger-power"))
	require.False(t, added.Holds("", "nothing"))
	require.False(t, added.Holds("hoist", "nothing"))
	withDevice, err := added.KeepDevice("hoist", goodDevice(func(d *Device) { d.Cuts = []EnergyID{"edger-power", "hoist-electric"} }))
	require.NoError(t, err)
	require.Len(t, find(withDevice).Devices, len(was.Devices)+1)
	less, err := withDevice.DropEnergy("edger-power")
	require.NoError(t, err)
	require.Equal(t, was.Energies, find(less).Energies)
	require.Equal(t, []EnergyID{"hoist-electric"}, find(less).Devices[len(was.Devices)].Cuts)
	require.Len(t, find(withDevice).Devices[len(was.Devices)].Cuts, 2, "the one it came from")
	gone, err := less.DropDevice("edger-switch")
	require.NoError(t, err)
	require.Equal(t, was, find(gone))
	require.Equal(t, was, find(plant))
	_, err = plant.DropEnergy("none")
	require.Equal(t, []string{"energy"}, fields(err))
	_, err = plant.DropDevice("none")
	require.Equal(t, []string{"device"}, fields(err))

	piece := Equipment{ID: "edger", PartOf: "site", Kind: OffBearing, Name: " Edger "}
	more, err := plant.Added(piece)
	require.NoError(t, err)
	require.Equal(t, "Edger", more[len(plant)].Name)
	for field, change := range map[string]func(*Equipment){
		"name": func(e *Equipment) { e.Name = strings.Repeat("x", 201) }, "kind": func(e *Equipment) { e.Kind = Site }, "part_of": func(e *Equipment) { e.PartOf = "none" },
	} {
		bad := piece
		change(&bad)
		got, err := plant.Added(bad)
		require.Equal(t, []string{field}, fields(err))
		require.Equal(t, plant, got)
	}
	for _, bad := range []string{"", " "} {
		piece.Name = bad
		require.Equal(t, []string{"name"}, fields(second(plant.Added(piece))))
	}
	piece.Name, piece.Kind = strings.Repeat("x", 200), "unknown"
	require.Equal(t, []string{"kind"}, fields(second(plant.Added(piece))))
	piece.Kind = OffBearing
	require.NoError(t, second(plant.Added(piece)))
	for id, why := range map[EquipmentID]string{"site": "The mill itself can't be removed.", "carriage": "It has parts", "off-bearing": ""} {
		_, err := plant.Removed(id)
		if why == "" {
			require.NoError(t, err)
			continue
		}
		require.ErrorContains(t, err, why)
	}
	linked, err := plant.Added(Equipment{ID: "pump", PartOf: "site", Kind: Supply, Name: "Pump", Links: []Link{{Supplies, "off-bearing"}}})
	require.NoError(t, err)
	require.ErrorContains(t, second(linked.Removed("off-bearing")), "Pump acts on it")
	require.Equal(t, []string{"piece"}, fields(second(plant.Removed("none"))))
	require.Equal(t, []string{"piece"}, fields(second(plant.Changed("none", Particulars{}))))
	saw, _ := plant.Find("head-saw")
	w := saw.Particulars()
	w.Devices["saw-pin"], w.Devices["saw-disconnect"] = Fitting{Marking{Label: "Pin"}, false}, Fitting{Marking{Label: "Switch"}, true}
	require.NoError(t, second(plant.Changed("head-saw", w)), "two with no number painted on them")
	for _, number := range []int{1, 2, 99} {
		w.Devices["saw-pin"], w.Devices["saw-disconnect"] = Fitting{Marking{Label: "Pin", Number: number}, false}, Fitting{Marking{Label: "Switch", Number: number}, true}
		require.NotEmpty(t, fields(second(plant.Changed("head-saw", w))), "%d twice", number)
	}
}

// A plant is refused with each gap by its name.
func TestEachGapOfAPlantIsNamed(t *testing.T) {
	good := func() Plant {
		return Plant{{ID: "site", Kind: Site, Name: "Mill"},
			{ID: "a", PartOf: "site", Kind: HeadSaw, Name: "A", Energies: []Energy{{ID: "e", Kind: Rotation}}, Devices: []Device{{ID: "d", Kind: Block, Cuts: []EnergyID{"e"}}}, Links: []Link{{Drives, "b"}}},
			{ID: "b", PartOf: "a", Kind: Carriage, Name: "B"}}
	}
	require.NoError(t, good().Validate())
	require.NoError(t, good()[:1].Validate(), "a mill with nothing in it yet")
	for name, tc := range map[string]struct {
		change func(Plant) Plant
		fields []string
	}{
		"none":             {func(Plant) Plant { return nil }, []string{"site"}},
		"site not first":   {func(p Plant) Plant { return Plant{p[1], p[0], p[2]} }, []string{"site", "a", "site"}},
		"site part":        {func(p Plant) Plant { p[0].PartOf = "a"; return p }, []string{"site"}},
		"no energy id":     {func(p Plant) Plant { p[1].Energies = append(p[1].Energies, Energy{Kind: Shaft}); return p }, []string{"a energy "}},
		"energy twice":     {func(p Plant) Plant { p[2].Energies = p[1].Energies; return p }, []string{"b energy e"}},
		"energy kind":      {func(p Plant) Plant { p[1].Energies[0].Kind = "luck"; return p }, []string{"a energy e"}},
		"coast":            {func(p Plant) Plant { p[1].Energies[0].Coast = -1; return p }, []string{"a energy e"}},
		"piece twice":      {func(p Plant) Plant { p[2].ID, p[1].Links = "a", nil; return p }, []string{"a"}},
		"no name":          {func(p Plant) Plant { p[2].Name = " "; return p }, []string{"b"}},
		"piece kind":       {func(p Plant) Plant { p[2].Kind = "x"; return p }, []string{"b"}},
		"device twice":     {func(p Plant) Plant { p[2].Devices = p[1].Devices; return p }, []string{"b device d"}},
		"no device id":     {func(p Plant) Plant { p[1].Devices[0].ID = ""; return p }, []string{"a device "}},
		"device kind":      {func(p Plant) Plant { p[1].Devices[0].Kind = "stop"; return p }, []string{"a device d"}},
		"cuts nothing":     {func(p Plant) Plant { p[1].Devices[0].Cuts = nil; return p }, []string{"a device d"}},
		"cuts unknown":     {func(p Plant) Plant { p[1].Devices[0].Cuts = []EnergyID{"e", "x"}; return p }, []string{"a device d"}},
		"part of nothing":  {func(p Plant) Plant { p[1].PartOf = "x"; return p }, []string{"a", "b"}},
		"parts in a ring":  {func(p Plant) Plant { p[1].PartOf = "b"; return p }, []string{"a", "b"}},
		"links to nothing": {func(p Plant) Plant { p[1].Links[0].To = "x"; return p }, []string{"a"}},
		"links to site":    {func(p Plant) Plant { p[1].Links[0].To = "site"; return p }, []string{"a"}},
		"link kind":        {func(p Plant) Plant { p[1].Links[0].Kind = "x"; return p }, []string{"a"}},
		"drives itself":    {func(p Plant) Plant { p[2].Links = []Link{{Drives, "a"}}; return p }, []string{"a", "b"}},
		"supplies itself":  {func(p Plant) Plant { p[1].Links[0] = Link{Supplies, "a"}; return p }, []string{"a"}},
	} {
		require.Equal(t, tc.fields, fields(tc.change(good()).Validate()), name)
	}
	ring := good()
	ring[2].Links = []Link{{Supplies, "a"}}
	require.NoError(t, ring.Validate(), "what it drives may supply it")
	deep := Plant{{ID: "site", Kind: Site, Name: "Mill"}}
	for i, id := range []EquipmentID{"a", "b", "c"} {
		deep = append(deep, Equipment{ID: id, PartOf: deep[i].ID, Kind: Supply, Name: "x"})
	}
	require.NoError(t, deep.Validate(), "part of a part of a part")
	require.Equal(t, []EquipmentID{"a"}, deep.whole("b"))
	require.Empty(t, deep.whole("a"), "never the site")
	require.Empty(t, deep.whole("none"))
}

// A day and a moment later: what a person may do, and when it is said that it ends.
func TestWhatIsKeptOfAPersonCounts(t *testing.T) {
	for name, tc := range map[string]struct {
		p     Person
		field []string
	}{
		"deputy":            {Person{Name: "Jo", Role: Operator, Deputy: true}, nil},
		"supervisor deputy": {Person{Name: "Jo", Role: Supervisor, Deputy: true}, []string{"deputy"}},
		"reader":            {Person{Name: "Jo", Role: Reader, Authorized: true}, []string{"authorized"}},
		"authorized":        {Person{Name: "Jo", Role: Supervisor, Authorized: true}, nil},
		"no name":           {Person{Name: " ", Role: Operator}, []string{"name"}},
		"from only":         {Person{Name: "Jo", Role: Operator, DeputyFrom: noon}, nil},
		"until only":        {Person{Name: "Jo", Role: Operator, DeputyUntil: noon}, nil},
		"same day":          {Person{Name: "Jo", Role: Operator, DeputyFrom: noon, DeputyUntil: noon}, []string{"deputy_until"}},
		"next moment":       {Person{Name: "Jo", Role: Operator, DeputyFrom: noon, DeputyUntil: noon.Add(1)}, nil},
	} {
		require.Equal(t, tc.field, fields(tc.p.Validate()), name)
	}
	kept := Person{DeputyFrom: noon, DeputyUntil: noon.Add(1), ElectricalUntil: noon.Add(2), LiftingUntil: noon.Add(3), ElectricalNote: "card", LiftingNote: "course", Minor: true, MinorUntil: noon.Add(4)}
	with := Person{ID: "jo", Name: "Jo", Role: Operator, Deputy: true}.With(kept)
	kept.ID, kept.Name, kept.Role, kept.Deputy = "jo", "Jo", Operator, true
	require.Equal(t, kept, with)
	require.Equal(t, 30*24*time.Hour, lapseAhead)
	p := Person{QualifiedElectrical: true, ElectricalUntil: noon.Add(lapseAhead)}
	require.Len(t, p.Lapses(noon), 1)
	require.Empty(t, p.Lapses(noon.Add(-1)), "a moment more than a month ahead")
	require.Equal(t, []bool{false, true}, []bool{p.Lapses(noon)[0].Over, p.Lapses(p.ElectricalUntil)[0].Over})
	p.Left = true
	require.Empty(t, p.Lapses(noon))
	require.Empty(t, Person{ElectricalUntil: noon}.Lapses(noon), "who never was")
	require.Empty(t, Person{QualifiedElectrical: true}.Lapses(noon))
	dep := depOp
	young := Person{Role: Operator, Minor: true, MinorUntil: noon}
	require.NoError(t, dep.MayKeep(Person{}, young, true), "that somebody is under 18 takes and gives nothing")
	require.Error(t, dep.MayKeep(Person{}, Person{Role: Operator, Authorized: true}, false))
	require.NoError(t, dep.MayKeep(benOp, benOp, false))
	other := benOp
	other.ElectricalUntil = noon.In(time.FixedZone("", 3600))
	here := benOp
	here.ElectricalUntil = noon
	require.NoError(t, dep.MayKeep(here, other, false), "the same moment")
	other.ElectricalUntil = noon.Add(1)
	require.Error(t, dep.MayKeep(here, other, false), "a moment later is another")
}

// Two clocks: two minutes apart are told, a moment less isn't; a minute is no
// lateness and a moment more is.
func TestClocksApartAreTold(t *testing.T) {
	require.Equal(t, 2*time.Minute, SkewTold)
	require.Equal(t, time.Minute, LateAfter)
	told := func(skew time.Duration, zone, mill *time.Location) []string {
		var all []string
		for _, s := range (PhoneClock{At: noon, Phone: noon.Add(skew).In(zone), Mill: mill}).Told() {
			all = append(all, s.String())
		}
		return all
	}
	east := time.FixedZone("", 7200)
	require.Equal(t, []string{"phone 2m0s ahead of the server"}, told(SkewTold, time.UTC, nil))
	require.Equal(t, []string{"phone 2m0s behind the server"}, told(-SkewTold, time.UTC, time.UTC))
	require.Empty(t, told(SkewTold-time.Second, time.UTC, time.UTC))
	require.Empty(t, told(time.Second-SkewTold, time.UTC, time.UTC))
	require.Empty(t, told(0, east, nil), "the mill's zone isn't known")
	require.Equal(t, []string{"phone set to the zone +02:00, the mill's was +00:00"}, told(0, east, time.UTC))
	require.Len(t, told(time.Hour, east, time.UTC), 2)
	require.Empty(t, PhoneClock{At: noon}.Told())
	require.Equal(t, 5*time.Second, PhoneClock{At: noon, Phone: noon.Add(5 * time.Second)}.Skew())
	for apart, late := range map[time.Duration]time.Duration{0: 0, time.Minute: 0, -time.Minute: 0, time.Minute + 1: time.Minute + 1, -time.Minute - 1: -time.Minute - 1, time.Hour: time.Hour} {
		require.Equal(t, late, Late(noon.Add(apart), noon))
	}
	require.Zero(t, Late(time.Time{}, noon))
	require.Zero(t, Late(noon, time.Time{}))
	require.True(t, LateSaid(noon.Add(30*time.Second), noon).Empty())
	require.Contains(t, LateSaid(noon.Add(90*time.Second), noon).String(), "entered 1m0s late")
	require.Contains(t, LateSaid(noon.Add(-90*time.Second), noon).String(), "dated 1m0s after its entry")
	require.Contains(t, LateSaid(noon.Add(-2*time.Hour), noon).String(), "dated 2h0m0s after")
}
