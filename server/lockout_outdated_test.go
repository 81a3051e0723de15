package server

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// 29 CFR 1910.147(c)(4)(ii): whoever locks out is told what the procedure doesn't
// hold, on the page that begins, on the procedure's and on the lockout's own.
func TestWhoLocksOutIsToldOfAnEnergyTheLockoutLeavesOut(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada, sam := m.as("ada"), m.as("sam")
	l := m.beginLockout(ada, "hoist")
	pages := []string{"/lockouts/new?procedure=hoist", "/procedures/hoist", "/lockouts/" + string(l.id)}
	for _, path := range pages {
		require.NotContains(t, ada.get(path).Body, "It leaves out", path)
	}
	form := with(sam.get(newEnergy).filled(t, newEnergy), "kind", "pneumatic", "source", "air balancer", "size", "90 psi", "hazard", "Lets the hook go up.", "stored", "yes",
		"relief", "Vent it.", "zero", "The gauge reads zero.", "recheck", "30", "pin", testSecrets["sam"])
	require.Equal(t, "/equipment/hoist", sam.post(newEnergy, form).URL.Path)
	for _, path := range pages {
		ada.get(path).says(t, "It leaves out air balancer, which the register has")
	}

	p, err := m.desk().Procedure(t.Context(), "hoist", 0)
	require.NoError(t, err)
	hoist, _ := m.plant().Find("hoist")
	air := hoist.Energies[len(hoist.Energies)-1]
	air.Stored, air.Recheck = false, 0
	for _, s := range p.Steps {
		if s.Energy == p.Energies[0].ID {
			s.ID, s.Energy = s.ID+"-air", air.ID
			p.Steps = append(p.Steps, s)
		}
	}
	for i := range p.Devices {
		p.Devices[i].Cuts = append(p.Devices[i].Cuts, air.ID)
	}
	p.Energies = append(p.Energies, air)
	p.Version = 0
	doc, err := json.Marshal(p)
	require.NoError(t, err)
	require.NoError(t, m.desk().PublishDraft(t.Context(), store.NewID(), store.Draft{Sort: store.Procedures, ID: "hoist", Title: p.Title, Doc: string(doc),
		Renewal: procedures.Renewal{Said: true, Substance: true, Why: "the balancer"}}, m.people["sam"], m.clock.Now(), store.NumberProcedure))
	own := l.page(ada)
	own.says(t, "Version 2 of this procedure is in force since")
	own.says(t, "Version 2 has air balancer, which this lockout leaves out")
	require.NotContains(t, own.Body, "It leaves out air balancer")
	require.NotContains(t, ada.get("/procedures/hoist").Body, "It leaves out")
}
