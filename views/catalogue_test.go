package views

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"html/template"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"text/template/parse"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
	set, err := template.New(name).Funcs(template.FuncMap{"asset": fmt.Sprint}).Parse(source)
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
		case match[1] != "":
			at, err := strconv.Atoi(match[1])
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

// collect is every saying of the program, by walking the source beside this
// package.
func collect(t *testing.T) []saying {
	t.Helper()
	var all []saying
	for _, root := range []string{"../checklists", "../procedures", "../server", "../views", "../cmd"} {
		require.NoError(t, filepath.WalkDir(root, func(name string, entry fs.DirEntry, err error) error {
			if err != nil || entry.IsDir() {
				return err
			}
			source, err := os.ReadFile(name)
			if err != nil {
				return err
			}
			var found []saying
			switch {
			case strings.HasSuffix(name, "_test.go"):
			case strings.HasSuffix(name, ".go"):
				found, err = inGo(name, source)
			case strings.HasSuffix(name, ".html"):
				found, err = inTemplate(name, string(source))
			}
			assert.NoError(t, err)
			all = append(all, found...)
			return nil
		}))
	}
	for day := range time.Duration(7) { // Clock and Day say them without a literal
		all = append(all, saying{"clock.go", noon.Add(day * 24 * time.Hour).Format("Mon"), 0})
	}
	for month := time.January; month <= time.December; month++ {
		all = append(all, saying{"clock.go", month.String()[:3], 0})
	}
	return all
}

func TestEveryFormatHasItsValues(t *testing.T) {
	all := collect(t)
	require.Greater(t, len(all), 80)
	counts := map[string]saying{}
	for _, one := range all {
		assert.NoError(t, verbs(one.format, one.args), "%s: %q", one.where, one.format)
		if before, ok := counts[one.format]; ok && before.args >= 0 && one.args >= 0 {
			assert.Equal(t, before.args, one.args, "%q takes other values at %s than at %s", one.format, one.where, before.where)
		}
		counts[one.format] = one
	}
}

// used is what every catalogue is held against.
func used(t *testing.T) map[string]int {
	keys := map[string]int{}
	for _, one := range collect(t) {
		keys[one.format] = max(one.args, keys[one.format])
	}
	return keys
}

func TestCataloguesHoldWhatIsSaidAndNothingElse(t *testing.T) {
	keys := used(t)
	names, err := fs.Glob(wordFiles, "words/*.json")
	require.NoError(t, err)
	for _, name := range names {
		entries, _, err := readWords(wordFiles, name)
		require.NoError(t, err)
		for _, wrong := range against(entries, keys, name != "words/en.json") {
			t.Errorf("%s: %s", name, wrong)
		}
	}
}

// against says where a words file and the keys differ; whole asks that every
// key is there.
func against(entries map[string]entry, keys map[string]int, whole bool) (wrong []string) {
	for key, e := range entries {
		args, ok := keys[key]
		if !ok {
			wrong = append(wrong, fmt.Sprintf("%q is said nowhere", key))
			continue
		}
		texts := []string{e.text}
		if e.forms != nil {
			texts = nil
			for _, text := range e.forms {
				texts = append(texts, text)
			}
			if e.arg > args {
				wrong = append(wrong, fmt.Sprintf("%q counts by value %d of %d", key, e.arg, args))
			}
		}
		for _, text := range texts {
			// A plural form may spell its number: "One thing". Otherwise the verbs are the key's.
			if err := verbs(text, args); err != nil && (e.forms == nil || strings.Contains(text, "%")) {
				wrong = append(wrong, fmt.Sprintf("%q: %q: %v", key, text, err))
			}
		}
	}
	for key := range keys {
		if _, ok := entries[key]; whole && !ok {
			wrong = append(wrong, fmt.Sprintf("%q is missing", key))
		}
	}
	return wrong
}

// The collectors and checks see what they are there to see.
func TestCatalogueChecksCanFail(t *testing.T) {
	found, err := inGo("x.go", []byte("package x\nfunc f() { plain.Say(\"a %s\" + \" b\", 1); p.Unless(true, \"field\", \"c %d\", 1, 2); plain.Refuse(\"clause\", \"d\"); f.T(\"e\", more...); plain.Say(x) }\n"+
		"func (s S) String() string { return \"HELD\" }"))
	require.NoError(t, err)
	var formats []string
	for _, one := range found {
		formats = append(formats, fmt.Sprint(one.format, "/", one.args))
	}
	assert.Equal(t, []string{"a %s b/1", "c %d/2", "d/0", "e/-1", "HELD/0"}, formats)

	found, err = inTemplate("x", `{{if .T "a"}}{{template "p" ((.F (.T "b %s" .X)).G ($.T "c"))}}{{else}}{{range .L}}{{$.Frame.T "d"}}{{end}}{{end}}{{define "p"}}{{.T "e"}}{{end}}`)
	require.NoError(t, err)
	formats = nil
	for _, one := range found {
		formats = append(formats, fmt.Sprint(one.format, "/", one.args))
	}
	assert.ElementsMatch(t, []string{"a/0", "b %s/1", "c/0", "d/0", "e/0"}, formats)
	_, err = inTemplate("x", `{{.T .Format}}`)
	assert.Error(t, err)

	for format, args := range map[string]int{"%s": 0, "%s %s": 1, "a": 1, "%z": 1, "100 % of %s": 1, "%[2]s": 1, "%[1]s %s": 2} {
		assert.Error(t, verbs(format, args), "%q with %d", format, args)
	}
	for format, args := range map[string]int{"0 to 300 %": 0, "%s": 1, "%[2]s %[1]s": 2, "%[4]s": 4, "%.1f %%": 1, "%s %d": -1} {
		assert.NoError(t, verbs(format, args), "%q with %d", format, args)
	}

	keys := map[string]int{"a %s": 1, "b": 0}
	assert.Len(t, against(map[string]entry{"a %s": {text: "A"}, "c": {text: "c"}}, keys, true), 3)
	assert.Empty(t, against(map[string]entry{"a %s": {text: "A %[1]s"}}, keys, false))
}
