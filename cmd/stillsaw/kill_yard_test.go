package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"html"
	"image"
	"image/jpeg"
	"mime/multipart"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// hands are how many phones send at once.
const hands = 16

// deed is a form that a phone sends, the same one until it is answered.
type deed struct {
	path  func() string
	form  url.Values
	photo bool
	kind  string // of the entry it makes, "" for what makes none
	about string // what it is about, where that is not in the answer

	answered bool
	to       string // where the answer led
	tries    int
}

// entry is what the record has of the deed: kind and subject.
func (d *deed) entry() string {
	about := d.about
	if about == "" {
		about = d.to[strings.LastIndex(d.to, "/")+1:]
	}
	return d.kind + " " + about
}

// hand is somebody with a phone, who goes on with the next deed once the one
// before was answered.
type hand struct {
	*browser
	no      int
	stops   bool // sends stops alone
	tends   bool // mends what it stopped, and returns to service what others mended
	next    []*deed
	pending *deed // not answered yet, nil for none
	last    *deed // answered last
}

// yard is a mill at work by sixteen phones, and what is known of it outside.
type yard struct {
	dir    string
	hands  [hands]*hand
	photo  []byte
	before int64 // entries before any phone sent

	mu      sync.Mutex
	done    []*deed        // answered since the last look
	want    map[string]int // entries by kind and subject
	found   map[string]int
	seen    int64 // entries looked at
	answers int
	doubts  int // deeds that got no answer before a kill
	again   int // forms sent again
	wrong   []string
}

// newYard sets up the mill, with a crew whose PINs have digests of low cost: what
// the product's own cost, every signature of thousands would.
func newYard(t *testing.T, binary string) *yard {
	t.Helper()
	y := &yard{dir: preparedMill(t), want: map[string]int{}, found: map[string]int{}}
	var picture bytes.Buffer
	require.NoError(t, jpeg.Encode(&picture, image.NewGray(image.Rect(0, 0, 64, 48)), nil))
	y.photo = picture.Bytes()
	shortLists(t, y.dir, 1)
	st, err := store.Open(t.Context(), y.dir)
	require.NoError(t, err)
	mill, err := st.TheMill(t.Context())
	require.NoError(t, err)
	desk, sam := st.Of(mill.ID), procedures.Person{ID: "sam", Name: "Sam Ordway", Role: procedures.Supervisor}
	digest, err := argon2id.CreateHash(crewsPIN, &argon2id.Params{Memory: 8, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32})
	require.NoError(t, err)
	yesterday := time.Now().Add(-24 * time.Hour)
	for i := range hands {
		p := procedures.Person{ID: procedures.PersonID(fmt.Sprint("hand-", i)), Name: fmt.Sprint("Hand ", i), Role: procedures.Operator, Authorized: true}
		require.NoError(t, desk.KeepPerson(t.Context(), store.NewID(), p, digest, sam, yesterday))
		if i == 0 { // who locks out
			training := procedures.OwnTraining(p, waysIn(t, desk), yesterday)
			training.OwnWord, training.Trainer = false, sam.Name
			_, err := desk.EnterTraining(t.Context(), store.NewID(), training, sam, yesterday)
			require.NoError(t, err)
		}
	}
	require.NoError(t, st.Close())
	p := start(t, binary, y.dir)
	for i := range y.hands {
		y.hands[i] = &hand{browser: newBrowser(t, p.addr), no: i}
		require.NotEmpty(t, y.hands[i].signIn(procedures.PersonID(fmt.Sprint("hand-", i)), crewsPIN))
	}
	p.kill(t)
	db := y.reading(t)
	require.NoError(t, db.QueryRowContext(t.Context(), "SELECT count(*) FROM entries").Scan(&y.before))
	require.NoError(t, db.Close())
	y.seen = y.before
	return y
}

// kill ends the program at once, as kill -9 does.
func (p *process) kill(t *testing.T) {
	t.Helper()
	require.NoError(t, p.command.Process.Kill())
	require.Error(t, p.command.Wait(), "killed, not ended")
	require.NotContains(t, p.out.String(), "panic")
}

// turn is what a hand does, over and over. The first locks out and calls it off,
// the others stop things, say what is wrong with a photo, go through a check, sign
// it, and have a lift judged.
func (h *hand) turn() []*deed {
	at := func(path string) func() string { return func() string { return path } }
	form := func(pairs ...string) url.Values {
		f := url.Values{"submission": {store.NewID()}}
		for i := 0; i < len(pairs); i += 2 {
			f.Set(pairs[i], pairs[i+1])
		}
		return f
	}
	if h.stops {
		return []*deed{{path: at("/stop-it"), kind: store.KindDefect, form: form("equipment", "head-saw", "what", "It rattles")}}
	}
	if h.no == 0 {
		begun := &deed{path: at("/lockouts/new"), kind: store.KindLockout, form: form("procedure", "hoist", "task", "New chain", "hours", "2", "pin", crewsPIN)}
		off := &deed{path: func() string { return begun.to + "/cancel" }, kind: store.KindLockout, form: form("pin", crewsPIN)}
		return []*deed{begun, off}
	}
	walk := store.NewID()
	on := "/inspections/" + walk
	stop := &deed{path: at("/stop-it"), kind: store.KindDefect, form: form("equipment", "head-saw")}
	said := &deed{path: func() string { return stop.to + "/describe" }, photo: h.no%4 == 1, kind: store.KindDescribed, form: form("what", "A tooth is gone")}
	lift := form("rig", "main-hoist", "rig-version", "1", "lands", "carriage", "shape", "slabbed", "length", "7 ft 6 in", "small", "18", "large", "19",
		"slab-1", "3 1/2", "slab-2", "3.5 in", "species", "northern red oak", "condition", "green", "bark-off", "yes", "span", "7 ft 4 in", "keep", "yes")
	for _, field := range []string{"landing-clear", "nobody-under", "latch-closed", "free", "trial-lift", "seated"} {
		lift.Set(field, "yes")
	}
	deeds := []*deed{
		stop, said,
		{path: at("/inspections/new"), form: form("list", "yard-0", "walk", walk), about: walk},
		{path: at(on + "/answers"), form: form("state", "stopped", "Y1", "not-checked", "Y1.note", "not reached"), about: walk},
		{path: at(on + "/sign"), form: form("pin", crewsPIN), kind: store.KindInspection, about: walk},
		{path: at("/lifts/new"), form: lift, kind: store.KindLift},
	}
	if h.tends {
		deeds = append(deeds, &deed{path: func() string { return stop.to + "/mend" }, kind: store.KindMended, form: form("note", "A new tooth", "pin", crewsPIN)})
	}
	return deeds
}

// returns is what puts a defect that somebody else mended back in service.
func (h *hand) returns(defect string) *deed {
	return &deed{path: func() string { return defect + "/return" }, kind: store.KindReturned, form: url.Values{"submission": {store.NewID()}, "pin": {crewsPIN}}}
}

// send sends a deed once. An error is a connection that was lost: then nobody
// knows whether it was done.
func (y *yard) send(ctx context.Context, h *hand, d *deed) (to string, err error) {
	status, page := 0, ""
	if d.tries++; d.photo {
		status, to, page, err = h.postPhoto(ctx, d.path(), d.form, "what_photo", y.photo)
	} else {
		status, to, page, err = h.post(ctx, d.path(), d.form)
	}
	if err == nil && status != http.StatusSeeOther {
		y.fault("%s was answered with %d: %s", d.path(), status, saidOn(page))
		return "", fmt.Errorf("status %d", status)
	}
	to, _, _ = strings.Cut(to, "?")
	return to, err
}

var (
	tags   = regexp.MustCompile(`(?s)<nav.*|<script.*?</script>|<[^>]*>`)
	blanks = regexp.MustCompile(`\s+`)
)

// saidOn is how a page begins, in words.
func saidOn(page string) string {
	_, main, _ := strings.Cut(page, "<main")
	return fmt.Sprintf("%.600s", html.UnescapeString(blanks.ReplaceAllString(tags.ReplaceAllString("<main"+main, " "), " ")))
}

func (y *yard) fault(format string, args ...any) {
	y.mu.Lock()
	defer y.mu.Unlock()
	y.wrong = append(y.wrong, fmt.Sprintf(format, args...))
}

// tell sends the pending deed of a hand and notes the answer; false where none came.
func (y *yard) tell(ctx context.Context, h *hand) bool {
	to, err := y.send(ctx, h, h.pending)
	if err != nil {
		return false
	}
	h.pending.answered, h.pending.to = true, to
	h.last, h.pending = h.pending, nil
	y.mu.Lock()
	defer y.mu.Unlock()
	y.answers++
	y.done = append(y.done, h.last)
	return true
}

// load has every hand send one deed after the other until no answer comes.
func (y *yard) load(ctx context.Context, answered func()) *sync.WaitGroup {
	group := new(sync.WaitGroup)
	for _, h := range y.hands {
		group.Go(func() {
			for {
				if len(h.next) == 0 {
					h.next = h.turn()
				}
				h.pending, h.next = h.next[0], h.next[1:]
				if !y.tell(ctx, h) {
					return
				}
				answered()
			}
		})
	}
	return group
}

// resend has every hand send again what got no answer, and once more what was
// answered last: that is answered as the first time.
func (y *yard) resend(ctx context.Context) {
	var group sync.WaitGroup
	for _, h := range y.hands {
		group.Go(func() {
			sent := 0
			if h.last != nil {
				sent++
				to, err := y.send(ctx, h, h.last)
				if err == nil && to != h.last.to {
					y.fault("%s was answered with %s, sent again with %s", h.last.path(), h.last.to, to)
				}
			}
			if h.pending != nil {
				sent++
				if !y.tell(ctx, h) {
					return
				}
			}
			y.mu.Lock()
			y.again += sent
			y.mu.Unlock()
		})
	}
	group.Wait()
}

// look reads what the record has since it was looked at last, beside the server,
// and notes what was answered and is not there, and what is there more than once.
func (y *yard) look(t *testing.T) {
	t.Helper()
	db := y.reading(t)
	defer func() { require.NoError(t, db.Close()) }()
	rows, err := db.QueryContext(t.Context(), "SELECT kind, subject FROM entries WHERE seq >= ? ORDER BY seq", y.seen)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var kind, subject string
		require.NoError(t, rows.Scan(&kind, &subject))
		y.found[kind+" "+subject]++
		y.seen++
	}
	require.NoError(t, rows.Err())
	for _, d := range y.done {
		if d.kind != "" {
			y.want[d.entry()]++
		}
	}
	for _, d := range y.done {
		if d.kind != "" && y.found[d.entry()] < y.want[d.entry()] {
			y.fault("LOST: %s %s", d.path(), d.entry())
		}
	}
	y.done = nil
	for key, n := range y.found {
		if n > y.want[key] {
			y.fault("DOUBLED: %s is there %d times, wanted %d", key, n, y.want[key])
		}
	}
}

// recount looks at all of the record anew.
func (y *yard) recount(t *testing.T) {
	t.Helper()
	y.seen, y.found = y.before, map[string]int{}
	y.look(t)
	for key, n := range y.want {
		if y.found[key] != n {
			y.fault("LOST: %s is there %d times of %d", key, y.found[key], n)
		}
	}
}

// sound is what SQLite says of the file.
func (y *yard) sound(t *testing.T, check string) {
	t.Helper()
	db := y.reading(t)
	defer func() { require.NoError(t, db.Close()) }()
	var said string
	require.NoError(t, db.QueryRowContext(t.Context(), "PRAGMA "+check).Scan(&said))
	require.Equal(t, "ok", said)
}

func (y *yard) reading(t *testing.T) *sql.DB {
	t.Helper()
	db, err := sql.Open(driverHere(), "file:"+filepath.Join(y.dir, store.FileName)+"?mode=ro&_busy_timeout=10000")
	require.NoError(t, err)
	return db
}

// waysIn are the procedures in force at a prepared mill.
func waysIn(t *testing.T, desk *store.Mill) []procedures.Procedure {
	t.Helper()
	all, err := desk.InForce(t.Context(), store.Procedures)
	require.NoError(t, err)
	var ways []procedures.Procedure
	for _, published := range all {
		var way procedures.Procedure
		require.NoError(t, json.Unmarshal([]byte(published.Doc), &way))
		ways = append(ways, way)
	}
	return ways
}

// postPhoto is post with a picture.
func (b *browser) postPhoto(ctx context.Context, path string, form url.Values, field string, picture []byte) (status int, to, page string, err error) {
	var body bytes.Buffer
	parts := multipart.NewWriter(&body)
	for name, values := range form {
		if err := parts.WriteField(name, values[0]); err != nil {
			return 0, "", "", err
		}
	}
	file, err := parts.CreateFormFile(field, "tooth.jpg")
	if err != nil {
		return 0, "", "", err
	}
	if _, err := file.Write(picture); err != nil {
		return 0, "", "", err
	}
	if err := parts.Close(); err != nil {
		return 0, "", "", err
	}
	return b.postBody(ctx, path, parts.FormDataContentType(), &body)
}

// figures are what came of it so far.
func (y *yard) figures(begun time.Time) string {
	return fmt.Sprintf("%d acts acknowledged, %d in doubt at a kill, %d forms sent again, %d entries, %d s",
		y.answers, y.doubts, y.again, y.seen-y.before, int(time.Since(begun).Seconds()))
}
