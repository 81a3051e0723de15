package record

import (
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"strings"
)

// fingerprintLetters leave out I, L, O and U, which are read as others (the
// alphabet of Crockford's base 32).
const fingerprintLetters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// Fingerprint is what people compare of a key: the first 80 bits of the SHA-256
// of its verifier as four groups of four. The 32 bits that a signature line
// names its key by are found again by trying, these are not.
func Fingerprint(verifier string) string {
	sum := sha256.Sum256([]byte(verifier))
	text := base32.NewEncoding(fingerprintLetters).EncodeToString(sum[:10])
	return text[:4] + " " + text[4:8] + " " + text[8:12] + " " + text[12:]
}

// ReadHead is what a checkpoint says, whoever signed it: [OpenCheckpoint] tells
// whether to believe it.
func ReadHead(checkpoint string) (Head, error) {
	text, _, signed := strings.Cut(checkpoint, "\n\n")
	if !signed {
		return Head{}, errors.New("record: no checkpoint: there is no signature under it")
	}
	return ParseHead(text + "\n")
}
