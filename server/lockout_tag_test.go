package server

import (
	"encoding/json"
	"net/http"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// 29 CFR 1910.147(c)(5)(iii): a tag where no lock goes on counts only with its
// legend and hazard, said by who hangs it.
func TestTagIsSaidToCarryItsLegend(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam, now := m.people["sam"], m.clock.Now()
	draft, err := m.desk().Procedure(t.Context(), "dust-collection", 0)
	require.NoError(t, err)
	draft.Version, draft.Devices = 0, slices.Clone(draft.Devices)
	for i := range draft.Devices {
		draft.Devices[i].Lockable = draft.Devices[i].Lockable && draft.Devices[i].ID != "rotary-disconnect"
	}
	doc, err := json.Marshal(draft)
	require.NoError(t, err)
	require.NoError(t, m.desk().PublishDraft(t.Context(), store.NewID(), store.Draft{Sort: store.Procedures, ID: "dust-collection", Title: draft.Title, Doc: string(doc),
		Renewal: procedures.Renewal{Said: true, Substance: true, Why: "The disconnect takes no lock."}}, sam, now, store.NumberProcedure))
	training := procedures.Training{Person: m.people["ada"].ID, Level: procedures.AuthorizedLevel, Procedures: []procedures.TrainedOn{{Procedure: "dust-collection", Version: 2}},
		EnergyKinds: draft.Kinds(), Tags: true, TagPoints: procedures.TagPoints(), Trainer: "Sam", On: now}
	_, err = m.desk().EnterTraining(t.Context(), store.NewID(), training, sam, now)
	require.NoError(t, err)

	ada := m.as("ada")
	l := m.beginLockout(ada, "dust-collection")
	l.to(ada, procedures.Apply)
	l.page(ada).says(t, "My own tag says DO NOT ENERGIZE")
	form := l.ticked()
	for field, value := range map[string]string{"read": "yes", "tied": "yes", "there": "yes", "means": string(procedures.ElementOut)} {
		form.Set("tag-"+field+".lock-rotary-disconnect", value)
	}
	m.storesNothing(func() {
		reply := l.report(ada, actSteps, "ada", form)
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "The tag has to say DO NOT ENERGIZE")
	})
	form.Set("tag-says.lock-rotary-disconnect", "yes")
	reply := l.report(ada, actSteps, "ada", form)
	require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	tag := l.now().Done["lock-rotary-disconnect"].Tag
	require.Equal(t, procedures.DoNotEnergize, tag.Legend)
	require.NotEmpty(t, tag.Hazard)
	require.Equal(t, m.people["ada"].ID, tag.Owner)
}
