package checklists

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func FuzzImport(f *testing.F) {
	first, all := aStarter()
	for _, list := range append(all, first) {
		short := list
		short.Items = short.Items[:min(len(short.Items), 2)]
		file, err := short.Export()
		require.NoError(f, err)
		f.Add(file)
	}
	for _, file := range []string{
		"", "stillsaw list: 1\nid: a\nitems: []\n", "stillsaw list: 1\nid: a\nitems:\n  - {id: C1, limits: {unit: in, lowest: 0.5}}\n",
		"a: &a [*a]", "a: &a [b]\nc: *a\n", "<<: {a: b}", "--- !x\na: b\n", "%YAML 1.2\n---\na: b", "? a\n: b\n", "- - - - -", "[[[[[[[[[[[[", "a: |\n  b\n", "\xff\xfe", "\ufeffid: a",
		"stillsaw list: 1\nid: a\nitems:\n  - id: C1\n  - id: C1\n", "stillsaw list: 2\nid: \"\\ud83d\"\nitems: ~\n", "a: b: c", "a: \"", "{a: 1, a: 2}",
	} {
		f.Add([]byte(file))
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		list, err := Import(file)
		if err == nil {
			require.NoError(t, list.Draft())
			again, err := list.Export()
			require.NoError(t, err)
			back, err := Import(again)
			require.NoError(t, err, "%q", again)
			require.Equal(t, list, back)
			return
		}
		require.Zero(t, list, "half a list")
		var bad FileProblems
		require.ErrorAs(t, err, &bad)
		require.NotEmpty(t, bad)
		for _, one := range bad {
			require.NotEmpty(t, one.Field)
			require.NotEmpty(t, one.Want.String())
			require.Positive(t, one.Line)
			require.LessOrEqual(t, one.Line, 1+bytes.Count(file, []byte("\n"))+bytes.Count(file, []byte("\r")))
		}
	})
}

func TestWhatIsWrongWithAFileIsNamedByLineAndField(t *testing.T) {
	const begin = "stillsaw list: 1\nid: a\nitems:\n  - id: C1\n    check: a\n  - id: C2\n"
	for _, tc := range []struct {
		file, field string
		line        int
	}{
		{"", "file", 1},
		{"just words", "file", 1},
		{"id: a\nitems: []\n", "stillsaw list", 1},
		{"id: a\nitems: []\nstillsaw list: 2\n", "stillsaw list", 3},
		{"stillsaw list: 1\nitems: []\n", "id", 1},
		{"stillsaw list: 1\nid: a\n", "items", 1},
		{"stillsaw list: 1\nid: a\nitems:\n", "items", 3},
		{"stillsaw list: 1\nid: a\nitems: 3\n", "items", 3},
		{begin + "    prompt: b\n", "items.C2.prompt", 7},
		{begin + "    machine: asleep\n", "items.C2.machine", 7},
		{begin + "    photo always: yes\n", "items.C2.photo always", 7},
		{begin + "    check: 7\n", "items.C2.check", 7},
		{begin + "    check: " + strings.Repeat("é", LongestPrompt+1) + "\n", "items.C2.check", 7},
		{begin + "    limits:\n      unit: in\n      lowest: 1/2\n", "items.C2.limits.lowest", 9},
		{begin + "    limits:\n      unit: in\n      lowest: -1\n", "items.C2.limits.lowest", 9},
		{begin + "    limits:\n      lowest: .inf\n", "file", 8},
		{begin + "    limits: 0.5 in\n", "items.C2.limits", 7},
		{begin + "    repeat: {for each: cat}\n", "items.C2.repeat.for each", 7},
		{begin + "    only if: {result: ok}\n", "items.C2.only if.item", 7},
		{begin + "  - id: C1\n", "items.#3.id", 7},
		{begin + "  - id: \"C 1\"\n", "items.#3.id", 7},
		{begin + "  - check: no id\n", "items.#3.id", 7},
		{begin + "  - words\n", "items.#3", 7},
		{begin + "    choose from: [a, 2]\n", "items.C2.choose from", 7},
		{begin + "in force from: tomorrow\n", "in force from", 7},
		{begin + "version: 1.5\n", "version", 7},
		{begin + "    check: a\n    how: b\n    check: c\n", "items.C2.check", 9},
		{begin + "title: &t a\n", "file", 7},
		{begin + "title: *t\n", "file", 7},
		{begin + "title: !!str a\n", "file", 7},
		{begin + "---\nid: b\n", "file", 7},
		{begin + "<<: {title: a}\n", "file", 7},
		{begin + "title: \xff\n", "file", 7},
		{begin + "due: [[[[[[[[[[a]]]]]]]]]]\n", "file", 7},
		{strings.Repeat("# too long\n", mostBytes/11+1), "file", 1},
	} {
		list, err := Import([]byte(tc.file))
		require.Zero(t, list)
		var bad FileProblems
		require.ErrorAs(t, err, &bad, "%.200s", tc.file)
		require.Equal(t, tc.line, bad[0].Line, "%.200s: %v", tc.file, bad)
		require.Equal(t, tc.field, bad[0].Field, "%.200s: %v", tc.file, bad)
		require.Contains(t, bad.Error(), bad[0].Field)
	}
	list, err := Import([]byte("\ufeff" + begin))
	require.NoError(t, err, "as some editors begin a file")
	require.Len(t, list.Items, 2)
	list, err = Import([]byte(strings.ReplaceAll(begin, "\n", "\r\n")))
	require.NoError(t, err, "as some editors end a line")
	require.Equal(t, "a", list.Items[0].Prompt)
}

// All that is wrong is told at once, in the order it stands.
func TestEverythingWrongWithAFileIsTold(t *testing.T) {
	_, err := Import([]byte("stillsaw list: 1\nid: a\ntitel: b\nitems:\n  - id: C1\n    machine: asleep\n    answer: song\n"))
	var bad FileProblems
	require.ErrorAs(t, err, &bad)
	require.Len(t, bad, 3)
	require.Equal(t, []int{3, 6, 7}, []int{bad[0].Line, bad[1].Line, bad[2].Line})
	require.Len(t, bad.Problems(), 3)
	require.Equal(t, "line 6, items.C1.machine: one of: locked out, running, stopped", bad.Problems()[1].Want.String())
}

// The file as a person reads it.
func TestAListReadsAsPlainWords(t *testing.T) {
	low := 0.5
	list := List{ID: "pre-shift", Title: "Pre-shift check", Schedule: Schedule{Every: EachShift, Holds: true}, Items: []Item{
		{ID: "K3", Station: "Dogs and knees", Equipment: "dogs-and-knees", Prompt: "Smallest gap from a dog to the line of the saw", How: "Close the dogs.\nMeasure at every dog.",
			State: LockedOut, Kind: Number, Limits: Limits{Unit: "in", Low: &low, Most: 12}, Severity: Stop, Source: "common practice, no source"},
		{ID: "K4", Station: "Dogs and knees", Equipment: "dogs-and-knees", Prompt: "Dog is sharp", State: LockedOut, Kind: Choice, Severity: Mend, NotFitted: true,
			Repeat: Repeat{Per: PerDog}, When: Condition{Item: "K3", Result: Found}},
	}}
	file, err := list.Export()
	require.NoError(t, err)
	require.Equal(t, `# A checklist of Stillsaw. Every number stands in the unit beside it.
stillsaw list: 1
id: pre-shift
title: Pre-shift check
due:
  every: shift
  holds while due: true
items:
  - id: K3
    section: Dogs and knees
    equipment: dogs-and-knees
    check: Smallest gap from a dog to the line of the saw
    how: |-
      Close the dogs.
      Measure at every dog.
    why: "common practice, no source"
    machine: locked out
    answer: number
    limits:
      unit: in
      lowest: 0.5
      slip beyond: 12
    a defect means: stop
  - id: K4
    section: Dogs and knees
    equipment: dogs-and-knees
    check: Dog is sharp
    machine: locked out
    answer: choice
    a defect means: mend
    not fitted: true
    repeat:
      for each: dog
    only if:
      item: K3
      result: defect
`, string(file))
}
