package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// askingPhotos publishes the head saw's procedure with a picture asked at every
// step of the stage, and returns those steps.
func (m *testMill) askingPhotos(stage procedures.Stage) []procedures.Step {
	m.t.Helper()
	p, err := m.desk().Procedure(m.t.Context(), "head-saw", 0)
	require.NoError(m.t, err)
	p.Version = 0
	var asking []procedures.Step
	for i := range p.Steps {
		if p.Steps[i].Stage == stage {
			p.Steps[i].AsksPhoto = true
			asking = append(asking, p.Steps[i])
		}
	}
	draft, err := store.DraftOf(store.Procedures, "head-saw", p.Title, p)
	require.NoError(m.t, err)
	draft.Renewal = procedures.Renewal{Said: true, Substance: true, Why: "pictures of each isolator"}
	require.NoError(m.t, m.desk().PublishDraft(m.t.Context(), store.NewID(), draft, m.people["sam"], m.clock.Now(), store.NumberProcedure))
	p, err = m.desk().Procedure(m.t.Context(), "head-saw", 0)
	require.NoError(m.t, err)
	again := procedures.OwnTraining(m.people["ada"], []procedures.Procedure{p}, m.clock.Now())
	again.OwnWord, again.Trainer, again.Covered = false, "Sam Ordway", "the pictures"
	_, err = m.desk().EnterTraining(m.t.Context(), store.NewID(), again, m.people["sam"], m.clock.Now())
	require.NoError(m.t, err)
	return asking
}

// Two steps on one screen that each ask for a picture get one each.
func TestEachStepThatAsksForAPhotoHasItsOwn(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	asking := m.askingPhotos(procedures.Relieve)
	require.Greater(t, len(asking), 1)
	ada := m.as("ada")
	l := m.beginLockout(ada, "head-saw")
	l.to(ada, procedures.Relieve)
	m.clock.Advance(l.now().WaitLeft(m.clock.Now()))
	at := "/lockouts/" + string(l.id) + "/steps"
	body := l.page(ada).Body
	pictures, form := map[string][]byte{}, url.Values{"pin": {testSecrets["ada"]}}
	for i, s := range asking {
		require.Contains(t, body, `name="photo.`+string(s.ID)+`"`)
		form.Set("step."+string(s.ID), "yes")
		pictures["photo."+string(s.ID)] = picture(t, 20+i, 20)
	}
	require.NotContains(t, body, `name="photo"`, "no second place for a picture")

	one, rest := asking[0], asking[1]
	m.storesNothing(func() {
		reply := ada.postFiles(at, form, map[string][]byte{"photo." + string(one.ID): pictures["photo."+string(one.ID)]})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "one picture doesn't do for both")
		reply.says(t, "This step asks for a picture")
		reply.says(t, `id="f-photo.`+string(rest.ID)+`-want"`)
		reply.says(t, `name="photo_kept.`+string(one.ID)+`"`)
		_, after, _ := strings.Cut(reply.Body, `name="photo_kept.`+string(one.ID)+`" value="`)
		digest, _, _ := strings.Cut(after, `"`)
		form.Set("photo_kept."+string(one.ID), digest)
	})
	delete(pictures, "photo."+string(one.ID))
	form.Set("submission", l.page(ada).submission())
	require.Equal(t, http.StatusOK, ada.postFiles(at, form, pictures).Status)
	kept := map[string]bool{}
	for _, s := range asking {
		e := l.now().Done[s.ID]
		require.NotEmpty(t, e.Photo, s.ID)
		require.False(t, kept[e.Photo], "a picture of its own")
		kept[e.Photo] = true
	}
	require.Equal(t, form.Get("photo_kept."+string(one.ID)), l.now().Done[one.ID].Photo)
}

// A lock put on is a step as well; one taken off keeps the picture sent of it.
func TestALockPutOnWithoutThePhotoItsStepAsksForIsRefused(t *testing.T) {
	for _, stage := range []procedures.Stage{procedures.Apply, procedures.RemoveLocks} {
		m := newMill(t)
		asking := m.askingPhotos(stage)
		ada := m.as("ada")
		l := m.beginLockout(ada, "head-saw")
		l.to(ada, stage)
		form := l.ticked()
		if stage == procedures.Apply {
			l.refuses(ada, actSteps, "ada", form, "", "This step asks for a picture")
		}
		pictures := map[string][]byte{}
		for i, s := range asking {
			pictures["photo."+string(s.ID)] = picture(t, 30+i, 20)
		}
		form.Set("submission", l.page(ada).submission())
		form.Set("pin", testSecrets["ada"])
		require.Equal(t, http.StatusOK, ada.postFiles("/lockouts/"+string(l.id)+"/steps", form, pictures).Status)
		photos := 0
		for _, e := range l.now().Events {
			if e.Photo != "" {
				photos++
			}
		}
		require.Equal(t, len(asking), photos, stage)
	}
}
