package views

import (
	"bytes"
	"io/fs"
	"maps"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// engine is the real one, or the real layout and parts with other pages.
func engine(t *testing.T, pages map[string]string) *Engine {
	t.Helper()
	assets, err := NewAssets()
	require.NoError(t, err)
	e, err := newEngine(withPages(t, pages), assets)
	require.NoError(t, err)
	return e
}

func withPages(t *testing.T, pages map[string]string) fs.FS {
	t.Helper()
	if pages == nil {
		return templateFiles
	}
	files := fstest.MapFS{}
	for _, pattern := range []string{"layout.html", "parts/*.html"} {
		names, err := fs.Glob(templateFiles, pattern)
		require.NoError(t, err)
		for _, name := range names {
			body, err := templateFiles.ReadFile(name)
			require.NoError(t, err)
			files[name] = &fstest.MapFile{Data: body}
		}
	}
	for name, body := range pages {
		files["pages/"+name+".html"] = &fstest.MapFile{Data: []byte(body)}
	}
	return files
}

type samplePage struct {
	*Frame
	Text   string
	Fields []Field
	Map    map[string]string
}

func (p samplePage) Fail() (string, error) { return "", assert.AnError }

func render(t *testing.T, body string, page samplePage) string {
	t.Helper()
	if page.Frame == nil {
		page.Frame = &Frame{}
	}
	var out bytes.Buffer
	require.NoError(t, engine(t, map[string]string{"sample": body}).Render(&out, "sample", page))
	return out.String()
}

func TestFailedPageWritesNothing(t *testing.T) {
	e := engine(t, map[string]string{
		"method": strings.Repeat("much text ", 10000) + "{{.Fail}}",
		"key":    "before {{.Map.none}}",
		"part":   `{{template "field" .Text}}`,
	})
	page := samplePage{Frame: &Frame{}, Map: map[string]string{}}
	for name := range maps.Keys(e.pages) {
		var out bytes.Buffer
		assert.Error(t, e.Render(&out, name, page), name)
		assert.Zero(t, out.Len(), "%s wrote part of a page", name)
	}
	var out bytes.Buffer
	assert.ErrorContains(t, e.Render(&out, "none", page), "none")
	assert.ErrorContains(t, e.Render(&out, "key", samplePage{}), "Frame")
	assert.ErrorContains(t, e.Render(&out, "key", "no page"), "Frame")
	assert.Zero(t, out.Len())
}

// A page is put together when it is first shown; that each can be is seen here.
func TestEveryPageCanBePutTogether(t *testing.T) {
	e := engine(t, nil)
	names, err := Pages()
	require.NoError(t, err)
	require.Contains(t, names, "error")
	require.Len(t, e.pages, len(names))
	for _, name := range names {
		put, ok := e.pages[name]
		require.True(t, ok, name)
		_, err := put()
		assert.NoError(t, err, name)
	}
}

// Parts that no page calls are parsed nowhere else.
func TestEveryPartIsFoundWhereItIsDefined(t *testing.T) {
	e := engine(t, nil)
	for name, file := range e.parts {
		trees, err := file()
		require.NoError(t, err, name)
		assert.Contains(t, trees, name)
		for defined := range trees {
			assert.Contains(t, e.parts, defined)
		}
	}
}

func TestTwoPartsOfOneNameStopTheStart(t *testing.T) {
	assets, err := NewAssets()
	require.NoError(t, err)
	files := fstest.MapFS{"layout.html": {Data: []byte("{{template \"page\" .}}")}}
	for _, name := range []string{"a", "b"} {
		files["parts/"+name+".html"] = &fstest.MapFile{Data: []byte(`{{- define "one"}}{{end}}`)}
	}
	_, err = newEngine(files, assets)
	assert.ErrorContains(t, err, `"one"`)
}

func TestPageThatDoesNotParseIsAnError(t *testing.T) {
	for name, body := range map[string]string{
		"unclosed":       "{{if .Text}}",
		"no such part":   `{{template "none" .}}`,
		"one of a part":  `{{define "field"}}{{end}}`,
		"none of a part": `{{if .Text}}{{template "none" .}}{{end}}`,
		"unsafe":         `<a href={{.Text}}>x</a><script>let a = "{{if .Text}}</script>{{end}}`,
	} {
		e := engine(t, map[string]string{"broken": body})
		for range 2 { // neither when it is asked for again
			var out bytes.Buffer
			assert.ErrorContains(t, e.Render(&out, "broken", samplePage{Frame: &Frame{}}), "broken", name)
			assert.Zero(t, out.Len(), name)
		}
	}
}

func TestPagesAreFirstShownToManyAtOnce(t *testing.T) {
	e := engine(t, nil)
	var all sync.WaitGroup
	for range 8 {
		for _, name := range []string{"error", "phone", "sign-out"} {
			all.Go(func() {
				put, err := e.pages[name]()
				assert.NoError(t, err)
				assert.NotNil(t, put)
			})
		}
	}
	all.Wait()
	var out bytes.Buffer
	require.NoError(t, e.Render(&out, "error", ErrorPage{Frame: full(t)}))
	assert.Contains(t, out.String(), "</html>")
}

func TestPagesDoNotShareTemplates(t *testing.T) {
	e := engine(t, map[string]string{
		"one": `{{define "here"}}first{{end}}{{template "here"}}`,
		"two": `{{define "here"}}second{{end}}{{template "here"}}`,
	})
	for name, want := range map[string]string{"one": "first", "two": "second"} {
		var out bytes.Buffer
		require.NoError(t, e.Render(&out, name, samplePage{Frame: &Frame{}}))
		assert.Contains(t, out.String(), want)
	}
}

func TestWhatPeopleTypedIsEscaped(t *testing.T) {
	const typed = `<script>alert("x")</script>`
	page := samplePage{Frame: full(t), Text: typed}
	page.Mill, page.Person.Name = typed, typed
	page.Fields = []Field{page.TextField("a", typed, typed).WithHint(typed), page.AreaField("b", typed, typed)}
	out := render(t, `{{.Text}}{{.T "Made by %s." .Text}}{{range .Fields}}{{template "field" .}}{{end}}`, page)
	assert.NotContains(t, out, "<script>alert")
	assert.Contains(t, out, "&lt;script&gt;alert")
}

// The content policy drops inline style and script, so a page that needs them
// would look right in a test only.
func TestTemplatesHoldNothingInline(t *testing.T) {
	require.NoError(t, fs.WalkDir(templateFiles, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		body, err := templateFiles.ReadFile(name)
		require.NoError(t, err)
		assert.NotRegexp(t, `(?i)\sstyle\s*=|<style|\son[a-z]+\s*=\s*"|javascript:|<script(?:[^>]*)>[^<]`, string(body), name)
		return nil
	}))
}

func TestErrorPageSaysWhatToDo(t *testing.T) {
	e := engine(t, nil)
	for _, page := range []ErrorPage{
		{Frame: &Frame{}},
		{Frame: full(t), Status: 404, Do: "Go back and try another.", Back: "/record"},
	} {
		var out bytes.Buffer
		require.NoError(t, e.Render(&out, "error", page))
		assert.Contains(t, out.String(), page.Do)
		assert.Contains(t, out.String(), `href="`+map[bool]string{true: "/", false: "/record"}[page.Back == ""]+`"`)
	}
}

func TestAPageMayHaveTheNameOfAPart(t *testing.T) {
	e := engine(t, map[string]string{"field": `<p>here</p>{{template "field" (.TextField "a" "A" .Text)}}`})
	var out bytes.Buffer
	require.NoError(t, e.Render(&out, "field", samplePage{Frame: &Frame{}, Text: "typed"}))
	assert.Contains(t, out.String(), "<p>here</p>")
	assert.Contains(t, out.String(), "<!doctype html>")
	assert.Contains(t, out.String(), `value="typed"`)
}
