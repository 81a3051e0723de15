// Package sayings collects every format the source says to a person, for tests
// that hold catalogues against them. The program itself does not use it.
package sayings

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"html/template"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"text/template/parse"
	"time"
)

// Saying is one place where a format is written.
type Saying struct {
	Where, Format string
	Args          int // -1 where the call spreads a slice
}

// formatAt is the position of the format among the arguments of the functions
// that take one.
func formatAt(function string) (int, bool) {
	at, ok := map[string]int{"T": 0, "Say": 0, "Refuse": 1, "Unless": 2, "number": 0}[function]
	return at, ok
}

// InGo collects the formats of one Go file: literal arguments of Say, Refuse,
// Unless and T, and the words a String method returns, which Frame looks up.
func InGo(name string, source []byte) ([]Saying, error) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, name, source, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	var all []Saying
	note := func(at token.Pos, format string, args int) {
		all = append(all, Saying{set.Position(at).String(), format, args})
	}
	ast.Inspect(file, func(node ast.Node) bool {
		switch node := node.(type) {
		case *ast.FuncDecl:
			if node.Name.Name == "String" && node.Recv != nil {
				ast.Inspect(node, func(inner ast.Node) bool {
					if back, ok := inner.(*ast.ReturnStmt); ok && len(back.Results) == 1 {
						if word, ok := literal(back.Results[0]); ok && word != "" {
							note(back.Pos(), word, 0)
						}
					}
					return true
				})
			}
		case *ast.CallExpr:
			var name string
			switch function := node.Fun.(type) {
			case *ast.SelectorExpr:
				name = function.Sel.Name
			case *ast.Ident:
				name = function.Name
			}
			at, ok := formatAt(name)
			if !ok || len(node.Args) <= at {
				return true
			}
			if format, ok := literal(node.Args[at]); ok {
				args := len(node.Args) - at - 1
				if node.Ellipsis.IsValid() {
					args = -1
				}
				note(node.Pos(), format, args)
			}
		}
		return true
	})
	return all, nil
}

// literal is the value of a string literal, or of several added up.
func literal(expression ast.Expr) (string, bool) {
	switch e := expression.(type) {
	case *ast.BasicLit:
		text, err := strconv.Unquote(e.Value)
		return text, e.Kind == token.STRING && err == nil
	case *ast.BinaryExpr:
		left, ok := literal(e.X)
		right, also := literal(e.Y)
		return left + right, ok && also && e.Op == token.ADD
	case *ast.ParenExpr:
		return literal(e.X)
	}
	return "", false
}

// InTemplate collects the formats of every T in a template. One that is not a
// literal is an error: a test could not see what it says.
func InTemplate(name, source string) (all []Saying, err error) {
	set, err := template.New(name).Funcs(template.FuncMap{"asset": fmt.Sprint, "inline": fmt.Sprint}).Parse(source)
	if err != nil {
		return nil, err
	}
	var visit func(node parse.Node)
	lists := func(branch parse.BranchNode) {
		visit(branch.Pipe)
		visit(branch.List)
		if branch.ElseList != nil {
			visit(branch.ElseList)
		}
	}
	visit = func(node parse.Node) {
		switch node := node.(type) {
		case *parse.ListNode:
			if node != nil {
				for _, one := range node.Nodes {
					visit(one)
				}
			}
		case *parse.ActionNode:
			visit(node.Pipe)
		case *parse.IfNode:
			lists(node.BranchNode)
		case *parse.RangeNode:
			lists(node.BranchNode)
		case *parse.WithNode:
			lists(node.BranchNode)
		case *parse.TemplateNode:
			visit(node.Pipe)
		case *parse.ChainNode:
			visit(node.Node)
		case *parse.PipeNode:
			if node != nil {
				for _, command := range node.Cmds {
					visit(command)
				}
			}
		case *parse.CommandNode:
			for _, one := range node.Args {
				visit(one)
			}
			var fields []string
			switch first := node.Args[0].(type) {
			case *parse.FieldNode:
				fields = first.Ident
			case *parse.VariableNode:
				fields = first.Ident
			}
			if len(fields) == 0 || fields[len(fields)-1] != "T" {
				return
			}
			if len(node.Args) > 1 {
				if text, ok := node.Args[1].(*parse.StringNode); ok {
					all = append(all, Saying{name, text.Text, len(node.Args) - 2})
					return
				}
			}
			err = fmt.Errorf("%s: %s: no literal format", name, node)
		}
	}
	for _, one := range set.Templates() {
		if one.Tree != nil {
			visit(one.Tree.Root)
		}
	}
	return all, err
}

// In collects every saying of the program whose source is at root. It fails
// where a file can't be read, or a template asks for words no test could see.
func In(root string) (all []Saying, err error) {
	for _, house := range []string{"checklists", "procedures", "server", "views", "cmd"} {
		err := filepath.WalkDir(filepath.Join(root, house), func(name string, entry fs.DirEntry, err error) error {
			if err != nil || entry.IsDir() {
				return err
			}
			source, err := os.ReadFile(name)
			if err != nil {
				return err
			}
			var found []Saying
			switch {
			case strings.HasSuffix(name, "_test.go"):
			case strings.HasSuffix(name, ".go"):
				found, err = InGo(name, source)
			case strings.HasSuffix(name, ".html"):
				found, err = InTemplate(name, string(source))
			}
			all = append(all, found...)
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	for day := time.Sunday; day <= time.Saturday; day++ { // Clock and Day say them without a literal
		all = append(all, Saying{"clock.go", day.String()[:3], 0})
	}
	for month := time.January; month <= time.December; month++ {
		all = append(all, Saying{"clock.go", month.String()[:3], 0})
	}
	return all, nil
}
