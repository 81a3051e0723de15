package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
)

// Reread is [Read] of a leaf that was verified before, several times as quick: it
// isn't asked again whether the leaf is in the one form an entry has, and the
// Body of the result is JSON, but not canonical.
func Reread(leaf []byte, openings []Opening) (Entry, error) {
	p, personal, err := takeApart(leaf)
	if err != nil {
		return Entry{}, err
	}
	if body, ok := filled(p.body, personal, openings); ok {
		return Entry{Envelope: p.Envelope, Body: body}, nil
	}
	if err := p.findCommitments(personal); err != nil {
		return Entry{}, err
	}
	values, wrong := p.open(openings)
	if len(wrong) > 0 {
		return Entry{}, &wrong[0]
	}
	return p.entry(values, unmarked)
}

// filled puts the opened values into body by the text of their commitments. It
// leaves to the slower way what is not as usual: a field withheld, an opening
// that doesn't fit, a commitment that stands twice.
func filled(body []byte, personal []string, openings []Opening) (text []byte, ok bool) {
	if len(personal) != len(openings) {
		return nil, false
	}
	values := make(map[[sha256.Size]byte]string, len(openings))
	for _, o := range openings {
		if len(o.Salt) != saltSize {
			return nil, false
		}
		values[o.digest()] = o.Value
	}
	if len(values) != len(personal) {
		return nil, false
	}
	const opening, closing = `{"sealed":"` + digestPrefix, `"}`
	text = make([]byte, 0, len(body))
	put := 0
	for {
		start := bytes.Index(body, []byte(opening))
		if start < 0 {
			break
		}
		end := start + len(opening) + 2*sha256.Size + len(closing)
		if end > len(body) {
			return nil, false
		}
		digest, err := parseDigest(string(body[start+len(opening)-len(digestPrefix) : end-len(closing)]))
		value, known := values[digest]
		if err != nil || !known || string(body[end-len(closing):end]) != closing {
			return nil, false
		}
		delete(values, digest)
		quoted, err := json.Marshal(value)
		if err != nil {
			return nil, false
		}
		text = append(append(text, body[:start]...), quoted...)
		body = body[end:]
		put++
	}
	return append(text, body...), put == len(personal)
}
