package procedures_test

import (
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// source is a package as its files stand.
type source struct {
	dir   string
	text  map[string]string
	files map[string]*ast.File
	set   *token.FileSet
}

// mutant is one change: the bytes from begin to end of a file become other ones.
type mutant struct {
	id         int
	file       string
	begin, end int
	instead    string
	function   *ast.FuncDecl // nil outside of functions
	line       string        // as it stands
}

// String names the change in a way that outlives lines moving up and down.
func (m mutant) String() string {
	where := "outside"
	if m.function != nil {
		where = m.function.Name.Name
	}
	return fmt.Sprintf("%s | %s | %s", m.file, where, m.line)
}

func readSource(t *testing.T, dir string) source {
	dir, err := filepath.Abs(dir)
	require.NoError(t, err)
	p := source{dir: dir, text: map[string]string{}, files: map[string]*ast.File{}, set: token.NewFileSet()}
	paths, err := filepath.Glob(filepath.Join(dir, "*.go"))
	require.NoError(t, err)
	for _, path := range paths {
		name := filepath.Base(path)
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		p.text[name] = string(text)
		p.files[name], err = parser.ParseFile(p.set, name, text, parser.SkipObjectResolution)
		require.NoError(t, err)
	}
	return p
}

// swaps are what each operator is changed into: arithmetic, comparison, boolean.
func swaps() map[token.Token][]string {
	return map[token.Token][]string{
		token.ADD: {"-"}, token.SUB: {"+"}, token.MUL: {"/"}, token.QUO: {"*"}, token.REM: {"*"},
		token.ADD_ASSIGN: {"-="}, token.SUB_ASSIGN: {"+="}, token.MUL_ASSIGN: {"/="}, token.QUO_ASSIGN: {"*="},
		token.INC: {"--"}, token.DEC: {"++"},
		token.LSS: {"<=", ">="}, token.LEQ: {"<", ">"}, token.GTR: {">=", "<="}, token.GEQ: {">", "<"}, token.EQL: {"!="}, token.NEQ: {"=="},
		token.LAND: {"||"}, token.LOR: {"&&"},
	}
}

// mutants are all changes there are to make, whether they compile or not.
func (p source) mutants() []mutant {
	var all []mutant
	for _, name := range slices.Sorted(maps.Keys(p.files)) {
		for _, declared := range p.files[name].Decls {
			function, _ := declared.(*ast.FuncDecl)
			change := func(begin, end token.Pos, instead string) {
				at, to := p.set.Position(begin), p.set.Position(end)
				text := p.text[name]
				from := strings.LastIndexByte(text[:at.Offset], '\n') + 1
				until := at.Offset + strings.IndexByte(text[at.Offset:], '\n')
				line := strings.TrimSpace(text[from:at.Offset]) + "⟦" + strings.TrimSpace(strings.SplitN(text[at.Offset:to.Offset], "\n", 2)[0]) + "→" + instead + "⟧"
				if to.Offset < until {
					line += text[to.Offset:until]
				}
				all = append(all, mutant{id: len(all) + 1, file: name, begin: at.Offset, end: to.Offset, instead: instead, function: function, line: line})
			}
			if gone, ok := declared.(*ast.GenDecl); ok && gone.Tok != token.CONST && gone.Tok != token.VAR {
				continue
			}
			ast.Inspect(declared, func(n ast.Node) bool { return changes(n, change) })
		}
	}
	return all
}

// changes makes the changes of one node and says whether to look into it.
func changes(n ast.Node, change func(begin, end token.Pos, instead string)) bool {
	swap := func(at token.Pos, op token.Token) {
		for _, instead := range swaps()[op] {
			change(at, at+token.Pos(len(op.String())), instead)
		}
	}
	remove := func(list []ast.Stmt) {
		for _, s := range list {
			if a, ok := s.(*ast.AssignStmt); ok && a.Tok == token.DEFINE {
				continue
			}
			switch s.(type) {
			case *ast.ExprStmt, *ast.AssignStmt, *ast.IncDecStmt, *ast.ReturnStmt, *ast.BranchStmt, *ast.DeferStmt:
				change(s.Pos(), s.End(), "")
			}
		}
	}
	switch n := n.(type) {
	case *ast.CallExpr:
		return changesCall(n, change)
	case *ast.ArrayType, *ast.StructType, *ast.InterfaceType:
		return false
	case *ast.BinaryExpr:
		swap(n.OpPos, n.Op)
	case *ast.AssignStmt:
		swap(n.TokPos, n.Tok)
	case *ast.IncDecStmt:
		swap(n.TokPos, n.Tok)
	case *ast.UnaryExpr:
		if n.Op == token.NOT || n.Op == token.SUB {
			change(n.OpPos, n.OpPos+1, " ")
		}
	case *ast.BasicLit:
		if n.Kind == token.INT || n.Kind == token.FLOAT {
			change(n.Pos(), n.End(), "("+n.Value+"+1)")
			change(n.Pos(), n.End(), "("+n.Value+"-1)")
		}
	case *ast.Ident:
		if n.Name == "true" || n.Name == "false" {
			change(n.Pos(), n.End(), map[string]string{"true": "false", "false": "true"}[n.Name])
		}
	case *ast.BlockStmt:
		remove(n.List)
	case *ast.CaseClause:
		remove(n.Body)
	}
	return true
}

// changesCall is changes for a call. How much room a slice is made with, to how many
// bits above 32 a number is read, and how far above nought the sign of +Inf is,
// nothing can notice: these stay.
func changesCall(call *ast.CallExpr, change func(begin, end token.Pos, instead string)) bool {
	name := ""
	switch f := call.Fun.(type) {
	case *ast.Ident:
		name = f.Name
	case *ast.SelectorExpr:
		name = f.Sel.Name
	}
	keep, stays := map[string]int{"make": 2, "ParseFloat": 1, "Inf": 0}[name]
	if !stays || len(call.Args) <= keep {
		return true
	}
	if _, plain := call.Args[keep].(*ast.BasicLit); name == "Inf" && !plain {
		return true
	}
	for _, arg := range call.Args[:keep] {
		ast.Inspect(arg, func(n ast.Node) bool { return changes(n, change) })
	}
	return false
}

// weave is a package with changes woven in, and where each of them lies.
type weave struct {
	text map[string]string
	lies map[int][2]int // by id: from and to in the new text
}

// woven builds changes of functions in: each function asks first whether a change
// of its own is in force, and then does as its changed copy says.
func (p source) woven(all []mutant) weave {
	w := weave{map[string]string{}, map[int][2]int{}}
	byFunction := map[*ast.FuncDecl][]mutant{}
	for _, m := range all {
		byFunction[m.function] = append(byFunction[m.function], m)
	}
	for name, file := range p.files {
		text, done := p.text[name], 0
		var b strings.Builder
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Body == nil || len(byFunction[f]) == 0 {
				continue
			}
			open, close := p.set.Position(f.Body.Lbrace).Offset, p.set.Position(f.Body.Rbrace).Offset
			b.WriteString(text[done:open+1] + "\nswitch mutantOn {\n")
			done = open + 1
			results, back := "", ""
			if f.Type.Results != nil {
				results, back = text[p.set.Position(f.Type.Results.Pos()).Offset:p.set.Position(f.Type.Results.End()).Offset], "return "
			}
			fmt.Fprintf(&b, "case -1:\nmutantReached(%q)\n", name+" "+f.Name.Name)
			for _, m := range byFunction[f] {
				fmt.Fprintf(&b, "case %d:\n", m.id)
				from := b.Len()
				fmt.Fprintf(&b, "%sfunc() %s %s%s%s()\n", back, results, text[open:m.begin], m.instead, text[m.end:close+1])
				w.lies[m.id] = [2]int{from, b.Len()}
				if back == "" {
					b.WriteString("return\n")
				}
			}
			b.WriteString("}\n")
		}
		b.WriteString(text[done:])
		w.text[name] = b.String()
	}
	w.text["mutant_on.go"] = fmt.Sprintf(switchboard, p.files[slices.Min(slices.Collect(maps.Keys(p.files)))].Name.Name, mutantOn, reachedIn)
	return w
}

// switchboard is the file that says which change is in force; for change -1, which
// is none, it writes down each function that is reached.
const switchboard = `package %s

import (
	"os"
	"strconv"
	"sync"
)

var mutantOn, _ = strconv.Atoi(os.Getenv(%q))

var mutantSeen sync.Map

func mutantReached(function string) {
	if _, seen := mutantSeen.LoadOrStore(function, true); seen {
		return
	}
	f, err := os.OpenFile(os.Getenv(%q), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		panic(err)
	}
	if _, err = f.WriteString(function + "\n"); err == nil {
		err = f.Close()
	}
	if err != nil {
		panic(err)
	}
}
`

// alone is the file of one change that lies outside of functions.
func (p source) alone(m mutant) map[string]string {
	text := p.text[m.file]
	return map[string]string{m.file: text[:m.begin] + m.instead + text[m.end:]}
}

// compiling leaves out the changes that no compiler would take, and those of
// what a function is declared to take and give.
func (p source) compiling(t *testing.T, all []mutant) []mutant {
	from := importer.ForCompiler(p.set, "source", nil)
	all = slices.DeleteFunc(all, func(m mutant) bool {
		if f := m.function; f != nil {
			return m.begin < p.set.Position(f.Body.Lbrace).Offset
		}
		text := maps.Clone(p.text)
		maps.Copy(text, p.alone(m))
		return len(p.faults(t, from, text)) > 0
	})
	for {
		w := p.woven(slices.DeleteFunc(slices.Clone(all), func(m mutant) bool { return m.function == nil }))
		faults := p.faults(t, from, w.text)
		if len(faults) == 0 {
			return all
		}
		before := len(all)
		all = slices.DeleteFunc(all, func(m mutant) bool {
			lies, ok := w.lies[m.id]
			return ok && slices.ContainsFunc(faults, func(at token.Position) bool {
				return at.Filename == m.file && at.Offset >= lies[0] && at.Offset < lies[1]
			})
		})
		require.Less(t, len(all), before, "%v", faults)
	}
}

// faults are where the type checker finds something wrong.
func (p source) faults(t *testing.T, from types.Importer, text map[string]string) []token.Position {
	set := token.NewFileSet()
	var files []*ast.File
	for _, name := range slices.Sorted(maps.Keys(text)) {
		f, err := parser.ParseFile(set, name, text[name], parser.SkipObjectResolution)
		require.NoError(t, err)
		files = append(files, f)
	}
	var faults []token.Position
	config := types.Config{Importer: from, Error: func(err error) { faults = append(faults, set.Position(err.(types.Error).Pos)) }}
	_, _ = config.Check("mutated", set, files, nil)
	return faults
}
