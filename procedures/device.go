package procedures

import (
	"slices"
	"strings"
	"unicode"

	"stillsaw/procedures/plain"
)

// DeviceKinds returns every kind of energy isolating device, in the order a
// form offers them.
func DeviceKinds() []DeviceKind {
	return []DeviceKind{Disconnect, Plug, Valve, BatteryLock, FuelValve, PartRemoved, Block}
}

// ParseDeviceKind returns the kind s names. A stop button, emergency stop,
// pendant, selector, key or clutch lever is refused with a [plain.Refusal] that
// says why: a control tells the machine to stop, it doesn't keep energy away,
// 29 CFR 1910.147(b) "energy isolating device".
func ParseDeviceKind(s string) (DeviceKind, error) {
	if kind := DeviceKind(s); slices.Contains(DeviceKinds(), kind) {
		return kind, nil
	}
	clause := Clause("(b)")
	said := strings.NewReplacer("-", " ", "_", " ").Replace(strings.ToLower(s))
	for _, control := range []struct{ word, why string }{
		{"stop", "A stop button isn't an isolator: it only tells the control to stop, and a fault or another hand starts it again. Choose the disconnect behind it."},
		{"button", "A push button isn't an isolator: it is part of the control. Choose the disconnect behind it."},
		{"pendant", "A pendant isn't an isolator: the hoist stays live above it. Choose the disconnect in the hoist's feed."},
		{"selector", "A selector switch isn't an isolator: it is part of the control. Choose the disconnect behind it."},
		{"key", "A key alone isn't an isolator: an engine starts without it. Choose battery lock and fuel valve, or the part taken off and kept."},
		{"ignition", "The ignition isn't an isolator: an engine starts without it. Choose battery lock and fuel valve, or the part taken off and kept."},
		{"clutch", "A clutch lever isn't an isolator: it creeps, drags and gets knocked in. Choose the shaft or belt taken off and kept."},
		{"lever", "A lever alone isn't an isolator: it gets knocked. Choose what cuts the energy off behind it, or a block that holds."},
	} {
		if strings.Contains(said, control.word) {
			return "", plain.Refuse(clause, control.why)
		}
	}
	return "", plain.Refuse(clause, "Choose a kind of isolator from the list.")
}

// controlWords are what the controls are called that keep no energy away.
func controlWords() []string {
	return []string{"stop button", "emergency stop", "e stop", "estop", "push button", "pushbutton", "start button", "pendant", "selector", "ignition", "key switch", "keyswitch", "clutch"}
}

// controlIn returns which control a device's name says it is, "" for none. Its
// kind alone shows nothing: a stop button entered as a disconnect is still one.
func controlIn(label string) string {
	words := " " + strings.Join(strings.FieldsFunc(strings.ToLower(label), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ") + " "
	for _, control := range controlWords() {
		if strings.Contains(words, " "+control+" ") || strings.Contains(words, " "+control+"s ") {
			return control
		}
	}
	return ""
}

// named finds what is wrong with the name of a device.
func (d Device) named() plain.Problems {
	return want(d.Label != "" && len(d.Label) <= longestName, "label", plain.Say("what it is called at the machine"))
}

// noControl refuses a name that says it is a control.
func (d Device) noControl() plain.Problems {
	return want(controlIn(d.Label) == "", "label",
		plain.Say("the name of what keeps the energy away. A stop button, pendant, selector, ignition or key switch, or a clutch doesn't; one that is near belongs in the place, 29 CFR 1910.147(b)"))
}

// cuts tells whether d keeps that energy away.
func (d Device) cuts(id EnergyID) bool { return slices.Contains(d.Cuts, id) }
