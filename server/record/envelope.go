package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

// formatTag names the construction of a leaf, the first thing a reader far in
// the future looks at. A leaf made otherwise gets another tag.
const formatTag = "stillsaw-entry-1"

// timeLayout is RFC 3339 in UTC with exactly three digits of the second.
const timeLayout = "2006-01-02T15:04:05.000Z"

// maxOffset is more than any zone has been away from UTC, in minutes.
const maxOffset = 18 * 60

// Envelope is one entry of a mill's record. Mill, Subject and Actor are ids,
// never names: what stands here can't be withheld later.
type Envelope struct {
	Mill    string
	Seq     int64  // place in the mill's log, from 0
	ID      string // UUIDv7
	Kind    string // which of the program's body structs Body is
	Version int    // of that struct, from 1
	Subject string // what was acted on, "" where there is none
	Actor   string // who acted, "" where the program did

	At     time.Time // server time; kept in UTC to the millisecond
	Offset int       // minutes the mill's zone is ahead of UTC at At

	// Happened is when it took place, if it was entered late or a phone's
	// clock says so, with the offset there; zero means at At.
	Happened       time.Time
	HappenedOffset int

	// Phone is what the clock of the phone it was entered on said at that moment,
	// with the offset of its own zone; zero where it told none, and in entries of
	// before it was asked.
	Phone       time.Time
	PhoneOffset int

	Body any
}

// leafFields are the members of a leaf.
type leafFields struct {
	Format         string          `json:"format"`
	Mill           string          `json:"mill"`
	Seq            int64           `json:"seq"`
	ID             string          `json:"id"`
	Kind           string          `json:"kind"`
	Version        int             `json:"version"`
	Subject        string          `json:"subject"`
	Actor          string          `json:"actor"`
	At             string          `json:"at"`
	Offset         int             `json:"offset"`
	Happened       *string         `json:"happened,omitempty"`
	HappenedOffset *int            `json:"happenedOffset,omitempty"`
	Phone          *string         `json:"phone,omitempty"`
	PhoneOffset    *int            `json:"phoneOffset,omitempty"`
	Personal       []string        `json:"personal,omitempty"`
	Body           json.RawMessage `json:"body"`
}

// leaf is the canonical JSON of e with its sealed body, which is canonical already.
func (e Envelope) leaf(personal []string, body []byte) []byte {
	leaf := make([]byte, 0, len(body)+len(body)/4+512)
	return e.appendAfter(append(e.appendBefore(leaf), body...), personal)
}

// appendBefore appends what stands in the leaf before the body. The members of a
// leaf are written in canonical order by hand, since every act makes one: those of
// [leafFields].
func (e Envelope) appendBefore(leaf []byte) []byte {
	leaf = quoted(append(leaf, `{"actor":`...), e.Actor)
	leaf = appendTime(append(leaf, `,"at":`...), e.At)
	return append(leaf, `,"body":`...)
}

// appendAfter appends what stands in the leaf after the body.
func (e Envelope) appendAfter(leaf []byte, personal []string) []byte {
	leaf = append(leaf, `,"format":"`+formatTag+`"`...)
	if !e.Happened.IsZero() {
		leaf = appendTime(append(leaf, `,"happened":`...), e.Happened)
		leaf = appendNumber(append(leaf, `,"happenedOffset":`...), e.HappenedOffset)
	}
	leaf = quoted(append(leaf, `,"id":`...), e.ID)
	leaf = quoted(append(leaf, `,"kind":`...), e.Kind)
	leaf = quoted(append(leaf, `,"mill":`...), e.Mill)
	leaf = appendNumber(append(leaf, `,"offset":`...), e.Offset)
	if len(personal) > 0 {
		leaf = append(leaf, `,"personal":[`...)
		for i, path := range personal {
			if i > 0 {
				leaf = append(leaf, ',')
			}
			leaf = quoted(leaf, path)
		}
		leaf = append(leaf, ']')
	}
	if !e.Phone.IsZero() {
		leaf = appendTime(append(leaf, `,"phone":`...), e.Phone)
		leaf = appendNumber(append(leaf, `,"phoneOffset":`...), e.PhoneOffset)
	}
	leaf = appendNumber(append(leaf, `,"seq":`...), e.Seq)
	leaf = quoted(append(leaf, `,"subject":`...), e.Subject)
	leaf = appendNumber(append(leaf, `,"version":`...), e.Version)
	return append(leaf, '}')
}

func appendTime(leaf []byte, at time.Time) []byte {
	return append(at.UTC().AppendFormat(append(leaf, '"'), timeLayout), '"')
}

// appendNumber writes a whole number, which no number of an envelope is too large for.
func appendNumber[N int | int64](leaf []byte, n N) []byte {
	return strconv.AppendInt(leaf, int64(n), 10)
}

// canonical is text in canonical form (RFC 8785); text itself is used up.
func canonical(text []byte) ([]byte, error) {
	value := jsontext.Value(text)
	if err := value.Canonicalize(); err != nil {
		return nil, fmt.Errorf("record: canonical JSON: %w", err)
	}
	return value, nil
}

// check says what keeps e, its body aside, from being an entry.
func (e Envelope) check() error {
	var bad []error
	unless := func(ok bool, format string, args ...any) {
		if !ok {
			bad = append(bad, fmt.Errorf(format, args...))
		}
	}
	unless(isUUIDv7(e.ID), "id %.60q is not a lowercase UUIDv7", e.ID)
	unless(isMill(e.Mill), "mill %.60q is not an id", e.Mill)
	unless(e.Seq >= 0 && e.Seq <= maxExact, "seq %d is no place in a log", e.Seq)
	unless(e.Kind != "", "kind is empty")
	unless(e.Version >= 1 && int64(e.Version) <= maxExact, "version %d is not 1 or more", e.Version)
	for _, text := range []string{e.Kind, e.Subject, e.Actor} {
		unless(utf8.ValidString(text), "%.60q is not UTF-8", text)
	}
	unless(isKeepable(e.At), "at %v is no time to keep", e.At)
	unless(e.Offset >= -maxOffset && e.Offset <= maxOffset, "offset of %d minutes is no time zone's", e.Offset)
	unless(e.Happened.IsZero() || isKeepable(e.Happened), "happened %v is no time to keep", e.Happened)
	unless(e.HappenedOffset >= -maxOffset && e.HappenedOffset <= maxOffset, "offset of %d minutes is no time zone's", e.HappenedOffset)
	unless(!e.Happened.IsZero() || e.HappenedOffset == 0, "happened has an offset but no time")
	unless(e.Phone.IsZero() || isKeepable(e.Phone), "phone's clock at %v is no time to keep", e.Phone)
	unless(e.PhoneOffset >= -maxOffset && e.PhoneOffset <= maxOffset, "offset of %d minutes is no time zone's", e.PhoneOffset)
	unless(!e.Phone.IsZero() || e.PhoneOffset == 0, "phone has an offset but no time")
	if len(bad) > 0 {
		return fmt.Errorf("record: not an entry: %w", errors.Join(bad...))
	}
	return nil
}

// isUUIDv7 allows the lowercase text form of a version 7 UUID (RFC 9562 section 5.7).
func isUUIDv7(id string) bool {
	if len(id) != 36 || id[14] != '7' || !strings.ContainsRune("89ab", rune(id[19])) {
		return false
	}
	for i := range len(id) {
		switch i {
		case 8, 13, 18, 23:
			if id[i] != '-' {
				return false
			}
		default:
			if !strings.ContainsRune("0123456789abcdef", rune(id[i])) {
				return false
			}
		}
	}
	return true
}

// isMill allows what can be the name of a log in a signed checkpoint: not
// empty, no space and no plus (C2SP signed-note).
func isMill(id string) bool {
	return id != "" && utf8.ValidString(id) &&
		!strings.ContainsFunc(id, func(r rune) bool { return r == '+' || unicode.IsSpace(r) || unicode.IsControl(r) })
}

// isKeepable allows the times RFC 3339 can write; the zero time is a forgotten one.
func isKeepable(t time.Time) bool {
	year := t.UTC().Year()
	return !t.IsZero() && year >= 1 && year <= 9999
}

// parsed is a leaf taken apart.
type parsed struct {
	Envelope // without Body
	body     json.RawMessage
	tree     any // body decoded, where it has commitments
	sealed   []commitment
}

// parse takes a leaf apart. It accepts only the bytes that Seal would write:
// the parts are put together again and must give the same leaf, which leaves
// no room for a second spelling, an unknown member or one given twice.
func parse(leaf []byte) (parsed, error) {
	p, personal, err := takeApart(leaf)
	if err != nil {
		return parsed{}, err
	}
	if p.body, err = canonical(p.body); err != nil {
		return parsed{}, err
	}
	if !bytes.Equal(p.leaf(personal, p.body), leaf) {
		return parsed{}, errors.New("record: leaf is not in the one form an entry has")
	}
	return p, p.findCommitments(personal)
}

// takeApart reads a leaf and leaves open whether it is in the one form it may
// have; personal are the paths it lists.
func takeApart(leaf []byte) (p parsed, personal []string, err error) {
	var fields leafFields
	if err := json.Unmarshal(leaf, &fields); err != nil {
		return parsed{}, nil, fmt.Errorf("record: leaf is not an entry: %w", err)
	}
	if fields.Format != formatTag {
		return parsed{}, nil, fmt.Errorf("record: leaf has format %.60q, this program reads %q", fields.Format, formatTag)
	}
	p = parsed{body: fields.Body, Envelope: Envelope{
		Mill: fields.Mill, Seq: fields.Seq, ID: fields.ID, Kind: fields.Kind, Version: fields.Version,
		Subject: fields.Subject, Actor: fields.Actor, Offset: fields.Offset,
	}}
	if p.At, err = time.Parse(timeLayout, fields.At); err != nil {
		return parsed{}, nil, fmt.Errorf("record: leaf: %w", err)
	}
	if fields.Happened != nil && fields.HappenedOffset != nil {
		p.HappenedOffset = *fields.HappenedOffset
		if p.Happened, err = time.Parse(timeLayout, *fields.Happened); err != nil {
			return parsed{}, nil, fmt.Errorf("record: leaf: %w", err)
		}
	}
	if fields.Phone != nil && fields.PhoneOffset != nil {
		p.PhoneOffset = *fields.PhoneOffset
		if p.Phone, err = time.Parse(timeLayout, *fields.Phone); err != nil {
			return parsed{}, nil, fmt.Errorf("record: leaf: %w", err)
		}
	}
	if err := p.check(); err != nil {
		return parsed{}, nil, err
	}
	if len(p.body) == 0 || p.body[0] != '{' {
		return parsed{}, nil, errors.New("record: leaf has no body")
	}
	return p, fields.Personal, nil
}
