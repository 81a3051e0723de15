package store

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/server/sample"
)

// tried carries out an alteration and takes it back once every holder has looked.
func (b *bench) tried(t *testing.T, row tampering) (said [8][]string) {
	t.Helper()
	b.within(t, func(b *bench) {
		row.do(t, b)
		b.look(t)
		for i, h := range holders() {
			said[i] = h.look(b, t)
		}
	})
	return said
}

// named puts the places of the bench in for those a row names.
func (b *bench) named(want string) string {
	place := func(seq int64) string { return fmt.Sprint("entry ", seq) }
	return strings.NewReplacer("{signed}", place(b.signed), "{left}", place(b.left), "{photographed}", place(b.photographed), "{measured}", place(b.measured),
		"{dropped}", place(b.dropped), "{signed#}", fmt.Sprint(b.signed), "{photographed#}", fmt.Sprint(b.photographed),
		"{end}", place(b.end.Size), "{last}", place(b.end.Size-1)).Replace(want)
}

// finds requires that what was said is what was wanted: the place and words of a
// fault, or for the letter of a reason no fault at all.
func finds(t *testing.T, want string, said []string, what ...any) {
	t.Helper()
	if _, reason := whyNot()[want]; reason {
		assert.Empty(t, said, what...)
		return
	}
	assert.True(t, slices.ContainsFunc(said, func(one string) bool { return strings.HasPrefix(one, want) }), "%v: want %q in %q", what, want, said)
}

// Every alteration is caught by whoever can catch it, where it was made, and by
// nobody else: what an untouched record has none of, and what nobody can find out
// has its reason. The table is written out in testdata/tampering/README.md.
func TestEveryTamperingIsCaughtByWhoCanCatchIt(t *testing.T) {
	b := newBench(t)
	for name, test := range map[string]func(*testing.T, *bench){
		"database": testTamperings, "export": testExportTamperings, "zip": testZipTamperings, "checkpoint": testCheckpointTamperings, "bytes": testTurnedBytes,
	} {
		t.Run(name, func(t *testing.T) { test(t, b) })
	}
}

func testTamperings(t *testing.T, b *bench) {
	for i, said := range b.tried(t, tampering{do: func(*testing.T, *bench) {}}) {
		require.Empty(t, said, "untouched: %s", holders()[i].name)
	}
	n := 0
	for _, group := range tamperings() {
		for _, row := range group.rows {
			if n++; !sample.Has(n, 4) {
				continue
			}
			said := b.tried(t, row)
			for i, h := range holders() {
				finds(t, b.named(row.wanted(i)), said[i], row.what, h.name)
			}
		}
	}
}

func (row tampering) wanted(i int) string {
	for row.want[i] == "=" {
		i--
	}
	return row.want[i]
}
