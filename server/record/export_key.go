package record

import (
	"strings"

	"stillsaw/procedures/plain"
)

// KeyIs is how a key somebody knows of a mill stands to an export. The zero value
// is of an export that shows no key of its own, or where none was named.
type KeyIs int

// What a key may be.
const (
	KeyUnasked KeyIs = iota
	KeyMatches       // it signed the export
	KeyFormer        // the record names it, and one that came after
	KeyForeign       // the record does not name it
)

// HeldKey is what came of holding an export against a key.
type HeldKey struct {
	Is    KeyIs
	Until int64  // the entry that named the one after, of a former key
	Now   string // fingerprint of the key that signed the export
}

// HoldKey holds the key that signed the export against the one named, a whole
// verifier or its [Fingerprint], by the keys the record names. It says nothing of
// whether the file was changed.
func (r *ExportReport) HoldKey(named string) HeldKey {
	named = strings.TrimSpace(named)
	if named == "" || r.Key == "" {
		return HeldKey{}
	}
	held := HeldKey{Is: KeyForeign, Now: Fingerprint(r.Key)}
	if isKey(named, r.Key) {
		held.Is = KeyMatches
		return held
	}
	if r.places["keys"] || r.places["entries"] {
		return held // what it says of its keys is not proven
	}
	for _, key := range r.Header.Keys {
		if key.Until > 0 && isKey(named, key.Verifier) {
			held.Is, held.Until = KeyFormer, key.Until
		}
	}
	return held
}

// isKey tells whether somebody means verifier, by its fingerprint however spaced
// or the whole of it.
func isKey(named, verifier string) bool {
	bare := func(text string) string {
		return strings.ToUpper(strings.NewReplacer("-", "", " ", "", "\u00a0", "", "\t", "").Replace(text))
	}
	return named == verifier || bare(named) == bare(Fingerprint(verifier))
}

// Said is what the answer means for whoever knows the key.
func (h HeldKey) Said() plain.Sentence {
	switch h.Is {
	case KeyMatches:
		return plain.Say("The key you gave is the one that signed this: %s.", h.Now)
	case KeyFormer:
		return plain.Say("The key you gave is a former key of this mill, in use until entry %[1]d; the one now is %[2]s. That it was put in place of yours by the mill itself, only the mill can tell you: ask for the key in use.", h.Until, h.Now)
	case KeyForeign:
		return plain.Say("The key you gave is not this mill's by this file, which is signed with %s. Either it was mistyped, or came into use after this was made, or the file is another's.", h.Now)
	}
	return plain.Sentence{}
}
