package record

import (
	"cmp"
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
)

// bodyField is a struct field that goes into the body, and the rule for
// leaving it out.
type bodyField struct {
	name                string
	index               []int // its place, through the embedded structs it is inside
	omitEmpty, omitZero bool
}

// of is the field's value in v; not there inside an embedded pointer that is nil.
func (f bodyField) of(v reflect.Value) (value reflect.Value, there bool, err error) {
	for i, at := range f.index {
		if i > 0 && v.Kind() == reflect.Pointer {
			if v.IsNil() {
				if reaches(v.Type(), reflect.TypeFor[Personal](), map[reflect.Type]bool{}) {
					return v, false, fmt.Errorf("embedded %s is nil and holds a personal field", v.Type().Elem().Name())
				}
				return v, false, nil
			}
			v = v.Elem()
		}
		v = v.Field(at)
	}
	return v, true, nil
}

// fieldsWithin appends the fields of t, which stands at that index, to list.
func fieldsWithin(list []bodyField, t reflect.Type, index []int) ([]bodyField, error) {
	if len(index) > maxDepth { // it is embedded in itself
		return nil, fmt.Errorf("more than %d levels deep", maxDepth)
	}
	for i := range t.NumField() {
		f := t.Field(i)
		tag := f.Tag.Get("json")
		name, options, _ := strings.Cut(tag, ",")
		if tag == "-" || !f.IsExported() && !f.Anonymous {
			continue
		}
		at := append(slices.Clip(index), i)
		if f.Anonymous && name == "" {
			inner := f.Type
			if inner.Kind() == reflect.Pointer && f.IsExported() {
				inner = inner.Elem()
			}
			if inner.Kind() != reflect.Struct || speaksForItself(inner) {
				return nil, fmt.Errorf("embedded %s needs a name in its json tag", f.Name)
			}
			var err error
			if list, err = fieldsWithin(list, inner, at); err != nil {
				return nil, err
			}
			continue
		}
		if !f.IsExported() {
			continue
		}
		field := bodyField{name: cmp.Or(name, f.Name), index: at}
		for option := range strings.SplitSeq(options, ",") {
			switch option {
			case "omitempty":
				field.omitEmpty = true
			case "omitzero":
				field.omitZero = true
			case "":
			default:
				return nil, fmt.Errorf("field %s: json option %q is not for bodies", f.Name, option)
			}
		}
		var err error
		if list, err = adding(list, field); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// adding puts field into list unless one further out has its name; it takes the
// place of one further in.
func adding(list []bodyField, field bodyField) ([]bodyField, error) {
	i := slices.IndexFunc(list, func(other bodyField) bool { return strings.EqualFold(other.name, field.name) })
	switch {
	case i < 0:
		return append(list, field), nil
	case list[i].name != field.name || len(list[i].index) == len(field.index):
		return nil, fmt.Errorf("two fields are called %q", field.name)
	case len(list[i].index) > len(field.index):
		list[i] = field
	}
	return list, nil
}

// leftOut tells whether the field's json tag drops that value. A Personal never
// is: that it was empty would show.
func (f bodyField) leftOut(value reflect.Value) bool {
	t := value.Type()
	if t == reflect.TypeFor[Personal]() || t == reflect.TypeFor[*Personal]() {
		return false
	}
	if f.omitZero {
		if asked, ok := value.Interface().(interface{ IsZero() bool }); ok && (t.Kind() != reflect.Pointer || !value.IsNil()) {
			if asked.IsZero() {
				return true
			}
		} else if value.IsZero() {
			return true
		}
	}
	if !f.omitEmpty {
		return false
	}
	switch t.Kind() {
	case reflect.Array, reflect.Map, reflect.Slice, reflect.String:
		return value.Len() == 0
	case reflect.Struct:
		return false
	default:
		return value.IsZero()
	}
}

// speakers has of each type whether it speaks for itself.
var speakers sync.Map

// speaksForItself tells whether t, or a pointer to it, writes its own JSON or
// text. Asking for the pointer too makes a value come out the same whether or
// not the body was passed by pointer.
func speaksForItself(t reflect.Type) bool {
	if t.Kind() == reflect.Interface || t.Kind() == reflect.Pointer {
		return false // what it holds is asked instead
	}
	if known, ok := speakers.Load(t); ok {
		return known.(bool)
	}
	p := reflect.PointerTo(t)
	speaks := p.Implements(reflect.TypeFor[json.Marshaler]()) || p.Implements(reflect.TypeFor[encoding.TextMarshaler]())
	speakers.Store(t, speaks)
	return speaks
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
