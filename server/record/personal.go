package record

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
)

// Personal is a field of an entry's body that says something of a person: a
// name, a note, a reason. Its value never enters the leaf, only a commitment to
// it. Declare body fields with this very type: Go can't tell a type derived
// from it (type Nickname Personal) from an ordinary string, and it would stay
// readable in the leaf for ever.
//
// A Personal is committed to even where it is empty, marked omitempty or a nil
// pointer, which is read back as a pointer to the empty string.
type Personal string

// MarshalJSON always fails: JSON of a body is made by [Seal] alone, so that no
// way around it puts a personal value where it can't be dropped again. Whoever
// means to show the value converts it to a string.
func (Personal) MarshalJSON() ([]byte, error) {
	return nil, errors.New("record: a personal value is written by Seal only")
}

// Opening is what shows one personal field of an entry to be what it was: the
// place in the body as a JSON pointer (RFC 6901), the salt and the value.
type Opening struct {
	Path  string
	Salt  []byte
	Value string
}

// saltSize is 256 bits, so that a short value can't be found by trying.
const saltSize = 32

// commitmentDomain keeps these digests apart from every other SHA-256 in the
// program. With prefix and salt of fixed length the value can't run into them.
const commitmentDomain = "stillsaw personal value 1\n"

const digestPrefix = "sha256:"

// commitment is a personal field as it stands in a leaf.
type commitment struct {
	path   string
	digest [sha256.Size]byte
}

// blank is a commitment whose digest is still to come.
const blank = `{"sealed":"` + digestPrefix + "0000000000000000000000000000000000000000000000000000000000000000" + `"}`

// digestAt is where the digest stands in one.
const digestAt = len(`{"sealed":"` + digestPrefix)

// personal writes a commitment, for which [bodyWriter.commit] draws the salt. Bytes
// that are not UTF-8 become U+FFFD, as they do in every other string of the leaf.
func (w *bodyWriter) personal(_ *plan, v reflect.Value) error {
	w.sealed(v.String())
	return nil
}

// personalAt writes the commitment to what v points at.
func (w *bodyWriter) personalAt(p *plan, v reflect.Value) error {
	if v.IsNil() {
		w.sealed("")
		return nil
	}
	return w.pointer(p, v)
}

func (w *bodyWriter) sealed(value string) {
	from := len(w.paths)
	w.paths = append(w.paths, w.path...)
	w.found = append(w.found, personalField{from: from, until: len(w.paths), at: len(w.out) + digestAt, value: valid(value)})
	w.out = append(w.out, blank...)
}

// commit draws the salts of all personal fields, puts their digests into what was
// written and returns the openings.
func (w *bodyWriter) commit(random io.Reader) ([]Opening, error) {
	if len(w.found) == 0 {
		return nil, nil
	}
	salts := make([]byte, saltSize*len(w.found))
	paths := string(w.paths)
	if n, err := io.ReadFull(random, salts); err != nil {
		without := w.found[n/saltSize]
		return nil, fmt.Errorf("record: no random salt for %s: %w", paths[without.from:without.until], err)
	}
	openings := make([]Opening, len(w.found))
	for i, f := range w.found {
		openings[i] = Opening{Path: paths[f.from:f.until], Salt: salts[:saltSize:saltSize], Value: f.value}
		salts = salts[saltSize:]
		digest := openings[i].digest()
		hex.Encode(w.out[f.at:], digest[:])
	}
	return openings, nil
}

// digest is what a leaf holds in place of the opened value.
func (o Opening) digest() [sha256.Size]byte {
	var room [256]byte // for most
	message := append(room[:0], commitmentDomain...)
	message = append(message, o.Salt...)
	message = append(message, o.Value...)
	return sha256.Sum256(message)
}

// parseDigest reads "sha256:" and 64 lowercase hex digits.
func parseDigest(text string) (digest [sha256.Size]byte, err error) {
	digits, found := strings.CutPrefix(text, digestPrefix)
	if !found || len(digits) != hex.EncodedLen(len(digest)) || strings.ToLower(digits) != digits {
		return digest, fmt.Errorf("%.100q is not a digest", text)
	}
	if _, err := hex.Decode(digest[:], []byte(digits)); err != nil {
		return digest, fmt.Errorf("%.100q is not a digest: %w", text, err)
	}
	return digest, nil
}
