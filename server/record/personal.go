package record

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
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

// commit draws a salt and returns the digest of value with the opening of it.
func commit(path, value string, random io.Reader) ([sha256.Size]byte, Opening, error) {
	opening := Opening{Path: path, Salt: make([]byte, saltSize), Value: value}
	if _, err := io.ReadFull(random, opening.Salt); err != nil {
		return [sha256.Size]byte{}, Opening{}, fmt.Errorf("record: no random salt for %s: %w", path, err)
	}
	return opening.digest(), opening, nil
}

// digest is what a leaf holds in place of the opened value.
func (o Opening) digest() [sha256.Size]byte {
	message := make([]byte, 0, len(commitmentDomain)+len(o.Salt)+len(o.Value))
	message = append(message, commitmentDomain...)
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
