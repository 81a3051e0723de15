package views

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"html/template"
	"regexp"
	"strconv"
	"strings"
	"text/template/parse"
)

// saying is one place where a format is written.
type saying struct {
	where, format string
	args          int // -1 where the call spreads a slice
}

// formatAt is the position of the format among the arguments of the functions
// that take one.
func formatAt(function string) (int, bool) {
	at, ok := map[string]int{"T": 0, "Say": 0, "Refuse": 1, "Unless": 2, "number": 0}[function]
	return at, ok
}

// inGo collects the formats of one Go file: literal arguments of Say, Refuse,
// Unless and T, and the words a String method returns, which Frame looks up.
func inGo(name string, source []byte) ([]saying, error) {
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, name, source, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	var all []saying
	note := func(at token.Pos, format string, args int) {
		all = append(all, saying{set.Position(at).String(), format, args})
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

// inTemplate collects the formats of every T in a template. One that is not a
// literal is an error: a test could not see what it says.
func inTemplate(name, source string) (all []saying, err error) {
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
					all = append(all, saying{name, text.Text, len(node.Args) - 2})
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

var (
	verb = regexp.MustCompile(`%(?:\[(\d+)\])?[-+#0]*\d*(?:\.\d+)?(?:\[(\d+)\])?([a-zA-Z%])`)
	// bareVerb is what looks like a verb in a format without values. "5 % d…" does not.
	bareVerb = regexp.MustCompile(`%(?:\[\d+\])?(?:\.\d+)?[sdvqfgx](?:\b|$)`)
)

// verbs checks format against a count of values and says what is wrong.
func verbs(format string, args int) error {
	if args == 0 {
		if found := bareVerb.FindString(format); found != "" {
			return fmt.Errorf("%s without a value", found)
		}
		return nil
	}
	plain, indexed := 0, 0
	for _, match := range verb.FindAllStringSubmatch(format, -1) {
		switch {
		case match[3] == "%":
		case !strings.Contains("sdvfgqx", match[3]):
			return fmt.Errorf("verb %s", match[0])
		case match[1]+match[2] != "": // "%[2]s", "%.0[2]f"
			at, err := strconv.Atoi(match[1] + match[2])
			if err != nil {
				return err
			}
			indexed = max(indexed, at)
		default:
			plain++
		}
	}
	if left := strings.ReplaceAll(verb.ReplaceAllString(format, ""), "%%", ""); strings.Contains(left, "%") {
		return fmt.Errorf("a %% that is no verb: write %%%%")
	}
	switch {
	case plain > 0 && indexed > 0:
		return fmt.Errorf("some verbs have a position, some not")
	case args > 0 && plain > 0 && plain != args, args > 0 && indexed > args, args > 0 && plain+indexed == 0:
		return fmt.Errorf("%d values", args)
	}
	return nil
}
