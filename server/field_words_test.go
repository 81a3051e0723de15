package server

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/views"
)

// The sealed fields are read from the source of the bodies, so that one added
// later is found missing here.
func TestEverySealedFieldOfEveryEntryHasWords(t *testing.T) {
	set := token.NewFileSet()
	sources, err := filepath.Glob("store/*.go")
	require.NoError(t, err)
	found := 0
	for _, source := range sources {
		if strings.HasSuffix(source, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(set, source, nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		ast.Inspect(file, func(node ast.Node) bool {
			field, ok := node.(*ast.Field)
			if !ok || field.Tag == nil || !isPersonal(field.Type) {
				return true
			}
			name, _, _ := strings.Cut(reflect.StructTag(strings.Trim(field.Tag.Value, "`")).Get("json"), ",")
			_, known := fieldName(name)
			require.True(t, known, "%s: the sealed field %q has no words", set.Position(field.Pos()), name)
			found++
			return true
		})
	}
	require.Greater(t, found, 50)
}

func isPersonal(of ast.Expr) bool {
	if list, ok := of.(*ast.ArrayType); ok {
		of = list.Elt
	}
	selected, ok := of.(*ast.SelectorExpr)
	return ok && selected.Sel.Name == "Personal"
}

func TestFieldOfAnEntryIsSaidInWordsAndAnUnknownOneByItsPlace(t *testing.T) {
	var f *views.Frame
	require.Equal(t, "Who was there", f.Say(fieldWords("/present")))
	require.Equal(t, "Note, no. 4", f.Say(fieldWords("/answers/3/note")))
	require.Equal(t, "Reason, no. 1", f.Say(fieldWords("/reasons/0")))
	require.Equal(t, "/answers/3/colour", f.Say(fieldWords("/answers/3/colour")))
}
