package procedures

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// lampRig is a piece the exception is meant for: one motor, one switch, nothing
// left over.
func lampRig() Plant {
	return Plant{{ID: "site", Kind: Site, Name: "Mill"}, {ID: "lamps", PartOf: "site", Kind: OffBearing, Name: "Lamp rig",
		Energies: []Energy{{ID: "lamps-power", Kind: Electrical, Source: "motor", Hazard: "shock", Zero: "tried"}},
		Devices:  []Device{{ID: "lamps-switch", Kind: Disconnect, Label: "Switch", Lockable: true, Cuts: []EnergyID{"lamps-power"}}}}}
}

// onceLocked is one use of it: Ann alone, with her own lock.
func onceLocked() Lockout {
	return Lockout{ID: "l1", Begun: shiftDay, Primary: annOp.ID, Closed: true, Procedure: Procedure{Equipment: []EquipmentID{"lamps"}},
		Locks: []Lock{{Number: "A-1", Owner: annOp.ID, Device: "lamps-switch"}}, Members: []Member{{Person: annOp.ID}}}
}

func goodException(change func(*Plant, *Declared, *Kept)) exceptionAsked {
	plant, declared, kept := lampRig(), Declared{FullyDead: samSup.ID, NoHazard: samSup.ID}, Kept{Lockouts: []Lockout{onceLocked()}}
	change(&plant, &declared, &kept)
	return exceptionOf(plant, "lamps", declared, kept)
}

// against are the numbers of the parts that don't hold.
func partsAgainst(parts []Part) []int {
	var numbers []int
	for _, p := range parts {
		if !p.Holds {
			numbers = append(numbers, p.Number)
		}
	}
	return numbers
}

// 29 CFR 1910.147(c)(4)(i), exception (1)–(8).
func TestEachOfTheEightPartsIsComputedAndNoneTicked(t *testing.T) {
	whole := exceptionBy(exceptionParts(), goodException(func(*Plant, *Declared, *Kept) {}))
	require.Empty(t, partsAgainst(whole))
	require.True(t, MayStayUnwritten(whole))
	for _, p := range whole {
		require.NotContains(t, p.Asks().String(), "not one of")
		require.True(t, p.Why.Empty())
	}
	for name, tc := range map[string]struct {
		part   int
		change func(*Plant, *Declared, *Kept)
	}{
		"something stored": {1, func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Energies[0].Stored = true }},
		"it coasts":        {1, func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Energies[0].Kind = Rotation }},
		"builds up again":  {1, func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Energies[0].Recheck = time.Hour }},
		"pressure":         {1, func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Energies[0].Kind = Pneumatic }},
		"gravity":          {1, func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Energies[0].Kind = Gravity }},
		"spring":           {1, func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Energies[0].Kind = Spring }},
		"heat":             {1, func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Energies[0].Kind = Thermal }},
		"two sources": {2, func(p *Plant, _ *Declared, _ *Kept) {
			(*p)[1].Energies = append((*p)[1].Energies, Energy{ID: "second", Kind: Electrical})
			(*p)[1].Devices[0].Cuts = append((*p)[1].Devices[0].Cuts, "second")
		}},
		"nobody declares it dead": {3, func(_ *Plant, d *Declared, _ *Kept) { d.FullyDead = "" }},
		"used without a lock":     {4, func(_ *Plant, _ *Declared, k *Kept) { k.Lockouts[0].Locks = nil }},
		"two devices": {5, func(p *Plant, _ *Declared, _ *Kept) {
			(*p)[1].Devices = append((*p)[1].Devices, Device{ID: "second", Lockable: true, Cuts: []EnergyID{"lamps-power"}})
		}},
		"takes no lock": {5, func(p *Plant, _ *Declared, _ *Kept) { (*p)[1].Devices[0].Lockable = false }},
		"another's lock": {6, func(_ *Plant, _ *Declared, k *Kept) {
			k.Lockouts[0].Locks = append(k.Lockouts[0].Locks, Lock{Number: "B-1", Owner: benOp.ID})
		}},
		"two on the job": {6, func(_ *Plant, _ *Declared, k *Kept) {
			k.Lockouts[0].Members = append(k.Lockouts[0].Members, Member{Person: benOp.ID})
		}},
		"nobody declares it harmless": {7, func(_ *Plant, d *Declared, _ *Kept) { d.NoHazard = "" }},
		"it started once": {8, func(_ *Plant, _ *Declared, k *Kept) {
			k.Unexpected = []Unexpected{{"lamps", shiftDay.AddDate(-9, 0, 0)}}
		}},
	} {
		parts := exceptionBy(exceptionParts(), goodException(tc.change))
		require.Equal(t, []int{tc.part}, partsAgainst(parts), name)
		require.False(t, MayStayUnwritten(parts), name)
		require.False(t, parts[tc.part-1].Why.Empty(), name)
	}
}

func TestExceptionDoesNotHoldForWhatIsNotKnown(t *testing.T) {
	declared := Declared{FullyDead: samSup.ID, NoHazard: samSup.ID}
	require.Equal(t, []int{4, 6}, partsAgainst(Exception(lampRig(), "lamps", declared, Kept{})), "no use shows that it is locked")
	require.Equal(t, []int{1, 2, 3, 4, 5, 6, 7, 8}, partsAgainst(Exception(lampRig(), "nowhere", Declared{}, Kept{})))
	require.False(t, MayStayUnwritten(nil))
	require.False(t, MayStayUnwritten(Exception(lampRig(), "site", declared, Kept{Lockouts: []Lockout{onceLocked()}})))
	bare := lampRig()
	bare[1].Energies, bare[1].Devices = nil, nil
	require.Contains(t, partsAgainst(Exception(bare, "lamps", declared, Kept{Lockouts: []Lockout{onceLocked()}})), 1, "no energy registered is none known")
	cancelled := onceLocked()
	cancelled.Locks, cancelled.Closed, cancelled.Cancelled = nil, false, true
	require.NotContains(t, partsAgainst(Exception(lampRig(), "lamps", declared, Kept{Lockouts: []Lockout{onceLocked(), cancelled}})), 4, "a lockout given up before the first lock was no use")
}

// What moves or feeds it counts with it.
func TestExceptionSeesWhatFeedsThePiece(t *testing.T) {
	plant := append(lampRig(), Equipment{ID: "pack", PartOf: "site", Kind: Supply, Name: "Pack", Links: []Link{{Supplies, "lamps"}},
		Energies: []Energy{{ID: "oil", Kind: Hydraulic, Source: "pack", Stored: true}}})
	require.NoError(t, plant.Validate())
	declared := Declared{FullyDead: samSup.ID, NoHazard: samSup.ID}
	parts := Exception(plant, "lamps", declared, Kept{Lockouts: []Lockout{onceLocked()}, Unexpected: []Unexpected{{"pack", shiftDay}}})
	require.Equal(t, []int{1, 2, 5, 8}, partsAgainst(parts))
}

// The saw and the fan coast, the hoist has gravity: whatever anybody declares,
// whatever is kept, whatever the mill answered.
func TestExceptionNeverHoldsForSawHoistOrFan(t *testing.T) {
	everyMill(func(a Answers) {
		plant := StarterPlant(a)
		for _, id := range []EquipmentID{"head-saw", "hoist", "dust-collection", "carriage", "dogs-and-knees"} {
			if _, fitted := plant.Find(id); !fitted {
				continue
			}
			use := onceLocked()
			use.Procedure.Equipment = []EquipmentID{id}
			parts := Exception(plant, id, Declared{FullyDead: samSup.ID, NoHazard: samSup.ID}, Kept{Lockouts: []Lockout{use}})
			require.Contains(t, partsAgainst(parts), 1, "%s %+v", id, a)
			require.False(t, MayStayUnwritten(parts))
			// One is written for all that.
			p, err := plant.DraftProcedure("p", "P", id)
			require.NoError(t, err)
			require.NoError(t, p.Validate())
		}
	})
}

// One is written even where the law lets it stay unwritten.
func TestProcedureIsWrittenEvenWhereItMayStayUnwritten(t *testing.T) {
	p, err := lampRig().DraftProcedure("p", "P", "lamps")
	require.NoError(t, err)
	require.NoError(t, p.Validate())
}

func plugged(change func(*Plant)) Plant {
	p := lampRig()
	p[1].Devices[0].Kind, p[1].Devices[0].Lockable = Plug, false
	change(&p)
	return p
}

// 29 CFR 1910.147(a)(2)(iii)(A).
func TestPulledPlugIsNotEnoughWhereAnythingIsStoredOrThereIsMore(t *testing.T) {
	require.NoError(t, plugged(func(*Plant) {}).MayBeCordAndPlug("lamps"))
	for name, change := range map[string]func(*Plant){
		"hung load":   func(p *Plant) { (*p)[1].Energies[0].Kind = Gravity },
		"spring":      func(p *Plant) { (*p)[1].Energies[0].Kind = Spring },
		"pressure":    func(p *Plant) { (*p)[1].Energies[0].Kind = Hydraulic },
		"coasting":    func(p *Plant) { (*p)[1].Energies[0].Kind = Rotation },
		"charge":      func(p *Plant) { (*p)[1].Energies[0].Stored = true },
		"second feed": func(p *Plant) { (*p)[1].Energies = append((*p)[1].Energies, Energy{ID: "second", Kind: Electrical}) },
		"shaft":       func(p *Plant) { (*p)[1].Energies[0].Kind = Shaft },
		"no plug":     func(p *Plant) { (*p)[1].Devices[0].Kind = Disconnect },
		"two devices": func(p *Plant) {
			(*p)[1].Devices = append((*p)[1].Devices, Device{ID: "second", Kind: Plug, Cuts: []EnergyID{"lamps-power"}})
		},
		"no energy registered": func(p *Plant) { (*p)[1].Energies = nil },
	} {
		require.Equal(t, Clause("(a)(2)(iii)(A)"), clauseOf(plugged(change).MayBeCordAndPlug("lamps")), name)
	}
	require.Error(t, lampRig().MayBeCordAndPlug("nowhere"))
	plant := StarterPlant(registerAnswers("electric"))
	for _, e := range plant {
		require.Error(t, plant.MayBeCordAndPlug(e.ID), e.ID)
	}
}
