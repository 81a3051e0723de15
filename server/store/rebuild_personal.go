package store

import (
	"reflect"
	"strings"

	"stillsaw/server/record"
)

// personalFields are the names under which what a person wrote or is called by
// stands in the tables.
type personalFields map[string]bool

// personalNames are the names of the personal fields of every body, and those
// that projections give to what comes from one.
func personalNames() personalFields {
	names := personalFields{
		"task":         true, // of a lockout, the note it began with
		"minor_until":  true,
		"name":         true,
		"firm":         true,
		"restrictions": true,
	}
	seen := map[reflect.Type]bool{}
	for _, kind := range Kinds() {
		if b := bodyOf(kind, 1); b != nil {
			names.collect(reflect.TypeOf(b), seen)
		}
	}
	return names
}

// collect adds the names of the fields of t that are personal or lists of such.
func (p personalFields) collect(t reflect.Type, seen map[reflect.Type]bool) {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Map {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct || seen[t] {
		return
	}
	seen[t] = true
	for i := range t.NumField() {
		field := t.Field(i)
		holds := field.Type
		for holds.Kind() == reflect.Pointer || holds.Kind() == reflect.Slice || holds.Kind() == reflect.Map {
			holds = holds.Elem()
		}
		if holds == reflect.TypeFor[record.Personal]() {
			name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
			p[name] = true
		}
		p.collect(field.Type, seen)
	}
}

// covers tells whether the field at path of a table may hold a personal value:
// one of such a name, or a whole document or part of one that can hold any. What
// people wrote into a rig stands under many names.
func (p personalFields) covers(table, path string) bool {
	column, below, inDocument := strings.Cut(path, "/")
	if table == "publications" && column == "doc" || column == "doc" && !inDocument {
		return true
	}
	if !inDocument {
		return p[column]
	}
	for step := range strings.SplitSeq(below, "/") {
		if p[step] {
			return true
		}
	}
	return false
}
