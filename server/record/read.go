package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// Entry is an entry read back from its leaf. Body is canonical JSON with every
// opened personal field in its place and "" for each one in Withheld; the Body
// of the embedded Envelope is nil, so that an opened entry can't be sealed
// again with its personal fields in the clear.
type Entry struct {
	Envelope
	Body     json.RawMessage
	Withheld []string // JSON pointers into Body, sorted
}

// OpeningError says which opening of an entry is wrong, and how.
type OpeningError struct {
	Path   string
	Change Change // OpeningDiffers, OpeningStray or OpeningTwice
}

// Error names the path.
func (e *OpeningError) Error() string {
	return fmt.Sprintf("record: opening of %.200q: %s", e.Path, e.Change)
}

// Read takes a leaf apart and puts the opened values back into its body. A
// personal field without an opening was withheld or dropped and is listed in
// Withheld. Anything but the exact bytes [Seal] writes is an error; an opening
// that doesn't fit its commitment, or has none, is an [OpeningError].
func Read(leaf []byte, openings []Opening) (Entry, error) {
	return ReadMarked(leaf, openings, unmarked)
}

func unmarked(string) string { return "" }

// ReadMarked is [Read] with what mark says of a path in place of each personal
// field in Withheld, for a reader who has to see that something is not shown.
func ReadMarked(leaf []byte, openings []Opening, mark func(path string) string) (Entry, error) {
	p, err := parse(leaf)
	if err != nil {
		return Entry{}, err
	}
	values, wrong := p.open(openings)
	if len(wrong) > 0 {
		return Entry{}, &wrong[0]
	}
	e, err := p.entry(values, mark)
	if err != nil || len(p.sealed) == 0 { // the body of a leaf is canonical
		return e, err
	}
	e.Body, err = canonical(e.Body)
	return e, err
}

// entry is what was parsed with values in place of the commitments, and what
// mark says where there is none. Its body is not in canonical form.
func (p *parsed) entry(values map[string]string, mark func(path string) string) (Entry, error) {
	entry := Entry{Envelope: p.Envelope, Body: p.body}
	if len(p.sealed) == 0 {
		return entry, nil
	}
	for _, c := range p.sealed {
		value, opened := values[c.path]
		if !opened {
			entry.Withheld = append(entry.Withheld, c.path)
			value = mark(c.path)
		}
		if err := put(p.tree, steps(c.path), value); err != nil {
			return Entry{}, fmt.Errorf("record: %s: %w", c.path, err)
		}
	}
	text, err := json.Marshal(p.tree)
	if err != nil {
		return Entry{}, fmt.Errorf("record: %w", err)
	}
	entry.Body = text
	return entry, nil
}

// Decode reads the body of entry into body, the struct of the entry's kind and
// version. A member the struct doesn't have is an error: it is the wrong struct.
func Decode[T any](entry Entry, body *T) error {
	decoder := json.NewDecoder(bytes.NewReader(entry.Body))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(body); err != nil {
		return fmt.Errorf("record: %s entry %s, body version %d: %w", entry.Kind, entry.ID, entry.Version, err)
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("record: %s entry %s: more than one body", entry.Kind, entry.ID)
	}
	return nil
}

// findCommitments looks up the commitments a leaf lists. They must be sorted,
// each once, and each stand where the list says.
func (p *parsed) findCommitments(paths []string) error {
	if len(paths) == 0 {
		return nil
	}
	decoder := json.NewDecoder(bytes.NewReader(p.body))
	decoder.UseNumber()
	if err := decoder.Decode(&p.tree); err != nil {
		return fmt.Errorf("record: body: %w", err)
	}
	for i, path := range paths {
		if i > 0 && paths[i-1] >= path {
			return fmt.Errorf("record: personal fields are out of order at %.200q", path)
		}
		found, err := lookup(p.tree, steps(path))
		if err != nil {
			return fmt.Errorf("record: personal field %.200q: %w", path, err)
		}
		object, _ := found.(map[string]any)
		text, isText := object["sealed"].(string)
		if len(object) != 1 || !isText {
			return fmt.Errorf("record: no commitment at %.200q", path)
		}
		digest, err := parseDigest(text)
		if err != nil {
			return fmt.Errorf("record: no commitment at %.200q: %w", path, err)
		}
		p.sealed = append(p.sealed, commitment{path, digest})
	}
	return nil
}

// open checks openings against the commitments and returns the value of each
// that fits, by path, and all that are wrong.
func (p *parsed) open(openings []Opening) (values map[string]string, wrong []OpeningError) {
	values = make(map[string]string, len(openings))
	for _, o := range openings {
		i, found := slices.BinarySearchFunc(p.sealed, o.Path, func(c commitment, path string) int { return strings.Compare(c.path, path) })
		_, twice := values[o.Path]
		switch {
		case !found:
			wrong = append(wrong, OpeningError{o.Path, OpeningStray})
		case twice:
			wrong = append(wrong, OpeningError{o.Path, OpeningTwice})
		case len(o.Salt) != saltSize || o.digest() != p.sealed[i].digest:
			wrong = append(wrong, OpeningError{o.Path, OpeningDiffers})
		default:
			values[o.Path] = o.Value
		}
	}
	return values, wrong
}

// steps splits a JSON pointer into the names and indexes it goes through; nil
// for anything that is not a pointer to a part of the body, spelled as Seal
// spells it.
func steps(pointer string) []string {
	rest, found := strings.CutPrefix(pointer, "/")
	if !found {
		return nil
	}
	parts := strings.Split(rest, "/")
	for i, part := range parts {
		parts[i] = strings.ReplaceAll(strings.ReplaceAll(part, "~1", "/"), "~0", "~")
		if escaped(parts[i]) != part {
			return nil
		}
	}
	return parts
}

func lookup(node any, path []string) (any, error) {
	if len(path) == 0 {
		return nil, errors.New("not a JSON pointer into the body")
	}
	for _, step := range path {
		var err error
		if node, err = child(node, step); err != nil {
			return nil, err
		}
	}
	return node, nil
}

// child is the member or element of node that step names.
func child(node any, step string) (any, error) {
	switch node := node.(type) {
	case map[string]any:
		if value, ok := node[step]; ok {
			return value, nil
		}
	case []any:
		if i, err := strconv.Atoi(step); err == nil && i >= 0 && i < len(node) && strconv.Itoa(i) == step {
			return node[i], nil
		}
	}
	return nil, fmt.Errorf("the body has no %.60q there", step)
}

// put sets the value at path, which lookup has found before.
func put(tree any, path []string, value string) error {
	last := len(path) - 1
	for _, step := range path[:last] {
		var err error
		if tree, err = child(tree, step); err != nil {
			return err
		}
	}
	switch parent := tree.(type) {
	case map[string]any:
		parent[path[last]] = value
		return nil
	case []any:
		if i, err := strconv.Atoi(path[last]); err == nil && i >= 0 && i < len(parent) {
			parent[i] = value
			return nil
		}
	}
	return fmt.Errorf("the body has no %.60q there", path[last])
}
