package server_test

import (
	"database/sql"
	"encoding/json"
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

	"stillsaw/procedures/lift"
	"stillsaw/server"
	"stillsaw/server/store"
)

// readsMadeUp asks for every page in the made-up language.
type readsMadeUp struct{}

func (readsMadeUp) RoundTrip(r *http.Request) (*http.Response, error) {
	r = r.Clone(r.Context())
	r.Header.Set("Accept-Language", madeUp)
	return http.DefaultTransport.RoundTrip(r)
}

// Every word of every page of the invented mill that a supervisor comes to, and
// of what comes back when its forms are sent empty, with nonsense and filled in,
// is in the reader's language, or is the mill's own.
func TestNoWordGoesRoundTheCatalogue(t *testing.T) {
	if os.Getenv("STILLSAW_LONG") == "" {
		t.Skip("long: set STILLSAW_LONG")
	}
	_, st, people := demoServer(t)
	s, err := server.New(server.WithWords(server.Config{Store: st, Now: func() time.Time { return demoNow }, Log: slog.New(slog.NewTextHandler(t.Output(), nil))}, madeUpWords(t)))
	require.NoError(t, err)
	w := &wordWalk{caller: signedIn(t, s, st, people[0]), secret: people[0].Secret, st: st, own: wordsOf(t, st), met: map[string]string{}}
	w.client.Transport = readsMadeUp{}
	w.walk("/", "/people", "/sign-in", "/nowhere")
	w.fillIn()
	lines := make([]string, 0, len(w.met))
	for word, at := range w.met {
		lines = append(lines, word+"   ← "+at)
	}
	sort.Strings(lines)
	t.Log(len(w.shapes), "sorts of pages,", len(w.sent), "forms sent")
	require.Empty(t, lines, strings.Join(lines, "\n"))
}

// wordWalk goes from page to page and notes each text that holds English.
type wordWalk struct {
	caller
	secret string
	st     *store.Store
	own    []string          // what the mill itself wrote, longest first
	met    map[string]string // what was found, and where first
	shapes map[string]int    // how often pages of a sort were asked for
	forms  map[string]form   // by their sort
	sent   []string
	looked map[string]bool // texts seen before

	sending bool // forms
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
	w.shapes, w.forms, w.looked = map[string]int{}, map[string]form{}, map[string]bool{}
	seen := map[string]bool{}
	for len(next) > 0 {
		path := html.UnescapeString(next[0])
		next = next[1:]
		shape := idsIn.ReplaceAllString(path, "#")
		if seen[path] || w.shapes[shape] >= 2 || len(seen) > 900 || strings.HasPrefix(path, "/assets") || strings.HasPrefix(path, "/photos") ||
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
		text = strings.Join(strings.Fields(html.UnescapeString(text)), " ")
		if w.looked[text] || !wordIn.MatchString(text) {
			continue
		}
		w.looked[text] = true
		left := w.notOwn(text)
		if left != "" && w.sending { // it may just have been written
			w.own = wordsOf(w.t, w.st)
			left = w.notOwn(text)
		}
		if left != "" {
			w.met[left+"   in   "+text] = path
		}
	}
}

// notOwn is what is left of a text without what the mill wrote itself and what is
// the same in every language.
func (w *wordWalk) notOwn(text string) string {
	// One may hold a piece of the other, so either may be taken out first.
	first := w.withoutOwn(inEveryLanguage.ReplaceAllString(text, " "))
	second := inEveryLanguage.ReplaceAllString(w.withoutOwn(text), " ")
	if !wordIn.MatchString(first) || !wordIn.MatchString(second) {
		return ""
	}
	return strings.Join(wordIn.FindAllString(second, -1), " ")
}

func (w *wordWalk) withoutOwn(text string) string {
	for _, own := range w.own {
		if !wordIn.MatchString(text) {
			return ""
		}
		text = strings.ReplaceAll(text, own, " ")
		if cut := strings.Index(text, "…"); cut > 12 {
			for at := cut - 12; at >= 0; at-- { // the beginning of what was written
				if strings.HasPrefix(own, strings.TrimSpace(text[at:cut])) {
					text = text[:at] + text[cut:]
					break
				}
			}
		}
	}
	return text
}

// inEveryLanguage are rules by their number and what they are called, addresses,
// keys, the canonical text of an entry and zones of time.
var inEveryLanguage = regexp.MustCompile(`\b\d+ CFR [\d.()a-zA-Z]+(?: \([a-z\d]+\))*(?: (?:and )?\([a-z\d]+\)[()a-zA-Z\d]*,?)*(?:,? (?:and )?(?:Appendix|Subpart|Table) [A-Z\d-]+)*(?: to \.\d+)?(?:, \([ivx]+\))*|(?:\([a-z\d]{1,3}\))+|` +
	`[A-Za-z'() -]+ \([A-Z][a-z]+ [a-z]+\)|\((?:Washington|Michigan|Pennsylvania|California)\b|^(?:lb|eo)$|` + // woods have names of their own in each language, states and units everywhere the same
	`\b(?:ASME|ANSI|WAC|NFPA|FPL-GTR|Alberta OHS Code|OSHA, Guidance on Safe Sling Use, Table)\b[ A-Z\d.-]*|\((?:from memory|Order \d+[^)]*)\)|https?://\S+|` +
	`\bstillsaw/[0-9a-f-]{36}(?:[/+ ]\S+)*|\b[A-Za-z0-9+/]{22,}=*|\S+@\S+\.example\b|"[^"]*"|\bstillsaw list: \d|\bEnglish\b|\brpm\b|` +
	`\b[0-9A-Z]{4}(?: [0-9A-Z]{4})+|\{".*\}|\b[A-Z][a-z]+/[A-Z][A-Za-z_]+(?: York)?|\b[A-Za-z0-9+/]{43}=|\bStillsaw\b|\d (?:in|ft/min)\b|\b(?:ft/min|in w\.g\.)`)

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

// wordsOf are the texts the mill's own people wrote, or took over with a list or
// a procedure, longest first; of one word alone only those that look like a name.
func wordsOf(t *testing.T, st *store.Store) []string {
	t.Helper()
	db, err := sql.Open(sql.Drivers()[0], st.Path())
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	words := map[string]bool{}
	var take func(any)
	take = func(value any) {
		switch value := value.(type) {
		case map[string]any:
			for name, one := range value {
				if unit, is := one.(string); is && (name == "unit" || name == "LockColour") { // as the mill calls it
					words[unit] = true
				}
				take(one)
			}
		case []any:
			for _, one := range value {
				take(one)
			}
		case []byte:
			take(string(value))
		case string:
			var inner any
			if strings.HasPrefix(value, "{") || strings.HasPrefix(value, "[") || strings.HasPrefix(value, `"`) {
				if json.Unmarshal([]byte(value), &inner) == nil {
					take(inner)
					return
				}
			}
			for _, line := range strings.Split(value, "\n") {
				if line = strings.Join(strings.Fields(line), " "); strings.ContainsAny(line, " ") || strings.ToLower(line) != line {
					words[line] = true
				}
			}
		}
	}
	tables, err := db.QueryContext(t.Context(), "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'search%'")
	require.NoError(t, err)
	var names []string
	for tables.Next() {
		var name string
		require.NoError(t, tables.Scan(&name))
		names = append(names, name)
	}
	require.NoError(t, tables.Err())
	for _, name := range names {
		rows, err := db.QueryContext(t.Context(), `SELECT * FROM "`+name+`"`)
		require.NoError(t, err)
		columns, err := rows.Columns()
		require.NoError(t, err)
		values := make([]any, len(columns))
		into := make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		for rows.Next() {
			require.NoError(t, rows.Scan(into...))
			take(slicesOf(values))
		}
		require.NoError(t, rows.Err())
	}
	for _, wood := range lift.AllSpecies() { // by the names the table publishes them under
		words[wood.Common] = true
	}
	all := make([]string, 0, len(words))
	for word := range words {
		if wordIn.MatchString(word) {
			all = append(all, word)
		}
	}
	sort.Slice(all, func(i, j int) bool { return len(all[i]) > len(all[j]) || len(all[i]) == len(all[j]) && all[i] < all[j] })
	return all
}

func slicesOf(values []any) []any { return append([]any(nil), values...) }
