package record

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"hash/maphash"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"
)

// Nearly every entry of a record is one of a few hundred forms: the same text but
// for ids, times, numbers, digests and its own place. What [parse]
// finds of a leaf is the same for all leaves of a form, so it need be asked of one.
// Verify knows a leaf by its form only where everything about it is right; any
// other is taken apart, and told of, as if there were no forms.

// Checks are what [VerifyBy] asks of whoever keeps the entries.
type Checks struct {
	// Each looks at one entry.
	Each Check

	// Learn says what Alike is to be told of entries of e's form; nil has each of
	// them go to Each. In e stand made-up ids in place of its own, the same for the
	// same, and "" for each personal value.
	Learn func(e Entry, ids []string) any

	// Alike looks at an entry of a form that was learned; ids are those in place of
	// the made-up ones. False has it go to Each, which finds what is wrong with it;
	// nothing of the row may be kept.
	Alike func(row Row, learned any, ids [][]byte) (sound bool)

	// Opaque are, by kind, members of bodies that Learn doesn't look into: objects
	// without a personal value.
	Opaque map[string][]string
}

// form is what leaves have in common that differ in their slots alone.
type form struct {
	slots                    int
	id, mill, subject, actor formText
	kind                     string
	version                  int
	at, happened             int // slots, -1 for none
	seq                      int
	offset, happenedOffset   int
	paths                    []string // of personal values, sorted
	digests                  []int    // the slot of each
	learned                  any
}

// formText is a text of the form: an id that differs, or the same in all.
type formText struct {
	id   int // -1: the text
	text string
}

func (f formText) is(text string, ids [][]byte) bool {
	if f.id < 0 {
		return f.text == text
	}
	return string(ids[f.id]) == text
}

// slot is a place in a leaf where others of its form have something else.
type slot struct {
	sort       byte
	start, end int
}

// The sorts of slots, as they stand in the key of a form. No JSON text has such
// bytes in it; a leaf that does has fewer slots than its key.
const (
	slotID       = 1 + iota // with the place among the different ids of the leaf
	slotPhoto               // a digest in hexadecimal, likewise
	slotTime                // with the digits of the second's fraction, and the zone as it stands
	slotDigest              // of a personal value
	slotSeq                 // the entry's own place
	slotWhole               // a whole number in the body
	slotNegative            // a whole number below 0 there
	slotFraction            // any other
	slotOpaque              // an object that is not looked into
)

// formsMost bounds the keys of forms that are known, in bytes; what is known of
// them takes about as much again.
const formsMost = 16 << 20

// idsMost is how many different ids a leaf with a form may have.
const idsMost = 64

// forms are those come by.
type forms struct {
	known  map[string]*form
	once   map[uint64]struct{} // hashes of the keys that were come by once
	seed   maphash.Seed
	size   int      // of the keys
	ids    []string // made up, to learn by
	photos []string // digests made up
	opaque map[string][]string

	// Of the leaf looked at last.
	masked  bool // it has a key
	from    int  // what of it stands in the key
	key     []byte
	slots   []slot
	own     [][]byte // its different ids
	message []byte
	days    map[int64]string // local dates by their number of days since 1970
}

func newForms(opaque map[string][]string) *forms {
	f := &forms{opaque: opaque, known: map[string]*form{}, once: map[uint64]struct{}{}, seed: maphash.MakeSeed(), days: map[int64]string{}}
	for range idsMost {
		id := uuid.Must(uuid.NewV7FromReader(rand.Reader)) // nobody can have it stand in a leaf
		f.ids = append(f.ids, id.String())
		f.photos = append(f.photos, hex.EncodeToString(slices.Concat(id[:], id[:])))
	}
	return f
}

// of is the form of leaf, nil where it is not known.
func (f *forms) of(leaf []byte) *form {
	if f.masked = f.mask(leaf); !f.masked {
		return nil
	}
	found := f.known[string(f.key)]
	if found == nil || found.slots != len(f.slots) {
		return nil
	}
	return found
}

// mask makes the key of a leaf's form and finds its slots. What follows a string
// that was found to be a slot is part of the key, so that a name of a member is
// never one.
func (f *forms) mask(leaf []byte) bool {
	f.key, f.slots, f.own, f.from = f.key[:0], f.slots[:0], f.own[:0], 0
	body := endOfBody(leaf)
	if body < 0 {
		return false
	}
	opaque := f.opaqueIn(leaf[body:])
	seq := bytes.Index(leaf[body:], []byte(seqMember))
	if seq < 0 {
		return false
	}
	seq += body
	for at := 0; ; {
		if seq >= 0 && at > seq { // the member's name was gone past
			start := seq + len(seqMember)
			end := start
			for end < len(leaf) && '0' <= leaf[end] && leaf[end] <= '9' {
				end++
			}
			if sortOfNumber(leaf[start:end]) != slotWhole {
				return false
			}
			f.put(leaf, slotSeq, start, end)
			seq, at = -1, end
		}
		quote := bytes.IndexByte(leaf[at:], '"')
		if quote < 0 {
			break
		}
		if quote > 1 && at < body && !f.numbers(leaf, at, at+quote) {
			return false
		}
		start := at + quote + 1
		end := endOfString(leaf, start)
		if end < 0 {
			return false
		}
		at = end + 1
		if at < len(leaf) && leaf[at] == ':' {
			if opaque != nil && at < body && at+1 < len(leaf) && leaf[at+1] == '{' && slices.Contains(opaque, string(leaf[start:end])) {
				if start, end = at+1, endOfObject(leaf, at+1); end < 0 || !isCanonical(leaf[start:end]) {
					return false
				}
				f.put(leaf, slotOpaque, start, end)
				at = end
			}
			continue
		}
		if !f.text(leaf, start, end) {
			return false
		}
	}
	f.key = append(f.key, leaf[f.from:]...)
	return seq == -1
}

// endOfBody is where the member after the body begins: the last of its name in the
// leaf, since quotes in a string are escaped and no member after it holds another.
func endOfBody(leaf []byte) int {
	const member = `,"format":"`
	for at := len(leaf) - len(member); at >= 0; at-- {
		if leaf[at] == ',' && leaf[at+2] == 'f' && string(leaf[at:at+len(member)]) == member {
			return at
		}
	}
	return -1
}

// opaqueIn are the members that are not looked into in a leaf, by its kind: rest is
// what comes after its body.
func (f *forms) opaqueIn(rest []byte) []string {
	const member = `,"kind":"`
	if len(f.opaque) == 0 {
		return nil
	}
	if at := bytes.Index(rest, []byte(member)); at >= 0 {
		kind, _, _ := bytes.Cut(rest[at+len(member):], []byte(`"`))
		return f.opaque[string(kind)]
	}
	return nil
}

// put ends the text so far with a slot in place of what stands there.
func (f *forms) put(leaf []byte, sort byte, start, end int, more ...byte) {
	f.key = append(append(append(f.key, leaf[f.from:start]...), sort), more...)
	f.slots = append(f.slots, slot{sort, start, end})
	f.from = end
}

// text makes a slot of a string that is one.
func (f *forms) text(leaf []byte, start, end int) bool {
	text := leaf[start:end]
	switch n := len(text); {
	case n == 36 && text[8] == '-' && isID(text):
		return f.owned(leaf, slotID, start, end)
	case n == 2*sha256.Size && isHex(text):
		return f.owned(leaf, slotPhoto, start, end)
	case n >= 20 && n <= 35 && text[4] == '-' && text[10] == 'T':
		if _, fraction, ok := moment(text); ok {
			f.put(leaf, slotTime, start, end, byte(fraction))
			f.key = append(f.key, text[19+fraction:]...)
		}
	case n == len(digestPrefix)+2*sha256.Size && bytes.HasSuffix(leaf[:start], []byte(`{"sealed":"`)) &&
		string(text[:len(digestPrefix)]) == digestPrefix && isHex(text[len(digestPrefix):]):
		f.put(leaf, slotDigest, start, end)
	}
	return true
}

// owned makes a slot of an id.
func (f *forms) owned(leaf []byte, sort byte, start, end int) bool {
	i := slices.IndexFunc(f.own, func(id []byte) bool { return string(id) == string(leaf[start:end]) })
	if i < 0 {
		if i = len(f.own); i == idsMost {
			return false
		}
		f.own = append(f.own, leaf[start:end])
	}
	f.put(leaf, sort, start, end, byte(i))
	return true
}

// numbers makes slots of the numbers between two strings.
func (f *forms) numbers(leaf []byte, from, to int) bool {
	for at := from; at < to; at++ {
		if c := leaf[at]; c != '-' && (c < '0' || c > '9') {
			continue
		}
		end := at + 1
		for end < to && inNumber[leaf[end]] {
			end++
		}
		sort := sortOfNumber(leaf[at:end])
		if sort == 0 {
			return false
		}
		f.put(leaf, sort, at, end)
		at = end
	}
	return true
}

var inNumber = func() (is [256]bool) {
	for _, c := range "0123456789+-.eE" {
		is[c] = true
	}
	return is
}()

// sortOfNumber is the sort of slot for a number as it stands in canonical JSON,
// 0 for one that doesn't or is not told here.
func sortOfNumber(text []byte) byte {
	digits, sort := text, byte(slotWhole)
	if len(text) > 0 && text[0] == '-' {
		digits, sort = text[1:], slotNegative
	}
	n := len(digits)
	if n == 0 || n > 1 && digits[0] == '0' && digits[1] != '.' || sort == slotNegative && n == 1 && digits[0] == '0' {
		return 0
	}
	for _, c := range digits {
		if c < '0' || c > '9' {
			sort = slotFraction
			break
		}
	}
	if sort != slotFraction {
		if n > 15 {
			return 0
		}
		return sort
	}
	// RFC 8785 writes numbers of this size as strconv does, but for exponents.
	value, err := strconv.ParseFloat(string(text), 64)
	if size := math.Abs(value); err != nil || size < 1e-6 || size >= 1e21 {
		return 0
	}
	var again [32]byte
	if string(strconv.AppendFloat(again[:0], value, 'f', -1, 64)) != string(text) {
		return 0
	}
	return slotFraction
}

// endOfObject is where the object that begins at start is over.
func endOfObject(leaf []byte, start int) int {
	depth := 0
	for at := start; at < len(leaf); at++ {
		switch leaf[at] {
		case '{':
			depth++
		case '}':
			if depth--; depth == 0 {
				return at + 1
			}
		case '"':
			if at = endOfString(leaf, at+1); at < 0 {
				return -1
			}
		}
	}
	return -1
}

func isCanonical(text []byte) bool {
	again, err := canonical(bytes.Clone(text))
	return err == nil && bytes.Equal(again, text)
}

// seqMember begins the place of an entry in its leaf, after the body.
const seqMember = `,"seq":`

// endOfString is where the string that begins at start has its closing quote.
func endOfString(leaf []byte, start int) int {
	for at := start; ; {
		quote := bytes.IndexByte(leaf[at:], '"')
		if quote < 0 {
			return -1
		}
		at += quote
		slashes := 0
		for at-slashes > start && leaf[at-slashes-1] == '\\' {
			slashes++
		}
		if slashes%2 == 0 {
			return at
		}
		at++
	}
}

func isID(text []byte) bool {
	if text[14] != '7' || text[13] != '-' || text[18] != '-' || text[23] != '-' {
		return false
	}
	switch text[19] {
	case '8', '9', 'a', 'b':
	default:
		return false
	}
	return isHex(text[:8]) && isHex(text[9:13]) && isHex(text[15:18]) && isHex(text[20:23]) && isHex(text[24:])
}

// isHex allows digits and lowercase letters.
func isHex(text []byte) bool {
	for _, c := range text {
		if !hexDigits[c] {
			return false
		}
	}
	return true
}

var hexDigits = func() (is [256]bool) {
	for _, c := range "0123456789abcdef" {
		is[c] = true
	}
	return is
}()

// moment reads a time as RFC 3339 has it, in milliseconds since 1970 and cut to
// them, with the length of the second's fraction. Those that Go's own reading or
// writing might take otherwise are left alone: of before 1970, the 60th second.
func moment(text []byte) (ms int64, fraction int, ok bool) {
	if text[4] != '-' || text[7] != '-' || text[10] != 'T' || text[13] != ':' || text[16] != ':' {
		return 0, 0, false
	}
	number := func(from, to int) int {
		n := 0
		for _, c := range text[from:to] {
			if c < '0' || c > '9' {
				return math.MinInt32
			}
			n = 10*n + int(c-'0')
		}
		return n
	}
	year, month, day := number(0, 4), number(5, 7), number(8, 10)
	hour, minute, second := number(11, 13), number(14, 16), number(17, 19)
	if year < 1970 || month < 1 || month > 12 || day < 1 || day > 28 && day > daysIn(year, month) ||
		hour < 0 || hour > 23 || minute < 0 || minute > 59 || second < 0 || second > 59 {
		return 0, 0, false
	}
	rest := text[19:]
	if len(rest) > 1 && rest[0] == '.' {
		fraction = 1
		for scale := int64(100); fraction < len(rest) && '0' <= rest[fraction] && rest[fraction] <= '9'; fraction++ {
			ms += scale * int64(rest[fraction]-'0')
			scale /= 10
		}
		if fraction == 1 || fraction > 10 {
			return 0, 0, false
		}
		rest = rest[fraction:]
	}
	ms += 1000 * (int64(daysTo(year, month, day))*86400 + int64(hour*3600+minute*60+second))
	if len(rest) == 1 && rest[0] == 'Z' {
		return ms, fraction, true
	}
	if len(rest) != 6 || rest[0] != '+' && rest[0] != '-' || rest[3] != ':' {
		return 0, 0, false
	}
	at := len(text) - 6
	ahead, and := number(at+1, at+3), number(at+4, at+6)
	if ahead < 0 || ahead > 23 || and < 0 || and > 59 {
		return 0, 0, false
	}
	away := int64(60*ahead+and) * 60_000
	if rest[0] == '-' {
		away = -away
	}
	return ms - away, fraction, true
}

func leap(year int) bool { return year%4 == 0 && (year%100 != 0 || year%400 == 0) }

func daysIn(year, month int) int {
	if month == 2 && leap(year) {
		return 29
	}
	return [...]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[month-1]
}

// daysTo counts the days from 1970 to a date not before it.
func daysTo(year, month, day int) int {
	before := [...]int{0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334}[month-1]
	if month > 2 && leap(year) {
		before++
	}
	y := year - 1
	return 365*(year-1970) + y/4 - y/100 + y/400 - (1969/4 - 1969/100 + 1969/400) + before + day - 1
}

// come takes note of a sound leaf whose form was not known: the second of a form
// has it learned, since most of those come by once don't come by again. It must
// follow of with the same leaf.
func (f *forms) come(leaf []byte, p parsed, learn func(Entry, []string) any) {
	if f == nil || !f.masked || len(f.key) > formsMost/16 {
		return
	}
	hash := maphash.Bytes(f.seed, f.key)
	if _, before := f.once[hash]; !before {
		if len(f.once) >= 1<<16 {
			clear(f.once)
		}
		f.once[hash] = struct{}{}
		return
	}
	if f.known[string(f.key)] != nil {
		return
	}
	made := f.make(leaf, p, learn)
	if made == nil {
		return
	}
	if f.size += len(f.key); f.size > formsMost {
		clear(f.known)
		f.size = len(f.key)
	}
	f.known[string(f.key)] = made
}

// make makes the form of a leaf that was parsed and masked, nil where it can't be
// told from what such leaves have in common.
func (f *forms) make(leaf []byte, p parsed, learn func(Entry, []string) any) *form {
	var text []byte
	from, ids := 0, slices.Clone(f.ids[:len(f.own)])
	for _, s := range f.slots {
		switch s.sort {
		case slotID, slotPhoto:
			own := slices.IndexFunc(f.own, func(id []byte) bool { return string(id) == string(leaf[s.start:s.end]) })
			if s.sort == slotPhoto {
				ids[own] = f.photos[own]
			}
			text = append(append(text, leaf[from:s.start]...), ids[own]...)
		case slotOpaque:
			text = append(append(text, leaf[from:s.start]...), "{}"...)
		default:
			continue
		}
		from = s.end
	}
	text = append(text, leaf[from:]...)
	with, err := parse(text)
	if err != nil {
		return nil
	}
	of := func(value string) formText { return formText{slices.Index(ids, value), value} }
	made := &form{slots: len(f.slots), id: of(with.ID), mill: of(with.Mill), subject: of(with.Subject), actor: of(with.Actor),
		kind: p.Kind, version: p.Version, offset: p.Offset, happenedOffset: p.HappenedOffset,
		at: f.slotAfter(leaf, slotTime, bytes.Index(leaf, []byte(`,"at":"`)), `,"at":"`), happened: -1,
		seq: slices.IndexFunc(f.slots, func(s slot) bool { return s.sort == slotSeq })}
	if !p.Happened.IsZero() {
		const member = `,"happened":"`
		body := endOfBody(leaf)
		if made.happened = f.slotAfter(leaf, slotTime, body+bytes.Index(leaf[body:], []byte(member)), member); made.happened < 0 {
			return nil
		}
	}
	if made.id.id < 0 || made.at < 0 || made.seq < 0 {
		return nil
	}
	values := make(map[string]string, len(p.sealed))
	for _, c := range p.sealed {
		digits := digestPrefix + hex.EncodeToString(c.digest[:])
		i := slices.IndexFunc(f.slots, func(s slot) bool { return s.sort == slotDigest && string(leaf[s.start:s.end]) == digits })
		if i < 0 || slices.Contains(made.digests, i) {
			return nil
		}
		made.paths, made.digests = append(made.paths, c.path), append(made.digests, i)
		values[c.path] = ""
	}
	if learn != nil {
		e, err := with.entry(values, unmarked)
		if err != nil {
			return nil
		}
		made.learned = learn(e, ids)
	}
	return made
}

// slotAfter is the slot of a sort that follows a member's name at a place.
func (f *forms) slotAfter(leaf []byte, sort byte, at int, name string) int {
	if at < 0 {
		return -1
	}
	return slices.IndexFunc(f.slots, func(s slot) bool { return s.sort == sort && s.start == at+len(name) })
}

// sound tells whether a row is what its leaf, of that form and looked at last, says.
func (f *forms) sound(row Row, of *form, mill string) bool {
	c := &row.Columns
	leaf := row.Leaf
	if !of.mill.is(mill, f.own) || !of.id.is(c.ID, f.own) || of.kind != c.Kind || of.version != c.Version ||
		!of.subject.is(c.Subject, f.own) || !of.actor.is(c.Actor, f.own) || of.offset != c.Offset || of.happenedOffset != c.HappenedOffset {
		return false
	}
	seq := int64(0)
	for _, digit := range leaf[f.slots[of.seq].start:f.slots[of.seq].end] {
		seq = 10*seq + int64(digit-'0')
	}
	if seq != row.Seq {
		return false
	}
	ms, _, _ := moment(leaf[f.slots[of.at].start:f.slots[of.at].end])
	if ms != c.At.UnixMilli() {
		return false
	}
	offset := of.offset
	if of.happened >= 0 {
		ms, _, _ = moment(leaf[f.slots[of.happened].start:f.slots[of.happened].end])
		if c.Happened.IsZero() || ms != c.Happened.UnixMilli() {
			return false
		}
		offset = of.happenedOffset
	} else if !c.Happened.IsZero() {
		return false
	}
	return f.day(ms, offset) == c.Day && f.open(row, of)
}

// day is the local date at a moment.
func (f *forms) day(ms int64, offset int) string {
	const aDay = 24 * 60 * 60_000
	ms += int64(offset) * 60_000
	if ms < 0 {
		return ""
	}
	day, known := f.days[ms/aDay]
	if !known {
		if len(f.days) > 1<<14 {
			clear(f.days)
		}
		day = time.UnixMilli(ms).UTC().Format(time.DateOnly)
		f.days[ms/aDay] = day
	}
	return day
}

// open tells whether the row has an opening that fits for each personal value, in
// the order of the paths, and no other.
func (f *forms) open(row Row, of *form) bool {
	if len(row.Openings) != len(of.paths) {
		return false
	}
	for i := range row.Openings {
		o := &row.Openings[i]
		if o.Path != of.paths[i] || len(o.Salt) != saltSize {
			return false
		}
		f.message = append(append(append(f.message[:0], commitmentDomain...), o.Salt...), o.Value...)
		s := f.slots[of.digests[i]]
		digest := sha256.Sum256(f.message)
		var digits [2 * sha256.Size]byte
		hex.Encode(digits[:], digest[:])
		if string(row.Leaf[s.start+len(digestPrefix):s.end]) != string(digits[:]) {
			return false
		}
	}
	return true
}

// alike tells whether a row is sound as others of its form are.
func (v *verifier) alike(row Row) bool {
	if v.forms == nil {
		return false
	}
	of := v.forms.of(row.Leaf)
	if of == nil || !v.forms.sound(row, of, v.head.Mill) {
		return false
	}
	if v.checks.Each != nil && (of.learned == nil || !v.checks.Alike(row, of.learned, v.forms.own)) {
		return false
	}
	v.report.FieldsOpen += int64(len(row.Openings))
	return true
}
