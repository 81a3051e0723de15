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
	"sync"
	"text/template/parse"
)

//go:embed layout.html pages/*.html parts/*.html
var templateFiles embed.FS

// Engine renders pages; it has the methods fiber asks of its Views. It is safe
// for concurrent use.
type Engine struct {
	files  fs.FS
	assets *Assets
	parts  map[string]func() (map[string]*parse.Tree, error) // a template's name → what its file defines
	pages  map[string]func() (*template.Template, error)     // each a layout in a set of its own
}

// layoutFile is the template around every page, thePage how it calls that page.
const layoutFile, thePage = "layout.html", "page"

// NewEngine knows every page and puts none together: that is most of what a start
// would do, and a day needs few of them. Each is parsed and made safe when it is
// first shown; that every one can be is for the tests of this package to see. An
// error is a fault of the build.
func NewEngine(assets *Assets) (*Engine, error) { return newEngine(templateFiles, assets) }

func newEngine(files fs.FS, assets *Assets) (*Engine, error) {
	e := &Engine{files: files, assets: assets, parts: map[string]func() (map[string]*parse.Tree, error){}, pages: map[string]func() (*template.Template, error){}}
	paths, err := fs.Glob(files, "parts/*.html")
	if err != nil {
		return nil, fmt.Errorf("views: %w", err)
	}
	for _, file := range append(paths, layoutFile) {
		text, err := fs.ReadFile(files, file)
		if err != nil {
			return nil, fmt.Errorf("views: %w", err)
		}
		trees := sync.OnceValues(func() (map[string]*parse.Tree, error) { return e.parse(file, string(text)) })
		for _, name := range append(defined(string(text)), path.Base(file)) {
			if e.parts[name] != nil {
				return nil, fmt.Errorf("views: %s: another file defines %q too", file, name)
			}
			e.parts[name] = trees
		}
	}
	names, err := pageNames(files)
	if err != nil {
		return nil, fmt.Errorf("views: %w", err)
	}
	for _, name := range names {
		e.pages[name] = sync.OnceValues(func() (*template.Template, error) { return e.page(name) })
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

// defined are the names of the templates that a file defines, found without
// parsing it.
func defined(text string) (names []string) {
	for _, begin := range []string{`{{define "`, `{{- define "`} {
		for i, after := range strings.Split(text, begin) {
			if name, _, closed := strings.Cut(after, `"`); i > 0 && closed {
				names = append(names, name)
			}
		}
	}
	return names
}

// Load does nothing: a page is parsed when it is first shown.
func (e *Engine) Load() error { return nil }

// set begins a set of templates with one called name.
func (e *Engine) set(name string, needs func() loads) *template.Template {
	return template.New(name).Option("missingkey=error").Funcs(template.FuncMap{"asset": e.assets.URL, "inline": e.assets.inline, "loads": needs})
}

// parse is what a file of parts defines, before any page has it.
func (e *Engine) parse(file, text string) (map[string]*parse.Tree, error) {
	set, err := e.set(path.Base(file), func() loads { return loads{} }).Parse(text)
	if err != nil {
		return nil, err
	}
	trees := map[string]*parse.Tree{}
	for _, t := range set.Templates() {
		withoutIndents(t)
		trees[t.Name()] = t.Tree
	}
	return trees, nil
}

// page puts the page called name, the layout and what the two call of the parts
// into a set of their own, and makes it safe.
func (e *Engine) page(name string) (*template.Template, error) {
	body, err := fs.ReadFile(e.files, "pages/"+name+".html")
	if err != nil {
		return nil, err
	}
	var needs loads
	set, err := e.set(thePage, func() loads { return needs }).Parse(string(body))
	if err != nil {
		return nil, err
	}
	for _, t := range set.Templates() {
		if e.parts[t.Name()] != nil {
			return nil, fmt.Errorf("it defines %q, which is a part", t.Name())
		}
		withoutIndents(t)
		if err := e.fetch(set, t.Tree); err != nil {
			return nil, err
		}
	}
	layout, err := e.part(set, layoutFile)
	if err != nil {
		return nil, err
	}
	needs = e.assets.loadsOf(layout)
	// html/template works out the escaping at the first execution only. Run it now on
	// no data: that fails, but an unsafe template fails in its own way.
	var unsafe *template.Error
	if err := layout.Execute(io.Discard, nil); errors.As(err, &unsafe) {
		return nil, unsafe
	}
	return layout, nil
}

// fetch puts into the set the parts that tree calls, and those that they call.
func (e *Engine) fetch(set *template.Template, tree *parse.Tree) (err error) {
	eachNode(tree.Root, func(node parse.Node) {
		if call, is := node.(*parse.TemplateNode); is && err == nil && set.Lookup(call.Name) == nil {
			_, err = e.part(set, call.Name)
		}
	})
	return err
}

// part puts a copy of the part called name into the set: how it is made safe hangs
// on where the page calls it.
func (e *Engine) part(set *template.Template, name string) (*template.Template, error) {
	file := e.parts[name]
	if file == nil {
		return nil, fmt.Errorf("there is no part %q", name)
	}
	trees, err := file()
	if err != nil {
		return nil, err
	}
	if trees[name] == nil {
		return nil, fmt.Errorf("the part %q is defined in another way than the others", name)
	}
	t, err := set.AddParseTree(name, trees[name].Copy())
	if err != nil {
		return nil, err
	}
	return t, e.fetch(set, t.Tree)
}

// Render executes the page called name within the layout and writes it only when
// whole. page embeds a non-nil *Frame. The layouts fiber may pass are not used.
func (e *Engine) Render(out io.Writer, name string, page any, _ ...string) error {
	put, ok := e.pages[name]
	if !ok {
		return fmt.Errorf("views: no page %q", name)
	}
	if framed, ok := page.(framed); !ok || framed.frame() == nil {
		return fmt.Errorf("views: page %s: %T has no Frame", name, page)
	}
	set, err := put()
	if err != nil {
		return fmt.Errorf("views: page %s: %w", name, err)
	}
	if f := page.(framed).frame(); f.Naming && len(f.Problems) > 0 {
		// The list stands before the form whose fields it names.
		if err := set.Execute(io.Discard, page); err != nil {
			return fmt.Errorf("views: page %s: %w", name, err)
		}
		f.Naming = false
	}
	var whole bytes.Buffer
	if err := set.Execute(&whole, page); err != nil {
		return fmt.Errorf("views: page %s: %w", name, err)
	}
	_, err = whole.WriteTo(out)
	return err
}
