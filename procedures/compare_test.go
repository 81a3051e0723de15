package procedures

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// ofFields are the fields in which two procedures differ, with whether each may
// be called a change of words.
func ofFields(before, after Procedure) map[string]ChangeKind {
	found := map[string]ChangeKind{}
	for _, d := range Compare(before, after) {
		found[d.Field] = d.Kind
	}
	return found
}

func changedStep(id StepID, change func(*Step)) func(*Procedure) {
	return func(p *Procedure) { p.Steps = slices.Clone(p.Steps); change(&p.Steps[p.stepAt(id)]) }
}

func changedEnergy(id EnergyID, change func(*Energy)) func(*Procedure) {
	return func(p *Procedure) {
		p.Energies = slices.Clone(p.Energies)
		change(&p.Energies[slices.Index(ids(p.Energies, Energy.id), id)])
	}
}

func changedDevice(id DeviceID, change func(*Device)) func(*Procedure) {
	return func(p *Procedure) {
		p.Devices = slices.Clone(p.Devices)
		change(&p.Devices[slices.Index(ids(p.Devices, Device.id), id)])
	}
}

// structural is every edit of the head saw's procedure that changes what is
// done, with the field it must be found at, written down by hand.
func structural() map[string]func(*Procedure) {
	return map[string]func(*Procedure){
		"id":                 func(p *Procedure) { p.ID = "other" },
		"equipment.hoist":    func(p *Procedure) { p.Equipment = append(slices.Clone(p.Equipment), "hoist") },
		"equipment.head-saw": func(p *Procedure) { p.Equipment = nil },
		"holds.carriage":     func(p *Procedure) { p.Holds = nil },
		"step.more":          func(p *Procedure) { p.Steps = append(slices.Clone(p.Steps), Step{ID: "more", Text: "More."}) },
		"step.saw-try": func(p *Procedure) {
			p.Steps = slices.Delete(slices.Clone(p.Steps), p.stepAt("saw-try"), p.stepAt("saw-try")+1)
		},
		"step.saw-try.stage":   changedStep("saw-try", func(s *Step) { s.Stage = Relieve }),
		"step.saw-try.device":  changedStep("saw-try", func(s *Step) { s.Device = "saw-pin" }),
		"step.saw-try.energy":  changedStep("saw-try", func(s *Step) { s.Energy = "saw-heat" }),
		"step.saw-try.proof":   changedStep("saw-try", func(s *Step) { s.Proof = Tick }),
		"step.saw-try.recheck": changedStep("saw-try", func(s *Step) { s.Recheck = time.Hour }),
		"step.saw-try.photo":   changedStep("saw-try", func(s *Step) { s.AsksPhoto = true }),
		"step.saw-wait.wait":   changedStep("saw-wait", func(s *Step) { s.Wait += time.Second }),
		"step.saw-pin-in.wait": changedStep("saw-pin-in", func(s *Step) { s.Wait -= time.Second }),
		"order.saw-cool": func(p *Procedure) {
			p.Steps = slices.Clone(p.Steps)
			at := p.stepAt("saw-cool")
			s := p.Steps[at]
			p.Steps = slices.Insert(slices.Delete(p.Steps, at, at+1), p.stepAt("saw-wait"), s)
		},
		"energy.new": func(p *Procedure) { p.Energies = append(slices.Clone(p.Energies), Energy{ID: "new", Source: "new"}) },
		"energy.saw-heat": func(p *Procedure) {
			p.Energies = slices.DeleteFunc(slices.Clone(p.Energies), func(e Energy) bool { return e.ID == "saw-heat" })
		},
		"energy.saw-heat.kind":      changedEnergy("saw-heat", func(e *Energy) { e.Kind = Electrical }),
		"energy.saw-heat.stored":    changedEnergy("saw-heat", func(e *Energy) { e.Stored = false }),
		"energy.saw-heat.recheck":   changedEnergy("saw-heat", func(e *Energy) { e.Recheck = time.Hour }),
		"energy.saw-rotation.coast": changedEnergy("saw-rotation", func(e *Energy) { e.Coast = time.Minute }),
		"device.new":                func(p *Procedure) { p.Devices = append(slices.Clone(p.Devices), Device{ID: "new", Label: "new"}) },
		"device.saw-pin": func(p *Procedure) {
			p.Devices = slices.DeleteFunc(slices.Clone(p.Devices), func(d Device) bool { return d.ID == "saw-pin" })
		},
		"authorization":              func(p *Procedure) { p.Authorization += "." },
		"rules":                      func(p *Procedure) { p.Rules += "." },
		"techniques":                 func(p *Procedure) { p.Techniques += "." },
		"step.saw-try.text":          changedStep("saw-try", func(s *Step) { s.Text += "." }),
		"energy.saw-heat.source":     changedEnergy("saw-heat", func(e *Energy) { e.Source += "." }),
		"energy.saw-heat.size":       changedEnergy("saw-heat", func(e *Energy) { e.Magnitude += "." }),
		"energy.saw-heat.relief":     changedEnergy("saw-heat", func(e *Energy) { e.Relief += "." }),
		"energy.saw-heat.zero":       changedEnergy("saw-heat", func(e *Energy) { e.Zero += "." }),
		"device.saw-pin.label":       changedDevice("saw-pin", func(d *Device) { d.Label += "." }),
		"device.saw-pin.place":       changedDevice("saw-pin", func(d *Device) { d.Place += "." }),
		"device.saw-pin.number":      changedDevice("saw-pin", func(d *Device) { d.Number = 42 }),
		"device.saw-pin.kind":        changedDevice("saw-pin", func(d *Device) { d.Kind = PartRemoved }),
		"device.saw-pin.lockable":    changedDevice("saw-pin", func(d *Device) { d.Lockable = true }),
		"device.saw-pin.cuts":        changedDevice("saw-pin", func(d *Device) { d.Cuts = d.Cuts[:1] }),
		"device.saw-disconnect.cuts": changedDevice("saw-disconnect", func(d *Device) { d.Cuts = append(slices.Clone(d.Cuts), "saw-weight") }),
	}
}

// worded is every edit its author may call a change of words.
func worded() map[string]func(*Procedure) {
	return map[string]func(*Procedure){
		"title": func(p *Procedure) { p.Title += "." }, "purpose": func(p *Procedure) { p.Purpose += "." }, "scope": func(p *Procedure) { p.Scope += "." },
		"enforcement":            func(p *Procedure) { p.Enforcement += "." },
		"sources":                func(p *Procedure) { p.Sources = append(slices.Clone(p.Sources), "a book") },
		"step.tell-before.text":  changedStep("tell-before", func(s *Step) { s.Text += "." }),
		"step.saw-try.clause":    changedStep("saw-try", func(s *Step) { s.Clause += "." }),
		"device.saw-pin.photo":   changedDevice("saw-pin", func(d *Device) { d.Photo = "digest" }),
		"device.saw-pin.point":   changedDevice("saw-pin", func(d *Device) { d.Point = Point{0, 1e-9} }),
		"energy.saw-heat.hazard": changedEnergy("saw-heat", func(e *Energy) { e.Hazard += "." }),
	}
}

func compared() Procedure { return starterOf("head-saw", registerAnswers("electric")) }

func TestChangeOfWhatIsDoneIsFoundAsOfSubstance(t *testing.T) {
	for field, edit := range structural() {
		p := compared()
		edit(&p)
		found := ofFields(compared(), p)
		require.Contains(t, found, field)
		require.Equal(t, OfSubstance, found[field], field)
		require.Len(t, found, 1, "and nothing else: %v", found)
		require.Contains(t, ofFields(p, compared()), field, "the other way round too")
	}
}

func TestChangeOfWordsIsLeftToItsAuthor(t *testing.T) {
	for field, edit := range worded() {
		p := compared()
		edit(&p)
		require.Equal(t, map[string]ChangeKind{field: OfWords}, ofFields(compared(), p))
	}
}

// A first photo shows what stood in words before; another one may show another
// place, and one taken away shows nothing any more.
func TestAnotherPhotoIsOfSubstanceAndAFirstOneIsnt(t *testing.T) {
	photo := func(digest string) Procedure {
		p := compared()
		changedDevice("saw-pin", func(d *Device) { d.Photo = digest })(&p)
		return p
	}
	require.Equal(t, map[string]ChangeKind{"device.saw-pin.photo": OfWords}, ofFields(photo(""), photo("one")))
	require.Equal(t, map[string]ChangeKind{"device.saw-pin.photo": OfSubstance}, ofFields(photo("one"), photo("two")))
	require.Equal(t, map[string]ChangeKind{"device.saw-pin.photo": OfSubstance}, ofFields(photo("one"), photo("")))
}

func TestDifferenceShowsBothSides(t *testing.T) {
	p := compared()
	changedStep("saw-wait", func(s *Step) { s.Wait = 2 * time.Minute })(&p)
	d := Compare(compared(), p)[0]
	require.Equal(t, "3m0s", d.Old.String())
	require.Equal(t, "2m0s", d.New.String())
	require.Contains(t, d.What.String(), "wait of: Stay out.")
}

// Whatever says how energy is cut off, locked, let out, proven or given back, what
// is looked over and who is seen clear is of substance, in its text too; that people
// are told in other words isn't.
func TestTextOfAStepOnEnergyIsOfSubstance(t *testing.T) {
	words := map[Stage]bool{Prepare: true, Notify: true, NotifyRestored: true}
	seen := map[Stage]bool{}
	for _, s := range compared().Steps {
		p := compared()
		changedStep(s.ID, func(s *Step) { s.Text = "Press the stop button." })(&p)
		want := OfSubstance
		if words[s.Stage] {
			want = OfWords
		}
		require.Equal(t, map[string]ChangeKind{"step." + string(s.ID) + ".text": want}, ofFields(compared(), p))
		seen[s.Stage] = true
	}
	require.Len(t, seen, 13, "every stage but the work")
}

func TestVersionDiffersFromItselfInNothing(t *testing.T) {
	a := registerAnswers("engine")
	for _, p := range published(a) {
		next := p
		next.Version = 7
		require.Empty(t, Compare(p, next), "a number is no change")
		next.Energies, next.Devices, next.Equipment = slices.Clone(p.Energies), slices.Clone(p.Devices), slices.Clone(p.Equipment)
		slices.Reverse(next.Energies)
		slices.Reverse(next.Devices)
		slices.Reverse(next.Equipment)
		require.Empty(t, Compare(p, next), "nor is the order of a list of things")
	}
	rapid.Check(t, func(t *rapid.T) {
		plant := anyPlant().Draw(t, "plant")
		p, err := plant.DraftProcedure("p", "P", somePieces(t, plant)...)
		require.NoError(t, err)
		require.Empty(t, Compare(p, p))
	})
}

// Whatever is edited besides, what changes the work is of substance.
func TestSubstanceShowsUnderAnyOtherEdit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := compared()
		words := rapid.SliceOfNDistinct(rapid.SampledFrom(keysOf(worded())), 0, 5, rapid.ID).Draw(t, "words")
		for _, field := range words {
			worded()[field](&p)
		}
		require.Len(t, Compare(compared(), p), len(words))
		require.NotContains(t, kinds(Compare(compared(), p)), OfSubstance)
		structural()[rapid.SampledFrom(keysOf(structural())).Draw(t, "substance")](&p)
		require.Contains(t, kinds(Compare(compared(), p)), OfSubstance)
		require.Error(t, Renewal{Said: true, Why: "tidier"}.Validate(Compare(compared(), p)))
	})
}

// Steps moved anywhere are found, however they are shuffled.
func TestShuffledStepsAreFoundMoved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := compared()
		p.Steps = rapid.Permutation(p.Steps).Draw(t, "steps")
		same := slices.Equal(p.Steps, compared().Steps)
		require.Equal(t, same, len(Compare(compared(), p)) == 0)
		require.Less(t, len(Compare(compared(), p)), len(p.Steps))
	})
}

func kinds(all []Difference) []ChangeKind {
	var found []ChangeKind
	for _, d := range all {
		found = append(found, d.Kind)
	}
	return found
}

func keysOf[V any](m map[string]V) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// 29 CFR 1910.147(c)(7)(iii)(A): publishing needs the author's word on whether
// what is done changed.
func TestChangeOfSubstanceIsNeverCalledOneOfWords(t *testing.T) {
	words := []Difference{{Field: "purpose", Kind: OfWords}}
	substance := append(slices.Clone(words), Difference{Field: "step.x", Kind: OfSubstance})
	require.Equal(t, []string{"substance", "why"}, fields(Renewal{}.Validate(words)))
	require.Equal(t, []string{"why"}, fields(Renewal{Said: true}.Validate(words)))
	require.NoError(t, Renewal{Said: true, Why: "clearer"}.Validate(words))
	require.NoError(t, Renewal{Said: true, Substance: true, Why: "the purpose is wider"}.Validate(words), "a text may change what is done")
	require.NoError(t, Renewal{Said: true, Substance: true, Why: "new pin"}.Validate(substance))
	require.Equal(t, Clause("(c)(7)(iii)(A)"), clauseOf(Renewal{Said: true, Why: "clearer"}.Validate(substance)))
	require.ErrorContains(t, Renewal{Said: true, Why: "again"}.Validate(nil), "Nothing differs")
	require.Equal(t, OfSubstance, Difference{}.Kind, "the safe answer")
}

func TestNewestVersionOfSubstanceIsTheOneTrainingCountsFrom(t *testing.T) {
	require.Zero(t, SubstanceVersion(nil))
	require.Equal(t, 1, SubstanceVersion([]Edition{{Version: 1, Wording: true}}), "the first one always")
	require.Equal(t, 3, SubstanceVersion([]Edition{{Version: 4, Wording: true}, {Version: 1}, {Version: 3}, {Version: 2, Wording: true}}))
	require.Equal(t, 4, SubstanceVersion([]Edition{{Version: 1}, {Version: 4}}))
}
