package server

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"
)

// shape is what fields a value of a body may have: those of an object by their names,
// and what each element of a list may have. The zero shape asks nothing.
type shape struct {
	fields map[string]*shape // nil: not asked for
	each   *shape            // nil: not asked for
}

// anyShape is of what nothing is asked of.
var anyShape = &shape{}

// field is what the field of that name may have, and whether there may be one.
func (s *shape) field(name []byte) (*shape, bool) {
	if s.fields == nil {
		return anyShape, true
	}
	known, ok := s.fields[string(name)]
	return known, ok
}

// shapes are those of bodies, by their types: taking a type apart takes longer than
// reading a body.
var shapes sync.Map

func shapeOf(t reflect.Type) *shape {
	if known, ok := shapes.Load(t); ok {
		return known.(*shape)
	}
	made, _ := shapes.LoadOrStore(t, newShape(t, map[reflect.Type]*shape{}))
	return made.(*shape)
}

// newShape takes t apart; begun are types under way, of which t may have one within.
func newShape(t reflect.Type, begun map[reflect.Type]*shape) *shape {
	if begun[t] != nil {
		return begun[t]
	}
	s := &shape{}
	begun[t] = s
	switch t {
	case reflect.TypeFor[time.Time](), reflect.TypeFor[json.RawMessage](), reflect.TypeFor[listFile]():
		return s // no object of ours
	}
	switch t.Kind() {
	case reflect.Pointer:
		*s = *newShape(t.Elem(), begun)
	case reflect.Slice:
		s.each = newShape(t.Elem(), begun)
	case reflect.Struct:
		s.fields = map[string]*shape{}
		s.named(t, begun)
	}
	return s
}

// named adds the fields of t by their names in JSON, those of embedded structs among
// them.
func (s *shape) named(t reflect.Type, begun map[reflect.Type]*shape) {
	for field := range t.Fields() {
		name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
		switch {
		case field.Anonymous && name == "":
			s.named(field.Type, begun)
		case name != "" && name != "-":
			s.fields[name] = newShape(field.Type, begun)
		}
	}
}

// exact asks that every field of a body that was read stands in its shape by its
// very name. The standard library would take "PIN" for "pin", which the document
// does not offer; at is where in the body it stands.
func exact(at string, read any, s *shape) error {
	switch {
	case s.each != nil:
		all, _ := read.([]any)
		for _, one := range all {
			if err := exact(at, one, s.each); err != nil {
				return err
			}
		}
	case s.fields != nil:
		fields, _ := read.(map[string]any)
		for _, name := range slices.Sorted(maps.Keys(fields)) {
			place := strings.TrimPrefix(at+"."+name, ".")
			known, ok := s.fields[name]
			if !ok {
				return wrongField(place, "left out: there is no such field")
			}
			if err := exact(place, fields[name], known); err != nil {
				return err
			}
		}
	}
	return nil
}
