package main

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const root = "../.."

// module is the path every package of the project begins with.
const module = "stillsaw"

// goPackage is what `go list -json` says of a package.
type goPackage struct {
	ImportPath   string
	Dir          string
	GoFiles      []string
	Imports      []string
	TestImports  []string
	XTestImports []string
	Deps         []string
}

// domain is where every rule lives: it does no I/O and knows no clock.
func domain() []string {
	return []string{"procedures/plain", "procedures/lift", "procedures", "checklists"}
}

// mayImport are the arrows of the house: what of the project a package may
// import. A package not named here has no place in it.
func mayImport() map[string][]string {
	rules := domain()
	below := slices.Concat(rules, []string{"server/record", "server/search", "server/secure", "server/store", "server/mail", "server/meter", "server/backup", "server/starters", "server/table", "views", "views/sheet"})
	return map[string][]string{
		"procedures/plain": nil,
		"procedures/lift":  {"procedures/plain"},
		"procedures":       {"procedures/lift", "procedures/plain"},
		"checklists":       {"procedures", "procedures/lift", "procedures/plain"},
		"views":            rules,
		"views/sheet":      nil,
		"views/sayings":    nil,
		"server/record":    {"procedures/plain"},
		"server/mail":      nil,
		"server/backup":    append(slices.Clone(rules), "server/record", "server/store"),
		"server/secure":    nil,
		"server/meter":     {"server/store"},
		"server/table":     nil,
		"server/search":    nil,
		"server/starters":  rules,
		"server/store":     append(slices.Clone(rules), "server/record", "server/search"),

		"server/store/faultydisk": nil, // for tests alone, as are the next three
		"server/store/scratchdb":  nil,
		"server/store/lent":       {"checklists", "server/store", "server/store/scratchdb"},
		"server/sample":           nil,
		"server/bench":            nil, // all of it is tests
		"server":                  below,
		"server/demo":             append(slices.Clone(below), "server"),
		"cmd/stillsaw":            append(slices.Clone(below), "server", "server/demo"),
	}
}

// only are modules that have one door into the house.
func only() map[string][]string {
	return map[string][]string{
		"gorm.io":                   {"server/store"},
		"modernc.org/sqlite":        {"server/store", "server/store/faultydisk"},
		"modernc.org/libc":          {"server/store/faultydisk"},
		"database/sql":              {"server/store", "server/store/lent"},
		"github.com/gofrs":          {"server/store"},
		"github.com/jackc":          {"server/store", "server/store/scratchdb", "server/store/lent"},
		"github.com/gofiber":        {"server", "cmd/stillsaw"},
		"github.com/valyala":        {"server"},
		"golang.org/x/mod/sumdb":    {"server/record", "server/store", "server"},
		"github.com/chromedp":       {}, // in tests only
		"github.com/stretchr":       {},
		"pgregory.net/rapid":        {},
		"github.com/rogpeppe":       {},
		"github.com/pb33f":          {},
		"gonum.org":                 {"checklists"},
		"github.com/mdp/qrterminal": {"cmd/stillsaw"},
		"codeberg.org/go-pdf":       {"views/sheet"},
		"github.com/ledongthuc":     {},
		"github.com/prometheus":     {"server/meter"},
		"github.com/kardianos":      {"cmd/stillsaw"},
		"gopkg.in/natefinch":        {"cmd/stillsaw"},
		"github.com/wneessen":       {"server/mail"},
		"github.com/minio":          {"server/backup"},
		"filippo.io/age":            {"server/backup", "cmd/stillsaw"},
		"github.com/arran4":         {"server"},
		"github.com/emersion":       {}, // a mail server, in tests only
	}
}

// importFaults names what p imports against the arrows or, as a domain package,
// reaches through others.
func importFaults(p goPackage) []string {
	own, ok := strings.CutPrefix(p.ImportPath, module+"/")
	if !ok {
		return []string{p.ImportPath + " is not of the project"}
	}
	allowed, known := mayImport()[own]
	if !known {
		return []string{own + " has no place in the house"}
	}
	var faults []string
	for _, path := range p.Imports {
		inner, ours := strings.CutPrefix(path, module+"/")
		if ours && !slices.Contains(allowed, inner) {
			faults = append(faults, own+" imports "+inner+" against the arrows")
		}
		for prefix, doors := range only() {
			if within(path, prefix) && !slices.Contains(doors, own) {
				faults = append(faults, own+" imports "+path)
			}
		}
	}
	if !slices.Contains(domain(), own) {
		return faults
	}
	for _, path := range p.Deps {
		for _, barred := range []string{"github.com/gofiber", "gorm.io", "database/sql", "net", "log", "log/slog", "os/exec"} {
			if within(path, barred) && path != "net/url" && path != "net/netip" {
				faults = append(faults, own+" reaches "+path)
			}
		}
		if inner, ours := strings.CutPrefix(path, module+"/"); ours && !slices.Contains(domain(), inner) {
			faults = append(faults, own+" reaches "+inner)
		}
	}
	return faults
}

func within(path, prefix string) bool { return path == prefix || strings.HasPrefix(path, prefix+"/") }

// pureFaults names what a file of a domain package does that reaches outside
// its arguments: the clock, files, chance. embed is no I/O, and a zone is a table
// looked up by its name, embedded in the command.
func pureFaults(file *ast.File) []string {
	barred := map[string][]string{
		"time": {"Now", "Since", "Until", "After", "AfterFunc", "Sleep", "Tick", "NewTimer", "NewTicker"},
		"os":   nil, "io/fs": nil, "io/ioutil": nil, "math/rand": nil, "math/rand/v2": nil, "crypto/rand": nil, "log": nil, "log/slog": nil,
		"os/exec": nil, "os/signal": nil, "syscall": nil, "net": nil, "net/http": nil, "path/filepath": nil, "unsafe": nil, "github.com/google/uuid": nil,
	}
	var faults []string
	names := map[string]string{}
	for _, spec := range file.Imports {
		path, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			return []string{err.Error()}
		}
		calls, watched := barred[path]
		switch {
		case !watched:
		case calls == nil:
			faults = append(faults, "imports "+path)
		case spec.Name != nil && spec.Name.Name == ".":
			faults = append(faults, "imports "+path+" without a name, so its calls can't be told")
		case spec.Name != nil:
			names[spec.Name.Name] = path
		default:
			names[path[strings.LastIndex(path, "/")+1:]] = path
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		selector, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if on, ok := selector.X.(*ast.Ident); ok && slices.Contains(barred[names[on.Name]], selector.Sel.Name) {
			faults = append(faults, "uses "+names[on.Name]+"."+selector.Sel.Name)
		}
		return true
	})
	return faults
}

// topFaults names entries of the repository's top level that don't belong.
func topFaults(entries []string) []string {
	allowed := []string{"cmd", "server", "checklists", "procedures", "views", "testdata", "go.mod", "go.sum", "README.md", "DEVELOPERS.md", "LICENSE"}
	var faults []string
	for _, name := range entries {
		if !strings.HasPrefix(name, ".") && !slices.Contains(allowed, name) {
			faults = append(faults, name)
		}
	}
	return faults
}

func packages(t *testing.T) []goPackage {
	t.Helper()
	list := exec.CommandContext(t.Context(), "go", "list", "-json=ImportPath,Dir,GoFiles,Imports,TestImports,XTestImports,Deps", "./...")
	list.Dir = root
	out, err := list.Output()
	require.NoError(t, err)
	var found []goPackage
	for decoder := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p goPackage
		err := decoder.Decode(&p)
		if errors.Is(err, io.EOF) {
			return found
		}
		require.NoError(t, err)
		found = append(found, p)
	}
}

func TestImportsPointOneWay(t *testing.T) {
	found := packages(t)
	var names []string
	for _, p := range found {
		names = append(names, strings.TrimPrefix(p.ImportPath, module+"/"))
		require.Empty(t, importFaults(p))
	}
	for name := range mayImport() {
		require.Contains(t, names, name, "the house as drawn")
	}
}

func TestImportsAgainstTheArrowsAreSeen(t *testing.T) {
	for name, c := range map[string]struct {
		p    goPackage
		want string
	}{
		"rule reaches the web":      {goPackage{ImportPath: "stillsaw/checklists", Deps: []string{"net/http"}}, "checklists reaches net/http"},
		"rule reaches a database":   {goPackage{ImportPath: "stillsaw/procedures/lift", Deps: []string{"database/sql"}}, "procedures/lift reaches database/sql"},
		"rule reaches fiber":        {goPackage{ImportPath: "stillsaw/procedures/plain", Deps: []string{"github.com/gofiber/fiber/v2"}}, "procedures/plain reaches github.com/gofiber/fiber/v2"},
		"rule reaches gorm":         {goPackage{ImportPath: "stillsaw/procedures", Deps: []string{"gorm.io/gorm/clause"}}, "procedures reaches gorm.io/gorm/clause"},
		"rule reaches the store":    {goPackage{ImportPath: "stillsaw/procedures", Deps: []string{"stillsaw/server/store"}}, "procedures reaches server/store"},
		"lift imports procedures":   {goPackage{ImportPath: "stillsaw/procedures/lift", Imports: []string{"stillsaw/procedures"}}, "procedures/lift imports procedures against the arrows"},
		"views import the store":    {goPackage{ImportPath: "stillsaw/views", Imports: []string{"stillsaw/server/store"}}, "views imports server/store against the arrows"},
		"record imports a rule":     {goPackage{ImportPath: "stillsaw/server/record", Imports: []string{"stillsaw/procedures"}}, "server/record imports procedures against the arrows"},
		"store imports the server":  {goPackage{ImportPath: "stillsaw/server/store", Imports: []string{"stillsaw/server"}}, "server/store imports server against the arrows"},
		"server imports the demo":   {goPackage{ImportPath: "stillsaw/server", Imports: []string{"stillsaw/server/demo"}}, "server imports server/demo against the arrows"},
		"server imports gorm":       {goPackage{ImportPath: "stillsaw/server", Imports: []string{"gorm.io/gorm"}}, "server imports gorm.io/gorm"},
		"store imports fiber":       {goPackage{ImportPath: "stillsaw/server/store", Imports: []string{"github.com/gofiber/fiber/v2"}}, "server/store imports github.com/gofiber/fiber/v2"},
		"a package nobody drew":     {goPackage{ImportPath: "stillsaw/server/helpers"}, "server/helpers has no place in the house"},
		"a test library shipped":    {goPackage{ImportPath: "stillsaw/server", Imports: []string{"github.com/stretchr/testify/require"}}, "server imports github.com/stretchr/testify/require"},
		"something of another name": {goPackage{ImportPath: "elsewhere/x"}, "elsewhere/x is not of the project"},
	} {
		t.Run(name, func(t *testing.T) { require.Equal(t, []string{c.want}, importFaults(c.p)) })
	}
}

func TestRulesKnowNoClockNoFilesAndNoChance(t *testing.T) {
	seen := 0
	for _, p := range packages(t) {
		if !slices.Contains(domain(), strings.TrimPrefix(p.ImportPath, module+"/")) {
			continue
		}
		for _, name := range p.GoFiles {
			file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, name), nil, 0)
			require.NoError(t, err)
			require.Empty(t, pureFaults(file), "%s/%s", p.ImportPath, name)
			seen++
		}
	}
	require.Greater(t, seen, 30)
}

func TestAClockInARuleIsSeen(t *testing.T) {
	for source, want := range map[string]string{
		`import "time"; var now = time.Now()`:                  "uses time.Now",
		`import t "time"; var age = t.Since(t.Time{})`:         "uses time.Since",
		`import "time"; var clock func() time.Time = time.Now`: "uses time.Now",
		`import "time"; var left = time.Until(time.Time{})`:    "uses time.Until",
		`import . "time"; var now = Now()`:                     "imports time without a name, so its calls can't be told",
		`import "os"; var x = os.Args`:                         "imports os",
		`import _ "io/fs"`:                                     "imports io/fs",
		`import dice "math/rand/v2"; var x = dice.Int()`:       "imports math/rand/v2",
	} {
		file, err := parser.ParseFile(token.NewFileSet(), "rule.go", "package rule; "+source, 0)
		require.NoError(t, err)
		require.Equal(t, []string{want}, pureFaults(file), source)
	}
	file, err := parser.ParseFile(token.NewFileSet(), "rule.go", `package rule; import "time"; func f(now time.Time) bool { return now.After(time.Time{}) }`, 0)
	require.NoError(t, err)
	require.Empty(t, pureFaults(file), "computing with a time that was given is what rules do")
}

func TestTopLevelIsWhatItWasDrawnToBe(t *testing.T) {
	list, err := os.ReadDir(root)
	require.NoError(t, err)
	var names []string
	for _, entry := range list {
		names = append(names, entry.Name())
	}
	require.Empty(t, topFaults(names))
	require.Equal(t, []string{"utils", "main.go"}, topFaults([]string{"cmd", "utils", ".ci", "main.go", "LICENSE"}))
}
