package server_test

import (
	"html"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/server"
	"stillsaw/server/sample"
	"stillsaw/server/store"
)

// readsMadeUp asks for every page in the made-up language.
type readsMadeUp struct{}

func (readsMadeUp) RoundTrip(r *http.Request) (*http.Response, error) {
	r = r.Clone(r.Context())
	r.Header.Set("Accept-Language", madeUp)
	return http.DefaultTransport.RoundTrip(r)
}

// Every word of the pages of the invented mill that a supervisor comes to first,
// one of each sort, and of the mails, is in the reader's language, or is the mill's own;
// with STILLSAW_LONG of all, two of each, the PDFs, the calendar, and what comes back
// when its forms are sent empty, with nonsense and filled in.
func TestNoWordGoesRoundTheCatalogue(t *testing.T) {
	t.Parallel()
	if !sample.Whole() {
		t.Skip("in CI a part of it, with STILLSAW_LONG=1 all")
	}
	long := os.Getenv("STILLSAW_LONG") != ""
	_, st, people := demoServer(t)
	s, err := server.New(server.WithWords(server.Config{Store: st, Now: func() time.Time { return demoNow }, Log: slog.New(slog.NewTextHandler(t.Output(), nil))}, madeUpWords(t)))
	require.NoError(t, err)
	w := &wordWalk{caller: signedIn(t, s, st, people[0]), secret: people[0].Secret, st: st, own: wordsOf(t, st), met: map[string]string{}, shapes: map[string]int{}, forms: map[string]form{}, looked: map[string]bool{}}
	w.client.Transport = readsMadeUp{}
	if w.most, w.pages = 1, 150; long {
		w.most, w.pages = 2, 900
	}
	w.walk("/", "/people", "/sign-in", "/nowhere")
	if long {
		w.walk("/export.pdf?from=2026-05-06")
		w.fillIn()
		require.Greater(t, w.papers, 5)
		require.Positive(t, w.dates)
	}
	w.lookAtLetters(s)
	lines := make([]string, 0, len(w.met))
	for word, at := range w.met {
		lines = append(lines, word+"   ← "+at)
	}
	sort.Strings(lines)
	t.Log(len(w.shapes), "sorts of pages,", len(w.sent), "forms sent,", w.papers, "papers")
	require.Empty(t, lines, strings.Join(lines, "\n"))
}

// wordWalk goes from page to page and notes each text that holds English.
type wordWalk struct {
	caller
	secret string
	st     *store.Store
	own    []string // what the mill itself wrote, longest first
	// ownText is all of it, a line each.
	ownText string
	met     map[string]string // what was found, and where first
	shapes  map[string]int    // how often pages of a sort were asked for
	forms   map[string]form   // by their sort
	sent    []string
	looked  map[string]bool // texts seen before

	most    int  // how many pages of a sort are asked for
	pages   int  // how many in all
	sending bool // forms
	papers  int  // PDFs read
	dates   int  // calendars read
}

type form struct{ action, body, page string }

var (
	idsIn     = regexp.MustCompile(`[0-9a-f-]{36}|[0-9a-f]{64}|\d+`)
	formIn    = regexp.MustCompile(`(?s)<form\b([^>]*)>(.*?)</form>`)
	fieldIn   = regexp.MustCompile(`(?s)<(input|textarea|select|button)\b([^>]*)>(?:(.*?)</(?:textarea|select)>)?`)
	optionIn  = regexp.MustCompile(`<option value="([^"]+)"`) // one that is a choice: an empty one asks for it
	scriptIn  = regexp.MustCompile(`(?s)<(script|style)\b.*?</(script|style)>`)
	tagIn     = regexp.MustCompile(`<[^>]*>`)
	spokenIn  = regexp.MustCompile(`\b(?:title|alt|placeholder|aria-label|label|data-[a-z-]+)="([^"]*)"`)
	attribute = func(name string) *regexp.Regexp { return regexp.MustCompile(`\b` + name + `="([^"]*)"`) }
	wordIn    = regexp.MustCompile(`[A-Za-z]{2,}`)
)

func (w *wordWalk) walk(next ...string) {
	seen := map[string]bool{}
	for len(next) > 0 {
		path := html.UnescapeString(next[0])
		next = next[1:]
		shape := idsIn.ReplaceAllString(path, "#")
		if seen[path] || w.shapes[shape] >= w.most || len(seen) > w.pages || strings.HasPrefix(path, "/assets") || strings.HasPrefix(path, "/photos") ||
			strings.Contains(path, ".zip") || strings.HasPrefix(path, "/sign-out") {
			continue
		}
		seen[path] = true
		w.shapes[shape]++
		status, body := w.ask(path, nil)
		require.Less(w.t, status, http.StatusInternalServerError, path)
		w.look(path, body)
		for _, link := range linkOf.FindAllStringSubmatch(body, -1) {
			next = append(next, link[1])
		}
	}
}

// look notes what a page says in English.
func (w *wordWalk) look(path, body string) {
	if strings.HasPrefix(body, "%PDF-") && w.most > 1 {
		w.lookAtPaper(path, body)
	}
	if !strings.Contains(body, "<html") || path == "/api" { // that page is for programs, whose words are English
		return
	}
	for _, found := range formIn.FindAllStringSubmatch(body, -1) {
		action := attribute("action").FindStringSubmatch(found[1])
		if !strings.Contains(found[1], `method="post"`) {
			continue
		}
		to := path
		if action != nil {
			to = html.UnescapeString(action[1])
		}
		sort := idsIn.ReplaceAllString(to, "#") + " " + idsIn.ReplaceAllString(strings.Join(namesIn(found[2]), " "), "#")
		if _, known := w.forms[sort]; !known {
			w.forms[sort] = form{to, found[2], path}
		}
	}
	body = scriptIn.ReplaceAllString(body, "")
	texts := tagIn.Split(body, -1)
	for _, tag := range tagIn.FindAllString(body, -1) {
		for _, spoken := range spokenIn.FindAllStringSubmatch(tag, -1) {
			if strings.Contains(spoken[1], " ") && !strings.HasPrefix(spoken[0], "data-draft") && !strings.HasPrefix(spoken[0], "data-states") {
				texts = append(texts, spoken[1])
			}
		}
	}
	for _, text := range texts {
		w.read(path, html.UnescapeString(text))
	}
	if address := calendarIn.FindString(body); address != "" && w.sending {
		w.lookAtCalendar(address)
	}
}

// read notes what one text says in English.
func (w *wordWalk) read(path, text string) {
	text = strings.Join(strings.Fields(text), " ")
	if w.looked[text] || !wordIn.MatchString(text) {
		return
	}
	w.looked[text] = true
	left := w.notOwn(text)
	if left != "" && w.sending { // it may just have been written
		w.own, w.ownText = wordsOf(w.t, w.st), ""
		left = w.notOwn(text)
	}
	if left != "" {
		w.met[left+"   in   "+text] = path
	}
}

func namesIn(body string) (names []string) {
	for _, field := range fieldIn.FindAllStringSubmatch(body, -1) {
		if name := attribute("name").FindStringSubmatch(field[2]); name != nil {
			names = append(names, name[1])
		}
	}
	return names
}

// fillIn sends every sort of form: with nothing typed, with nonsense, and with
// what might be right.
func (w *wordWalk) fillIn() {
	w.sending = true
	for _, how := range []string{"empty", "nonsense", "right"} {
		sorts := make([]string, 0, len(w.forms))
		for sort := range w.forms {
			sorts = append(sorts, sort)
		}
		sort.Strings(sorts)
		for _, sort := range sorts {
			f := w.forms[sort]
			if strings.HasPrefix(f.action, "/sign-") || strings.HasPrefix(f.action, "/people/me") || strings.Contains(f.action, "verify") || strings.HasPrefix(f.action, "/mill/mail") {
				continue
			}
			status, body := w.ask(f.action, w.filled(f, how))
			w.sent = append(w.sent, f.action)
			require.NotEqual(w.t, http.StatusInternalServerError, status, "%s sent %s", f.action, how)
			w.look(f.action+" sent "+how, body)
		}
	}
}

func (w *wordWalk) filled(f form, how string) url.Values {
	values := url.Values{}
	for _, field := range fieldIn.FindAllStringSubmatch(f.body, -1) {
		name := attribute("name").FindStringSubmatch(field[2])
		if name == nil {
			continue
		}
		value := ""
		if found := attribute("value").FindStringSubmatch(field[2]); found != nil {
			value = html.UnescapeString(found[1])
		}
		kind := "text"
		if found := attribute("type").FindStringSubmatch(field[2]); found != nil {
			kind = found[1]
		}
		switch {
		case kind == "file", values.Has(name[1]):
		case kind == "hidden", field[1] == "button" && how != "empty":
			values.Set(name[1], value)
		case how == "empty", field[1] == "button":
		case name[1] == "pin":
			values.Set(name[1], map[string]string{"nonsense": "98 76", "right": w.secret}[how])
		case how == "nonsense" && (kind == "radio" || kind == "checkbox" || field[1] == "select"):
		case how == "nonsense":
			values.Set(name[1], "?1 .")
		case kind == "radio", kind == "checkbox":
			values.Set(name[1], value)
		case field[1] == "select":
			if found := optionIn.FindStringSubmatch(field[3]); found != nil {
				values.Set(name[1], html.UnescapeString(found[1]))
			}
		case value != "":
			values.Set(name[1], value)
		case kind == "date":
			values.Set(name[1], "2026-05-13")
		default:
			values.Set(name[1], "12")
		}
	}
	return values
}
