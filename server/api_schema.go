package server

import (
	"encoding/json"
	"reflect"
	"strings"
	"time"

	"stillsaw/checklists"
)

// listFile is a list in the words of its exported file, as JSON.
type listFile json.RawMessage

func (l listFile) MarshalJSON() ([]byte, error) { return json.RawMessage(l).MarshalJSON() }

func (l *listFile) UnmarshalJSON(text []byte) error {
	*l = append((*l)[:0], text...)
	return nil
}

// schemas are the schemas of Go types as a document names them. They are made
// from the types the handlers read and write, so they can't say anything else.
type schemas map[string]any

// object is a JSON object of the document.
type object = map[string]any

// of is the schema of t. A struct with a name stands once, under its name.
func (s schemas) of(t reflect.Type) object {
	switch t {
	case reflect.TypeFor[time.Time]():
		return object{"type": "string", "format": "date-time"}
	case reflect.TypeFor[json.RawMessage]():
		return object{}
	case reflect.TypeFor[listFile]():
		if s["ListFile"] == nil {
			var schema object
			if err := json.Unmarshal(checklists.FileSchema(), &schema); err != nil {
				return object{"type": "object"} // the published schema is read by a test of its own
			}
			delete(schema, "$schema")
			s["ListFile"] = schema
		}
		return object{"$ref": "#/components/schemas/ListFile"}
	}
	switch t.Kind() {
	case reflect.String:
		return object{"type": "string"}
	case reflect.Bool:
		return object{"type": "boolean"}
	case reflect.Int, reflect.Int64:
		return object{"type": "integer"}
	case reflect.Float64:
		return object{"type": "number"}
	case reflect.Pointer:
		return s.of(t.Elem())
	case reflect.Slice:
		return object{"type": "array", "items": s.of(t.Elem())}
	case reflect.Map:
		return object{"type": "object", "additionalProperties": s.of(t.Elem())}
	case reflect.Struct:
		name := schemaName(t)
		if name == "" {
			return s.record(t)
		}
		if s[name] == nil {
			s[name] = object{} // a type that holds itself is named before it is done
			s[name] = s.record(t)
		}
		return object{"$ref": "#/components/schemas/" + name}
	}
	return object{}
}

// schemaName is how the document calls a type; a page of things has no name.
func schemaName(t reflect.Type) string {
	if strings.Contains(t.Name(), "[") {
		return ""
	}
	name := strings.TrimPrefix(t.Name(), "api")
	if name == "" {
		return ""
	}
	return strings.ToUpper(name[:1]) + name[1:]
}

func (s schemas) record(t reflect.Type) object {
	properties, required := object{}, []string{}
	s.fields(t, properties, &required)
	schema := object{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		schema["required"] = required
	}
	return schema
}

// fields adds a struct's, those of embedded ones among them. A field is left out
// of what is required where its tag has omitzero.
func (s schemas) fields(t reflect.Type, properties object, required *[]string) {
	for field := range t.Fields() {
		name, rest, _ := strings.Cut(field.Tag.Get("json"), ",")
		if field.Anonymous && name == "" {
			s.fields(field.Type, properties, required)
			continue
		}
		if name == "" || name == "-" {
			continue
		}
		schema := s.of(field.Type)
		inner := schema
		if items, many := schema["items"].(object); many {
			inner = items
		}
		if words := field.Tag.Get("oneof"); words != "" {
			inner["enum"] = strings.Split(words, "|")
		}
		if format := field.Tag.Get("format"); format != "" {
			inner["format"] = format
		}
		if says := field.Tag.Get("says"); says != "" {
			schema["description"] = says
		}
		properties[name] = schema
		if rest != "omitzero" {
			*required = append(*required, name)
		}
	}
}
