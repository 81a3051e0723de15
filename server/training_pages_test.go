package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// hire enters somebody authorized whom nobody has trained yet.
func (m *testMill) hireOne(who, name string) {
	m.t.Helper()
	p := procedures.Person{ID: procedures.PersonID(store.NewID()), Name: name, Role: procedures.Operator, Authorized: true}
	digest, err := Hash("7193")
	require.NoError(m.t, err)
	require.NoError(m.t, m.desk().KeepPerson(m.t.Context(), store.NewID(), p, digest, m.people["sam"], m.clock.Now()))
	m.people[who] = p
}

// begins has somebody try to begin a lockout on the page.
func (m *testMill) begins(p *phone, procedure, pin string) page {
	m.t.Helper()
	form := p.get("/lockouts/new?procedure=" + procedure)
	return p.post("/lockouts/new", url.Values{"submission": {form.submission()}, "procedure": {procedure}, "task": {"grease"}, "hours": {"1"}, "pin": {pin}})
}

// trainingOn is the form filled in from who and what, as a link leads to it.
func trainingOn(p *phone, level procedures.Level, who procedures.PersonID, on ...procedures.ProcedureID) url.Values {
	p.t.Helper()
	return with(p.get(trainFor(level, who, on...)).filled(p.t, "/training/new"), "covered", "Each step at the hoist", "pin", testSecrets["sam"])
}

// 29 CFR 1910.147(c)(7)(i)(A) and (iii)(A), from the page that refuses to the
// page that lets.
func TestUntrainedIsRefusedTrainedMayBeginAndAChangeAsksForItAgain(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.hireOne("cal", "Cal Wye")
	cal, sam := m.phone(), m.as("sam")
	require.Equal(t, "/", cal.post("/sign-in", url.Values{"person": {string(m.people["cal"].ID)}, "pin": {"7193"}}).URL.Path)
	m.storesNothing(func() {
		reply := m.begins(cal, "hoist", "7193")
		require.Equal(t, http.StatusUnprocessableEntity, reply.Status)
		reply.says(t, "never trained on this procedure")
		reply.says(t, "1910.147(c)(7)(i)(A)")
	})
	sam.get("/training").says(t, "recorded as authorized and trained on no procedure")

	form := trainingOn(sam, procedures.AuthorizedLevel, m.people["cal"].ID, "hoist")
	require.Contains(t, form["kind"], string(procedures.Electrical), "filled in from the procedure")
	require.Equal(t, m.day(0), form.Get("on"))
	reply := sam.post("/training/new", form)
	require.Equal(t, "/training", reply.URL.Path, reply.Body)
	size := m.size()
	sam.post("/training/new", form)
	require.Equal(t, size, m.size(), "sent twice it is entered once")
	begun := m.begins(cal, "hoist", "7193")
	require.True(t, strings.HasPrefix(begun.URL.Path, "/lockouts/01"), begun.Body)
	m.cancel(cal, begun, "7193")

	m.clock.Advance(24 * time.Hour)
	m.newSubstance("hoist")
	require.Equal(t, "/", cal.post("/sign-in", url.Values{"person": {string(m.people["cal"].ID)}, "pin": {"7193"}}).URL.Path)
	sam = m.as("sam")
	m.storesNothing(func() {
		reply := m.begins(cal, "hoist", "7193")
		reply.says(t, "version 2 changed what is done; trained on version 1")
		reply.says(t, "1910.147(c)(7)(iii)(A)")
	})
	table := sam.get("/training")
	table.says(t, "version 2 changed what is done; trained on version 1")
	again := trainingOn(sam, procedures.AuthorizedLevel, m.people["cal"].ID, "hoist")
	require.Equal(t, "yes", again.Get("again"))
	require.Equal(t, "/training", sam.post("/training/new", again).URL.Path)
	begun = m.begins(cal, "hoist", "7193")
	require.True(t, strings.HasPrefix(begun.URL.Path, "/lockouts/01"), begun.Body)
}

// day is a day of the mill's calendar as a form takes it.
func (m *testMill) day(from int) string {
	zone, err := m.mill.Location()
	require.NoError(m.t, err)
	return m.clock.Now().In(zone).AddDate(0, 0, from).Format(time.DateOnly)
}

func (m *testMill) cancel(p *phone, at page, pin string) {
	m.t.Helper()
	reply := p.post(at.URL.Path+"/cancel", url.Values{"submission": {at.submission()}, "pin": {pin}})
	require.Equal(m.t, http.StatusOK, reply.Status, reply.Body)
}

// newSubstance puts another version in force that says more than the one before.
func (m *testMill) newSubstance(id string) {
	m.t.Helper()
	p, err := m.desk().Procedure(m.t.Context(), procedures.ProcedureID(id), 0)
	require.NoError(m.t, err)
	for i := range p.Steps {
		if p.Steps[i].Stage == procedures.Verify {
			p.Steps[i].Text += " Twice."
		}
	}
	draft, err := store.DraftOf(store.Procedures, id, p.Title, p)
	require.NoError(m.t, err)
	draft.Renewal = procedures.Renewal{Said: true, Substance: true, Why: "it was tried once too seldom"}
	require.NoError(m.t, m.desk().PublishDraft(m.t.Context(), store.NewID(), draft, m.people["sam"], m.clock.Now(), store.NumberProcedure))
}

// Entered today for a day before the second version, it was the first that was
// gone through, whatever is in force now.
func TestTrainingGoesThroughTheVersionOfItsDay(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.hireOne("cal", "Cal Wye")
	m.clock.Advance(48 * time.Hour)
	m.newSubstance("hoist")
	sam := m.as("sam")
	form := with(trainingOn(sam, procedures.AuthorizedLevel, m.people["cal"].ID, "hoist"), "on", m.day(-2))
	require.Equal(t, "/training", sam.post("/training/new", form).URL.Path)
	state, err := m.desk().TrainingState(t.Context())
	require.NoError(t, err)
	_, version, ok := state.Learned(m.people["cal"].ID, "hoist").Newest("hoist", m.clock.Now())
	require.True(t, ok)
	require.Equal(t, 1, version)
}

func TestSeveralAreTrainedUnderOneSignatureOrNobody(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.hireOne("cal", "Cal Wye")
	sam := m.as("sam")
	form := trainingOn(sam, procedures.AuthorizedLevel, m.people["cal"].ID, "hoist")
	form["person"] = []string{string(m.people["cal"].ID), string(m.people["bo"].ID)}
	size := m.size()
	require.Equal(t, "/training", sam.post("/training/new", form).URL.Path)
	require.Equal(t, size+2, m.size(), "an entry each")
	form = with(form, "submission", store.NewID(), "covered", "Again")
	form["person"] = []string{string(m.people["cal"].ID), store.NewID()}
	m.storesNothing(func() { require.Equal(t, http.StatusNotFound, sam.post("/training/new", form).Status) })
}

func TestTrainingNamesWhatIsWrongAndLosesNothing(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	sam := m.as("sam")
	form := with(trainingOn(sam, procedures.AuthorizedLevel, m.people["bo"].ID, "hoist"), "covered", "Locks <on> and off")
	for _, tc := range []struct{ field, value, at string }{
		{"person", "", "person"}, {"level", "king", "level"}, {"procedure", "", "procedure"}, {"kind", "", "kind"}, {"on", "", "on"}, {"on", m.day(1), "on"}, {"on", "soon", "on"},
		{"expires", m.day(-3), "expires"}, {"trainer", "", "trainer"}, {"own_word", "yes", "trainer"}, {"tags", "yes", "tag_point"}, {"covered", strings.Repeat("x", 5000), "covered"},
		{"pin", "", "pin"}, {"pin", "wrong", "pin"},
	} {
		m.storesNothing(func() {
			reply := sam.post("/training/new", with(form, tc.field, tc.value))
			require.Equal(t, http.StatusUnprocessableEntity, reply.Status, "%v", tc)
			reply.says(t, `href="#f-`+tc.at+`"`, tc)
			reply.says(t, `id="f-`+tc.at, tc)
			kept := reply.filled(t, "/training/new")
			if tc.field != "covered" {
				require.Equal(t, "Locks <on> and off", kept.Get("covered"), "%v", tc)
			}
			if tc.field != "person" {
				require.Equal(t, []string{string(m.people["bo"].ID)}, kept["person"])
			}
		})
	}
	again := with(form, "again", "yes", "covered", "")
	m.storesNothing(func() { sam.post("/training/new", again).says(t, `href="#f-covered"`) })
}

func TestDeputyEntersNoTrainingToLockOut(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.deputize()
	page := p.get("/training/new")
	page.says(t, "Who may lock out is a supervisor")
	form := with(p.get(trainFor(procedures.AffectedLevel, m.people["ada"].ID, "hoist")).filled(t, "/training/new"), "covered", "What a lock means", "pin", testSecrets["bo"])
	m.storesNothing(func() {
		p.post("/training/new", with(form, "level", "authorized")).says(t, "Only a supervisor enters training that lets somebody lock out")
	})
	require.Equal(t, "/training", p.post("/training/new", form).URL.Path)
}

func TestCrewSeesItsOwnTrainingAndAReaderEverybodys(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	bo, rita := m.as("bo"), m.as("rita")
	own, others := "/people/"+string(m.people["bo"].ID)+"/training", "/people/"+string(m.people["ada"].ID)+"/training"
	page := bo.get(own)
	page.says(t, "The employer certifies")
	page.says(t, "Sam Ordway")
	page.says(t, "A record is not a lock")
	require.Equal(t, http.StatusForbidden, bo.get(others).Status)
	require.NotContains(t, bo.get("/training").Body, "Ada Rook")
	require.Equal(t, http.StatusOK, rita.get(others).Status)
	rita.get("/training").says(t, "Ada Rook")
	require.NotContains(t, rita.get("/training").Body, `href="/training/new`)
	m.as("sam").get("/people/"+string(m.people["bo"].ID)).says(t, own)
}
