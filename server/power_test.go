package server

import (
	"database/sql"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
	"stillsaw/server/store/faultydisk"
)

// hands are how many phones send at once.
const hands = 16

// yard is a mill of sixteen people, each with a phone, on a disk whose power can
// be cut. A server that was cut off is followed by another on what is found.
type yard struct {
	*testMill
	dir    string
	disk   *faultydisk.Disk
	phones [hands]*phone
	acts   []*sentAct
	seen   string // the newest checkpoint a phone was given
	seenOf int64
}

// sentAct is a form that a phone sent, and what it heard of it.
type sentAct struct {
	hand      int
	to        string
	form      url.Values
	kind      string // of the entry it makes, "" for answers, which make none
	words     string // that only this one has
	about     string // id of what it made or signed
	answered  bool
	answer    string // where it led
	confirmed string // where it led when it was sent again
}

// newYard makes the mill on an empty disk, with everybody signed in.
func newYard(t *testing.T) *yard {
	t.Helper()
	y := &yard{dir: t.TempDir()}
	var err error
	y.disk, err = faultydisk.New()
	require.NoError(t, err)
	now := &clock{now: time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)}
	require.NoError(t, y.start(t, now))
	y.testMill = settled(t, y.server, y.store, now)
	yesterday := now.Now().Add(-24 * time.Hour)
	sam := y.people["sam"]
	_, err = y.desk().EnsureKey(t.Context(), yesterday)
	require.NoError(t, err)
	l := checklists.List{ID: "yard", Title: "Yard", Schedule: checklists.Schedule{Every: checklists.EachDay},
		Items: []checklists.Item{{ID: "Y1", Station: "Yard", Equipment: "site", Prompt: "Ways clear", How: "Walk them.", State: checklists.Stopped,
			Kind: checklists.Choice, Severity: checklists.Mend, Source: "common practice, no source"}}}
	d, err := store.DraftOf(store.Lists, string(l.ID), l.Title, l)
	require.NoError(t, err)
	require.NoError(t, y.desk().KeepDraft(t.Context(), d, yesterday))
	require.NoError(t, y.desk().Publish(t.Context(), store.NewID(), store.Lists, d.ID, 1, sam, yesterday, nil))
	for i := range hands {
		who := fmt.Sprint("hand ", i)
		y.people[who] = procedures.Person{ID: procedures.PersonID(store.NewID()), Name: "Hand " + fmt.Sprint(i), Role: procedures.Operator, Authorized: true}
		require.NoError(t, y.desk().KeepPerson(t.Context(), store.NewID(), y.people[who], testDigests()["ada"], sam, yesterday))
		y.phones[i] = y.phone()
		reply := y.phones[i].post("/sign-in", url.Values{"person": {string(y.people[who].ID)}, "pin": {testSecrets["ada"]}})
		require.Equal(t, http.StatusOK, reply.Status, reply.Body)
	}
	return y
}

// start opens what is on the disk and serves it.
func (y *yard) start(t *testing.T, now *clock) error {
	st, err := store.OpenOn(t.Context(), y.dir, store.On{Driver: "sqlite", VFS: y.disk.Name()})
	if err != nil {
		return err
	}
	s, err := New(Config{Store: st, Now: now.Now, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), pages: testPages(), words: testWords()})
	require.NoError(t, err)
	if y.testMill != nil {
		y.testMill.server, y.testMill.store = s, st
	} else {
		y.testMill = &testMill{t: t, server: s, store: st}
	}
	for _, p := range y.phones {
		if p != nil {
			p.server = s
		}
	}
	return nil
}

// leave ends the server; what a disk without power says to that is no matter.
func (y *yard) leave(t *testing.T) {
	t.Helper()
	require.NoError(t, y.server.Stop())
	err := y.store.Close()
	if !y.disk.IsCut() {
		require.NoError(t, err)
	}
	require.NoError(t, y.disk.Close())
}

// send sends a form once and says where the answer leads, "" without one.
func (p *phone) send(to string, form url.Values) (string, int, error) {
	request, err := http.NewRequest(http.MethodPost, "http://mill.test"+to, strings.NewReader(form.Encode()))
	if err != nil {
		return "", 0, err
	}
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for _, cookie := range p.jar.Cookies(request.URL) {
		request.AddCookie(cookie)
	}
	reply, err := p.server.app.Test(request, 60_000)
	if err != nil {
		return "", 0, err
	}
	if err := reply.Body.Close(); err != nil {
		return "", 0, err
	}
	if reply.StatusCode != http.StatusSeeOther {
		return "", reply.StatusCode, nil
	}
	where, _, _ := strings.Cut(reply.Header.Get("Location"), "?")
	return where, reply.StatusCode, nil
}

// checkpoint is what a phone is given as the record's head.
func (p *phone) checkpoint() (text string, size int64) {
	request, err := http.NewRequest(http.MethodGet, "http://mill.test/checkpoint", nil)
	if err != nil {
		return "", 0
	}
	reply, err := p.server.app.Test(request, 60_000)
	if err != nil || reply.StatusCode != http.StatusOK {
		return "", 0
	}
	body, err := io.ReadAll(reply.Body)
	if err != nil || reply.Body.Close() != nil {
		return "", 0
	}
	if _, err := fmt.Sscan(reply.Header.Get(sizeHeader), &size); err != nil {
		return "", 0
	}
	return string(body), size
}

// load has all phones send at once, each one act after the other, until nothing is
// answered any more or each has done what it does.
func (y *yard) load(round string) {
	var mu sync.Mutex
	var group sync.WaitGroup
	for i, p := range y.phones {
		group.Go(func() {
			keep := func(a *sentAct) bool {
				a.hand = i
				where, _, err := p.send(a.to, a.form)
				a.answered, a.answer = err == nil && where != "", where
				if a.answered && a.kind != store.KindInspection && a.kind != "" {
					a.about = where[strings.LastIndex(where, "/")+1:]
				}
				mu.Lock()
				y.acts = append(y.acts, a)
				mu.Unlock()
				if text, size := p.checkpoint(); a.answered && size > 0 {
					mu.Lock()
					if size > y.seenOf {
						y.seen, y.seenOf = text, size
					}
					mu.Unlock()
				}
				return a.answered
			}
			for turn := range 3 {
				for _, a := range shift(fmt.Sprintf("%s: hand %d, turn %d", round, i, turn)) {
					if !keep(a) {
						return
					}
				}
			}
		})
	}
	group.Wait()
}

// shift is what each phone sends, one after the other: a stop, and a check begun,
// answered and signed.
func shift(words string) []*sentAct {
	walk := store.NewID()
	at := "/inspections/" + walk
	return []*sentAct{
		{to: "/stop-it", kind: store.KindDefect, words: words, form: url.Values{"submission": {store.NewID()}, "equipment": {"head-saw"}, "what": {words}}},
		{to: "/inspections/new", about: walk, form: url.Values{"submission": {store.NewID()}, "list": {"yard"}, "walk": {walk}}},
		{to: at + "/answers", about: walk, words: words, form: url.Values{"state": {"stopped"}, "Y1": {"not-checked"}, "Y1.note": {"not reached " + words}}},
		{to: at + "/sign", about: walk, kind: store.KindInspection, form: url.Values{"submission": {store.NewID()}, "pin": {testSecrets["ada"]}}},
	}
}

// counted is how often the record has what each act made.
func (y *yard) counted(t *testing.T) map[*sentAct]int {
	t.Helper()
	defects, err := y.desk().DefectsSince(t.Context(), time.Time{})
	require.NoError(t, err)
	said := map[string]int{}
	for _, d := range defects {
		said[d.What]++
	}
	signed := map[string]int{}
	entries, more, err := y.desk().Entries(t.Context(), store.Filter{Kind: store.KindInspection, Limit: 1 << 20})
	require.NoError(t, err)
	require.False(t, more)
	for _, e := range entries {
		signed[e.Subject]++
	}
	count := map[*sentAct]int{}
	for _, a := range y.acts {
		switch {
		case a.kind == store.KindDefect:
			count[a] = said[a.words]
		case a.kind == store.KindInspection:
			count[a] = signed[a.about]
		case signed[a.about] > 0:
			count[a] = 1
		default:
			w, err := y.desk().Walk(t.Context(), checklists.InspectionID(a.about))
			if err == nil && (a.words == "" || len(w.Answers) == 1) {
				count[a] = 1
			}
		}
	}
	return count
}

// lost are the acts that were answered and are not there, doubled those that are
// there more than once.
func (y *yard) lost(t *testing.T) (lost, doubled []string) {
	t.Helper()
	for a, n := range y.counted(t) {
		if a.answered && n == 0 {
			lost = append(lost, a.to+" "+a.words)
		}
		if n > 1 {
			doubled = append(doubled, a.to+" "+a.words)
		}
	}
	return lost, doubled
}

// whole requires the record to verify and to make every table anew, and the file
// to be sound, as far as SQLite can tell.
func (y *yard) whole(t *testing.T) {
	t.Helper()
	reports, built, err := y.store.Rebuild(t.Context(), store.Rebuilding{Scratch: t.TempDir()})
	require.NoError(t, err)
	require.True(t, built.OK(), "%+v", built.Differences)
	for mill, report := range reports {
		require.True(t, report.OK(), "mill %s: %v", mill, report.Faults)
	}
	require.Equal(t, "ok", y.soundness(t))
	if y.seen != "" {
		found, err := y.desk().Compare(t.Context(), y.seen)
		require.NoError(t, err)
		for _, c := range found {
			require.True(t, c.OK(), "a phone saw %d entries: %s", y.seenOf, c.Said())
		}
		require.NotEmpty(t, found)
	}
}

// soundness is what SQLite says of the file.
func (y *yard) soundness(t *testing.T) (said string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+y.databaseFile()+"?vfs="+y.disk.Name())
	require.NoError(t, err)
	require.NoError(t, db.QueryRowContext(t.Context(), "PRAGMA integrity_check").Scan(&said))
	require.NoError(t, db.Close())
	return said
}

// again sends every act once more, those that were answered, too.
func (y *yard) again(t *testing.T) {
	t.Helper()
	var group sync.WaitGroup
	for i, p := range y.phones {
		group.Go(func() {
			var last *sentAct
			for _, a := range slices.Clone(y.acts) {
				if a.hand != i {
					continue
				}
				last = a
				where, status, err := p.send(a.to, a.form)
				a.confirmed = where
				if err != nil || where == "" || a.answered && a.kind != "" && where != a.answer {
					t.Errorf("%s %s: %d %s (the first time %s) %v", a.to, a.words, status, where, a.answer, err)
				}
			}
			if last != nil && last.kind == "" { // a check begun is gone through to its end
				for _, a := range shift("")[2:] {
					to := "/inspections/" + last.about + a.to[strings.LastIndex(a.to, "/"):]
					if where, status, err := p.send(to, a.form); where == "" {
						t.Errorf("%s: %d %v", to, status, err)
					}
				}
			}
		})
	}
	group.Wait()
	require.False(t, t.Failed())
	for a, n := range y.counted(t) {
		require.Equal(t, 1, n, "%s %s, answered %t %s, then %s", a.to, a.words, a.answered, a.answer, a.confirmed)
	}
}

// databaseFile is where the database lies on the yard's disk.
func (y *yard) databaseFile() string { return filepath.Join(y.dir, store.FileName) }

// cycle sends from all phones, cuts the power in the middle, and opens what is
// found. A cut may come while the database is opened again, too.
func (y *yard) cycle(t *testing.T, round string, chance *rand.Rand) {
	t.Helper()
	y.acts = nil
	cut := 1 + chance.IntN(3000)
	y.disk.Steer(func(c faultydisk.Call) faultydisk.Fault {
		if c.N == cut {
			return faultydisk.Cut
		}
		return faultydisk.None
	})
	y.load(round)
	y.disk.Cut()
	y.leave(t)
	for tries := chance.IntN(3); ; tries-- {
		found, err := y.disk.AfterCut(chance)
		require.NoError(t, err)
		y.disk = found
		if tries > 0 { // the power goes again while the server starts
			cut := 1 + chance.IntN(60)
			found.Steer(func(c faultydisk.Call) faultydisk.Fault {
				if c.N >= cut {
					return faultydisk.Cut
				}
				return faultydisk.None
			})
			err := y.start(t, y.clock)
			found.Cut()
			if err == nil {
				y.leave(t)
			} else {
				require.NoError(t, found.Close())
			}
			continue
		}
		require.NoError(t, y.start(t, y.clock))
		return
	}
}
