package server

import (
	"encoding/json"
	"reflect"
	"slices"

	"github.com/gofiber/fiber/v2"
)

// operations is the API: what is not in this table is not there.
func operations(s *Server) []operation {
	document := operation{id: "getDocument", method: fiber.MethodGet, path: "/openapi.json", about: "This document", out: reflect.TypeFor[map[string]json.RawMessage](), open: true,
		run: func(*call) (any, error) {
			document, err := s.apiDocument()
			return json.RawMessage(document), err
		}}
	return slices.Concat([]operation{document}, millOperations(), scheduleOperations(), peopleOperations(), trainingOperations(), cardOperations(), listOperations(), dueOperations(), inspectionOperations(), defectOperations(), incidentOperations(), registerOperations(), lockOperations(), gearOperations(), readOperations(), recordOperations())
}

// items is a page of things. Next is where the following page begins, as the
// parameter "before"; empty on the last.
type items[T any] struct {
	Items []T    `json:"items"`
	Next  string `json:"next,omitzero" says:"send as before for the following page"`
}

// itemsOf turns things into their form for the API; none is an empty list.
func itemsOf[F, T any](all []F, as func(F) T) items[T] {
	return items[T]{Items: each(all, as)}
}

func each[F, T any](all []F, as func(F) T) []T {
	out := make([]T, 0, len(all))
	for _, one := range all {
		out = append(out, as(one))
	}
	return out
}

// apiDone says that something was entered.
type apiDone struct {
	ID string `json:"id,omitzero" says:"of what was entered, where it has one"`
}

// done is the answer to an act, the same when it is sent once more.
func done[I ~string](id I, err error) (apiDone, error) { return apiDone{string(id)}, err }

// mostItems bounds a page.
const mostItems = 200

// limited is the parameter "limit" of an address.
func limitParameter() parameter {
	return parameter{name: "limit", says: "how many at most, 1 to 200; 50 where it is left out", whole: true}
}

func beforeParameter() parameter {
	return parameter{name: "before", says: "the next of the page before", whole: true}
}

func (c *call) limit() (int, error) {
	n, err := c.wholeQuery("limit", 50)
	if err == nil && (n < 1 || n > mostItems) {
		err = wrongField("limit", "a number from 1 to %d", mostItems)
	}
	return int(n), err
}

// wholeQuery is a whole number of the address.
func (c *call) wholeQuery(name string, otherwise int64) (int64, error) {
	if c.Query(name) == "" {
		return otherwise, nil
	}
	n, err := json.Number(c.Query(name)).Int64()
	if err != nil || n < 0 {
		return 0, wrongField(name, "a whole number")
	}
	return n, nil
}

// wordQuery is a word of the address that has to be one of some.
func (c *call) wordQuery(name, otherwise string, words ...string) (string, error) {
	word := c.Query(name, otherwise)
	if !slices.Contains(words, word) {
		return "", wrongField(name, "one of: %s", words)
	}
	return word, nil
}
