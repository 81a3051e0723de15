package server

import (
	"bytes"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func TestTextIsDroppedFromItsEntryAskedTwiceAndThePagesSaySo(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	at := m.clock.Now()
	digest, err := m.desk().KeepPhoto(t.Context(), store.Photo{Type: "image/jpeg", Width: 1, Height: 1, Bytes: []byte("picture")}, at)
	require.NoError(t, err)
	id, err := m.desk().StopIt(t.Context(), store.NewID(), checklists.Defect{Equipment: "hoist", What: "Walter fainted beside it", Photo: digest}, m.people["ada"], at)
	require.NoError(t, err)
	sam := m.as("sam")
	choose := sam.get("/retention/drop?seq=" + strconv.FormatInt(m.size()-1, 10))
	choose.says(t, "open or still in use")
	what := "/retention/drop?path=%2Fwhat&seq=" + strconv.FormatInt(m.size()-1, 10)
	sam.get(what).says(t, "open or still in use")
	open, err := m.desk().Defect(t.Context(), id)
	require.NoError(t, err)
	_, err = m.desk().Facts(t.Context(), at)
	require.NoError(t, err)
	require.True(t, open.Open())

	require.NoError(t, m.desk().MendDefect(t.Context(), store.NewID(), id, "put right", "", m.people["ada"], at))
	require.NoError(t, m.desk().ReturnDefect(t.Context(), store.NewID(), id, checklists.Recheck{Note: "runs"}, m.people["sam"], at))
	shown := sam.get(what)
	shown.says(t, "Walter fainted beside it")
	form := url.Values{"submission": {shown.submission()}, "path": {"/what"}, "seq": {strconv.FormatInt(m.size()-3, 10)}, "seen": {between(t, shown.Body, `name="seen" value="`)}}
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, sam.post("/retention/drop", form).Status)
		form.Set("reason", "a matter of health")
		form.Set("rule", "Walter asked on 3 March")
		asked := sam.post("/retention/drop", form)
		require.Equal(t, http.StatusOK, asked.Status)
		asked.says(t, "For good?")
	})
	form.Set("asked", "yes")
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, sam.post("/retention/drop", form).Status, "not signed")
	})
	form.Set("pin", testSecrets["sam"])
	done := sam.post("/retention/drop", form)
	require.Equal(t, http.StatusOK, done.Status, done.Body)
	done.says(t, "a matter of health")
	entry := sam.get("/record/" + form.Get("seq"))
	entry.says(t, "No longer kept: dropped")
	entry.says(t, "Walter asked on 3 March")
	require.NotContains(t, entry.Body, "Walter fainted")
	require.NotContains(t, sam.get("/defects/"+string(id)).Body, "Walter fainted")
	sam.get("/verify")
	reports, err := m.store.Verify(t.Context())
	require.NoError(t, err)
	require.True(t, reports[m.mill.ID].OK(), reports[m.mill.ID].Faults)

	// The photo, next.
	gone := store.Going{Photo: digest}
	plan, err := m.desk().ShowDrop(t.Context(), gone, m.people["sam"], at)
	require.NoError(t, err)
	require.NoError(t, m.desk().DropByHand(t.Context(), store.NewID(), store.Mark(plan), gone, checklists.DropByHand{Reason: "a face", Rule: "asked"}, m.people["sam"], at))
	picture := sam.get("/photos/" + digest)
	require.Equal(t, http.StatusOK, picture.Status)
	require.Contains(t, picture.Body, "Photo no longer kept")
	sam.get("/defects/" + string(id))

	require.NoError(t, m.store.EnsureKeys(t.Context(), at))
	paper := printedText(t, sam.get("/export.pdf?from=&subject="+string(id)).Body)
	require.Contains(t, paper, "Walter asked on 3 March")
	require.Contains(t, paper, "asked")
	require.NotContains(t, paper, "fainted")
}

// printedText is what stands on all pages of a PDF, read by a library that had no
// part in writing it.
func printedText(t *testing.T, raw string) string {
	t.Helper()
	r, err := pdf.NewReader(strings.NewReader(raw), int64(len(raw)))
	require.NoError(t, err, raw)
	text, err := r.GetPlainText()
	require.NoError(t, err)
	all, err := io.ReadAll(text)
	require.NoError(t, err)
	return strings.Join(strings.Fields(string(all)), " ")
}

func between(t *testing.T, body, mark string) string {
	t.Helper()
	_, rest, found := strings.Cut(body, mark)
	require.True(t, found, mark)
	value, _, _ := strings.Cut(rest, `"`)
	return value
}

func TestTimesHoldsAndTheNightsDropAreASupervisors(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	require.Equal(t, http.StatusForbidden, m.as("ada").get("/retention").Status)
	page := sam.get("/retention?sort=lifts")
	page.says(t, "While nobody has set a time, all is kept for good.")
	short := sam.post("/retention", url.Values{"submission": {page.submission()}, "sort": {"incidents"}, "values": {"4"}, "photos": {"0"}, "reason": {"space"}, "pin": {testSecrets["sam"]}})
	require.Equal(t, http.StatusUnprocessableEntity, short.Status)
	short.says(t, "29 CFR 1904.33(a)")
	set := sam.post("/retention", url.Values{"submission": {store.NewID()}, "sort": {"checks"}, "values": {"2"}, "photos": {"1"}, "reason": {"as counsel said"}, "pin": {testSecrets["sam"]}})
	require.Equal(t, http.StatusOK, set.Status)
	set.says(t, "as counsel said")
	hold := sam.post("/retention/holds", url.Values{"submission": {store.NewID()}, "equipment": {"hoist"}, "hold_reason": {"a claim"}, "pin": {testSecrets["sam"]}})
	require.Equal(t, http.StatusOK, hold.Status)
	hold.says(t, "what is about")
	holds, err := m.desk().KeepHolds(t.Context())
	require.NoError(t, err)
	lifted := sam.post("/retention/holds/"+string(holds[0].ID)+"/lift", url.Values{"submission": {store.NewID()}, "reason": {"settled"}, "pin": {testSecrets["sam"]}})
	lifted.says(t, "settled")
	require.Equal(t, http.StatusOK, sam.post("/retention/run", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["sam"]}}).Status)

	next, err := m.server.dropRound(t.Context(), time.Time{})
	require.NoError(t, err)
	require.True(t, next.After(m.clock.Now()), "it is not done when the server starts")
	m.clock.Advance(next.Sub(m.clock.Now()))
	again, err := m.server.dropRound(t.Context(), next)
	require.NoError(t, err)
	require.True(t, again.After(next))
}

func TestPersonWhoseNameWasDroppedBreaksNoPage(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	ada := m.people["ada"]
	ada.Left = true
	require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), ada, "", m.people["sam"], m.clock.Now()))
	m.clock.Advance(7 * 366 * 24 * time.Hour)
	g := store.Going{Person: ada.ID}
	plan, err := m.desk().ShowDrop(t.Context(), g, m.people["sam"], m.clock.Now())
	require.NoError(t, err)
	require.NoError(t, m.desk().DropByHand(t.Context(), store.NewID(), store.Mark(plan), g, checklists.DropByHand{Reason: "long gone", Rule: "29 CFR 1904.33(a), over"}, m.people["sam"], m.clock.Now()))
	sam := m.as("sam")
	for _, path := range []string{"/people", "/people/" + string(ada.ID), "/record", "/", "/training", "/program", "/retention", "/people/" + string(ada.ID) + "/training"} {
		page := sam.get(path)
		require.Equal(t, http.StatusOK, page.Status, path)
		require.NotContains(t, page.Body, ada.Name, path)
	}
	sam.get("/people").says(t, "person no longer named")
	require.NotContains(t, m.phone().get("/sign-in").Body, "no longer named")
}

func TestRetentionPagesRenderEmptyAndFull(t *testing.T) {
	t.Parallel()
	assets, err := views.NewAssets()
	require.NoError(t, err)
	engine, err := views.NewEngine(assets)
	require.NoError(t, err)
	frame := &views.Frame{Title: plain.Say("a title")}
	rule := checklists.KeepRules()[0]
	for _, tc := range []struct {
		name string
		page any
		says string
	}{
		{"retention", retentionPage{Frame: frame}, "Nothing was ever dropped."},
		{"retention", retentionPage{Frame: frame, Settles: true, Due: 3, Rows: []keepLine{{Rule: rule, Policy: &checklists.KeepPolicy{Reason: "<why>"}, Values: keptFor(2), Kept: keptFor(0), DueValues: 3, DueSaid: goneCount(3, 0)}},
			On: []holdLine{{About: plain.Say("x"), Lift: "/l"}}, Lifted: []holdLine{{About: plain.Say("y")}}, Dropped: []entryLine{{Seq: 4}}}, "3 names and texts"},
		{"retention", retentionPage{Frame: frame, Uncounted: true, Rows: []keepLine{{Rule: rule}}}, "Count what is due now"},
		{"retention-drop", dropPage{Frame: frame}, "nothing in this entry"},
		{"retention-drop", dropPage{Frame: frame, Kept: plain.Say("held")}, "held"},
		{"retention-drop", dropPage{Frame: frame, Choose: []dropChoice{{Name: fieldWords("/what"), Text: "<b>"}, {Photo: "/photos/d"}}}, "&lt;b&gt;"},
		{"retention-drop", dropPage{Frame: frame, Values: 2, Texts: []string{"a name"}, Entries: []int64{3, 4}}, "asked once more"},
		{"retention-drop", dropPage{Frame: frame, Photo: "/photos/d", Asked: true, Reason: "why"}, "Drop it for good"},
		{"photo-gone", photoGonePage{Frame: frame, Digest: "abc"}, "abc"},
	} {
		var out bytes.Buffer
		require.NoError(t, engine.Render(&out, tc.name, tc.page), tc.name)
		require.Contains(t, out.String(), tc.says)
	}
}
