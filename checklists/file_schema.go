package checklists

import (
	"bytes"
	_ "embed" // the schema stands in a file of its own, so that it can be read as one
)

//go:embed list.schema.json
var fileSchema []byte

// FileSchema is the JSON Schema (draft 2020-12) of what [List.Export] writes and
// [Import] reads: the form of a file. What one part of a list asks of another,
// such as ids that differ, is not said there.
func FileSchema() []byte { return bytes.Clone(fileSchema) }
