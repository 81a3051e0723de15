package record

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
)

// A cosignature says that a witness had seen a log at a size by a time, and that
// all it had seen of it before was still in there (C2SP tlog-cosignature, version
// 1, Ed25519). It goes over the checkpoint's text and a time, which is passed in:
// nothing here asks a clock.

// cosignatureType is the kind of key in a verifier key (C2SP signed-note).
const cosignatureType = 4

// WitnessName is the name a mill's Stillsaw cosigns the records of others by.
func WitnessName(mill string) string { return Origin(mill) + "/witness" }

// Cosigner signs what a witness has seen. The zero value signs nothing.
type Cosigner struct {
	name string
	key  ed25519.PrivateKey
}

// NewWitnessSeed draws the secret of a [Cosigner], 32 bytes.
func NewWitnessSeed(random io.Reader) ([]byte, error) {
	seed := make([]byte, ed25519.SeedSize)
	if _, err := io.ReadFull(random, seed); err != nil {
		return nil, fmt.Errorf("record: no key for a witness: %w", err)
	}
	return seed, nil
}

// NewCosigner makes the signer of that name from its secret of 32 bytes. The key
// may serve one name only: the signed text does not hold it.
func NewCosigner(name string, seed []byte) (Cosigner, error) {
	if !isMill(name) {
		return Cosigner{}, fmt.Errorf("record: %.60q can't name a key", name)
	}
	if len(seed) != ed25519.SeedSize {
		return Cosigner{}, fmt.Errorf("record: the key of %s has %d bytes, not %d", name, len(seed), ed25519.SeedSize)
	}
	return Cosigner{name: name, key: ed25519.NewKeyFromSeed(seed)}, nil
}

// Verifier is the public key in the form it is handed out, which
// [NewCosignatureVerifier] reads.
func (c Cosigner) Verifier() string {
	public := append([]byte{cosignatureType}, c.key.Public().(ed25519.PublicKey)...)
	return fmt.Sprintf("%s+%08x+%s", c.name, keyHash(c.name, public), base64.StdEncoding.EncodeToString(public))
}

// Cosign makes the signature line for the checkpoint with that text, which is
// without signatures and ends in a newline, as seen at at, to the second.
func (c Cosigner) Cosign(text string, at time.Time) (string, error) {
	if c.key == nil {
		return "", errors.New("record: a witness without a key")
	}
	if _, err := ParseTreeHead(text); err != nil {
		return "", err
	}
	if at.Unix() < 0 {
		return "", fmt.Errorf("record: %s is before any cosignature", at)
	}
	public := append([]byte{cosignatureType}, c.key.Public().(ed25519.PublicKey)...)
	line := binary.BigEndian.AppendUint32(nil, keyHash(c.name, public))
	line = binary.BigEndian.AppendUint64(line, uint64(at.Unix()))
	line = append(line, ed25519.Sign(c.key, cosigned(uint64(at.Unix()), text))...)
	return "— " + c.name + " " + base64.StdEncoding.EncodeToString(line) + "\n", nil
}

// cosigned is what the signature goes over.
func cosigned(seconds uint64, text string) []byte {
	return []byte("cosignature/v1\ntime " + strconv.FormatUint(seconds, 10) + "\n" + text)
}

// keyHash is the id of a key (C2SP signed-note): public begins with its kind.
func keyHash(name string, public []byte) uint32 {
	sum := sha256.Sum256(append([]byte(name+"\n"), public...))
	return binary.BigEndian.Uint32(sum[:])
}

// cosignatureVerifier is a note.Verifier of cosignatures.
type cosignatureVerifier struct {
	name string
	hash uint32
	key  ed25519.PublicKey
}

// NewCosignatureVerifier reads the public key of a witness as it is handed out,
// name+id+key, for note.Open. A key for checkpoints, of kind 1, is refused: it is
// not a witness's.
func NewCosignatureVerifier(text string) (note.Verifier, error) {
	name, rest, _ := strings.Cut(text, "+")
	id, coded, ok := strings.Cut(rest, "+")
	public, err := base64.StdEncoding.DecodeString(coded)
	switch {
	case !ok || !isMill(name) || err != nil || len(public) == 0:
		return nil, fmt.Errorf("record: %.100q is not a verifier key: want a name, an id of eight digits and the key, joined by +", text)
	case public[0] != cosignatureType:
		return nil, fmt.Errorf("record: the key of %s is of kind %d, a witness's is of kind %d", name, public[0], cosignatureType)
	case len(public) != 1+ed25519.PublicKeySize:
		return nil, fmt.Errorf("record: the key of %s has %d bytes, not %d", name, len(public)-1, ed25519.PublicKeySize)
	case id != fmt.Sprintf("%08x", keyHash(name, public)):
		return nil, fmt.Errorf("record: the key of %s is not the one its id was made of", name)
	}
	return cosignatureVerifier{name, keyHash(name, public), ed25519.PublicKey(public[1:])}, nil
}

func (v cosignatureVerifier) Name() string    { return v.name }
func (v cosignatureVerifier) KeyHash() uint32 { return v.hash }

// Verify tells whether signature, a time of 8 bytes and 64 bytes of Ed25519, is
// over text.
func (v cosignatureVerifier) Verify(text, signature []byte) bool {
	if len(signature) != 8+ed25519.SignatureSize {
		return false
	}
	seconds := binary.BigEndian.Uint64(signature)
	if _, err := ParseTreeHead(string(text)); err != nil || seconds > math.MaxInt64 {
		return false
	}
	return ed25519.Verify(v.key, cosigned(seconds, string(text)), signature[8:])
}

// CosignedAt is the time in a cosignature that note.Open found good.
func CosignedAt(signature note.Signature) (time.Time, error) {
	coded, err := base64.StdEncoding.DecodeString(signature.Base64)
	if err != nil || len(coded) != 4+8+ed25519.SignatureSize {
		return time.Time{}, fmt.Errorf("record: the signature of %.60s is not a cosignature", signature.Name)
	}
	seconds := binary.BigEndian.Uint64(coded[4:])
	if seconds > math.MaxInt64 {
		return time.Time{}, fmt.Errorf("record: the cosignature of %.60s has no time", signature.Name)
	}
	return time.Unix(int64(seconds), 0).UTC(), nil
}
