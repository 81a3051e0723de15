package views

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"path"
	"strings"
)

//go:embed layout.html pages/*.html parts/*.html
var templateFiles embed.FS

// Engine renders pages; it has the methods fiber asks of its Views. It is safe
// for concurrent use once made.
type Engine struct {
	files  fs.FS
	assets *Assets
	pages  map[string]*template.Template
}

// NewEngine parses every page, so that one that doesn't parse or can't be made
// safe stops the start. The error names the file.
func NewEngine(assets *Assets) (*Engine, error) { return newEngine(templateFiles, assets) }

func newEngine(files fs.FS, assets *Assets) (*Engine, error) {
	e := &Engine{files: files, assets: assets}
	if err := e.Load(); err != nil {
		return nil, err
	}
	return e, nil
}

// Pages lists the name of every page, sorted, for tests that render each.
func Pages() ([]string, error) { return pageNames(templateFiles) }

func pageNames(files fs.FS) ([]string, error) {
	paths, err := fs.Glob(files, "pages/*.html")
	for i, p := range paths {
		paths[i] = strings.TrimSuffix(path.Base(p), ".html")
	}
	return paths, err
}

// Load parses the templates the first time it is called. NewEngine has done so
// already: fiber calls it too, but only logs its error.
func (e *Engine) Load() error {
	if e.pages != nil {
		return nil
	}
	base, err := template.New("layout.html").
		Option("missingkey=error").
		Funcs(template.FuncMap{"asset": e.assets.URL, "inline": e.assets.inline, "loads": func() loads { return loads{} }}).
		ParseFS(e.files, "layout.html", "parts/*.html")
	if err != nil {
		return fmt.Errorf("views: %w", err)
	}
	for _, t := range base.Templates() {
		withoutIndents(t)
	}
	names, err := pageNames(e.files)
	if err != nil {
		return fmt.Errorf("views: %w", err)
	}
	pages := map[string]*template.Template{}
	for _, name := range names {
		if pages[name], err = e.page(base, name); err != nil {
			return fmt.Errorf("views: page %s: %w", name, err)
		}
	}
	e.pages = pages
	return nil
}

// page is a set of its own for name: pages may define templates of the same
// name, and no two renders wait for one lock.
func (e *Engine) page(base *template.Template, name string) (*template.Template, error) {
	set, err := base.Clone()
	if err != nil {
		return nil, err
	}
	body, err := fs.ReadFile(e.files, "pages/"+name+".html")
	if err != nil {
		return nil, err
	}
	if _, err := set.New("page").Parse(string(body)); err != nil {
		return nil, err
	}
	for _, t := range set.Templates() {
		if shared := base.Lookup(t.Name()); shared == nil {
			withoutIndents(t)
		}
	}
	needs := e.assets.loadsOf(set)
	set.Funcs(template.FuncMap{"loads": func() loads { return needs }})
	// html/template works out the escaping at the first execution only. Run it
	// now on no data: that fails, but an unsafe template fails in its own way.
	var unsafe *template.Error
	if err := set.Execute(io.Discard, nil); errors.As(err, &unsafe) {
		return nil, unsafe
	}
	return set, nil
}

// Render executes the page called name within the layout and writes it only when
// whole. page embeds a non-nil *Frame. The layouts fiber may pass are not used.
func (e *Engine) Render(out io.Writer, name string, page any, _ ...string) error {
	set, ok := e.pages[name]
	if !ok {
		return fmt.Errorf("views: no page %q", name)
	}
	if framed, ok := page.(framed); !ok || framed.frame() == nil {
		return fmt.Errorf("views: page %s: %T has no Frame", name, page)
	}
	var whole bytes.Buffer
	if err := set.Execute(&whole, page); err != nil {
		return fmt.Errorf("views: page %s: %w", name, err)
	}
	_, err := whole.WriteTo(out)
	return err
}
