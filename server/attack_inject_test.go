package server

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"html"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"

	"stillsaw/server/sample"
	"stillsaw/server/store"
	"stillsaw/server/store/lent"
)

// hostile are texts that mean something to whatever reads them unless they are kept
// text: to a browser, a database, a spreadsheet, a template, a PDF, a terminal, a
// log, a header, a letter, a calendar.
var hostile = struct{ line, long string }{
	line: `=zq"'><b zq=1>{{.Zone}}%s%n\')--;`,
	long: "=zq\"'><b zq=1>{{.Zone}}\r\n+zq@\tBEGIN:VEVENT\r\nSet-Cookie: zq=1\r\n\r\n.\r\nzq) Tj ET\x1b[31m",
}

// askedForm is a form of a page, filled in as somebody means harm.
type askedForm struct {
	action string
	files  bool
	values url.Values
}

var oneForm = regexp.MustCompile(`(?s)<form.*?</form>`)

// formsOf are the forms of a page that are sent, with hostile in every field of
// text. all ticks every box as well.
func formsOf(t *testing.T, body string, pin string, all bool) (forms []askedForm) {
	t.Helper()
	for _, text := range oneForm.FindAllString(body, -1) {
		reader := xml.NewDecoder(strings.NewReader(strings.ReplaceAll(text, "\x1b", ""))) // from a query; no HTML has it
		reader.Strict, reader.AutoClose, reader.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
		form, list := askedForm{values: url.Values{}}, ""
		for {
			token, err := reader.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err)
			tag, ok := token.(xml.StartElement)
			if !ok {
				continue
			}
			name, value, kind := attr(tag, "name"), attr(tag, "value"), attr(tag, "type")
			switch tag.Name.Local {
			case "form":
				if attr(tag, "method") != "post" {
					form.action = ""
					break
				}
				form.action, form.files = attr(tag, "action"), attr(tag, "enctype") != ""
			case "textarea":
				form.values.Set(name, hostile.long)
			case "select":
				list = name
				form.values.Set(list, "")
			case "option":
				if has(tag, "selected") || form.values.Get(list) == "" && !strings.Contains(value, "zq") {
					form.values.Set(list, value)
				}
			case "button":
				if name != "" && form.values[name] == nil {
					form.values.Set(name, value)
				}
			case "input":
				switch {
				case name == "" || kind == "file":
				case name == "pin":
					form.values.Set(name, pin)
				case kind == "checkbox":
					if has(tag, "checked") || all {
						form.values.Add(name, value)
					}
				case kind == "radio":
					if has(tag, "checked") || form.values[name] == nil {
						form.values.Set(name, value)
					}
				case kind == "hidden" || kind == "password":
					form.values.Add(name, value)
				case kind == "date":
					form.values.Set(name, nonEmpty(value, "2026-03-03"))
				case kind == "time":
					form.values.Set(name, nonEmpty(value, "05:30"))
				case attr(tag, "inputmode") != "" && attr(tag, "inputmode") != "text":
					form.values.Set(name, nonEmpty(value, "2"))
				default:
					form.values.Set(name, hostile.line)
				}
			}
		}
		if form.action != "" {
			forms = append(forms, form)
		}
	}
	return forms
}

func nonEmpty(value, instead string) string {
	if value == "" {
		return instead
	}
	return value
}

// logged is what a server logs, for reading afterwards.
type logged struct {
	mu sync.Mutex
	bytes.Buffer
}

func (l *logged) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.Buffer.Write(p)
}

var (
	pageLink = regexp.MustCompile(`(?:href|formaction)="(/[^"#]*)"`)
	anyID    = regexp.MustCompile(`[0-9a-f-]{36}|[0-9a-f]{64}|\d+`)
	rawMark  = regexp.MustCompile(`<b zq|"'><b`)
)

// crawler goes through the mill's pages by their links.
type crawler struct {
	*phone
	seen   map[string]bool
	shapes map[string]int
}

// answer is one answer, not followed.
func (c *crawler) answer(request *http.Request) (int, http.Header, string) {
	c.t.Helper()
	for _, cookie := range c.jar.Cookies(request.URL) {
		request.AddCookie(cookie)
	}
	reply, err := c.server.app.Test(request, 60_000)
	require.NoError(c.t, err)
	body, err := io.ReadAll(reply.Body)
	require.NoError(c.t, err)
	require.NoError(c.t, reply.Body.Close())
	require.Less(c.t, reply.StatusCode, 500, "%s %s: %s", request.Method, request.URL, body)
	for _, cookie := range reply.Cookies() {
		require.NotEqual(c.t, "zq", cookie.Name)
	}
	if strings.HasPrefix(reply.Header.Get("Content-Type"), "text/html") {
		at := rawMark.FindStringIndex(string(body))
		if at != nil {
			c.t.Fatalf("%s %s: a page holds what was typed as it was typed: …%s…", request.Method, request.URL, body[max(0, at[0]-200):min(len(body), at[1]+80)])
		}
	}
	return reply.StatusCode, reply.Header, string(body)
}

func (c *crawler) ask(path string) (int, string) {
	c.t.Helper()
	request, err := http.NewRequestWithContext(c.t.Context(), http.MethodGet, "http://mill.test"+path, nil)
	require.NoError(c.t, err)
	status, _, body := c.answer(request)
	return status, body
}

// walk shows visit the pages that are reached from the first ones, a few of a kind.
func (c *crawler) walk(visit func(path, body string), next ...string) {
	c.t.Helper()
	for ; len(next) > 0; next = next[1:] {
		path := html.UnescapeString(next[0])
		shape := anyID.ReplaceAllString(path, "#")
		if c.seen[path] || c.shapes[shape] >= 1 || strings.HasPrefix(path, "/assets") || strings.HasPrefix(path, "/export") || len(c.seen) > 300 {
			continue
		}
		c.seen[path] = true
		c.shapes[shape]++
		status, body := c.ask(path)
		if status != http.StatusOK {
			continue
		}
		visit(path, body)
		for _, link := range pageLink.FindAllStringSubmatch(body, -1) {
			next = append(next, link[1])
		}
	}
}

// Every field of text of every form there is, filled with what is code elsewhere:
// the pages, the exports and the log show it as the text it is.
func TestWhatIsTypedIsNeverAnythingButText(t *testing.T) {
	if !sample.Whole() {
		t.Skip("in CI, and with STILLSAW_LONG=1: every form is walked")
	}
	t.Parallel()
	st, err := lent.Open(t.Context(), t.TempDir())
	require.NoError(t, err)
	now := &clock{now: time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)}
	log := &logged{}
	s, err := New(Config{Store: st, Now: now.Now, Log: slog.New(slog.NewTextHandler(log, nil)), pages: testPages(), words: testWords()})
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, s.Stop())
		require.NoError(t, st.Close())
	})
	m := settled(t, s, st, now)
	m.withKey()
	c := &crawler{m.as("sam"), map[string]bool{}, map[string]int{}}
	sent, kept, fields, actions := 0, 0, map[string]bool{}, map[string]bool{}
	send := func(form askedForm) int {
		var request *http.Request
		if form.files {
			request = c.withFiles(form.action, form.values, nil)
		} else {
			request, err = http.NewRequestWithContext(t.Context(), http.MethodPost, "http://mill.test"+form.action, strings.NewReader(form.values.Encode()))
			require.NoError(t, err)
			request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		}
		status, _, _ := c.answer(request)
		sent++
		if status == http.StatusSeeOther {
			kept++
		}
		return status
	}
	c.walk(func(path, body string) {
		for _, all := range []bool{false, true} {
			for _, form := range formsOf(t, body, testSecrets["sam"], all) {
				shape := anyID.ReplaceAllString(form.action, "#")
				if strings.HasPrefix(form.action, "/sign-out") || form.action == "/people/me" || strings.HasPrefix(form.action, "/retention") || form.action == "/people/"+string(m.people["sam"].ID) || actions[shape] {
					continue
				}
				status := send(form)
				actions[shape] = status == http.StatusSeeOther || all
				for name, values := range form.values {
					if strings.Contains(strings.Join(values, ""), "zq") {
						fields[shape+" "+name] = true
					}
				}
				if !all && status == http.StatusUnprocessableEntity { // one line alone may be what it takes
					for name, values := range form.values {
						if values[0] == hostile.long {
							form.values.Set(name, hostile.line)
						}
					}
					if form.values.Get("submission") != "" {
						form.values.Set("submission", store.NewID())
					}
					send(form)
				}
			}
		}
	}, "/", "/stop-it", "/departures/new", "/incidents/new", "/people/new", "/equipment/new", "/blades/new", "/safety/new", "/locks/new", "/contractors/new", "/tasks/new", "/lists/new", "/rigs/new", "/lifts/new", "/lockouts/new?procedure=head-saw", "/program/edit", "/help/emergency/edit", "/mill", "/mill/mail", "/witnesses", "/mill/tokens", "/training/new", "/procedures/new?equipment=hoist", "/inspections/new?list=pre-shift", "/lists/pre-shift/edit", "/lists/pre-shift/items/S3", "/procedures/head-saw/edit", "/record?q="+url.QueryEscape(hostile.line), "/sign-in?back="+url.QueryEscape(hostile.line), "/due?done="+url.QueryEscape(hostile.line), "/export?from="+url.QueryEscape(hostile.line))
	t.Log(len(c.seen), "pages,", sent, "forms sent,", kept, "taken,", len(fields), "fields")
	require.Greater(t, len(fields), 20, "fields were filled")
	require.Greater(t, kept, 5, "and forms taken")

	c.seen, c.shapes = map[string]bool{}, map[string]int{}
	shown := 0
	c.walk(func(_, body string) { shown += strings.Count(body, "b zq=1") }, "/", "/record", "/people", "/defects", "/departures", "/incidents", "/equipment", "/registers", "/tasks", "/witnesses", "/mill/tokens", "/lists", "/published", "/help/emergency", "/mill")
	require.Greater(t, shown, 10, "what was typed stands on the pages, as text")

	_, table := c.ask("/export.csv?from=2026-03-02&until=2026-03-04")
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	require.NoError(t, err)
	formulas := 0
	for _, row := range rows {
		for _, cell := range row {
			if strings.Contains(cell, "zq") {
				formulas++
				require.NotContains(t, "=+-@\t\r\n", cell[:1], cell)
			}
		}
	}
	require.Positive(t, formulas)
	_, export := c.ask("/export.json?from=2026-03-02&until=2026-03-04")
	require.True(t, json.Valid([]byte(export)))
	_, paper := c.ask("/export.pdf?from=2026-03-03&until=2026-03-03")
	reader, err := pdf.NewReader(strings.NewReader(paper), int64(len(paper)))
	require.NoError(t, err)
	text, err := reader.GetPlainText()
	require.NoError(t, err)
	words, err := io.ReadAll(text)
	require.NoError(t, err)
	require.Contains(t, strings.ReplaceAll(string(words), "\n", ""), "zq", "on paper it is text, parentheses and all")
	for line := range strings.Lines(log.String()) {
		require.True(t, strings.HasPrefix(line, "time="), "a line of the log that nobody logged: %q", line)
		require.NotContains(t, line, "zq", "what people type is not logged")
		require.NotContains(t, line, testSecrets["sam"])
	}
}
