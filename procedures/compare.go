package procedures

import (
	"slices"
	"strconv"
	"time"

	"stillsaw/procedures/plain"
)

// ChangeKind says whether a change of a procedure may be called one of words.
type ChangeKind int

const (
	// OfSubstance changes what is done; nobody may call it a change of words.
	OfSubstance ChangeKind = iota
	// OfWords changes a text that says nothing of what is worked, how, how much or
	// where: its author says whether what is done changes with it.
	OfWords
)

// Difference is one thing in which two versions of a procedure differ.
type Difference struct {
	Field    string         // "purpose", or "step.", "energy." or "device." and the id, then "." and what of it; "order" for a step moved
	What     plain.Sentence // the same in words
	Old, New plain.Sentence // empty where there was none, or is none now
	Kind     ChangeKind
}

// Compare returns every difference between two versions, for showing them side
// by side: first the texts, then equipment, energies, devices and steps. Their
// version numbers don't count, nor does the order in which energies, devices
// and equipment are listed. The order of steps does.
func Compare(before, after Procedure) []Difference {
	return compareBy(comparisons(), versions{before, after})
}

// versions is two procedures side by side.
type versions struct{ before, after Procedure }

func compareBy(rules []rule[versions, []Difference], v versions) []Difference {
	var all []Difference
	for _, r := range rules {
		all = append(all, r.ask(v)...)
	}
	return all
}

func comparisons() []rule[versions, []Difference] {
	return []rule[versions, []Difference]{
		{"texts", textsDiffer},
		{"equipment", equipmentDiffers},
		{"energies", energiesDiffer},
		{"devices", devicesDiffer},
		{"steps", stepsDiffer},
		{"order of steps", stepsMoved},
	}
}

// differing notes one field when it differs.
func differing(all *[]Difference, kind ChangeKind, field string, what, before, after plain.Sentence) {
	if before.String() != after.String() {
		*all = append(*all, Difference{Field: field, What: what, Old: before, New: after, Kind: kind})
	}
}

// written is a text as a person wrote it.
func written(text string) plain.Sentence {
	if text == "" {
		return plain.Sentence{}
	}
	return plain.Say("%s", text)
}

func textsDiffer(v versions) []Difference {
	var all []Difference
	for _, t := range []struct {
		kind          ChangeKind
		field         string
		what          plain.Sentence
		before, after string
	}{
		{OfWords, "title", plain.Say("title"), v.before.Title, v.after.Title},
		{OfWords, "purpose", plain.Say("purpose"), v.before.Purpose, v.after.Purpose},
		{OfWords, "scope", plain.Say("scope"), v.before.Scope, v.after.Scope},
		{OfSubstance, "authorization", plain.Say("authorization"), v.before.Authorization, v.after.Authorization},
		{OfSubstance, "rules", plain.Say("rules"), v.before.Rules, v.after.Rules},
		{OfSubstance, "techniques", plain.Say("techniques"), v.before.Techniques, v.after.Techniques},
		{OfWords, "enforcement", plain.Say("enforcement"), v.before.Enforcement, v.after.Enforcement},
	} {
		differing(&all, t.kind, t.field, t.what, written(t.before), written(t.after))
	}
	differing(&all, OfWords, "sources", plain.Say("sources"), listed(v.before.Sources), listed(v.after.Sources))
	return all
}

func equipmentDiffers(v versions) []Difference {
	var all []Difference
	for _, id := range eitherOf(v.before.Equipment, v.after.Equipment) {
		differing(&all, OfSubstance, "equipment."+string(id), plain.Say("what it is for"), present(v.before.Equipment, id), present(v.after.Equipment, id))
	}
	for _, id := range eitherOf(v.before.Holds, v.after.Holds) {
		differing(&all, OfSubstance, "holds."+string(id), plain.Say("what it locks off besides"), present(v.before.Holds, id), present(v.after.Holds, id))
	}
	differing(&all, OfSubstance, "id", plain.Say("which procedure it is"), written(string(v.before.ID)), written(string(v.after.ID)))
	return all
}

func energiesDiffer(v versions) []Difference {
	var all []Difference
	old, now := byID(v.before.Energies, Energy.id), byID(v.after.Energies, Energy.id)
	for _, id := range eitherOf(ids(v.before.Energies, Energy.id), ids(v.after.Energies, Energy.id)) {
		b, was := old[id]
		a, is := now[id]
		field := "energy." + string(id)
		if !was || !is {
			all = append(all, Difference{field, plain.Say("energy"), written(b.Source), written(a.Source), OfSubstance})
			continue
		}
		if b.Kind != a.Kind {
			all = append(all, Difference{field + ".kind", plain.Say("%s: kind", a.Source), b.Kind.Words(), a.Kind.Words(), OfSubstance})
		}
		differing(&all, OfSubstance, field+".stored", plain.Say("%s: left over after isolating", a.Source), yes(b.Stored), yes(a.Stored))
		differing(&all, OfSubstance, field+".coast", plain.Say("%s: coast time", a.Source), lasting(b.Coast), lasting(a.Coast))
		differing(&all, OfSubstance, field+".recheck", plain.Say("%s: proven again every", a.Source), lasting(b.Recheck), lasting(a.Recheck))
		differing(&all, OfSubstance, field+".source", plain.Say("%s: source", a.Source), written(b.Source), written(a.Source))
		differing(&all, OfSubstance, field+".size", plain.Say("%s: size", a.Source), written(b.Magnitude), written(a.Magnitude))
		differing(&all, OfWords, field+".hazard", plain.Say("%s: hazard", a.Source), written(b.Hazard), written(a.Hazard))
		differing(&all, OfSubstance, field+".relief", plain.Say("%s: how it is relieved", a.Source), written(b.Relief), written(a.Relief))
		differing(&all, OfSubstance, field+".zero", plain.Say("%s: how zero is shown", a.Source), written(b.Zero), written(a.Zero))
	}
	return all
}

func devicesDiffer(v versions) []Difference {
	var all []Difference
	old, now := byID(v.before.Devices, Device.id), byID(v.after.Devices, Device.id)
	for _, id := range eitherOf(ids(v.before.Devices, Device.id), ids(v.after.Devices, Device.id)) {
		b, was := old[id]
		a, is := now[id]
		field := "device." + string(id)
		if !was || !is {
			all = append(all, Difference{field, plain.Say("device"), written(b.Label), written(a.Label), OfSubstance})
			continue
		}
		if b.Kind != a.Kind {
			all = append(all, Difference{field + ".kind", plain.Say("%s: kind", a.Label), b.Kind.Words(), a.Kind.Words(), OfSubstance})
		}
		differing(&all, OfSubstance, field+".lockable", plain.Say("%s: lock", a.Label), b.TakesLock(), a.TakesLock())
		differing(&all, OfSubstance, field+".cuts", plain.Say("%s: what it keeps away", a.Label), listed(sorted(b.Cuts)), listed(sorted(a.Cuts)))
		differing(&all, OfSubstance, field+".label", plain.Say("%s: name", a.Label), written(b.Label), written(a.Label))
		differing(&all, OfSubstance, field+".place", plain.Say("%s: place", a.Label), written(b.Place), written(a.Place))
		differing(&all, OfSubstance, field+".number", plain.Say("%s: number", a.Label), plain.Say("%d", b.Number), plain.Say("%d", a.Number))
		photo := OfSubstance
		if b.Photo == "" { // where there was none nothing else is shown now
			photo = OfWords
		}
		differing(&all, photo, field+".photo", plain.Say("%s: photo", a.Label), written(b.Photo), written(a.Photo))
		differing(&all, OfWords, field+".point", plain.Say("%s: point in the photo", a.Label), plain.Say("%[1]g, %[2]g", b.Point.X, b.Point.Y), plain.Say("%[1]g, %[2]g", a.Point.X, a.Point.Y))
	}
	return all
}

func stepsDiffer(v versions) []Difference {
	var all []Difference
	old, now := byID(v.before.Steps, Step.id), byID(v.after.Steps, Step.id)
	for _, id := range eitherOf(ids(v.before.Steps, Step.id), ids(v.after.Steps, Step.id)) {
		b, was := old[id]
		a, is := now[id]
		field := "step." + string(id)
		if !was || !is {
			all = append(all, Difference{field, plain.Say("step"), written(b.Text), written(a.Text), OfSubstance})
			continue
		}
		if b.Stage != a.Stage {
			all = append(all, Difference{field + ".stage", plain.Say("stage of: %s", a.Text), b.Stage.Words(), a.Stage.Words(), OfSubstance})
		}
		differing(&all, OfSubstance, field+".device", plain.Say("device of: %s", a.Text), written(string(b.Device)), written(string(a.Device)))
		differing(&all, OfSubstance, field+".energy", plain.Say("energy of: %s", a.Text), written(string(b.Energy)), written(string(a.Energy)))
		if b.Proof != a.Proof {
			all = append(all, Difference{field + ".proof", plain.Say("proof of: %s", a.Text), b.Proof.Words(), a.Proof.Words(), OfSubstance})
		}
		differing(&all, OfSubstance, field+".wait", plain.Say("wait of: %s", a.Text), lasting(b.Wait), lasting(a.Wait))
		differing(&all, OfSubstance, field+".recheck", plain.Say("proven again every: %s", a.Text), lasting(b.Recheck), lasting(a.Recheck))
		differing(&all, OfSubstance, field+".photo", plain.Say("asks for a photo: %s", a.Text), yes(b.AsksPhoto), yes(a.AsksPhoto))
		text := OfWords
		if b.Stage.saysHow() || a.Stage.saysHow() {
			text = OfSubstance
		}
		differing(&all, text, field+".text", plain.Say("text"), written(b.Text), written(a.Text))
		differing(&all, OfWords, field+".clause", plain.Say("clause of: %s", a.Text), written(b.Clause), written(a.Clause))
	}
	return all
}

// saysHow tells whether the text of a step of that stage says how energy is cut
// off, locked, let out, shown at zero or given back, or what is looked over and who
// is seen clear before that: other words there are another way to do it.
func (s Stage) saysHow() bool {
	switch s {
	case ShutDown, Isolate, Apply, Relieve, Verify, InspectArea, ClearPeople, ControlsOff, RemoveLocks, Restore:
		return true
	default:
		return false
	}
}

// stepsMoved finds the steps both have that changed places: those outside the
// longest run both have in the same order.
func stepsMoved(v versions) []Difference {
	common := func(p, other Procedure) []StepID {
		return slices.DeleteFunc(ids(p.Steps, Step.id), func(id StepID) bool { return other.stepAt(id) < 0 })
	}
	old, now := common(v.before, v.after), common(v.after, v.before)
	stay := longestRun(old, now)
	var all []Difference
	for _, id := range now {
		if slices.Contains(stay, id) {
			continue
		}
		s, _ := v.after.step(id)
		all = append(all, Difference{"order." + string(id), plain.Say("moved: %s", s.Text),
			plain.Say("%d", v.before.stepAt(id)+1), plain.Say("%d", v.after.stepAt(id)+1), OfSubstance})
	}
	return all
}

// longestRun is the longest common subsequence of a and b.
func longestRun(a, b []StepID) []StepID {
	length := make([][]int, len(a)+1)
	for i := range length {
		length[i] = make([]int, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if length[i][j] = max(length[i+1][j], length[i][j+1]); a[i] == b[j] {
				length[i][j] = length[i+1][j+1] + 1
			}
		}
	}
	var run []StepID
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case a[i] == b[j]:
			run = append(run, a[i])
			i, j = i+1, j+1
		case length[i+1][j] >= length[i][j+1]:
			i++
		default:
			j++
		}
	}
	return run
}

func (e Energy) id() EnergyID { return e.ID }
func (d Device) id() DeviceID { return d.ID }
func (s Step) id() StepID     { return s.ID }

func ids[T any, ID comparable](all []T, id func(T) ID) []ID {
	of := make([]ID, len(all))
	for i, one := range all {
		of[i] = id(one)
	}
	return of
}

func byID[T any, ID comparable](all []T, id func(T) ID) map[ID]T {
	of := make(map[ID]T, len(all))
	for _, one := range all {
		of[id(one)] = one
	}
	return of
}

// eitherOf is what is in a or b, once each, that of a first.
func eitherOf[ID comparable](a, b []ID) []ID {
	var either []ID
	for _, id := range slices.Concat(a, b) {
		if !slices.Contains(either, id) {
			either = append(either, id)
		}
	}
	return either
}

func present[ID ~string](all []ID, id ID) plain.Sentence {
	if slices.Contains(all, id) {
		return written(string(id))
	}
	return plain.Sentence{}
}

func sorted(cuts []EnergyID) []EnergyID {
	cuts = slices.Clone(cuts)
	slices.Sort(cuts)
	return cuts
}

// listed names each once quoted, so that no two lists read the same.
func listed[S ~string](all []S) plain.Sentence {
	var said string
	for i, one := range all {
		if i > 0 {
			said += ", "
		}
		said += strconv.Quote(string(one))
	}
	return written(said)
}

func yes(b bool) plain.Sentence {
	if b {
		return plain.Say("yes")
	}
	return plain.Say("no")
}

func lasting(d time.Duration) plain.Sentence {
	if d == 0 {
		return plain.Sentence{}
	}
	return plain.Say("%s", d)
}
