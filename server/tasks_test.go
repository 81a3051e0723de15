package server

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// theTask is the one of that id, as it is kept.
func (m *testMill) theTask(id procedures.TaskID) procedures.Task {
	m.t.Helper()
	t, err := m.desk().Task(m.t.Context(), id)
	require.NoError(m.t, err)
	return t
}

// aTask is the form of minor servicing at the hoist.
func aTask(page page) url.Values {
	return url.Values{"submission": {page.submission()}, "title": {"Brush the load chain"}, "at.hoist": {"yes"}, "kind": {"minor-servicing"}, "guard_off": {"no"}, "body_in": {"no"},
		"routine": {"yes"}, "repetitive": {"yes"}, "integral": {"yes"}, "protected": {"yes"}, "measure": {"Long brush, <nobody> below"}, "pin": {testSecrets["sam"]}}
}

func TestStarterTasksAreThereAndCountAsServicingUntilSomebodyAnswers(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	all, err := m.desk().Tasks(t.Context())
	require.NoError(t, err)
	require.Len(t, all, len(procedures.StarterTasks(procedures.StarterPlant(m.mill.SetUp.Answers()), m.mill.SetUp.Answers())))
	reply := m.as("ada").get("/tasks")
	require.Contains(t, reply.title(), "servicing until a supervisor looks at them")
	reply.says(t, "Change inserted teeth or shanks")
	reply.says(t, "/lockouts/new?procedure=head-saw")
	reply.says(t, "Said to be production. No supervisor answers for that yet")
	reply.says(t, "A record is not a lock.")
	require.Equal(t, procedures.Servicing, m.theTask("sweep-outside").Treated(m.clock.Now()))
	require.NotContains(t, m.as("rita").get("/tasks").Body, "/lockouts/new", "a reader starts nothing")
}

func TestMinorServicingStandsForAYearOnTheSupervisorsName(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := aTask(sam.get("/tasks/new"))
	reply := sam.post("/tasks/new", form)
	require.Equal(t, "/tasks", reply.URL.Path, reply.Body)
	reply.says(t, "Brush the load chain")
	reply.says(t, "Only so: Long brush, &lt;nobody&gt; below")
	reply.says(t, "Sam Ordway answers for it")
	reply.says(t, "To be looked at again by Wed 3 Mar 2027.")
	m.storesNothing(func() { sam.post("/tasks/new", form) })
	var id procedures.TaskID
	all, err := m.desk().Tasks(t.Context())
	require.NoError(t, err)
	for _, one := range all {
		if one.Title == "Brush the load chain" {
			id = one.ID
		}
	}
	require.NotEmpty(t, id)

	m.clock.Advance(366 * 24 * time.Hour)
	sam = m.as("sam")
	late := sam.get("/tasks/" + string(id))
	require.Equal(t, "Brush the load chain: servicing, under lockout", late.title())
	late.says(t, "That is more than a year ago")
	again := aTask(late)
	again.Set("seen", store.Mark(m.theTask(id)))
	require.Equal(t, "/tasks", sam.post("/tasks/"+string(id), again).URL.Path)
	require.Equal(t, procedures.MinorServicing, m.theTask(id).Treated(m.clock.Now()), "looked at again")
}

func TestTaskThatIsServicingIsRefusedAsLessAndNothingTypedIsLost(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	for name, wrong := range map[string]struct {
		set  url.Values
		says string
	}{
		"guard off":    {url.Values{"guard_off": {"yes"}}, "29 CFR 1910.147(a)(2)(ii)(A)"},
		"body in":      {url.Values{"body_in": {"yes"}}, "29 CFR 1910.147(a)(2)(ii)(B)"},
		"one of four":  {url.Values{"protected": {"no"}}, "all at once"},
		"no measure":   {url.Values{"measure": {""}}, "Nothing is named that protects"},
		"unanswered":   {url.Values{"routine": {""}}, `href="#f-routine"`},
		"nowhere":      {url.Values{"at.hoist": {""}}, `href="#f-equipment"`},
		"no procedure": {url.Values{"kind": {"servicing"}}, `href="#f-procedure"`},
		"wrong PIN":    {url.Values{"pin": {"another"}}, `href="#f-pin"`},
	} {
		form := aTask(sam.get("/tasks/new"))
		form.Set("note", "as Jo <showed>")
		for field, value := range wrong.set {
			form[field] = value
		}
		m.storesNothing(func() {
			reply := sam.post("/tasks/new", form)
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, name)
			reply.says(t, wrong.says, name)
			reply.says(t, "as Jo &lt;showed&gt;", name)
		})
	}
	require.Equal(t, http.StatusForbidden, m.as("ada").get("/tasks/new").Status)
	m.storesNothing(func() {
		require.Equal(t, http.StatusForbidden, m.as("ada").post("/tasks/new", aTask(page{})).Status)
		require.Equal(t, http.StatusNotFound, sam.get("/tasks/no-such").Status)
	})
}

func TestTaskOfAnotherIsNotWrittenOver(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := aTask(sam.get("/tasks/sweep-outside"))
	form.Set("seen", "an older one")
	m.storesNothing(func() {
		reply := sam.post("/tasks/sweep-outside", form)
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "Somebody changed this meanwhile.")
	})
}

func TestStarterTasksThatAreMissingAreEnteredOnce(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	require.NotContains(t, sam.get("/tasks").Body, "Enter the starter tasks")
	m.storesNothing(func() {
		reply := sam.post("/tasks", url.Values{"submission": {store.NewID()}, "pin": {testSecrets["sam"]}})
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "Every starter task is there already.")
	})
}

// What was kept of it stays on the record; done again, it is servicing.
func TestATaskIsTakenOffTheListAndStaysOnTheRecord(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	own := m.theTask("sweep-outside")
	at := "/tasks/sweep-outside"
	form := url.Values{"submission": {sam.get(at).submission()}, "seen": {store.Mark(own)}, "pin": {"wrong"}}
	m.storesNothing(func() { require.Equal(t, http.StatusUnprocessableEntity, sam.post(at+"/remove", form).Status) })
	m.storesNothing(func() { require.Equal(t, http.StatusForbidden, m.as("ada").post(at+"/remove", form).Status) })
	form.Set("pin", testSecrets["sam"])
	m.storesNothing(func() {
		require.Equal(t, http.StatusUnprocessableEntity, sam.post(at+"/remove", with(form, "seen", "old")).Status, "somebody changed it meanwhile")
	})
	reply := sam.post(at+"/remove", form)
	require.Equal(t, "/tasks", reply.URL.Path, reply.Body)
	require.NotContains(t, reply.Body, own.Title)
	reply.says(t, "not listed above: 1")
	m.storesNothing(func() { sam.post(at+"/remove", form) })
	gone := sam.get(at)
	require.Contains(t, gone.title(), "taken off the list")
	require.NotContains(t, gone.Body, `name="kind"`)
	require.Equal(t, procedures.Servicing, m.theTask("sweep-outside").Treated(m.clock.Now()))
	sam.get("/record").says(t, own.Title+" is taken off the list.")
	reply = sam.post("/tasks", url.Values{"submission": {sam.get("/tasks").submission()}, "pin": {testSecrets["sam"]}})
	reply.says(t, own.Title)
}
