package server

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
	"stillsaw/server/store"
	"stillsaw/server/store/lent"
	"stillsaw/views"
)

// keyed is a mill whose checkpoints are signed.
func (m *testMill) keyed() *testMill {
	m.t.Helper()
	_, err := m.desk().EnsureKey(m.t.Context(), m.clock.Now())
	require.NoError(m.t, err)
	return m
}

// answering serves the mill on this machine and returns where it is a witness.
func (m *testMill) answering() string {
	m.t.Helper()
	listener, err := new(net.ListenConfig).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(m.t, err)
	served := make(chan error, 1)
	go func() { served <- m.server.app.Listener(listener) }()
	m.t.Cleanup(func() {
		require.NoError(m.t, m.server.Stop())
		<-served
	})
	return "http://" + listener.Addr().String() + "/witness"
}

// keys is what another mill is told of this one's checkpoints.
func (m *testMill) keys() []string {
	m.t.Helper()
	keys, err := m.desk().LogKeys(m.t.Context())
	require.NoError(m.t, err)
	var all []string
	for _, key := range keys {
		all = append(all, key.Verifier)
	}
	return all
}

// witnessedBy sets a witness up, without trying it.
func (m *testMill) witnessedBy(w checklists.Witness) checklists.WitnessID {
	m.t.Helper()
	id, err := m.desk().SetUpWitness(m.t.Context(), store.NewID(), w, m.people["sam"], m.clock.Now())
	require.NoError(m.t, err)
	return id
}

// paired has other be a witness of m, and returns it as m knows it.
func (m *testMill) paired(other *testMill) checklists.WitnessID {
	m.t.Helper()
	require.NoError(m.t, other.desk().EnterLog(m.t.Context(), store.NewID(), checklists.WitnessedLog{Name: "Fernhollow", Verifier: m.keys()}, other.people["sam"], other.clock.Now()))
	key, err := other.desk().WitnessKey()
	require.NoError(m.t, err)
	return m.witnessedBy(checklists.Witness{Kind: checklists.WitnessStillsaw, Place: other.answering(), Verifier: key})
}

// tells does a round and returns what came of the witness.
func (m *testMill) tells(id checklists.WitnessID) store.WitnessState {
	m.t.Helper()
	require.NoError(m.t, m.server.witnessRound(m.t.Context()))
	w, err := m.desk().Witness(m.t.Context(), id)
	require.NoError(m.t, err)
	return w
}

func (m *testMill) alarms() []checklists.WitnessAlarm {
	m.t.Helper()
	all, err := m.desk().WitnessAlarms(m.t.Context())
	require.NoError(m.t, err)
	return all
}

// rewrite changes an entry and everything that follows from it, as somebody could
// who has the database and the key.
func (m *testMill) rewrite(seq int64) {
	m.t.Helper()
	db, err := lent.Past(driverName(), m.store)
	require.NoError(m.t, err)
	rows, err := db.QueryContext(m.t.Context(), "SELECT leaf FROM entries ORDER BY seq")
	require.NoError(m.t, err)
	var edge record.Frontier
	var hashes []record.StoredHash
	for rows.Next() {
		var leaf []byte
		require.NoError(m.t, rows.Scan(&leaf))
		if edge.Size() == seq {
			leaf = append(leaf, ' ')
		}
		hashes = append(hashes, edge.Append(tlog.RecordHash(leaf))...)
	}
	require.NoError(m.t, rows.Err())
	require.NoError(m.t, rows.Close())
	for _, h := range hashes {
		_, err := db.ExecContext(m.t.Context(), "UPDATE tree_hashes SET hash = "+lent.Place(1)+" WHERE place = "+lent.Place(2), h.Hash[:], h.Index)
		require.NoError(m.t, err)
	}
	root := edge.Root()
	_, err = db.ExecContext(m.t.Context(), "UPDATE log_heads SET root = "+lent.Place(1), root[:])
	require.NoError(m.t, err)
	require.NoError(m.t, db.Close())
}

func TestOneStillsawWitnessesAnotherAndTellsWhenItsRecordWasRewritten(t *testing.T) {
	t.Parallel()
	m, other := newMill(t).keyed(), foundedMill(t)
	id := m.paired(other)
	w := m.tells(id)
	require.Equal(t, checklists.WitnessTook, w.Answer, w.Why)
	require.Equal(t, m.size(), w.Took.Size)
	m.stop("ada", "hoist", "hook bent")
	require.Equal(t, checklists.WitnessTook, m.tells(id).Answer, "with a proof from what it saw")

	cosigned, err := m.desk().Cosignatures(t.Context(), 9)
	require.NoError(t, err)
	require.Len(t, cosigned, 2)
	witness, err := record.NewCosignatureVerifier(w.Verifier)
	require.NoError(t, err)
	head, opened, err := record.OpenCheckpoint(cosigned[0].Text, append(verifiersOf(t, m.keys()), witness)...)
	require.NoError(t, err)
	require.Equal(t, m.size(), head.Size)
	require.Len(t, opened.Sigs, 2, "the mill's and the witness's")
	require.Empty(t, m.alarms())

	m.rewrite(3)
	m.stop("ada", "hoist", "and on")
	w = m.tells(id)
	require.Equal(t, checklists.WitnessDisagrees, w.Answer)
	require.Len(t, m.alarms(), 1)
	require.Equal(t, checklists.AlarmForked, m.alarms()[0].Why)
	m.tells(id)
	require.Len(t, m.alarms(), 1, "one alarm for one thing")
	m.as("sam").get("/").says(t, "does not go on from it")
	require.NotContains(t, m.as("ada").get("/").Body, "does not go on from it")
	m.as("sam").get("/witnesses").says(t, "A witness does not agree with the record")
	m.as("rita").get("/verify").says(t, "does not go on from it")
	other.as("sam").get("/witnesses").says(t, "Download what was sent otherwise")

	alarm := "/witnesses/alarms/" + string(m.alarms()[0].ID)
	form := url.Values{"submission": {store.NewID()}, "reason": {"an old copy was put back"}}
	require.Equal(t, http.StatusUnprocessableEntity, m.as("sam").post(alarm, form).Status, "not without signing")
	require.Equal(t, http.StatusForbidden, m.as("ada").post(alarm, form).Status)
	form.Set("pin", testSecrets["sam"])
	m.as("sam").post(alarm, form).says(t, "Closed, with your reason on the record.")
	m.tells(id)
	require.Empty(t, m.alarms(), "what was closed is not raised by the same thing again")
	m.as("rita").get("/record?kind=witness-alarm-closed").says(t, "an old copy was put back")
}

func verifiersOf(t *testing.T, keys []string) (known []note.Verifier) {
	t.Helper()
	for _, key := range keys {
		verifier, err := note.NewVerifier(key)
		require.NoError(t, err)
		known = append(known, verifier)
	}
	return known
}

// What a rewritten record is answered over the wire, and a shortened one.
func TestWitnessAnswersAsTheProtocolSays(t *testing.T) {
	t.Parallel()
	m, other := newMill(t).keyed(), foundedMill(t)
	place := other.answering()
	require.NoError(t, other.desk().EnterLog(t.Context(), store.NewID(), checklists.WitnessedLog{Name: "Fernhollow", Verifier: m.keys()}, other.people["sam"], other.clock.Now()))
	ask := func(body string) (int, string, string) {
		t.Helper()
		reply, err := http.Post(place+"/add-checkpoint", "text/plain", strings.NewReader(body))
		require.NoError(t, err)
		text, err := io.ReadAll(reply.Body)
		require.NoError(t, err)
		require.NoError(t, reply.Body.Close())
		return reply.StatusCode, reply.Header.Get("Content-Type"), string(text)
	}
	send := func(old int64) record.Submission {
		proof, now, err := m.desk().CheckpointSince(t.Context(), old)
		require.NoError(t, err)
		return record.Submission{Old: old, Proof: proof, Checkpoint: now.Text}
	}
	first := send(0)
	size := m.size()
	status, _, line := ask(first.Text())
	require.Equal(t, http.StatusOK, status)
	require.True(t, strings.HasPrefix(line, "— stillsaw/"+string(other.mill.ID)+"/witness "), line)
	m.stop("ada", "hoist", "hook bent")
	status, sort, body := ask(send(size - 1).Text())
	require.Equal(t, http.StatusConflict, status)
	require.Equal(t, "text/x.tlog.size", sort)
	require.Equal(t, fmt.Sprintln(size), body)
	bad := send(size)
	bad.Proof = append(bad.Proof, tlog.Hash{1})
	status, _, _ = ask(bad.Text())
	require.Equal(t, http.StatusUnprocessableEntity, status)
	bad = send(size)
	bad.Old = size + 9
	status, _, _ = ask(bad.Text())
	require.Equal(t, http.StatusBadRequest, status, "old is greater than the checkpoint's size")
	status, _, _ = ask("old")
	require.Equal(t, http.StatusBadRequest, status)
	status, _, _ = ask(strings.Replace(send(size).Text(), "stillsaw/", "stillsaw/x", 1))
	require.Equal(t, http.StatusNotFound, status)
	status, _, _ = ask(strings.Replace(send(size).Text(), fmt.Sprintf("\n%d\n", size+1), fmt.Sprintf("\n%d\n", size+2), 1))
	require.Equal(t, http.StatusForbidden, status, "signed is another text")
	status, _, _ = ask(strings.Repeat("x", record.SubmissionMost+1))
	require.Equal(t, http.StatusRequestEntityTooLarge, status)
	status, _, _ = ask(send(size).Text())
	require.Equal(t, http.StatusOK, status)
	for range takenFrom {
		if status, _, _ = ask("old"); status != http.StatusBadRequest {
			break
		}
	}
	require.Equal(t, http.StatusTooManyRequests, status)
	other.clock.Advance(time.Minute)
	status, _, _ = ask("old")
	require.Equal(t, http.StatusBadRequest, status, "a minute later there is room again")
}

func TestWitnessStateOutlivesARestart(t *testing.T) {
	t.Parallel()
	m := newMill(t).keyed()
	dir := t.TempDir()
	st, err := lent.Open(t.Context(), dir)
	require.NoError(t, err)
	about := testSetUpIn(st)
	set, err := Starter(about, m.people["sam"], testDigests()["sam"], m.clock.Now())
	require.NoError(t, err)
	require.NoError(t, st.SetUp(t.Context(), set))
	other := st.Of(set.Mill.ID)
	require.NoError(t, other.EnterLog(t.Context(), store.NewID(), checklists.WitnessedLog{Name: "Fernhollow", Verifier: m.keys()}, m.people["sam"], m.clock.Now()))
	_, now, err := m.desk().CheckpointSince(t.Context(), 0)
	require.NoError(t, err)
	_, _, err = other.SeeCheckpoint(t.Context(), record.Submission{Checkpoint: now.Text}, m.clock.Now())
	require.NoError(t, err)
	key, err := other.WitnessKey()
	require.NoError(t, err)
	require.NoError(t, st.Close())

	st, err = lent.Open(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	again := st.Of(set.Mill.ID)
	same, err := again.WitnessKey()
	require.NoError(t, err)
	require.Equal(t, key, same)
	m.rewrite(3)
	_, now, err = m.desk().CheckpointSince(t.Context(), 0)
	require.NoError(t, err)
	_, size, err := again.SeeCheckpoint(t.Context(), record.Submission{Checkpoint: now.Text}, m.clock.Now())
	require.ErrorIs(t, err, record.ErrOtherSize, "it is not taken for a log never seen")
	require.Equal(t, now.Size, size)
}

// A witness that holds more than the record has: an older copy was put back.
func TestARecordThatBecameShorterRaisesAnAlarm(t *testing.T) {
	t.Parallel()
	m := newMill(t).keyed()
	place := t.TempDir()
	id := m.witnessedBy(checklists.Witness{Kind: checklists.WitnessFolder, Place: place})
	require.Equal(t, checklists.WitnessTook, m.tells(id).Answer)
	_, now, err := m.desk().CheckpointSince(t.Context(), 0)
	require.NoError(t, err)
	longer := now.Head
	longer.Size += 5
	text := m.signed(longer)
	dir := millFolder(place, m.mill.ID)
	require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("%015d.checkpoint.txt", longer.Size)), []byte(text), 0o600))
	m.stop("ada", "hoist", "hook bent")
	require.Equal(t, checklists.WitnessDisagrees, m.tells(id).Answer)
	require.Equal(t, checklists.AlarmLonger, m.alarms()[0].Why)
	require.Equal(t, longer.Size, m.alarms()[0].HeldSize)
}

// signed signs any head with the mill's own key, as who holds it could.
func (m *testMill) signed(head record.Head) string {
	m.t.Helper()
	files, err := filepath.Glob(filepath.Join(filepath.Dir(m.store.Path()), "keys", "*.key"))
	require.NoError(m.t, err)
	require.NotEmpty(m.t, files)
	secret, err := os.ReadFile(files[0])
	require.NoError(m.t, err)
	signer, err := note.NewSigner(strings.TrimSpace(string(secret)))
	require.NoError(m.t, err)
	text, err := head.Sign(signer)
	require.NoError(m.t, err)
	return text
}

func TestFolderGetsOneFileForEachSizeAndKeepsThemAll(t *testing.T) {
	t.Parallel()
	m := newMill(t).keyed()
	place := t.TempDir()
	id := m.witnessedBy(checklists.Witness{Kind: checklists.WitnessFolder, Place: place})
	w := m.tells(id)
	require.Equal(t, checklists.WitnessTook, w.Answer, w.Why)
	first := m.size()
	m.stop("ada", "hoist", "hook bent")
	m.tells(id)
	m.tells(id)
	dir := millFolder(place, m.mill.ID)
	var names []string
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, file := range files {
		names = append(names, file.Name())
	}
	require.Len(t, names, 3)
	require.Equal(t, []string{fmt.Sprintf("%015d.checkpoint.txt", first), fmt.Sprintf("%015d.checkpoint.txt", first+1)}, names[:2])
	require.Regexp(t, `^verifier-[0-9a-f]{8}\.txt$`, names[2])
	key, err := os.ReadFile(filepath.Join(dir, names[2]))
	require.NoError(t, err)
	require.Equal(t, m.keys()[0]+"\n", string(key))
	text, err := os.ReadFile(filepath.Join(dir, names[1]))
	require.NoError(t, err)
	head, _, err := record.OpenCheckpoint(string(text), verifiersOf(t, m.keys())...)
	require.NoError(t, err)
	require.Equal(t, first+1, head.Size)

	require.ErrorIs(t, putBeside(dir, names[0], "something else"), os.ErrExist)
	require.ErrorIs(t, putSlowly(filepath.Join(dir, names[0]), "something else"), os.ErrExist)
	require.NoError(t, os.Remove(filepath.Join(dir, names[1])))
	m.stop("ada", "hoist", "again")
	w = m.tells(id)
	require.Equal(t, checklists.WitnessTookAgain, w.Answer, "one that it had is gone")
	require.True(t, w.Answer.Good())
}

func TestAForkInAFolderIsLeftAsItIsAndRaisesAnAlarm(t *testing.T) {
	t.Parallel()
	m := newMill(t).keyed()
	place := t.TempDir()
	id := m.witnessedBy(checklists.Witness{Kind: checklists.WitnessFolder, Place: place})
	m.tells(id)
	dir := millFolder(place, m.mill.ID)
	before, err := os.ReadDir(dir)
	require.NoError(t, err)
	m.rewrite(3)
	m.stop("ada", "hoist", "and on")
	require.Equal(t, checklists.WitnessDisagrees, m.tells(id).Answer)
	require.Len(t, m.alarms(), 1)
	require.Equal(t, checklists.AlarmForked, m.alarms()[0].Why)
	after, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, after, len(before), "nothing was put beside it")
	m.stop("ada", "hoist", "the mill goes on") // an alarm keeps nobody from work

	require.NoError(t, os.WriteFile(filepath.Join(dir, "000000000000999.checkpoint.txt"), []byte("not signed by anybody"), 0o600))
	m.tells(id)
	require.Len(t, m.alarms(), 2)
	require.Equal(t, checklists.AlarmUnsigned, m.alarms()[0].Why)
}

func TestAFolderThatIsNotThereIsSaidAndNotMade(t *testing.T) {
	t.Parallel()
	m := newMill(t).keyed()
	place := filepath.Join(t.TempDir(), "stick")
	id := m.witnessedBy(checklists.Witness{Kind: checklists.WitnessFolder, Place: place})
	require.Equal(t, checklists.WitnessUnreached, m.tells(id).Answer)
	require.NoDirExists(t, place)
	require.Empty(t, m.alarms())
	form := url.Values{"submission": {store.NewID()}, "kind": {"folder"}, "place": {place}, "pin": {testSecrets["sam"]}}
	page := m.as("sam").post("/witnesses", form)
	require.Equal(t, http.StatusUnprocessableEntity, page.Status)
	page.says(t, "a folder that is there and that this computer may write to")
	form.Set("place", t.TempDir())
	page = m.as("sam").post("/witnesses", form)
	page.says(t, "It has the checkpoint.")
	if same, known := sameDisk(form.Get("place"), m.store.Path()); known && same {
		page.says(t, "on the same disk as the database")
	}
}

func TestWitnessThatIsOddOrSilentIsNoAlarm(t *testing.T) {
	t.Parallel()
	m, other := newMill(t).keyed(), foundedMill(t)
	listener, err := new(net.ListenConfig).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	var answer func(http.ResponseWriter, *http.Request)
	odd := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { answer(w, r) }), ReadHeaderTimeout: time.Minute}
	served := make(chan error, 1)
	go func() { served <- odd.Serve(listener) }()
	t.Cleanup(func() { require.NoError(t, odd.Close()); <-served })
	key, err := other.desk().WitnessKey()
	require.NoError(t, err)
	id := m.witnessedBy(checklists.Witness{Kind: checklists.WitnessStillsaw, Place: "http://" + listener.Addr().String(), Verifier: key})
	asked := 0
	for want, reply := range map[checklists.WitnessAnswer]func(http.ResponseWriter, *http.Request){
		checklists.WitnessStrange: func(w http.ResponseWriter, r *http.Request) {
			if asked++; r.URL.Path != "/add-checkpoint" {
				t.Error("a redirect was followed")
			}
			http.Redirect(w, r, "/elsewhere", http.StatusTemporaryRedirect)
		},
		checklists.WitnessNoSignature: func(w http.ResponseWriter, _ *http.Request) { fmt.Fprintln(w, "— somebody AAAAAAAA") },
		checklists.WitnessUnknownLog:  func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNotFound) },
		checklists.WitnessUnknownKey:  func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusForbidden) },
	} {
		answer = reply
		require.Equal(t, want, m.tells(id).Answer)
	}
	require.Equal(t, 1, asked)
	answer = func(w http.ResponseWriter, _ *http.Request) {
		w.WriteHeader(http.StatusConflict)
		fmt.Fprint(w, "many")
	}
	require.Equal(t, checklists.WitnessStrange, m.tells(id).Answer)
	require.NoError(t, odd.Close())
	w := m.tells(id)
	require.Equal(t, checklists.WitnessUnreached, w.Answer)
	require.NotEmpty(t, w.Why)
	require.Empty(t, m.alarms())
	m.as("sam").get("/witnesses").says(t, "It could not be reached")
}

func TestCheckpointGoesOutByMailOnceADayWhenTheRecordMoved(t *testing.T) {
	t.Parallel()
	m := newMill(t).keyed()
	id := m.witnessedBy(checklists.Witness{Kind: checklists.WitnessMail, Place: "insurer@box.example"})
	require.Equal(t, checklists.WitnessNoMail, m.tells(id).Answer)
	office := newPostOffice(t, true)
	m.mailing(office)
	require.Equal(t, checklists.WitnessQueued, m.tells(id).Answer)
	m.round()
	mails := office.mails()
	require.Len(t, mails, 1)
	require.Equal(t, "insurer@box.example", mails[0].To)
	_, now, err := m.desk().CheckpointSince(t.Context(), 0)
	require.NoError(t, err)
	require.Contains(t, mails[0].Body, now.Text)
	require.Contains(t, mails[0].Body, m.keys()[0])
	require.Contains(t, mails[0].Body, "Keep this mail")
	w, err := m.desk().Witness(t.Context(), id)
	require.NoError(t, err)
	require.Equal(t, checklists.WitnessTook, w.Answer)

	m.stop("ada", "hoist", "hook bent")
	m.tells(id)
	m.round()
	require.Len(t, office.mails(), 1, "one a day")
	m.clock.Advance(24 * time.Hour)
	m.tells(id)
	m.round()
	require.Len(t, office.mails(), 2)
	m.clock.Advance(24 * time.Hour)
	m.tells(id)
	m.round()
	require.Len(t, office.mails(), 2, "the record did not move")

	m.stop("ada", "hoist", "again")
	m.tells(id)
	require.NoError(t, m.desk().RemoveWitness(t.Context(), store.NewID(), id, m.people["sam"], m.clock.Now()))
	m.round()
	require.Len(t, office.mails(), 2, "what was removed gets nothing, also not what waited for it")
}

func TestOnlySupervisorsSeeWitnesses(t *testing.T) {
	t.Parallel()
	m := newMill(t).keyed()
	for _, who := range []string{"ada", "rita"} {
		require.Equal(t, http.StatusForbidden, m.as(who).get("/witnesses").Status)
	}
	for field, form := range map[string]url.Values{
		"place":    {"kind": {"stillsaw"}, "place": {"file:///etc/passwd"}, "verifier": {"x"}},
		"verifier": {"kind": {"stillsaw"}, "place": {"http://10.0.0.3:8090/witness"}, "verifier": {"x"}},
		"kind":     {"kind": {"rumour"}},
	} {
		form.Set("submission", store.NewID())
		form.Set("pin", testSecrets["sam"])
		page := m.as("sam").post("/witnesses", form)
		require.Equal(t, http.StatusUnprocessableEntity, page.Status)
		page.says(t, `href="#f-`+field+`"`)
	}
	page := m.as("sam").post("/witnesses/logs", url.Values{"submission": {store.NewID()}, "name": {"Elsewhere"}, "keys": {"no key"}, "pin": {testSecrets["sam"]}})
	page.says(t, `href="#f-keys"`)
}

func TestPageOfWitnessesRendersEmptyAndFull(t *testing.T) {
	frame := func() *views.Frame { return &views.Frame{Title: plain.Say("a title")} }
	when := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	full := witnessesPage{Frame: frame(), Again: true, Address: "http://x/witness", Key: "k<1>", OwnKey: "o",
		Alarms:    []alarmLine{{Said: plain.Say("it forked"), Raised: when, Close: "/witnesses/alarms/a"}},
		Witnesses: []witnessLine{{Kind: plain.Say("a folder"), Place: "/mnt/<stick>", On: true, Answer: plain.Say("a"), Size: 7, Sent: when, Tried: when, Since: when, SameDisk: true}, {Kind: plain.Say("b"), Key: "w", Answer: plain.Say("c")}},
		Fields:    []views.Field{frame().TextField("place", "p", "")}, LogFields: []views.Field{frame().AreaField("keys", "k", "")},
		Logs: []seenLogLine{{Name: "Elsewhere", Origin: "stillsaw/x", Prints: []string{"AAAA"}, Size: 9, Seen: when, Refused: when, Held: "/h", Other: "/o"}, {Name: "New"}}}
	for says, page := range map[string]witnessesPage{"Set up a witness": {Frame: frame()}, "/mnt/&lt;stick&gt;": full, "it forked": full, "Nothing was sent yet.": full} {
		var out bytes.Buffer
		require.NoError(t, testPages().Render(&out, "witnesses", page))
		require.Contains(t, out.String(), says)
	}
}
