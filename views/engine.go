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
	pages  map[string]*template.Template // each a layout of its own in one set
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
	needs := map[string]loads{}
	funcs := template.FuncMap{"asset": e.assets.URL, "inline": e.assets.inline, "loads": func(page string) loads { return needs[page] }}
	set, err := template.New("layout.html").Option("missingkey=error").Funcs(funcs).ParseFS(e.files, "layout.html", "parts/*.html")
	if err != nil {
		return fmt.Errorf("views: %w", err)
	}
	for _, t := range set.Templates() {
		withoutIndents(t)
	}
	names, err := pageNames(e.files)
	if err != nil {
		return fmt.Errorf("views: %w", err)
	}
	pages := map[string]*template.Template{}
	for _, name := range names {
		if pages[name], err = e.page(set, funcs, name); err != nil {
			return fmt.Errorf("views: page %s: %w", name, err)
		}
		needs[name+"/"+thePage] = e.assets.loadsOf(pages[name])
	}
	// html/template works out the escaping at the first execution only, and takes no
	// template after it. Run each now on no data: that fails, but an unsafe template
	// fails in its own way.
	for _, name := range names {
		var unsafe *template.Error
		if err := pages[name].Execute(io.Discard, nil); errors.As(err, &unsafe) {
			return fmt.Errorf("views: page %s: %w", name, unsafe)
		}
	}
	e.pages = pages
	return nil
}

// page puts the page called name into the set, in which each part is kept once for
// all pages, and a layout around it. What the page itself defines is called after
// it, so that two pages may define templates of one name.
func (e *Engine) page(set *template.Template, funcs template.FuncMap, name string) (*template.Template, error) {
	body, err := fs.ReadFile(e.files, "pages/"+name+".html")
	if err != nil {
		return nil, err
	}
	own, err := template.New(thePage).Funcs(funcs).Parse(string(body))
	if err != nil {
		return nil, err
	}
	called := map[string]string{}
	for _, t := range own.Templates() {
		if set.Lookup(t.Name()) != nil {
			return nil, fmt.Errorf("it defines %q, which is a part", t.Name())
		}
		called[t.Name()] = name + "/" + t.Name()
	}
	for _, t := range own.Templates() {
		withoutIndents(t)
		renameCalls(t.Tree.Root, called)
		if _, err := set.AddParseTree(called[t.Name()], t.Tree); err != nil {
			return nil, err
		}
	}
	layout := set.Lookup("layout.html").Tree.Copy()
	renameCalls(layout.Root, map[string]string{thePage: called[thePage]})
	return set.AddParseTree(name+"/layout", layout)
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
