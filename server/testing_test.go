package server

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"maps"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
	"stillsaw/server/store/lent"
	"stillsaw/server/store/scratchdb"
	"stillsaw/views"
)

// clock is a time the test sets; the server asks it.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) Advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// testMill is a running application with a mill that is set up and has its
// starters in force, on a real database. Time stands still until moved: it is
// Tuesday, an hour before the shift.
type testMill struct {
	t      *testing.T
	server *Server
	store  *store.Store
	clock  *clock
	mill   checklists.Mill
	people map[string]procedures.Person // "ada" operator, "bo" operator, "sam" supervisor, "rita" reader
}

// Secrets of the test people, by the same key.
var testSecrets = map[string]string{"ada": "4071", "bo": "8265", "sam": "green oak cant", "rita": "5930"}

// cheapHash is argon2id at a cost that tests can pay at every signature; what the
// product's own costs is seen to in TestHashIsArgon2idAtItsRecommendedCost.
var cheapHash = &argon2id.Params{Memory: 8, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}

var testDigests = sync.OnceValue(func() map[string]string {
	digests := map[string]string{}
	for who, secret := range testSecrets {
		digest, err := argon2id.CreateHash(secret, cheapHash)
		if err != nil {
			panic(err)
		}
		digests[who] = digest
	}
	return digests
})

func testSetUp() checklists.Mill { return setUpWith(checklists.MillID(store.NewID())) }

// testSetUpIn is the same with the id a mill has in st.
func testSetUpIn(st *store.Store) checklists.Mill { return setUpWith(st.NewMillID()) }

func setUpWith(id checklists.MillID) checklists.Mill {
	return checklists.Mill{
		ID: id, Name: "Fernhollow", Zone: "America/New_York", Units: checklists.InchPound,
		SetUp: checklists.SetUp{Law: "us-federal", Drive: "electric", Feed: "mandrel", Dogs: "hand", Headblocks: 2, EntryPoints: 2,
			Hoist: "electric", Collector: "cyclone", SawDiameter: 1.3208, SpindleSpeed: 600},
		Shifts: []checklists.Shift{{Name: "Day", Start: 7 * 60, End: 15*60 + 30,
			Days: []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}}},
	}
}

// testPages are parsed once: the pages of one build are the same for every test.
var testPages = sync.OnceValue(func() *views.Engine {
	assets, err := views.NewAssets()
	if err != nil {
		panic(err)
	}
	pages, err := views.NewEngine(assets)
	if err != nil {
		panic(err)
	}
	return pages
})

// testWords are read once, too.
var testWords = sync.OnceValue(func() *views.Catalogue {
	words, err := views.LoadCatalogue()
	if err != nil {
		panic(err)
	}
	return words
})

// emptyDatabase is a data folder as a first start leaves it, read once: the steps of
// the schema take longer than most tests.
var emptyDatabase = sync.OnceValue(func() dataFolder {
	return dataFolder{}.after(func(*store.Store) error { return nil })
})

// A dataFolder is the files of a data folder whose server has stopped, by their paths.
type dataFolder map[string][]byte

// after is what the folder has come to after work on a copy.
func (f dataFolder) after(work func(*store.Store) error) dataFolder {
	dir, err := os.MkdirTemp("", "data-folder")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	if err := f.write(dir); err != nil {
		panic(err)
	}
	st, err := lent.Open(context.Background(), dir)
	if err != nil {
		panic(err)
	}
	if err := errors.Join(work(st), st.Close()); err != nil {
		panic(err)
	}
	folder, files := dataFolder{}, os.DirFS(dir)
	if err := fs.WalkDir(files, ".", func(path string, entry fs.DirEntry, err error) error {
		if err == nil && !entry.IsDir() {
			folder[path], err = fs.ReadFile(files, path)
		}
		return err
	}); err != nil {
		panic(err)
	}
	return folder
}

func (f dataFolder) write(dir string) error {
	for path, content := range f {
		path = filepath.Join(dir, path)
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, content, 0o600)); err != nil {
			return err
		}
	}
	return nil
}

// open opens a store on a copy of the folder.
func (f dataFolder) open(t *testing.T) *store.Store {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, f.write(dir))
	st, err := lent.Open(t.Context(), dir)
	require.NoError(t, err)
	return st
}

// newServer is an application on an empty database.
func newServer(t *testing.T, setUpCode string) (*Server, *store.Store, *clock) {
	t.Helper()
	if scratchdb.Asked() { // copies of one database are of one mill there
		st, err := lent.Open(t.Context(), t.TempDir())
		require.NoError(t, err)
		return serverOn(t, st, setUpCode)
	}
	return serverOn(t, emptyDatabase().open(t), setUpCode)
}

// serverOn is an application on st, which is closed with the test.
func serverOn(t *testing.T, st *store.Store, setUpCode string) (*Server, *store.Store, *clock) {
	t.Helper()
	s, now := plainServer(t, st, setUpCode)
	open := &struct { // a test that is through keeps its cleanups, but nothing in here
		server *Server
		store  *store.Store
	}{s, st}
	t.Cleanup(func() {
		require.NoError(t, open.server.Stop())
		require.NoError(t, open.store.Close())
		open.server, open.store = nil, nil
	})
	return s, st, now
}

// plainServer is an application on st that nobody stops.
func plainServer(t *testing.T, st *store.Store, setUpCode string) (*Server, *clock) {
	t.Helper()
	now := &clock{now: testNow}
	s, err := New(Config{Store: st, Now: now.Now, Log: slog.New(slog.NewTextHandler(t.Output(), nil)), SetUpCode: setUpCode, pages: testPages(), words: testWords()})
	require.NoError(t, err)
	return s, now
}

// testNow is when tests begin: Tuesday 06:00 in New York.
var testNow = time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)

// A keptMill is a mill that was brought to some state once: tests work on copies.
// All copies are one mill on databases of their own.
type keptMill struct {
	once   sync.Once
	folder dataFolder
	mill   checklists.Mill
	people map[string]procedures.Person
	now    time.Time
}

// make brings the mill to its state, from what was begun of it.
func (k *keptMill) make(begun dataFolder, work func(*store.Store) *testMill) {
	k.once.Do(func() {
		k.folder = begun.after(func(st *store.Store) error {
			m := work(st)
			k.mill, k.people, k.now = m.mill, m.people, m.clock.Now()
			if m.server == nil {
				return nil
			}
			return m.server.Stop()
		})
	})
}

// on is the mill on a store of its own, without a server yet.
func (k *keptMill) on(t *testing.T, st *store.Store) *testMill {
	m := &testMill{t: t, store: st, mill: testSetUp(), people: maps.Clone(k.people)}
	m.mill.ID = k.mill.ID
	return m
}

// copy is the mill with a server and a database of its own.
func (k *keptMill) copy(t *testing.T) *testMill {
	t.Helper()
	require.NotNil(t, k.folder, "the mill other tests have, too, could not be made")
	m := k.on(t, k.folder.open(t))
	m.server, _, m.clock = serverOn(t, m.store, "")
	m.clock.Advance(k.now.Sub(testNow))
	return m
}

var settledMill, readyToLift keptMill

func settledOnce(t *testing.T) *keptMill {
	settledMill.make(emptyDatabase(), func(st *store.Store) *testMill { return settled(t, nil, st, &clock{now: testNow}) })
	return &settledMill
}

// newMill is a mill that is set up. Where two mills meet, one of them is a [foundedMill].
func newMill(t *testing.T) *testMill {
	t.Helper()
	return settledOnce(t).copy(t)
}

// liftingMill is a mill whose rig is fully entered and whose lists are signed
// off, so that nothing but the lift itself decides.
func liftingMill(t *testing.T) *testMill {
	t.Helper()
	begun := settledOnce(t)
	readyToLift.make(begun.folder, func(st *store.Store) *testMill {
		m := begun.on(t, st)
		m.server, m.clock = plainServer(t, st, "")
		m.useRig(testRig(m.clock.Now()))
		m.preShift("ada", nil, everyMachine...)
		return m
	})
	return readyToLift.copy(t)
}

// foundedMill is a mill like [newMill]'s, but another: it is set up anew.
func foundedMill(t *testing.T) *testMill {
	t.Helper()
	s, st, now := newServer(t, "")
	return settled(t, s, st, now)
}

// settled sets a mill up on an empty database.
func settled(t *testing.T, s *Server, st *store.Store, now *clock) *testMill {
	t.Helper()
	m := &testMill{t: t, server: s, store: st, clock: now, mill: testSetUpIn(st), people: map[string]procedures.Person{
		"ada":  {Name: "Ada Rook", Role: procedures.Operator, Authorized: true},
		"bo":   {Name: "Bo Lind", Role: procedures.Operator, Authorized: true},
		"sam":  {Name: "Sam Ordway", Role: procedures.Supervisor, Authorized: true, QualifiedLifting: true},
		"rita": {Name: "Rita Vance", Role: procedures.Reader},
	}}
	for who, p := range m.people {
		p.ID = procedures.PersonID(store.NewID())
		m.people[who] = p
	}
	set, err := Starter(m.mill, m.people["sam"], testDigests()["sam"], now.Now().Add(-24*time.Hour))
	require.NoError(t, err)
	// The starters besides the pre-shift list are not read yet; with them a mill
	// would have eleven more lists to go through in every test.
	set.Drafts = slices.DeleteFunc(set.Drafts, func(d store.Draft) bool { return d.Sort == store.Lists && d.ID != string(checklists.PreShift) })
	require.NoError(t, st.SetUp(t.Context(), set))
	for _, who := range []string{"ada", "bo", "rita"} {
		require.NoError(t, m.desk().KeepPerson(t.Context(), store.NewID(), m.people[who], testDigests()[who], m.people["sam"], now.Now().Add(-24*time.Hour)))
	}
	for _, d := range set.Drafts {
		m.publish(d.Sort, d.ID, set.Plant)
	}
	m.trained("ada", "bo")
	return m
}

// trained enters that these people were trained to lock out by every procedure
// in force, yesterday.
func (m *testMill) trained(who ...string) {
	m.t.Helper()
	published, err := m.desk().InForce(m.t.Context(), store.Procedures)
	require.NoError(m.t, err)
	var all []procedures.Procedure
	for _, p := range published {
		all = append(all, documentOf[procedures.Procedure](m.t, p.Doc))
	}
	yesterday := m.clock.Now().Add(-24 * time.Hour)
	for _, name := range who {
		training := procedures.OwnTraining(m.people[name], all, yesterday)
		training.OwnWord, training.Trainer = false, "Sam Ordway"
		_, err := m.desk().EnterTraining(m.t.Context(), store.NewID(), training, m.people["sam"], yesterday)
		require.NoError(m.t, err)
	}
}

func (m *testMill) desk() *store.Mill { return m.store.Of(m.mill.ID) }

func (m *testMill) publish(sort store.Sort, id string, plant procedures.Plant) {
	m.t.Helper()
	yesterday := m.clock.Now().Add(-24 * time.Hour)
	number := map[store.Sort]func(string, int) (string, error){
		store.Procedures: store.NumberProcedure,
		store.Rigs:       func(doc string, _ int) (string, error) { return doc, nil },
	}[sort]
	draft, err := m.desk().Draft(m.t.Context(), sort, id)
	require.NoError(m.t, err)
	require.NoError(m.t, m.desk().Publish(m.t.Context(), store.NewID(), sort, id, draft.Revision, m.people["sam"], yesterday, number))
}

// phone is a browser without scripts: it keeps cookies and follows redirects.
type phone struct {
	t      *testing.T
	m      *testMill
	server *Server
	jar    http.CookieJar

	accepts string // languages its browser asks for
}

// page is what came back, after redirects.
type page struct {
	Status int
	URL    *url.URL
	Body   string
}

func (m *testMill) phone() *phone { return newPhone(m.t, m.server, m) }

func newPhone(t *testing.T, s *Server, m *testMill) *phone {
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	return &phone{t: t, m: m, server: s, jar: jar}
}

// as is a phone on which who is signed in, without going through the PIN.
func (m *testMill) as(who string) *phone {
	m.t.Helper()
	p := m.phone()
	reply := p.post("/sign-in", url.Values{"person": {string(m.people[who].ID)}, "pin": {testSecrets[who]}})
	require.Equal(m.t, http.StatusOK, reply.Status, reply.Body)
	return p
}

func (p *phone) get(path string) page {
	p.t.Helper()
	request, err := http.NewRequestWithContext(context.Background(), http.MethodGet, "http://mill.test"+path, nil)
	require.NoError(p.t, err)
	return p.follow(request)
}

func (p *phone) post(path string, form url.Values) page {
	p.t.Helper()
	request, err := http.NewRequestWithContext(context.Background(), http.MethodPost, "http://mill.test"+path, strings.NewReader(form.Encode()))
	require.NoError(p.t, err)
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return p.follow(request)
}

// postFiles sends a form with files, as a form with a photo is sent.
func (p *phone) postFiles(path string, form url.Values, files map[string][]byte) page {
	p.t.Helper()
	return p.follow(p.withFiles(path, form, files))
}

// withFiles is a form with files beside its fields, as it is sent.
func (p *phone) withFiles(path string, form url.Values, files map[string][]byte) *http.Request {
	p.t.Helper()
	var body bytes.Buffer
	out := multipart.NewWriter(&body)
	for name, values := range form {
		for _, value := range values {
			require.NoError(p.t, out.WriteField(name, value))
		}
	}
	for name, content := range files {
		part, err := out.CreateFormFile(name, "photo.jpg")
		require.NoError(p.t, err)
		_, err = part.Write(content)
		require.NoError(p.t, err)
	}
	require.NoError(p.t, out.Close())
	request, err := http.NewRequestWithContext(context.Background(), http.MethodPost, "http://mill.test"+path, &body)
	require.NoError(p.t, err)
	request.Header.Set("Content-Type", out.FormDataContentType())
	return request
}

func (p *phone) follow(request *http.Request) page {
	p.t.Helper()
	for range 10 {
		if p.accepts != "" {
			request.Header.Set("Accept-Language", p.accepts)
		}
		for _, cookie := range p.jar.Cookies(request.URL) {
			request.AddCookie(cookie)
		}
		reply, err := p.server.app.Test(request, 60_000)
		require.NoError(p.t, err)
		p.keep(request.URL, reply.Cookies())
		body, err := io.ReadAll(reply.Body)
		require.NoError(p.t, err)
		require.NoError(p.t, reply.Body.Close())
		if reply.StatusCode < 300 || reply.StatusCode > 399 {
			return page{Status: reply.StatusCode, URL: request.URL, Body: string(body)}
		}
		next, err := request.URL.Parse(reply.Header.Get("Location"))
		require.NoError(p.t, err)
		if request, err = http.NewRequestWithContext(context.Background(), http.MethodGet, next.String(), nil); err != nil {
			p.t.Fatal(err)
		}
	}
	p.t.Fatal("too many redirects")
	return page{}
}

// keep takes cookies by the server's clock: the jar's own is the wall's.
func (p *phone) keep(from *url.URL, cookies []*http.Cookie) {
	for _, cookie := range cookies {
		if expires := cookie.Expires; !expires.IsZero() {
			cookie.Expires = time.Time{}
			if !expires.After(p.server.now()) {
				cookie.MaxAge = -1
			}
		}
	}
	p.jar.SetCookies(from, cookies)
}

var submissionField = regexp.MustCompile(`name="submission" value="([^"]+)"`)

// submission is the id of the first form on the page.
func (p page) submission() string {
	if found := submissionField.FindStringSubmatch(p.Body); found != nil {
		return found[1]
	}
	return ""
}

// title is the page's first heading, tags and all.
func (p page) title() string {
	_, after, _ := strings.Cut(p.Body, "<h1>")
	title, _, _ := strings.Cut(after, "</h1>")
	return title
}

// says requires a text on the page without printing all of it when it is not there.
func (p page) says(t *testing.T, text string, about ...any) {
	t.Helper()
	if !strings.Contains(p.Body, text) {
		_, main, _ := strings.Cut(p.Body, "<main")
		require.Fail(t, "the page does not say "+text, append([]any{"%s\n" + fmt.Sprint(about...), main}, about...)[:2]...)
	}
}

// size is how many entries the record has.
func (m *testMill) size() int64 {
	m.t.Helper()
	head, err := m.desk().Head(m.t.Context())
	require.NoError(m.t, err)
	return head.Size
}

// storesNothing runs act and requires that the record did not grow.
func (m *testMill) storesNothing(act func()) {
	m.t.Helper()
	before := m.size()
	act()
	require.Equal(m.t, before, m.size(), "the record must not grow")
}

// documentOf reads a stored document as its domain type.
func documentOf[T any](t *testing.T, doc string) T {
	t.Helper()
	var value T
	require.NoError(t, json.Unmarshal([]byte(doc), &value))
	return value
}
