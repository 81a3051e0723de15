package views

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// publishedAs is what stands in where a rule comes from as it was published: titles,
// numbers, paragraphs, places.
var publishedAs = regexp.MustCompile(`OSHA, Guidance on Safe Sling Use, (?:Tables 1 and 2|chain slings)|Appendix A|Pa\. Code|Pennsylvania|Washington|ASME [A-Z0-9.]+|NFPA \d+|ANSI [A-Z0-9.]+|ISO \d+|(?:29 )?CFR|WAC [-\d]+|MI R [\d.]+|FPL-GTR-\d+|USDA|OSHA|Alberta OHS Code s\.|ASTM [A-Z]\d+|[\d./§°%-]+|\([a-z0-9]{1,4}\)`)

// Where a rule of the program comes from is read in one's language, whichever rule
// answers. What a list or a procedure of the starters cites is the mill's own text.
func TestEverySourceTheRulesSayHasItsWords(t *testing.T) {
	words, err := LoadCatalogue()
	require.NoError(t, err)
	all := sourcesOfTheRules(t)
	require.Contains(t, all, "statics")
	require.Contains(t, all, "makers' practice, from memory")
	require.Contains(t, all, "this mill's own margin")
	for _, tag := range []string{"es", "fr"} {
		frame := &Frame{Words: words.For(tag)}
		for _, source := range all {
			in := frame.Cited(source)
			for _, part := range regexp.MustCompile(`[;,:()]`).Split(publishedAs.ReplaceAllString(source, ";"), -1) {
				if part = strings.TrimSpace(part); regexp.MustCompile(`[a-z]{4}`).MatchString(part) {
					require.NotContains(t, in, part, "%s: %q", tag, source)
				}
			}
		}
	}
}

// sourcesOfTheRules are the texts of the domain packages that are put where a source
// or a clause is wanted.
func sourcesOfTheRules(t *testing.T) []string {
	t.Helper()
	found := map[string]bool{}
	for _, dir := range []string{"../procedures/lift", "../procedures", "../checklists"} {
		files, err := filepath.Glob(filepath.Join(dir, "*.go"))
		require.NoError(t, err)
		var parsed []*ast.File
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") || strings.HasPrefix(filepath.Base(name), "starter") {
				continue
			}
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			file, err := parser.ParseFile(token.NewFileSet(), name, text, 0)
			require.NoError(t, err)
			parsed = append(parsed, file)
		}
		takes := sourceParameters(parsed)
		take := func(e ast.Expr) {
			ast.Inspect(e, func(node ast.Node) bool {
				if text, is := node.(*ast.BasicLit); is && text.Kind == token.STRING {
					said, err := strconv.Unquote(text.Value)
					require.NoError(t, err)
					found[said] = true
				}
				return true
			})
		}
		for _, file := range parsed {
			ast.Inspect(file, func(node ast.Node) bool {
				switch node := node.(type) {
				case *ast.KeyValueExpr:
					if isSource(node.Key) {
						take(node.Value)
					}
				case *ast.AssignStmt:
					for i, left := range node.Lhs {
						if isSource(left) && len(node.Rhs) == len(node.Lhs) {
							take(node.Rhs[i])
						}
					}
				case *ast.ValueSpec:
					for i, name := range node.Names {
						if isSource(name) && i < len(node.Values) {
							take(node.Values[i])
						}
					}
				case *ast.CallExpr:
					for _, at := range takes[nameOf(node.Fun)] {
						if at < len(node.Args) {
							take(node.Args[at])
						}
					}
				case *ast.FuncDecl:
					if isSource(node.Name) && node.Body != nil {
						ast.Inspect(node.Body, func(in ast.Node) bool {
							if back, is := in.(*ast.ReturnStmt); is {
								for _, e := range back.Results {
									take(e)
								}
							}
							return true
						})
					}
				}
				return true
			})
		}
	}
	var all []string
	for source := range found {
		all = append(all, source)
	}
	slices.Sort(all)
	return all
}

// sourceParameters are the places of the parameters that are a source, by function.
func sourceParameters(files []*ast.File) map[string][]int {
	takes := map[string][]int{"Refuse": {0}}
	for _, file := range files {
		for _, one := range file.Decls {
			function, is := one.(*ast.FuncDecl)
			if !is {
				continue
			}
			at := 0
			for _, field := range function.Type.Params.List {
				for _, name := range field.Names {
					if isSource(name) {
						takes[function.Name.Name] = append(takes[function.Name.Name], at)
					}
					at++
				}
			}
		}
	}
	return takes
}

func nameOf(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return e.Name
	case *ast.SelectorExpr:
		return e.Sel.Name
	}
	return ""
}

func isSource(e ast.Expr) bool {
	name := strings.ToLower(nameOf(e))
	return strings.HasSuffix(name, "source") || strings.HasSuffix(name, "clause")
}
