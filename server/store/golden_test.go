package store

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures"
	"stillsaw/server/record"
)

var update = flag.Bool("update", false, "write examples of entries that are missing; those that are there never change")

const examples = "../../testdata/entries"

// example is one entry as it was once written, which every later Stillsaw reads.
type example struct {
	Leaf     string           `json:"leaf"`
	Openings []record.Opening `json:"openings"`
	Says     json.RawMessage  `json:"says"` // the body as pages know it
}

func TestEntriesOfEveryVersionAreReadForEver(t *testing.T) {
	if *update {
		writeMissing(t)
	}
	files, err := filepath.Glob(filepath.Join(examples, "*.json"))
	require.NoError(t, err)
	type sample struct {
		name string
		b    body
		e    entry
	}
	var samples []sample
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		var kept example
		require.NoError(t, json.Unmarshal(text, &kept), file)
		opened, err := record.Read([]byte(kept.Leaf), kept.Openings)
		require.NoError(t, err, file)
		name := fmt.Sprintf("%s-%d", opened.Kind, opened.Version)
		require.Regexp(t, "^"+name+`(-[a-z]+)?\.json$`, filepath.Base(file))
		b, err := decode(opened.Kind, opened.Version, opened)
		require.NoError(t, err, file)
		require.NotNil(t, b, "%s is no longer read", file)
		kind, version := b.kind()
		require.Equal(t, name, fmt.Sprintf("%s-%d", kind, version))
		says, err := json.Marshal(domainOf(b))
		require.NoError(t, err)
		requireWithin(t, kept.Says, says, file)
		samples = append(samples, sample{name, b, entry{Mill: opened.Mill, Seq: opened.Seq, Actor: procedures.PersonID(opened.Actor), At: opened.At}})
	}
	for _, kind := range Kinds() {
		require.NotNil(t, bodyOf(kind, 1), kind)
		for version := 1; bodyOf(kind, version) != nil; version++ {
			require.FileExists(t, filepath.Join(examples, fmt.Sprintf("%s-%d.json", kind, version)), "write it once with -update and keep it")
		}
	}

	// Together they make tables; what they refer to may be the business of an
	// entry that is no example.
	s := open(t)
	keysOff(t, s)
	slices.SortStableFunc(samples, func(a, b sample) int { return int(a.e.Seq - b.e.Seq) })
	for _, one := range samples {
		require.NoError(t, s.writer.do(t.Context(), func(tx *Tx) error { return one.b.project(tx, one.e) }), one.name)
	}
}

// requireWithin requires that everything that was said then is said now; a
// field added since may stand beside it.
func requireWithin(t *testing.T, then, now []byte, file string) {
	t.Helper()
	var a, b any
	require.NoError(t, json.Unmarshal(then, &a))
	require.NoError(t, json.Unmarshal(now, &b))
	lost := lostIn("", a, b)
	require.Empty(t, lost, file)
}

// lostIn names what of then is missing or other in now.
func lostIn(path string, then, now any) []string {
	switch then := then.(type) {
	case map[string]any:
		object, ok := now.(map[string]any)
		if !ok {
			return []string{path}
		}
		var lost []string
		for name, value := range then {
			other, there := object[name]
			if !there {
				lost = append(lost, path+"/"+name)
				continue
			}
			lost = append(lost, lostIn(path+"/"+name, value, other)...)
		}
		return lost
	case []any:
		list, ok := now.([]any)
		if !ok || len(list) != len(then) {
			return []string{path}
		}
		var lost []string
		for i := range then {
			lost = append(lost, lostIn(fmt.Sprint(path, "/", i), then[i], list[i])...)
		}
		return lost
	}
	if then != now {
		return []string{path}
	}
	return nil
}

func TestWhatAnEntryNoLongerSaysIsNamed(t *testing.T) {
	lost := lostIn("", map[string]any{"a": 1.0, "b": []any{"x", "y"}, "c": map[string]any{"d": nil}}, map[string]any{"a": 1.0, "b": []any{"x", "z"}, "c": map[string]any{}, "new": 1.0})
	require.ElementsMatch(t, []string{"/b/1", "/c/d"}, lost)
}

// writeMissing takes the first entry of each kind of a filled mill that has no
// example yet; the procedure the lockout is by is published first, and is the
// example of that kind. A rig and a lift with people's words, a mill with
// closures, one with a list of kinds of wood, and a program and a task with their
// texts sealed are examples beside it.
func writeMissing(t *testing.T) {
	t.Helper()
	m := newMill(t)
	h := fill(t, m)
	require.NoError(t, m.ChangeMill(t.Context(), NewID(), closedFor(m.id, "funeral of Walter Quist"), sam, h.After))
	sawn := millOf(m.id)
	sawn.Kinds = []string{"white oak", "Tsuga canadensis"}
	require.NoError(t, m.ChangeMill(t.Context(), NewID(), sawn, sam, h.After))
	keepLiftBy(t, m, putRig(t, m, "Walter Quist", h.After), h.After)
	var rows []entryRow
	require.NoError(t, m.s.reads.Order("seq").Find(&rows).Error)
	for _, row := range rows {
		b, _ := bodyRead(t, m.s, row)
		beside := ""
		if published, ok := b.(*publishedBody); ok && published.Sort == Rigs && published.Version > 1 {
			beside = "-rig"
		} else if ok && published.Renewal != nil {
			beside = "-renewed"
		} else if mill, ok := b.(*millBody); ok && len(mill.Reasons) > 0 {
			beside = "-closed"
		} else if ok && len(mill.Mill.Kinds) > 0 {
			beside = "-kinds"
		} else if kept, ok := b.(*liftBody); ok && len(kept.RigTexts) > 0 {
			beside = "-rig"
		} else if row.Kind == KindProgram || row.Kind == KindTask {
			beside = "-sealed" // their texts stood in the clear before
		}
		file := filepath.Join(examples, fmt.Sprintf("%s-%d%s.json", row.Kind, row.Version, beside))
		if _, err := os.Stat(file); err == nil {
			continue
		}
		openings, err := openingsOf(m, m.id, []entryRow{row})
		require.NoError(t, err)
		says, err := json.Marshal(domainOf(b))
		require.NoError(t, err)
		var out bytes.Buffer
		encoder := json.NewEncoder(&out)
		encoder.SetIndent("", "  ")
		encoder.SetEscapeHTML(false)
		require.NoError(t, encoder.Encode(example{Leaf: string(row.Leaf), Openings: openings[row.Seq], Says: says}))
		require.NoError(t, os.MkdirAll(examples, 0o755))
		require.NoError(t, os.WriteFile(file, out.Bytes(), 0o644))
	}
}
