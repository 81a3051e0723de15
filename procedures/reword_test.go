package procedures_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

func draftOf(t *testing.T, id procedures.ProcedureID) procedures.Procedure {
	p := starter(t, id, answers("electric", "mandrel"))
	p.Version = 0
	return p
}

func stepOf(p procedures.Procedure, id procedures.StepID) procedures.Step {
	for _, s := range p.Steps {
		if s.ID == id {
			return s
		}
	}
	return procedures.Step{}
}

func TestUnchangedWordingChangesNothing(t *testing.T) {
	for _, id := range []procedures.ProcedureID{"head-saw", "hoist", "dust-collection", "head-rig"} {
		p := draftOf(t, id)
		same, err := p.Reworded(p.Wording())
		require.NoError(t, err)
		require.Equal(t, p, same)
	}
}

// The wait is the measured coast time and a quarter more: common practice, no source.
func TestMeasuredCoastTimeSetsWaitsAndWords(t *testing.T) {
	p := draftOf(t, "head-saw")
	before := p.Wording()
	w := p.Wording()
	w.Coasts["saw-rotation"] = 80 * time.Second
	measured, err := p.Reworded(w)
	require.NoError(t, err)
	require.NoError(t, measured.Validate())
	require.Equal(t, 100*time.Second, stepOf(measured, "saw-wait").Wait)
	require.Equal(t, 100*time.Second, stepOf(measured, "saw-pin-in").Wait)
	require.Contains(t, stepOf(measured, "saw-wait").Text, "The wait is the measured coast time, 80 s, and a quarter more.")
	require.NotContains(t, stepOf(measured, "saw-wait").Text, "not yet measured")
	require.Equal(t, before, p.Wording(), "the draft given is left as it was")

	again, err := measured.Reworded(w) // the same form once more, its step still in the old words
	require.NoError(t, err)
	require.Equal(t, measured, again)

	back := measured.Wording()
	back.Coasts["saw-rotation"] = 0
	unmeasured, err := measured.Reworded(back)
	require.NoError(t, err)
	require.Equal(t, procedures.FanWaitUnmeasured, stepOf(unmeasured, "saw-wait").Wait, "the longest there is without a measurement")
	require.Contains(t, stepOf(unmeasured, "saw-wait").Text, "not yet measured")
}

func TestWordingOutsideItsRangeIsNamedAtItsField(t *testing.T) {
	for field, spoil := range map[string]func(*procedures.Wording){
		"coast.saw-rotation": func(w *procedures.Wording) { w.Coasts["saw-rotation"] = -time.Second },
		"coast.saw-heat":     func(w *procedures.Wording) { w.Coasts["saw-heat"] = time.Hour },
		"label.saw-pin":      func(w *procedures.Wording) { w.Devices["saw-pin"] = procedures.Marking{Label: " ", Number: 2} },
		"number.saw-pin":     func(w *procedures.Wording) { w.Devices["saw-pin"] = procedures.Marking{Label: "Pin", Number: 1} },
	} {
		p := draftOf(t, "head-saw")
		w := p.Wording()
		spoil(&w)
		_, err := p.Reworded(w)
		var problems plain.Problems
		require.ErrorAs(t, err, &problems, field)
		require.Len(t, problems, 1, field)
		require.NotNil(t, problems.For(field), field)
	}
}

// 29 CFR 1910.147(b), energy isolating device: a control isn't one, whatever kind
// was chosen for it. Renamed in a draft it is refused as in the register.
func TestNoDeviceIsRenamedAControl(t *testing.T) {
	p := draftOf(t, "head-saw")
	plant := procedures.StarterPlant(answers("electric", "mandrel"))
	rename := func(label string) error {
		w := p.Wording()
		w.Devices["saw-pin"] = procedures.Marking{Label: label, Number: w.Devices["saw-pin"].Number}
		_, err := p.Reworded(w)
		return err
	}
	for _, label := range []string{"Stop button at the stand", "Emergency-stop", "E-stop", "ESTOP", "Push buttons", "Hoist pendant", "Selector", "Ignition", "Key switch", "Clutch lever"} {
		var problems plain.Problems
		require.ErrorAs(t, rename(label), &problems, label)
		require.NotNil(t, problems.For("label.saw-pin"), label)
		_, err := plant.KeepDevice("head-saw", procedures.Device{ID: "new", Kind: procedures.Disconnect, Label: label, Cuts: []procedures.EnergyID{"saw-heat"}, Lockable: true})
		require.ErrorAs(t, err, &problems, label)
		require.NotNil(t, problems.For("label"), label)
	}
	for _, label := range []string{"Saw disconnect", "Shut-off valve", "Stop valve", "Lever of the ball valve", "Keyed pin", "Buttonhole chock"} {
		require.NoError(t, rename(label), label)
	}
}
