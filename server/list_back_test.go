package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// What is signed for later is taken back by signing what is in force once more.
func TestAVersionToComeIsTakenBackAndSaidToBeToCome(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.as("sam")
	require.NotContains(t, p.get("/lists/pre-shift/versions").Body, "Take back")
	edits(t, p, "S3", "prompt", "Words of the next version")
	reply := publishes(t, p, "when", "later", "from", "2026-03-03T09:30")
	require.Equal(t, "/lists/pre-shift/versions", reply.URL.Path, firstProblem(reply))
	reply.says(t, "Take back what is to come")
	reply.says(t, preShiftPublish+"?version=1")
	edit := p.get(preShiftEdit).title()
	require.Contains(t, edit, "version 2 comes into force")
	require.NotContains(t, edit, "version 2 in force")

	back := p.get(preShiftPublish + "?version=1")
	require.NotContains(t, back.Body, "There is nothing to publish.")
	reply = p.post(preShiftPublish, with(back.filled(t, preShiftPublish), "pin", testSecrets["sam"]))
	require.Equal(t, "/lists/pre-shift", reply.URL.Path, firstProblem(reply))
	m.clock.Advance(4 * time.Hour) // the time it was to come is over
	l := m.inForce("pre-shift")
	require.Equal(t, 3, l.Version, "the one that was to come never does")
	require.Equal(t, 1, l.Repeats)
	item, _ := l.Item("S3")
	require.NotEqual(t, "Words of the next version", item.Prompt)
	p.get("/lists/pre-shift/versions").says(t, "never came into force")
	require.Contains(t, p.get(preShiftPublish+"?version=3").Body, "There is nothing to publish.", "nothing is to come any more")
}

func TestAnItemsBoundForSlipsOfTheHandIsOnItsForm(t *testing.T) {
	t.Parallel()
	m, p := freshMill(t)
	form := p.get(itemPage("S3")).filled(t, itemPage("S3"))
	require.NotContains(t, p.get(itemPage("S3")).Body, `type="hidden" name="limits.most"`)
	require.NotEmpty(t, form.Get("limits.most"))
	of := with(form, "limits.unit", "mm", "limits.low", "19", "limits.high", "60", "limits.stop_at", "")
	tight := p.post(itemPage("S3"), with(of, "limits.most", "12", "do", "check"))
	require.Equal(t, http.StatusUnprocessableEntity, tight.Status)
	tight.says(t, "a lowest value from 0 to 12")
	for _, bad := range []string{"many", "-3", "0"} {
		reply := p.post(itemPage("S3"), with(of, "limits.most", bad, "do", "check"))
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status, bad)
		reply.says(t, `href="#f-limits.most"`, bad)
	}
	kept := p.post(itemPage("S3"), with(of, "limits.most", "300", "do", "check"))
	require.Equal(t, preShiftEdit, kept.URL.Path, firstProblem(kept))
	l, _ := m.draftList("pre-shift")
	item, _ := l.Item("S3")
	require.Equal(t, 300.0, item.Limits.Most)
}

func TestAFileOverADraftSaysSoAndIsTakenWhole(t *testing.T) {
	t.Parallel()
	m, p := freshMill(t)
	file := p.get("/lists/pre-shift/export?version=draft").Body
	bring := func(text string) page { return p.post("/lists/import", url.Values{"text": {text}}) }
	same := bring(file)
	require.Equal(t, preShiftEdit, same.URL.Path, firstProblem(same))
	same.says(t, "The draft says the same as the file")
	before, revision := m.draftList("pre-shift")
	require.Equal(t, 1, revision, "nothing is kept where nothing differs")

	first, second := before.Items[0].Prompt, before.Items[1].Prompt
	other := strings.Replace(strings.Replace(file, first, "Words of the file", 1), second, "More of the file", 1)
	asked := bring(other)
	require.Equal(t, http.StatusUnprocessableEntity, asked.Status)
	require.Contains(t, asked.title(), "A draft is here already")
	require.NotContains(t, asked.Body, "while you were writing")
	require.NotContains(t, asked.Body, "Two people")
	merge := asked.filled(t, "/lists/pre-shift/merge")
	require.Equal(t, "mine", merge.Get("take."+string(before.Items[0].ID)), "a draft nobody wrote in is not asked about item by item")

	edits(t, p, string(before.Items[0].ID), "prompt", "My own words")
	asked = bring(other)
	asked.says(t, "Take the whole file")
	require.NotContains(t, asked.Body, "while you were writing", "one's own draft")
	merge = asked.filled(t, "/lists/pre-shift/merge")
	taken := p.post("/lists/pre-shift/merge", with(merge, "whole", "yes"))
	require.Equal(t, preShiftEdit, taken.URL.Path, firstProblem(taken))
	after, _ := m.draftList("pre-shift")
	require.Equal(t, "Words of the file", after.Items[0].Prompt)
	require.Equal(t, "More of the file", after.Items[1].Prompt)

	for _, id := range []string{"../x", "shed list", "new", `""`} {
		m.storesNothing(func() {
			reply := bring(strings.Replace(file, "id: pre-shift", "id: "+id, 1))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, id)
			reply.says(t, "line 3, id", id)
			drafts, err := m.desk().Drafts(t.Context())
			require.NoError(t, err)
			for _, d := range drafts {
				require.False(t, d.Sort == store.Lists && d.ID != "pre-shift" && d.Title == before.Title, "%s: a second list of the name", id)
			}
		})
	}
}

func TestAWalkSaysItsVersionAndOneBegunEarlierIsNamed(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	under := m.walk("ada")
	p := m.as("ada")
	require.Contains(t, p.get("/inspections/"+string(under.inspection())).Body, "List version 1.")
	const start = "/inspections/new?list=pre-shift"
	p.get(start).says(t, "Go on with the check you began<")
	sam := m.as("sam")
	edits(t, sam, "S3", "prompt", "Words of the next version")
	require.Equal(t, "/lists/pre-shift", publishes(t, sam).URL.Path)
	require.Equal(t, 2, m.inForce("pre-shift").Version)
	p.get(start).says(t, "Go on with the check you began on version 1")
	sam.get(start).says(t, "began on version 1")
	require.Equal(t, checklists.ListID("pre-shift"), under.list.ID)
}
