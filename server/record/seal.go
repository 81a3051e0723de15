package record

import (
	"fmt"
	"io"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// Sealed is an entry ready to be stored: the leaf, which never changes again,
// what opens its personal fields, and the leaf's hash in the log.
type Sealed struct {
	Leaf     []byte
	Openings []Opening // in the order of the body's fields
	Hash     tlog.Hash
}

// Seal makes the leaf of e, taking one salt from random (crypto/rand.Reader)
// for each personal field of the body. Times are cut to the millisecond. The
// body is a struct or a map of what encoding/json can write, with these
// differences: a Personal becomes a commitment and is never left out; whole
// numbers beyond ±(2⁵³−1), NaN, the tag option "string", two fields of one name
// and types that write their own JSON around a Personal are refused.
//
// An error means that e can't be kept as it is or that random gave nothing; it
// names the field.
func Seal(e Envelope, random io.Reader) (Sealed, error) {
	e.At = e.At.UTC().Truncate(time.Millisecond)
	if !e.Happened.IsZero() {
		e.Happened = e.Happened.UTC().Truncate(time.Millisecond)
	}
	if !e.Phone.IsZero() {
		e.Phone = e.Phone.UTC().Truncate(time.Millisecond)
	}
	if err := e.check(); err != nil {
		return Sealed{}, err
	}
	w := writers.Get().(*bodyWriter)
	defer w.release()
	w.out = e.appendBefore(w.out)
	openings, err := w.body(e.Body, random)
	if err != nil {
		return Sealed{}, fmt.Errorf("%s entry %s: %w", e.Kind, e.ID, err)
	}
	personal := make([]string, len(openings))
	for i := range openings {
		personal[i] = openings[i].Path
	}
	slices.Sort(personal)
	w.out = e.appendAfter(w.out, personal)
	leaf := make([]byte, len(w.out))
	copy(leaf, w.out)
	return Sealed{Leaf: leaf, Openings: openings, Hash: tlog.RecordHash(leaf)}, nil
}
