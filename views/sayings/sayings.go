// Package sayings collects every format the source says to a person, for tests
// that hold catalogues against them. The program itself does not use it.
package sayings

import (
	"fmt"
	"go/parser"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/template/parse"
	"time"
)

// Saying is one place where a format is written.
type Saying struct {
	Where, Format string
	Args          int // -1 where the call spreads a slice
}

// InGo collects the formats of the Go files of one package by name: what is
// handed to Say, Refuse, Unless and T, and to functions that hand it on to them,
// and the words a String method returns, which Frame looks up. unseen are formats
// it can't see the text of.
func InGo(sources map[string][]byte) (all, unseen []Saying, err error) {
	p := newPack()
	for _, name := range slices.Sorted(maps.Keys(sources)) {
		file, err := parser.ParseFile(p.set, name, sources[name], parser.SkipObjectResolution)
		if err != nil {
			return nil, nil, err
		}
		p.files = append(p.files, file)
	}
	p.look()
	all, unseen = p.sayings()
	return all, unseen, nil
}

// InTemplate collects the formats of every T in a template. One that is not a
// literal is an error: a test could not see what it says.
func InTemplate(name, source string) (all []Saying, err error) {
	trees := map[string]*parse.Tree{}
	tree := parse.New(name)
	tree.Mode = parse.SkipFuncCheck
	if _, err := tree.Parse(source, "", "", trees); err != nil {
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
	for _, one := range slices.Sorted(maps.Keys(trees)) {
		visit(trees[one].Root)
	}
	return all, err
}

// In collects every saying of the program whose source is at root, and as unseen
// the places in Go that take their words from where it can't see them. It fails
// where a file can't be read, or a template asks for words no test could see.
func In(root string) (all, unseen []Saying, err error) {
	packages := map[string]map[string][]byte{}
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
				folder := filepath.Dir(name)
				if packages[folder] == nil {
					packages[folder] = map[string][]byte{}
				}
				packages[folder][name] = source
			case strings.HasSuffix(name, ".html"):
				found, err = InTemplate(name, string(source))
			}
			all = append(all, found...)
			return err
		})
		if err != nil {
			return nil, nil, err
		}
	}
	for _, folder := range slices.Sorted(maps.Keys(packages)) {
		found, blind, err := InGo(packages[folder])
		if err != nil {
			return nil, nil, err
		}
		all, unseen = append(all, found...), append(unseen, blind...)
	}
	for day := time.Sunday; day <= time.Saturday; day++ { // Clock and Day say them without a literal
		all = append(all, Saying{"clock.go", day.String()[:3], 0}, Saying{"clock.go", day.String(), 0})
	}
	for month := time.January; month <= time.December; month++ {
		all = append(all, Saying{"clock.go", month.String()[:3], 0}, Saying{"clock.go", month.String(), 0})
	}
	return all, unseen, nil
}
