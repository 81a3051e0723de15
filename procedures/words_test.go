package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// saidOf is what is said of each, the last of them what nobody knows.
func saidOf[K any](say func(K) plain.Sentence, unknown K, known ...K) []string {
	var said []string
	for _, one := range append(known, unknown) {
		said = append(said, say(one).String())
	}
	return said
}

// Two things called the same would be taken for one another, and what is known is
// never called unknown.
func TestEachThingHasWordsOfItsOwn(t *testing.T) {
	var stages []Stage
	for s := Prepare; s <= NotifyRestored; s++ {
		stages = append(stages, s)
	}
	require.Len(t, stages, 14)
	parts := make([]int, 8)
	for i := range parts {
		parts[i] = i + 1
	}
	for name, said := range map[string][]string{
		"stages":     saidOf(Stage.Words, UnknownStage, stages...),
		"acts":       saidOf(EventKind.Words, "", EventKinds()...),
		"proofs":     saidOf(Proof.Words, "", Proofs()...),
		"means":      saidOf(ExtraMeans.Words, "", ExtraMeansKnown()...),
		"positions":  saidOf(Position.Words, "", PositionOff, PositionClosed, PositionRemoved, PositionBlocked),
		"legends":    saidOf(Legend.Words, "", Legends()...),
		"levels":     saidOf(Level.Words, "", Levels()...),
		"tag points": saidOf(TagPoint.Words, "", TagPoints()...),
		"findings":   saidOf(FindingKind.Words, "", FindingKinds()...),
		"tasks":      saidOf(TaskKind.Words, "", TaskKinds()...),
		"equipment":  saidOf(EquipmentKind.Words, "", append(EquipmentKinds(), Site)...),
		"energies":   saidOf(EnergyKind.Words, "", EnergyKinds()...),
		"devices":    saidOf(DeviceKind.Words, "", DeviceKinds()...),
		"links":      saidOf(func(k LinkKind) plain.Sentence { return k.Acts("the saw") }, "", Drives, Supplies, LandsOn),
		"laws":       saidOf(Law.Basis, "", LawUSFederal, LawUSState, LawCanada, LawFarm),
		"exception":  saidOf(func(n int) plain.Sentence { return Part{Number: n}.Asks() }, 0, parts...),
		"due":        saidOf(func(s DueState) plain.Sentence { return InspectionDue{By: shiftDay, State: s}.Words() }, DueOverdue, DueAtNextUse, DueSoon, DueLater),
		"locks":      saidOf(func(d Device) plain.Sentence { return d.TakesLock() }, Device{Adapter: true}, Device{Lockable: true}, Device{Lockable: true, Adapter: true}),
	} {
		seen := map[string]bool{}
		for _, one := range said {
			require.NotEmpty(t, one, name)
			require.False(t, seen[one], "%s: %s", name, one)
			seen[one] = true
		}
	}
	for _, l := range []Law{LawCanada, LawUK, LawOther} {
		require.Contains(t, l.Basis().String(), "isn't the law here")
	}
	require.Len(t, Laws(), 6)
	require.Contains(t, NextInspection("hoist", shiftDay.AddDate(-2, 0, 0), nil, nil, shiftDay).Words().String(), "at its next use")
}

// 29 CFR 1910.147(c)(9), (d)(1) to (6), (e)(1) to (3) and Appendix A, each at the
// stage it asks for.
func TestEachStageStandsUnderItsParagraph(t *testing.T) {
	for stage, paragraph := range map[Stage]string{Prepare: "(d)(1)", Notify: "(c)(9)", ShutDown: "(d)(2)", Isolate: "(d)(3)", Apply: "(d)(4)", Relieve: "(d)(5)", Verify: "(d)(6)", Work: "(d)(6)",
		InspectArea: "(e)(1)", ClearPeople: "(e)(2)(i)", ControlsOff: " Appendix A", RemoveLocks: "(e)(3)", Restore: " Appendix A", NotifyRestored: "(e)(2)(ii)"} {
		require.Equal(t, "29 CFR 1910.147"+paragraph, stage.Clause())
	}
	require.Empty(t, UnknownStage.Clause())
}

// 29 CFR 1910.147(d)(4)(ii): in a safe or off position; (c)(5)(iii): which of the
// five legends suits which device is common practice, no source.
func TestEachDeviceIsHeldAndTaggedByItsKind(t *testing.T) {
	for kind, is := range map[DeviceKind]struct {
		held   Position
		legend Legend
	}{
		Disconnect: {PositionOff, DoNotEnergize}, Plug: {PositionRemoved, DoNotEnergize}, Valve: {PositionClosed, DoNotOpen}, FuelValve: {PositionClosed, DoNotOpen},
		BatteryLock: {PositionOff, DoNotStart}, PartRemoved: {PositionRemoved, DoNotOperate}, Block: {PositionBlocked, DoNotOperate}, "": {"", DoNotOperate},
	} {
		require.Equal(t, is.held, kind.Position(), kind)
		require.Equal(t, is.legend, Device{Kind: kind}.Legend(), kind)
	}
}

// A form marks the field a refusal is about: which that is, for each rule that is
// about one.
func TestEachRefusalIsMarkedAtItsField(t *testing.T) {
	at := map[string][]string{
		"told":      {"(c)(9) told before", "(e)(2)(ii) told after", "(f)(4) the state told"},
		"from":      {"(f)(4) told by the one going off", "(f)(4) told by somebody of this lockout"},
		"keys":      {"(f)(4) keys into the box", "(f)(3)(ii)(D) keys seen in the box", "(f)(3)(ii)(D) keys seen before going on"},
		"tools":     {"(e)(1) tools counted", "(f)(1)(i) tools out"},
		"tools_out": {"(e)(1) as many out as in", "(f)(1)(i) as many out as in", "(e)(1) no more out than in"},
		"clear":     {"(f)(1)(ii) everybody seen clear", "(d) called off with nobody in", "(e)(2)(i) nobody in since the test"},
		"where":     {"(f)(1)(iv) from where it is run"},
		"moves":     {"(f)(1)(iv) what moves"},
		"offback":   {"(f)(1)(v) control off", "Appendix A-7 control back at off"},
		"not_here":  {"(e)(3)(i) made sure the owner isn't here"},
		"tries":     {"(e)(3)(ii) tried to reach the owner", "(e)(3)(ii) tried to reach the primary", "(e)(3)(ii) each try told"},
		"tag-read":  {"(c)(5)(ii)(A) tag readable"},
		"tag-tied":  {"(c)(5)(ii)(C)(2) tag fastened"},
		"tag-where": {"(d)(4)(iii)(B) where the tag hangs"},
		"tag-means": {"(c)(3)(ii) one more means"},
		"until":     {"until when it stays locked", "a later end than before"},
		"photo":     {"photo where the step asks for one"},
	}
	marked := map[string]string{}
	for part, rules := range at {
		for _, name := range rules {
			marked[name] = part
		}
	}
	known := map[string]bool{}
	for _, name := range EveryRule() {
		require.Equal(t, marked[name], partOf(name), name)
		known[name] = true
	}
	for name := range marked {
		require.True(t, known[name], "no such rule: %s", name)
	}
	err := refusedAbout([]rule[asked, error]{
		{"until when it stays locked", func(asked) error { return nil }},
		{"(e)(1) tools counted", func(asked) error { return plain.Refuse("", "Count them.") }},
		{"(f)(1)(iv) what moves", func(asked) error { return plain.Refuse("", "Say it.") }},
	}, asked{})
	require.Equal(t, "tools", refusal(err).About, "the first that refuses says where")
	own := &plain.Refusal{About: "own"}
	err = refusedAbout([]rule[asked, error]{{"(f)(1)(iv) what moves", func(asked) error { return own }}}, asked{})
	require.Equal(t, "own", refusal(err).About, "what says itself where it belongs stays there")
}

// What is said of a wait names the seconds it comes from, and is found again.
func TestAWaitSaysWhereItComesFrom(t *testing.T) {
	note := EnglishWaitNote()
	require.Equal(t, " The wait is the measured coast time, 80 s, and a quarter more.", note.of(80*time.Second, 100*time.Second))
	require.Contains(t, note.of(0, 180*time.Second), "the wait is 180 s until")
	require.Contains(t, note.of(1, 0), "measured coast time, 1e-09 s")
	for _, wait := range []string{note.of(80*time.Second, 0), note.of(0, time.Minute)} {
		text, said := CutWaitNote("Stay out." + wait)
		require.True(t, said)
		require.Equal(t, "Stay out.", text)
	}
	text, said := CutWaitNote("Stay out. Wait.")
	require.False(t, said)
	require.Equal(t, "Stay out. Wait.", text)
	_, said = WaitNote{}.cut("anything at all")
	require.False(t, said, "a language without a note has none")
	require.Equal(t, 3*time.Minute, CoastWait(0, 3*time.Minute))
	require.Equal(t, 3*time.Minute, CoastWait(-1, 3*time.Minute))
	require.Equal(t, 125*time.Second, CoastWait(100*time.Second, 3*time.Minute))
	require.Equal(t, time.Duration(5), CoastWait(4, time.Minute))
	require.Equal(t, time.Duration(1), CoastWait(1, time.Minute))
}

// A tag says what happens if the device is worked: each hazard once, in order.
func TestATagSaysEachHazardOnce(t *testing.T) {
	p := Procedure{Energies: []Energy{{ID: "a", Hazard: "Cuts."}, {ID: "b", Hazard: " "}, {ID: "c", Hazard: "Burns."}, {ID: "d", Hazard: "Cuts."}, {ID: "e", Hazard: "Falls."}},
		Devices: []Device{{ID: "v", Kind: Valve, Cuts: []EnergyID{"a", "b", "c", "d"}}, {ID: "none", Kind: Plug, Cuts: []EnergyID{"b"}}}}
	legend, hazard := p.TagAt("v")
	require.Equal(t, DoNotOpen, legend)
	require.Equal(t, "Cuts. Burns.", hazard)
	_, hazard = p.TagAt("none")
	require.Equal(t, "People are in the machine and get hurt.", hazard)
}
