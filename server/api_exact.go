package server

import (
	"encoding/json"
	"maps"
	"reflect"
	"slices"
	"strings"
	"time"
)

// exact asks that every field of a body that was read stands in its type t by its
// very name. The standard library would take "PIN" for "pin", which the document
// does not offer; at is where in the body it stands.
func exact(at string, read any, t reflect.Type) error {
	switch t {
	case reflect.TypeFor[time.Time](), reflect.TypeFor[json.RawMessage](), reflect.TypeFor[listFile]():
		return nil // no object of ours
	}
	switch t.Kind() {
	case reflect.Pointer:
		return exact(at, read, t.Elem())
	case reflect.Slice:
		all, _ := read.([]any)
		for _, one := range all {
			if err := exact(at, one, t.Elem()); err != nil {
				return err
			}
		}
	case reflect.Struct:
		fields, _ := read.(map[string]any)
		known := map[string]reflect.Type{}
		namedFields(t, known)
		for _, name := range slices.Sorted(maps.Keys(fields)) {
			place := strings.TrimPrefix(at+"."+name, ".")
			if known[name] == nil {
				return wrongField(place, "left out: there is no such field")
			}
			if err := exact(place, fields[name], known[name]); err != nil {
				return err
			}
		}
	}
	return nil
}

// namedFields adds the fields of t by their names in JSON, those of embedded
// structs among them.
func namedFields(t reflect.Type, known map[string]reflect.Type) {
	for field := range t.Fields() {
		name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
		switch {
		case field.Anonymous && name == "":
			namedFields(field.Type, known)
		case name != "" && name != "-":
			known[name] = field.Type
		}
	}
}
