package record

import (
	"bytes"
	"cmp"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

// maxExact bounds whole numbers: RFC 8785 reads every number as a double, and
// beyond this one a double no longer holds each whole number.
const maxExact = 1<<53 - 1

// maxDepth stops a body that contains itself.
const maxDepth = 100

// maxRaw is how deep raw JSON goes for which the body around it need not be asked
// whether it goes too deep altogether.
const maxRaw = 1000

// bodyWriter writes a body as canonical JSON with a commitment in place of every
// Personal. It walks the Go value itself instead of marking values for
// encoding/json: a mark inside JSON could be imitated, a type can't.
//
// Members are written in canonical order, but personal fields are counted, and
// salts drawn, in the order in which the structs have them.
type bodyWriter struct {
	out   []byte // what is written so far; the body is not all of it
	path  []byte // JSON pointer to the value being written
	depth int
	deep  bool // it holds raw JSON deeper than maxRaw

	found []personalField // come by so far
	paths []byte          // theirs, one after the other
	runs  []run           // of the structs and maps being written
	swap  []personalField
}

// personalField is a Personal that was come by.
type personalField struct {
	from, until int // of paths
	at          int // of out: where its digest goes
	value       string
}

// run is which personal fields stand in one member.
type run struct{ place, from, until int }

var writers = sync.Pool{New: func() any { return new(bodyWriter) }}

// keptOut bounds what a writer holds on to while nobody writes.
const keptOut = 1 << 18

// release gives the writer to whoever writes next, with nothing of the body in it.
func (w *bodyWriter) release() {
	if cap(w.out) > keptOut {
		return
	}
	clear(w.found[:cap(w.found)]) // personal values
	clear(w.swap[:cap(w.swap)])
	*w = bodyWriter{out: w.out[:0], path: w.path[:0], found: w.found[:0], paths: w.paths[:0], runs: w.runs[:0], swap: w.swap[:0]}
	writers.Put(w)
}

// body writes a body and returns what opens it.
func (w *bodyWriter) body(body any, random io.Reader) ([]Opening, error) {
	v := reflect.ValueOf(body)
	for v.Kind() == reflect.Pointer && !v.IsNil() {
		v = v.Elem()
	}
	if !v.IsValid() || v.Kind() != reflect.Struct && v.Kind() != reflect.Map || speaksForItself(v.Type()) {
		return nil, fmt.Errorf("record: a body is a struct or a map, not %T", body)
	}
	start := len(w.out)
	if err := w.value(planOf(v.Type()), v); err != nil {
		return nil, err
	}
	if w.deep {
		if _, err := canonical(bytes.Clone(w.out[start:])); err != nil {
			return nil, err
		}
	}
	return w.commit(random)
}

func (w *bodyWriter) errorf(format string, args ...any) error {
	return fmt.Errorf("record: body at %q: %w", w.path, fmt.Errorf(format, args...))
}

func (w *bodyWriter) value(p *plan, v reflect.Value) error { return p.write(w, p, v) }

// at writes v, which the path was made to lead to; before is how long it was.
func (w *bodyWriter) at(before int, p *plan, v reflect.Value) error {
	if w.depth++; w.depth > maxDepth {
		return w.errorf("more than %d levels deep", maxDepth)
	}
	err := p.write(w, p, v)
	w.depth--
	w.path = w.path[:before]
	return err
}

// within writes what v points at or holds; a pointer to itself takes no step on
// the path.
func (w *bodyWriter) within(p *plan, v reflect.Value) error {
	if w.depth++; w.depth > maxDepth {
		return w.errorf("more than %d levels deep", maxDepth)
	}
	defer func() { w.depth-- }()
	if !v.IsValid() {
		w.out = append(w.out, "null"...)
		return nil
	}
	if p == nil {
		p = planOf(v.Type())
	}
	return p.write(w, p, v)
}

func (w *bodyWriter) pointer(p *plan, v reflect.Value) error { return w.within(p.elem, v.Elem()) }

func (w *bodyWriter) held(_ *plan, v reflect.Value) error { return w.within(nil, v.Elem()) }

func (w *bodyWriter) refused(p *plan, _ reflect.Value) error { return w.errorf("%w", p.err) }

func (w *bodyWriter) truth(_ *plan, v reflect.Value) error {
	w.out = strconv.AppendBool(w.out, v.Bool())
	return nil
}

func (w *bodyWriter) whole(_ *plan, v reflect.Value) error {
	n := v.Int()
	if n > maxExact || n < -maxExact {
		return w.errorf("%d can't be kept exactly as a number, only as text", n)
	}
	w.out = strconv.AppendInt(w.out, n, 10)
	return nil
}

func (w *bodyWriter) unsigned(_ *plan, v reflect.Value) error {
	n := v.Uint()
	if n > maxExact {
		return w.errorf("%d can't be kept exactly as a number, only as text", n)
	}
	w.out = strconv.AppendUint(w.out, n, 10)
	return nil
}

// float writes a number as RFC 8785 section 3.2.2.3 has it: of that size as
// strconv does.
func (w *bodyWriter) float(p *plan, v reflect.Value) error {
	f := v.Float()
	size := math.Abs(f)
	switch {
	case math.IsNaN(f) || math.IsInf(f, 0):
		return w.errorf("%v is not a number JSON knows", f)
	case f == 0:
		w.out = append(w.out, '0')
	case p.t.Bits() == 64 && size >= 1e-6 && size < 1e21:
		w.out = strconv.AppendFloat(w.out, f, 'f', -1, 64)
	default:
		text, err := canonical(strconv.AppendFloat(nil, f, 'g', -1, p.t.Bits()))
		if err != nil {
			return w.errorf("%w", err)
		}
		w.out = append(w.out, text...)
	}
	return nil
}

func (w *bodyWriter) words(_ *plan, v reflect.Value) error {
	w.text(v.String())
	return nil
}

// text writes s; bytes that are not UTF-8 become U+FFFD.
func (w *bodyWriter) text(s string) { w.out = quoted(w.out, s) }

// quoted appends s as canonical JSON; bytes that are not UTF-8 become U+FFFD.
func quoted(to []byte, s string) []byte {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c == '"' || c == '\\' || c >= utf8.RuneSelf {
			to, _ = jsontext.AppendQuote(to, s) // its error tells of such bytes only
			return to
		}
	}
	return append(append(append(to, '"'), s...), '"')
}

func (w *bodyWriter) bytes(_ *plan, v reflect.Value) error {
	if v.IsNil() {
		w.out = append(w.out, "null"...)
		return nil
	}
	w.out = append(base64.StdEncoding.AppendEncode(append(w.out, '"'), v.Bytes()), '"')
	return nil
}

func (w *bodyWriter) list(p *plan, v reflect.Value) error {
	if v.Kind() == reflect.Slice && v.IsNil() {
		w.out = append(w.out, "null"...)
		return nil
	}
	w.out = append(w.out, '[')
	for i := range v.Len() {
		if i > 0 {
			w.out = append(w.out, ',')
		}
		before := len(w.path)
		w.path = strconv.AppendInt(append(w.path, '/'), int64(i), 10)
		if err := w.at(before, p.elem, v.Index(i)); err != nil {
			return err
		}
	}
	w.out = append(w.out, ']')
	return nil
}

// structure writes a struct by the rules of encoding/json, which [Decode]
// reads it with: of two fields of one name the one inside fewer embedded
// structs counts, which is how a body makes a field of a domain type personal.
// But a Personal is never left out, and what those rules settle quietly (two
// fields of one name side by side, numbers as text) is refused.
func (w *bodyWriter) structure(p *plan, v reflect.Value) error {
	if p.err != nil {
		return w.refused(p, v)
	}
	w.out = append(w.out, '{')
	start, runs := len(w.out), len(w.runs)
	for i := range p.fields {
		f := &p.fields[i]
		value, there, err := f.of(v)
		if err != nil {
			return w.errorf("%w", err)
		}
		if !there || f.leaves(value) {
			continue
		}
		w.out = append(w.out, f.label...)
		before, found := len(w.path), len(w.found)
		w.path = append(w.path, f.step...)
		if err := w.at(before, f.plan, value); err != nil {
			return err
		}
		w.member(f.place, found)
	}
	w.endObject(start, runs)
	return nil
}

// mapping writes a map with text or whole numbers as keys, sorted. A key stays
// readable in the leaf, so a Personal, which speaks for itself, can't be one.
func (w *bodyWriter) mapping(p *plan, v reflect.Value) error {
	key := v.Type().Key()
	if speaksForItself(key) {
		return w.errorf("a map key can't be a %s", key)
	}
	if v.IsNil() {
		w.out = append(w.out, "null"...)
		return nil
	}
	members, err := w.members(v)
	if err != nil {
		return err
	}
	w.out = append(w.out, '{')
	start, runs := len(w.out), len(w.runs)
	for _, m := range members {
		w.text(m.name)
		w.out = append(w.out, ':')
		before, found := len(w.path), len(w.found)
		w.path = append(append(w.path, '/'), escaped(m.name)...)
		if err := w.at(before, p.elem, m.value); err != nil {
			return err
		}
		w.member(m.place, found)
	}
	w.endObject(start, runs)
	return nil
}

// mapMember is one entry of a map and its place by the bytes of its name.
type mapMember struct {
	name  string
	place int
	value reflect.Value
}

// members are the entries of a map in canonical order.
func (w *bodyWriter) members(v reflect.Value) ([]mapMember, error) {
	members := make([]mapMember, 0, v.Len())
	ascii := true
	for entries := v.MapRange(); entries.Next(); {
		m := mapMember{value: entries.Value()}
		switch k := entries.Key(); {
		case k.Kind() == reflect.String:
			m.name = valid(k.String())
			ascii = ascii && isASCII(m.name)
		case k.CanInt():
			m.name = strconv.FormatInt(k.Int(), 10)
		case k.CanUint():
			m.name = strconv.FormatUint(k.Uint(), 10)
		default:
			return nil, w.errorf("a map key can't be a %s", v.Type().Key())
		}
		members = append(members, m)
	}
	slices.SortFunc(members, func(a, b mapMember) int { return strings.Compare(a.name, b.name) })
	for i := range members {
		members[i].place = i
		if i > 0 && members[i].name == members[i-1].name {
			return nil, w.errorf("duplicate name %.60q in a map", members[i].name)
		}
	}
	if !ascii {
		slices.SortStableFunc(members, func(a, b mapMember) int { return compareUTF16(a.name, b.name) })
	}
	return members, nil
}

// member ends a member of an object that has the place among its like, and in
// which the personal fields stand that were come by since.
func (w *bodyWriter) member(place, since int) {
	w.out = append(w.out, ',')
	if len(w.found) > since {
		w.runs = append(w.runs, run{place, since, len(w.found)})
	}
}

// endObject ends an object whose members begin at start, and puts the personal
// fields in it into the order of their places.
func (w *bodyWriter) endObject(start, first int) {
	if len(w.out) == start {
		w.out = append(w.out, '}')
	} else {
		w.out[len(w.out)-1] = '}' // in place of the last comma
	}
	runs := w.runs[first:]
	byPlace := func(a, b run) int { return cmp.Compare(a.place, b.place) }
	if !slices.IsSortedFunc(runs, byPlace) {
		from := runs[0].from
		slices.SortFunc(runs, byPlace)
		w.swap = w.swap[:0]
		for _, r := range runs {
			w.swap = append(w.swap, w.found[r.from:r.until]...)
		}
		copy(w.found[from:], w.swap)
	}
	w.runs = w.runs[:first]
}

// time writes a time, by far the most of what brings its own JSON; no number
// stands in one.
func (w *bodyWriter) time(_ *plan, v reflect.Value) error {
	at := timeIn(v)
	if at == (time.Time{}) {
		w.out = append(w.out, `"0001-01-01T00:00:00Z"`...)
		return nil
	}
	text, err := at.AppendText(append(w.out, '"'))
	if err != nil {
		return w.errorf("%w", err)
	}
	w.out = append(text, '"')
	return nil
}

// spoken writes a value that brings its own JSON or text: a state with a name, raw
// JSON. It is plain data whatever it looks like; a type with a Personal anywhere
// inside is refused, since its own words would show it.
func (w *bodyWriter) spoken(p *plan, v reflect.Value) error {
	if reaches(p.t, personalType, map[reflect.Type]bool{}) {
		return w.errorf("%s writes its own JSON and holds a personal field", p.t)
	}
	own := reflect.New(p.t)
	own.Elem().Set(v)
	raw, err := json.Marshal(own.Interface())
	if err != nil {
		return w.errorf("%w", err)
	}
	return w.raw(raw)
}

func (w *bodyWriter) digits(_ *plan, v reflect.Value) error {
	return w.raw([]byte(cmp.Or(v.String(), "0")))
}

// raw writes one finished JSON value once its whole numbers are seen to be exact;
// text is used up.
func (w *bodyWriter) raw(text []byte) error {
	if !json.Valid(text) {
		return w.errorf("%.60q is not JSON", text)
	}
	tokens := json.NewDecoder(bytes.NewReader(text))
	tokens.UseNumber()
	depth := 0
	for {
		token, err := tokens.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return w.errorf("%w", err)
		}
		if delim, ok := token.(json.Delim); ok {
			if depth++; delim == '}' || delim == ']' {
				depth -= 2
			}
			w.deep = w.deep || depth > maxRaw
		}
		number, ok := token.(json.Number)
		if !ok || strings.ContainsAny(number.String(), ".eE") {
			continue
		}
		if whole, err := number.Int64(); err != nil || whole > maxExact || whole < -maxExact {
			return w.errorf("%.40s can't be kept exactly as a number, only as text", number)
		}
	}
	own, err := canonical(text)
	if err != nil {
		return w.errorf("%w", err)
	}
	w.out = append(w.out, own...)
	return nil
}

// valid is s with U+FFFD for each byte that is not UTF-8.
func valid(s string) string {
	if utf8.ValidString(s) {
		return s
	}
	return string([]rune(s))
}

// escaped is a member's name as a step of a JSON pointer (RFC 6901 section 3).
func escaped(step string) string {
	if !strings.ContainsAny(step, "~/") {
		return step
	}
	return strings.ReplaceAll(strings.ReplaceAll(step, "~", "~0"), "/", "~1")
}
