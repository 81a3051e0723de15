package server

import (
	"encoding/json"
	"net/http"
	"reflect"
	"regexp"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"
)

// apiStatus is one way an operation may not go.
type apiStatus struct {
	Status int
	Means  string
}

// apiStatuses are the answers besides a good one, for the document and its page.
func apiStatuses() []apiStatus {
	return []apiStatus{
		{fiber.StatusUnauthorized, "No token came, or one that is not good: wrong, run out, taken back, or of somebody who has left."},
		{fiber.StatusForbidden, "The token only reads, or its person may not do that."},
		{fiber.StatusNotFound, "There is nothing under that address."},
		{fiber.StatusConflict, "Not as things stand: a rule does not allow it, with its clause where there is one, or somebody changed it meanwhile."},
		{fiber.StatusRequestEntityTooLarge, "The body is too large."},
		{fiber.StatusUnsupportedMediaType, "The body is not of the kind the operation takes."},
		{fiber.StatusUnprocessableEntity, "Fields are not right: each is named, with what would be right."},
		{fiber.StatusTooManyRequests, "Too many wrong tokens or PINs; the header Retry-After says how many seconds to wait."},
		{fiber.StatusInternalServerError, "It did not work, and it is not the request's fault."},
		{fiber.StatusServiceUnavailable, "The server is stopping or overloaded. Send the same again in a moment."},
	}
}

var inBraces = regexp.MustCompile(`\{([a-z]+)\}`)

// documentOfAPI is the OpenAPI 3.1 document of the operations.
func documentOfAPI(all []operation) ([]byte, error) {
	components := schemas{}
	paths := object{}
	for _, o := range all {
		path := apiRoot + o.path
		if paths[path] == nil {
			paths[path] = object{}
		}
		paths[path].(object)[strings.ToLower(o.method)] = o.described(components)
	}
	components.of(reflect.TypeFor[apiProblem]())
	answers := object{}
	for _, one := range apiStatuses() {
		answers["S"+strconv.Itoa(one.Status)] = object{"description": one.Means, "content": object{"application/problem+json": object{"schema": object{"$ref": "#/components/schemas/Problem"}}}}
	}
	return json.MarshalIndent(object{
		"openapi": "3.1.0",
		"info": object{"title": "Stillsaw", "version": "1", "description": "What the screens of this mill's Stillsaw show and take, for programs. Every rule is the same as on the screens. " +
			"Quantities are in SI units, named in the field: _kg, _m. Times are UTC; days are the mill's own. Sentences are in English and may be worded otherwise tomorrow: go by the words of fixed fields. " +
			"A record is not a lock: it says who reported what and when, not that a machine is safe."},
		"servers":  []object{{"url": "/"}},
		"security": []object{{"token": []string{}}},
		"paths":    paths,
		"components": object{"schemas": components, "responses": answers,
			"securitySchemes": object{"token": object{"type": "http", "scheme": "bearer", "description": "A token a supervisor made under The mill, Tokens."}}},
	}, "", " ")
}

// described is the operation in the document.
func (o *operation) described(components schemas) object {
	var parameters []object
	for _, found := range inBraces.FindAllStringSubmatch(o.path, -1) {
		parameters = append(parameters, object{"name": found[1], "in": "path", "required": true, "schema": object{"type": "string"}})
	}
	for _, p := range o.query {
		schema := object{"type": "string"}
		if p.whole {
			schema["type"] = "integer"
		}
		if len(p.oneOf) > 0 {
			schema["enum"] = p.oneOf
		}
		parameters = append(parameters, object{"name": p.name, "in": "query", "description": p.says, "schema": schema})
	}
	answer := object{"description": "Done", "content": object{fiber.MIMEApplicationJSON: object{"schema": components.of(o.out)}}}
	said := object{"operationId": o.id, "summary": o.about, "responses": object{"200": answer}}
	if o.in != nil || o.media != "" {
		parameters = append(parameters, object{"name": keyHeader, "in": "header", "required": true, "description": "A UUID of version 7. The same request sent again with the same one is carried out once.",
			"schema": object{"type": "string", "format": "uuid"}})
		content := object{}
		if o.media != "" {
			content[o.media] = object{"schema": object{}}
		} else {
			content[fiber.MIMEApplicationJSON] = object{"schema": components.of(o.in)}
		}
		said["requestBody"] = object{"required": true, "content": content}
	}
	if len(parameters) > 0 {
		said["parameters"] = parameters
	}
	if o.open {
		said["security"] = []object{}
		return said
	}
	responses := said["responses"].(object)
	for _, one := range apiStatuses() {
		switch one.Status {
		case http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType:
			if o.method == fiber.MethodGet {
				continue
			}
		}
		responses[strconv.Itoa(one.Status)] = object{"$ref": "#/components/responses/S" + strconv.Itoa(one.Status)}
	}
	return said
}
