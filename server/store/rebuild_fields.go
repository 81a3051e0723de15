package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// sameValue tells whether two values of a column say the same: alike, or JSON
// documents with the same members.
func sameValue(a, b any) bool {
	switch a := a.(type) {
	case string:
		b, ok := b.(string)
		return ok && (a == b || sameDocument(a, b))
	case []byte:
		b, ok := b.([]byte)
		return ok && bytes.Equal(a, b)
	}
	return a == b
}

// isDocument tells whether text can be a JSON object or list.
func isDocument(text string) bool {
	return len(text) > 1 && (text[0] == '{' || text[0] == '[')
}

func sameDocument(a, b string) bool {
	// A member given twice is read as one of the two, by some readers as the other.
	if !isDocument(a) || !isDocument(b) || fieldsIn(a) != fieldsIn(b) {
		return false
	}
	left, okLeft := document(a)
	right, okRight := document(b)
	return okLeft && okRight && sameTree(left, right)
}

func document(text string) (tree any, ok bool) {
	decoder := json.NewDecoder(strings.NewReader(text))
	decoder.UseNumber()
	err := decoder.Decode(&tree)
	return tree, err == nil && !decoder.More()
}

func sameTree(a, b any) bool {
	switch a := a.(type) {
	case map[string]any:
		b, ok := b.(map[string]any)
		if !ok || len(a) != len(b) {
			return false
		}
		for name, value := range a {
			if other, has := b[name]; !has || !sameTree(value, other) {
				return false
			}
		}
		return true
	case []any:
		b, ok := b.([]any)
		return ok && slices.EqualFunc(a, b, sameTree)
	case json.Number:
		b, ok := b.(json.Number)
		return ok && sameNumber(a, b)
	}
	return a == b
}

// sameNumber holds numbers together however they are spelled: a leaf has them
// as RFC 8785 writes them.
func sameNumber(a, b json.Number) bool {
	if a == b {
		return true
	}
	x, errX := strconv.ParseFloat(string(a), 64)
	y, errY := strconv.ParseFloat(string(b), 64)
	return errX == nil && errY == nil && x == y
}

// fieldsIn is how many fields a value of a column has: one, or as many as a JSON
// document has members and elements.
func fieldsIn(v any) int64 {
	text, ok := v.(string)
	if !ok || !isDocument(text) {
		return 1
	}
	var count int64 = 1
	for i := 0; i < len(text); i++ {
		switch text[i] {
		case '"':
			for i++; i < len(text) && text[i] != '"'; i++ {
				if text[i] == '\\' {
					i++
				}
			}
		case ',':
			count++
		}
	}
	return count
}

// fieldDifference is one field of a row, by its column and, in a document, the
// JSON pointer below it ("doc/open"), with what is on either side.
type fieldDifference struct {
	path       string
	made, kept any
	in         presence
}

// presence tells on which sides a field is there.
type presence int

const (
	onBoth presence = iota
	onlyMade
	onlyKept
)

// fields are the fields in which the rows of d differ.
func (d rowDifference) fields() []fieldDifference {
	var all []fieldDifference
	if d.made == nil || d.kept == nil {
		return nil
	}
	for i, column := range slices.Concat(d.shape.key, d.shape.columns) {
		if sameValue(d.made[i], d.kept[i]) {
			continue
		}
		made, isMade := treeOf(d.made[i])
		kept, isKept := treeOf(d.kept[i])
		if !isMade || !isKept {
			all = append(all, fieldDifference{column, d.made[i], d.kept[i], onBoth})
			continue
		}
		before := len(all)
		all = differing(all, column, made, kept)
		if len(all) == before { // told apart by a member given twice
			all = append(all, fieldDifference{column, d.made[i], d.kept[i], onBoth})
		}
	}
	return all
}

func treeOf(v any) (tree any, ok bool) {
	text, isText := v.(string)
	if !isText || !isDocument(text) {
		return nil, false
	}
	return document(text)
}

// differing appends the places at and below path in which two documents differ.
func differing(all []fieldDifference, path string, made, kept any) []fieldDifference {
	switch m := made.(type) {
	case map[string]any:
		k, ok := kept.(map[string]any)
		if !ok {
			break
		}
		names := make([]string, 0, len(m)+len(k))
		for name := range m {
			names = append(names, name)
		}
		for name := range k {
			if _, has := m[name]; !has {
				names = append(names, name)
			}
		}
		slices.Sort(names)
		for _, name := range names {
			x, inMade := m[name]
			y, inKept := k[name]
			below := path + "/" + strings.NewReplacer("~", "~0", "/", "~1").Replace(name)
			switch {
			case !inKept:
				all = append(all, fieldDifference{below, x, nil, onlyMade})
			case !inMade:
				all = append(all, fieldDifference{below, nil, y, onlyKept})
			default:
				all = differing(all, below, x, y)
			}
		}
		return all
	case []any:
		k, ok := kept.([]any)
		if !ok {
			break
		}
		for i := range max(len(m), len(k)) {
			below := path + "/" + strconv.Itoa(i)
			switch {
			case i >= len(k):
				all = append(all, fieldDifference{below, m[i], nil, onlyMade})
			case i >= len(m):
				all = append(all, fieldDifference{below, nil, k[i], onlyKept})
			default:
				all = differing(all, below, m[i], k[i])
			}
		}
		return all
	}
	if !sameTree(made, kept) {
		all = append(all, fieldDifference{path, made, kept, onBoth})
	}
	return all
}

// written is a value as a report prints it.
func written(v any) string {
	switch v := v.(type) {
	case nil:
		return "nothing"
	case string:
		return strconv.Quote(v)
	case []byte:
		return fmt.Sprintf("%d bytes, %x", len(v), v[:min(len(v), 16)])
	case map[string]any, []any:
		text, err := json.Marshal(v)
		if err != nil {
			return "a document"
		}
		return string(text)
	}
	return fmt.Sprint(v)
}
