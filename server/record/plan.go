package record

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

// plan is how the values of one type are written. What has to be asked of a type is
// asked once, since every answer of every inspection is of the same few.
type plan struct {
	t      reflect.Type
	write  func(*bodyWriter, *plan, reflect.Value) error
	elem   *plan       // of what a pointer points at, a list or a map holds
	fields []planField // of a struct, in canonical order
	err    error       // why no value of it can be written
}

// planField is a field of a struct as it is written.
type planField struct {
	bodyField
	plan  *plan
	place int    // among the fields in the order of the struct
	label string // its name in quotes and the colon
	step  string // its name as a step of a JSON pointer
	rule  leaveOut
}

// leaveOut is when a field's json tag drops its value.
type leaveOut byte

const (
	leaveNever leaveOut = iota
	leaveEmpty          // a list, map or text without anything
	leaveZero
	leaveZeroTime
	leaveAsked // [bodyField.leftOut] tells
)

var (
	// plans has the [plan] of each type that was written: the program has so many.
	plans sync.Map

	planning sync.Mutex // a plan is seen by others once those it leads to are whole
)

var (
	personalType = reflect.TypeFor[Personal]()
	timeType     = reflect.TypeFor[time.Time]()
)

func planOf(t reflect.Type) *plan {
	if known, ok := plans.Load(t); ok {
		return known.(*plan)
	}
	planning.Lock()
	defer planning.Unlock()
	made := map[reflect.Type]*plan{}
	p := planWith(made, t)
	for t, one := range made {
		plans.Store(t, one)
	}
	return p
}

// planWith is the plan of t, with those being made: a type may lead to itself.
func planWith(made map[reflect.Type]*plan, t reflect.Type) *plan {
	if known, ok := plans.Load(t); ok {
		return known.(*plan)
	}
	if p := made[t]; p != nil {
		return p
	}
	p := &plan{t: t}
	made[t] = p
	switch {
	case t == personalType:
		p.write = (*bodyWriter).personal
	case t == reflect.TypeFor[*Personal]():
		p.write, p.elem = (*bodyWriter).personalAt, planWith(made, personalType)
	case t.Kind() == reflect.Pointer:
		p.write, p.elem = (*bodyWriter).pointer, planWith(made, t.Elem())
	case t.Kind() == reflect.Interface:
		p.write = (*bodyWriter).held
	case t == reflect.TypeFor[json.Number]():
		p.write = (*bodyWriter).digits
	case t == timeType:
		p.write = (*bodyWriter).time
	case speaksForItself(t):
		p.write = (*bodyWriter).spoken
	default:
		p.byKind(made)
	}
	return p
}

func (p *plan) byKind(made map[reflect.Type]*plan) {
	switch p.t.Kind() {
	case reflect.Bool:
		p.write = (*bodyWriter).truth
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		p.write = (*bodyWriter).whole
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Uintptr:
		p.write = (*bodyWriter).unsigned
	case reflect.Float32, reflect.Float64:
		p.write = (*bodyWriter).float
	case reflect.String:
		p.write = (*bodyWriter).words
	case reflect.Slice:
		if elem := p.t.Elem(); elem.Kind() == reflect.Uint8 && !speaksForItself(elem) {
			p.write = (*bodyWriter).bytes
			return
		}
		p.write, p.elem = (*bodyWriter).list, planWith(made, p.t.Elem())
	case reflect.Array:
		p.write, p.elem = (*bodyWriter).list, planWith(made, p.t.Elem())
	case reflect.Map:
		p.write, p.elem = (*bodyWriter).mapping, planWith(made, p.t.Elem())
	case reflect.Struct:
		p.write = (*bodyWriter).structure
		p.err = p.structure(made)
	default:
		p.write, p.err = (*bodyWriter).refused, fmt.Errorf("a %s can't be kept", p.t)
	}
}

// structure plans the fields of a struct.
func (p *plan) structure(made map[reflect.Type]*plan) error {
	fields, err := fieldsWithin(nil, p.t, nil)
	if err != nil {
		return err
	}
	for i, f := range fields {
		inner := p.t.FieldByIndex(f.index).Type
		quoted, _ := jsontext.AppendQuote(nil, f.name) // its error tells of bytes that are not UTF-8 only
		p.fields = append(p.fields, planField{bodyField: f, plan: planWith(made, inner), place: i,
			label: string(quoted) + ":", step: "/" + escaped(f.name), rule: f.ruleOf(inner)})
	}
	slices.SortStableFunc(p.fields, func(a, b planField) int { return compareUTF16(a.name, b.name) })
	for i := range p.fields[:max(0, len(p.fields)-1)] {
		if p.fields[i].label == p.fields[i+1].label {
			return fmt.Errorf("duplicate field %s", p.fields[i].label)
		}
	}
	return nil
}

// ruleOf is when a field of type t is left out.
func (f bodyField) ruleOf(t reflect.Type) leaveOut {
	switch {
	case t == personalType, t == reflect.TypeFor[*Personal](), !f.omitZero && !f.omitEmpty:
		return leaveNever
	case f.omitZero && f.omitEmpty:
		return leaveAsked
	case f.omitZero && t == timeType:
		return leaveZeroTime
	case f.omitZero && (t.Kind() == reflect.Interface || t.Implements(reflect.TypeFor[interface{ IsZero() bool }]())):
		return leaveAsked
	case f.omitZero:
		return leaveZero
	}
	switch t.Kind() {
	case reflect.Array, reflect.Map, reflect.Slice, reflect.String:
		return leaveEmpty
	case reflect.Struct:
		return leaveNever
	default:
		return leaveZero
	}
}

// leaves tells whether the field is left out with that value.
func (f *planField) leaves(value reflect.Value) bool {
	switch f.rule {
	case leaveNever:
		return false
	case leaveEmpty:
		return value.Len() == 0
	case leaveZero:
		return value.IsZero()
	case leaveZeroTime:
		return timeIn(value).IsZero()
	default:
		return f.leftOut(value)
	}
}

// timeIn is the time that v is, without a copy on the heap where it can be had.
func timeIn(v reflect.Value) time.Time {
	if v.CanAddr() {
		return *v.Addr().Interface().(*time.Time)
	}
	return v.Interface().(time.Time)
}

// compareUTF16 is the order of names in canonical JSON (RFC 8785 section 3.2.3),
// another than that of their bytes where a sign takes two units of UTF-16.
func compareUTF16(a, b string) int {
	if isASCII(a) && isASCII(b) {
		return strings.Compare(a, b)
	}
	return slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b)))
}

func isASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}
