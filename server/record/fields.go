package record

import (
	"encoding"
	"encoding/json"
	"reflect"
	"slices"
	"strings"
)

// bodyField is a struct field that goes into the body, and the rule for
// leaving it out.
type bodyField struct {
	name                string
	depth               int // how many embedded structs it is inside
	value               reflect.Value
	omitEmpty, omitZero bool
}

// structure writes a struct by the rules of encoding/json, which [Decode]
// reads it with: of two fields of one name the one inside fewer embedded
// structs counts, which is how a body makes a field of a domain type personal.
// But a Personal is never left out, and what those rules settle quietly (two
// fields of one name side by side, numbers as text) is refused.
func (w *bodyWriter) structure(v reflect.Value) error {
	fields, err := w.fields(nil, v, 0)
	if err != nil {
		return err
	}
	w.out.WriteByte('{')
	first := true
	for _, f := range fields {
		if f.leftOut() {
			continue
		}
		if !first {
			w.out.WriteByte(',')
		}
		first = false
		if err := w.member(f.name, f.value); err != nil {
			return err
		}
	}
	w.out.WriteByte('}')
	return nil
}

// fields appends the fields of v to list, those of embedded structs among them.
func (w *bodyWriter) fields(list []bodyField, v reflect.Value, depth int) ([]bodyField, error) {
	t := v.Type()
	for i := range t.NumField() {
		f := t.Field(i)
		tag := f.Tag.Get("json")
		name, options, _ := strings.Cut(tag, ",")
		if tag == "-" || !f.IsExported() && !f.Anonymous {
			continue
		}
		if f.Anonymous && name == "" {
			inner := v.Field(i)
			if inner.Kind() == reflect.Pointer && f.IsExported() {
				if inner.IsNil() {
					if reaches(inner.Type(), reflect.TypeFor[Personal](), map[reflect.Type]bool{}) {
						return nil, w.errorf("embedded %s is nil and holds a personal field", f.Name)
					}
					continue
				}
				inner = inner.Elem()
			}
			if inner.Kind() != reflect.Struct || speaksForItself(inner.Type()) {
				return nil, w.errorf("embedded %s needs a name in its json tag", f.Name)
			}
			var err error
			if list, err = w.fields(list, inner, depth+1); err != nil {
				return nil, err
			}
			continue
		}
		if !f.IsExported() {
			continue
		}
		field := bodyField{name: name, depth: depth, value: v.Field(i)}
		if name == "" {
			field.name = f.Name
		}
		for option := range strings.SplitSeq(options, ",") {
			switch option {
			case "omitempty":
				field.omitEmpty = true
			case "omitzero":
				field.omitZero = true
			case "":
			default:
				return nil, w.errorf("field %s: json option %q is not for bodies", f.Name, option)
			}
		}
		var err error
		if list, err = w.adding(list, field); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// adding puts field into list unless one further out has its name; it takes the
// place of one further in.
func (w *bodyWriter) adding(list []bodyField, field bodyField) ([]bodyField, error) {
	i := slices.IndexFunc(list, func(other bodyField) bool { return strings.EqualFold(other.name, field.name) })
	switch {
	case i < 0:
		return append(list, field), nil
	case list[i].name != field.name || list[i].depth == field.depth:
		return nil, w.errorf("two fields are called %q", field.name)
	case list[i].depth > field.depth:
		list[i] = field
	}
	return list, nil
}

// leftOut tells whether the field's json tag drops it. A Personal never is:
// that it was empty would show.
func (f bodyField) leftOut() bool {
	t := f.value.Type()
	if t == reflect.TypeFor[Personal]() || t == reflect.TypeFor[*Personal]() {
		return false
	}
	if f.omitZero {
		if asked, ok := f.value.Interface().(interface{ IsZero() bool }); ok && (t.Kind() != reflect.Pointer || !f.value.IsNil()) {
			if asked.IsZero() {
				return true
			}
		} else if f.value.IsZero() {
			return true
		}
	}
	if !f.omitEmpty {
		return false
	}
	switch t.Kind() {
	case reflect.Array, reflect.Map, reflect.Slice, reflect.String:
		return f.value.Len() == 0
	case reflect.Struct:
		return false
	default:
		return f.value.IsZero()
	}
}

// speaksForItself tells whether t, or a pointer to it, writes its own JSON or
// text. Asking for the pointer too makes a value come out the same whether or
// not the body was passed by pointer.
func speaksForItself(t reflect.Type) bool {
	if t.Kind() == reflect.Interface || t.Kind() == reflect.Pointer {
		return false // what it holds is asked instead
	}
	p := reflect.PointerTo(t)
	return p.Implements(reflect.TypeFor[json.Marshaler]()) || p.Implements(reflect.TypeFor[encoding.TextMarshaler]())
}

// reaches tells whether a value of type t can hold one of type target without
// an interface in between.
func reaches(t, target reflect.Type, seen map[reflect.Type]bool) bool {
	if t == target {
		return true
	}
	if seen[t] {
		return false
	}
	seen[t] = true
	switch t.Kind() {
	case reflect.Pointer, reflect.Slice, reflect.Array:
		return reaches(t.Elem(), target, seen)
	case reflect.Map:
		return reaches(t.Key(), target, seen) || reaches(t.Elem(), target, seen)
	case reflect.Struct:
		for i := range t.NumField() {
			if reaches(t.Field(i).Type, target, seen) {
				return true
			}
		}
	}
	return false
}
