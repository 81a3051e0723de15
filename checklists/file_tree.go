package checklists

import (
	"bytes"
	"errors"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"stillsaw/procedures/plain"
)

// fileNode is one value of a file with the line it begins in.
type fileNode struct {
	line int
	kind nodeKind
	text string     // of a text, a number, a yes or no: as written, quotes taken off
	keys []filePair // of a record
	each []fileNode // of a list
}

type filePair struct {
	key   string
	line  int
	value fileNode
}

type nodeKind int

const (
	emptyNode nodeKind = iota
	textNode
	numberNode
	yesNode // true or false
	recordNode
	listNode
)

// Deepest nesting of a file: a list is of items, an item of limits. Further in
// nothing of ours stands, and a reader that follows would run out of room.
const (
	deepest       = 8
	furthestRight = 200 // column of a word or a dash
)

// readTree takes a file apart. It refuses what a plain record of values has no
// need for: anchors and references to them (which make a small file a huge one),
// tags, directives, a second document, nesting without end.
func readTree(file []byte) (root fileNode, err error) {
	if len(file) > mostBytes {
		return fileNode{}, wholeFile(1, plain.Say("at most %d bytes", mostBytes))
	}
	file = bytes.TrimPrefix(file, []byte("\ufeff"))
	if !tidy(string(file), mostBytes) {
		return fileNode{}, wholeFile(1+bytes.Count(file[:firstInvalid(file)], []byte("\n")), plain.Say("text in UTF-8"))
	}
	defer func() { // the parser is not ours, and what it reads comes from anywhere
		if recover() != nil {
			root, err = fileNode{}, wholeFile(1, plain.Say("a file in YAML: it can't be read"))
		}
	}()
	tokens := lexer.Tokenize(string(file))
	if err := bounded(tokens); err != nil {
		return fileNode{}, err
	}
	parsed, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey()) // which are refused below, by name
	if err != nil {
		return fileNode{}, unreadable(err)
	}
	if len(parsed.Docs) != 1 || parsed.Docs[0].Body == nil {
		return fileNode{}, wholeFile(1, plain.Say("one list, beginning with: %s: 1", fileMark))
	}
	return nodeOf(parsed.Docs[0].Body, deepest)
}

func firstInvalid(file []byte) int {
	for at, r := range string(file) {
		if r == '\ufffd' && !bytes.HasPrefix(file[at:], []byte("\ufffd")) {
			return at
		}
	}
	return 0
}

// bounded refuses tokens that could nest or multiply without end, before anything
// follows them.
func bounded(tokens token.Tokens) error {
	open := 0
	for _, t := range tokens {
		at := t.Position.Line
		switch t.Type {
		case token.AnchorType, token.AliasType, token.MergeKeyType:
			return wholeFile(at, plain.Say("every value written out: no anchor and no reference to one"))
		case token.TagType, token.DirectiveType, token.DocumentHeaderType, token.DocumentEndType, token.MappingKeyType:
			return wholeFile(at, plain.Say("one list without tags, directives and document marks"))
		case token.SequenceStartType, token.MappingStartType:
			if open++; open > deepest {
				return wholeFile(at, plain.Say("no deeper nesting than a list has"))
			}
		case token.SequenceEndType, token.MappingEndType:
			open--
		case token.SequenceEntryType:
			if t.Position.Column > furthestRight {
				return wholeFile(at, plain.Say("no deeper nesting than a list has"))
			}
		case token.MappingValueType:
			if word := t.Prev; word != nil && open == 0 && word.Position.Column > furthestRight {
				return wholeFile(at, plain.Say("no deeper nesting than a list has"))
			}
		case token.InvalidType:
			return wholeFile(at, plain.Say("a file in YAML: it can't be read from here on"))
		}
	}
	return nil
}

// unreadable is where the parser gave up; what it says stands in its own words
// and is not shown.
func unreadable(err error) error {
	line := 1
	var wrong yaml.Error
	if errors.As(err, &wrong) && wrong.GetToken() != nil {
		line = max(wrong.GetToken().Position.Line, 1)
	}
	return wholeFile(line, plain.Say("a file in YAML: it can't be read from here on"))
}

func nodeOf(n ast.Node, room int) (fileNode, error) {
	line := 1
	if n != nil && n.GetToken() != nil {
		line = max(n.GetToken().Position.Line, 1)
	}
	if room == 0 {
		return fileNode{}, wholeFile(line, plain.Say("no deeper nesting than a list has"))
	}
	made := fileNode{line: line}
	switch n := n.(type) {
	case *ast.NullNode:
	case *ast.StringNode:
		made.kind, made.text = textNode, n.Value
		if n.Token.Type == token.StringType && powerInFile(n.Value) { // 5e-05, which the parser takes for a word
			made.kind = numberNode
		}
	case *ast.LiteralNode:
		made.kind, made.text = textNode, n.Value.Value
	case *ast.IntegerNode:
		made.kind, made.text = numberNode, n.Token.Value
	case *ast.FloatNode:
		made.kind, made.text = numberNode, n.Token.Value
	case *ast.BoolNode:
		made.kind, made.text = yesNode, strings.ToLower(n.Token.Value)
	case *ast.SequenceNode:
		made.kind = listNode
		for _, value := range n.Values {
			one, err := nodeOf(value, room-1)
			if err != nil {
				return fileNode{}, err
			}
			made.each = append(made.each, one)
		}
	case *ast.MappingNode:
		made.kind = recordNode
		return made.withKeys(n.Values, room)
	case *ast.MappingValueNode:
		made.kind = recordNode
		return made.withKeys([]*ast.MappingValueNode{n}, room)
	default:
		return fileNode{}, wholeFile(line, plain.Say("a text, a number, true or false, a list or a record"))
	}
	return made, nil
}

func (f fileNode) withKeys(values []*ast.MappingValueNode, room int) (fileNode, error) {
	for n, value := range values {
		key, err := nodeOf(value.Key, room-1)
		if err != nil {
			return fileNode{}, err
		}
		if n == 0 {
			f.line = key.line
		}
		held, err := nodeOf(value.Value, room-1)
		if err != nil {
			return fileNode{}, err
		}
		f.keys = append(f.keys, filePair{key: key.text, line: key.line, value: held})
	}
	return f, nil
}

// FileProblem is one thing wrong with a list's file: in which line, at which word
// of it, and what would be right.
type FileProblem struct {
	Line  int
	Field string // "items.C1.limits.lowest", "file" for the file as a whole
	Want  plain.Sentence
}

// Said is the problem with its line, for a page that shows no file.
func (p FileProblem) Said() plain.Sentence {
	if p.Field == "file" {
		return plain.Say("line %[1]d, the file: %[2]s", p.Line, p.Want)
	}
	return plain.Say("line %[1]d, %[2]s: %[3]s", p.Line, p.Field, p.Want)
}

// FileProblems is everything wrong with a file, in the order of its lines. It is
// an error when it holds any.
type FileProblems []FileProblem

// Error lists every problem with its line.
func (p FileProblems) Error() string {
	said := make([]string, len(p))
	for i, one := range p {
		said[i] = one.Said().String()
	}
	return strings.Join(said, "; ")
}

// Problems are the problems for a form with one field, "file".
func (p FileProblems) Problems() plain.Problems {
	bad := make(plain.Problems, len(p))
	for i, one := range p {
		bad[i] = plain.Problem{Field: "file", Want: one.Said()}
	}
	return bad
}

// wholeFile is a problem that keeps the file from being read at all.
func wholeFile(line int, want plain.Sentence) error {
	return FileProblems{{Line: line, Field: "file", Want: want}}
}
