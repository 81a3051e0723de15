package record

import (
	"bytes"
	"cmp"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/go-json-experiment/json/jsontext"
	"golang.org/x/mod/sumdb/tlog"
)

// firstSeal is [Seal] as it was at first. Records written by it are read for ever,
// so what is sealed now is held against it.
func firstSeal(e Envelope, random io.Reader) (Sealed, error) {
	e.At, e.Happened, e.Phone = e.At.UTC().Truncate(time.Millisecond), e.Happened.UTC().Truncate(time.Millisecond), e.Phone.UTC().Truncate(time.Millisecond)
	if err := e.check(); err != nil {
		return Sealed{}, err
	}
	body, openings, err := firstBody(e.Body, random)
	if err != nil {
		return Sealed{}, err
	}
	var personal []string
	for _, opening := range openings {
		personal = append(personal, opening.Path)
	}
	slices.Sort(personal)
	fields := leafFields{
		Format: formatTag, Mill: e.Mill, Seq: e.Seq, ID: e.ID, Kind: e.Kind, Version: e.Version,
		Subject: e.Subject, Actor: e.Actor,
		At: e.At.Format(timeLayout), Offset: e.Offset,
		Personal: personal, Body: body,
	}
	if !e.Happened.IsZero() {
		happened := e.Happened.Format(timeLayout)
		fields.Happened, fields.HappenedOffset = &happened, &e.HappenedOffset
	}
	if !e.Phone.IsZero() {
		phone := e.Phone.Format(timeLayout)
		fields.Phone, fields.PhoneOffset = &phone, &e.PhoneOffset
	}
	if fields.Body, err = canonical(body); err != nil {
		return Sealed{}, err
	}
	leaf, err := json.Marshal(fields)
	if err != nil {
		return Sealed{}, err
	}
	if leaf, err = canonical(leaf); err != nil {
		return Sealed{}, err
	}
	return Sealed{Leaf: leaf, Openings: openings, Hash: tlog.RecordHash(leaf)}, nil
}

// firstWriter is how bodies were written at first: in the order of their structs,
// asking each value what it is, and made canonical as a whole afterwards.
type firstWriter struct {
	out      bytes.Buffer
	random   io.Reader
	path     []byte // JSON pointer to the value being written
	depth    int
	openings []Opening
}

// firstBody returns body as JSON, not yet canonical, and what opens it.
func firstBody(body any, random io.Reader) ([]byte, []Opening, error) {
	v := reflect.ValueOf(body)
	for v.Kind() == reflect.Pointer && !v.IsNil() {
		v = v.Elem()
	}
	if !v.IsValid() || v.Kind() != reflect.Struct && v.Kind() != reflect.Map || speaksForItself(v.Type()) {
		return nil, nil, fmt.Errorf("record: a body is a struct or a map, not %T", body)
	}
	w := firstWriter{random: random}
	if err := w.value(v); err != nil {
		return nil, nil, err
	}
	return w.out.Bytes(), w.openings, nil
}

func (w *firstWriter) errorf(format string, args ...any) error {
	return fmt.Errorf("record: body at %q: %w", w.path, fmt.Errorf(format, args...))
}

// at writes v with one more step on the path.
func (w *firstWriter) at(step string, v reflect.Value) error {
	before := len(w.path)
	w.path = append(w.path, '/')
	w.path = append(w.path, escaped(step)...)
	w.depth++
	if w.depth > maxDepth {
		return w.errorf("more than %d levels deep", maxDepth)
	}
	err := w.value(v)
	w.depth--
	w.path = w.path[:before]
	return err
}

func (w *firstWriter) value(v reflect.Value) error {
	if !v.IsValid() {
		w.out.WriteString("null")
		return nil
	}
	t := v.Type()
	switch {
	case t == reflect.TypeFor[Personal]():
		return w.personal(v.String())
	case t == reflect.TypeFor[*Personal]() && v.IsNil():
		return w.personal("")
	case t.Kind() == reflect.Pointer, t.Kind() == reflect.Interface:
		if w.depth++; w.depth > maxDepth { // a pointer to itself takes no step on the path
			return w.errorf("more than %d levels deep", maxDepth)
		}
		defer func() { w.depth-- }()
		return w.value(v.Elem())
	case t == reflect.TypeFor[json.Number]():
		return w.raw([]byte(cmp.Or(v.String(), "0")))
	case speaksForItself(t):
		return w.spoken(v)
	}
	switch t.Kind() {
	case reflect.Bool:
		w.out.WriteString(strconv.FormatBool(v.Bool()))
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		if v.Int() > maxExact || v.Int() < -maxExact {
			return w.errorf("%d can't be kept exactly as a number, only as text", v.Int())
		}
		w.out.WriteString(strconv.FormatInt(v.Int(), 10))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Uintptr:
		if v.Uint() > maxExact {
			return w.errorf("%d can't be kept exactly as a number, only as text", v.Uint())
		}
		w.out.WriteString(strconv.FormatUint(v.Uint(), 10))
	case reflect.Float32, reflect.Float64:
		if math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0) {
			return w.errorf("%v is not a number JSON knows", v.Float())
		}
		w.out.WriteString(strconv.FormatFloat(v.Float(), 'g', -1, t.Bits()))
	case reflect.String:
		w.text(v.String())
	case reflect.Slice, reflect.Array:
		return w.list(v)
	case reflect.Map:
		return w.mapping(v)
	case reflect.Struct:
		return w.structure(v)
	default:
		return w.errorf("a %s can't be kept", t)
	}
	return nil
}

// personal writes the commitment to value and keeps its opening. Bytes that
// are not UTF-8 become U+FFFD, as they do in every other string of the leaf.
func (w *firstWriter) personal(value string) error {
	opening := Opening{Path: string(w.path), Salt: make([]byte, saltSize), Value: string([]rune(value))}
	if _, err := io.ReadFull(w.random, opening.Salt); err != nil {
		return err
	}
	digest := opening.digest()
	w.openings = append(w.openings, opening)
	w.out.WriteString(`{"sealed":"` + digestPrefix + hex.EncodeToString(digest[:]) + `"}`)
	return nil
}

// text writes s; bytes that are not UTF-8 become U+FFFD.
func (w *firstWriter) text(s string) {
	quoted, _ := jsontext.AppendQuote(w.out.AvailableBuffer(), s) // its error tells of such bytes only
	w.out.Write(quoted)
}

func (w *firstWriter) list(v reflect.Value) error {
	if v.Kind() == reflect.Slice && v.IsNil() {
		w.out.WriteString("null")
		return nil
	}
	if v.Kind() == reflect.Slice && v.Type().Elem().Kind() == reflect.Uint8 && !speaksForItself(v.Type().Elem()) {
		w.text(base64.StdEncoding.EncodeToString(v.Bytes()))
		return nil
	}
	w.out.WriteByte('[')
	for i := range v.Len() {
		if i > 0 {
			w.out.WriteByte(',')
		}
		if err := w.at(strconv.Itoa(i), v.Index(i)); err != nil {
			return err
		}
	}
	w.out.WriteByte(']')
	return nil
}

// mapping writes a map with text or whole numbers as keys, sorted. A key stays
// readable in the leaf, so a Personal, which speaks for itself, can't be one.
func (w *firstWriter) mapping(v reflect.Value) error {
	key := v.Type().Key()
	if speaksForItself(key) {
		return w.errorf("a map key can't be a %s", key)
	}
	if v.IsNil() {
		w.out.WriteString("null")
		return nil
	}
	type member struct {
		name  string
		value reflect.Value
	}
	var members []member
	for entries := v.MapRange(); entries.Next(); {
		switch k := entries.Key(); {
		case k.Kind() == reflect.String:
			members = append(members, member{string([]rune(k.String())), entries.Value()})
		case k.CanInt():
			members = append(members, member{strconv.FormatInt(k.Int(), 10), entries.Value()})
		case k.CanUint():
			members = append(members, member{strconv.FormatUint(k.Uint(), 10), entries.Value()})
		default:
			return w.errorf("a map key can't be a %s", key)
		}
	}
	slices.SortFunc(members, func(a, b member) int { return strings.Compare(a.name, b.name) })
	w.out.WriteByte('{')
	for i, m := range members {
		if i > 0 {
			w.out.WriteByte(',')
		}
		if err := w.member(m.name, m.value); err != nil {
			return err
		}
	}
	w.out.WriteByte('}')
	return nil
}

func (w *firstWriter) member(name string, v reflect.Value) error {
	w.text(name)
	w.out.WriteByte(':')
	return w.at(name, v)
}

// spoken writes a value that brings its own JSON or text: a time, a state with
// a name, raw JSON. It is plain data whatever it looks like; a type with a
// Personal anywhere inside is refused, since its own words would show it.
func (w *firstWriter) spoken(v reflect.Value) error {
	t := v.Type()
	if t == reflect.TypeFor[time.Time]() { // by far the most of them, and no number stands in one
		raw, err := v.Interface().(time.Time).MarshalJSON()
		if err != nil {
			return w.errorf("%w", err)
		}
		w.out.Write(raw)
		return nil
	}
	if reaches(t, reflect.TypeFor[Personal](), map[reflect.Type]bool{}) {
		return w.errorf("%s writes its own JSON and holds a personal field", t)
	}
	own := reflect.New(t)
	own.Elem().Set(v)
	raw, err := json.Marshal(own.Interface())
	if err != nil {
		return w.errorf("%w", err)
	}
	return w.raw(raw)
}

// raw writes one finished JSON value once its whole numbers are seen to be exact.
func (w *firstWriter) raw(text []byte) error {
	if !json.Valid(text) {
		return w.errorf("%.60q is not JSON", text)
	}
	tokens := json.NewDecoder(bytes.NewReader(text))
	tokens.UseNumber()
	for {
		token, err := tokens.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return w.errorf("%w", err)
		}
		number, ok := token.(json.Number)
		if !ok || strings.ContainsAny(number.String(), ".eE") {
			continue
		}
		if whole, err := number.Int64(); err != nil || whole > maxExact || whole < -maxExact {
			return w.errorf("%.40s can't be kept exactly as a number, only as text", number)
		}
	}
	w.out.Write(text)
	return nil
}

func (w *firstWriter) structure(v reflect.Value) error {
	fields, err := fieldsWithin(nil, v.Type(), nil)
	if err != nil {
		return w.errorf("%w", err)
	}
	w.out.WriteByte('{')
	first := true
	for _, f := range fields {
		value, there, err := f.of(v)
		if err != nil {
			return w.errorf("%w", err)
		}
		if !there || f.leftOut(value) {
			continue
		}
		if !first {
			w.out.WriteByte(',')
		}
		first = false
		if err := w.member(f.name, value); err != nil {
			return err
		}
	}
	w.out.WriteByte('}')
	return nil
}
