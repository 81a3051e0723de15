package server

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"maps"
	"mime"
	"reflect"
	"strings"

	"github.com/gofiber/fiber/v2"
	"github.com/google/uuid"

	"stillsaw/procedures/plain"
)

// apiBodyMost bounds a body: a list's file is the largest, at 2 MB, and JSON
// writes it a little longer than YAML.
const apiBodyMost = 4 << 20

// keyHeader names a request so that it is carried out once.
const keyHeader = "Idempotency-Key"

// signing is a body that carries the PIN of the token's person.
type signing interface{ secret() string }

// signature is that PIN: a token is no signature.
type signature struct {
	PIN string `json:"pin" says:"PIN or password of the person the token writes as, to sign"`
}

func (s signature) secret() string { return s.PIN }

// newSecret is the field of a body with somebody's new PIN or password.
const newSecret = "new_pin"

// takeBody reads a body whole: JSON, no field that is not known by its very name,
// nothing behind it.
func takeBody[B any](c *call) (body B, err error) {
	sent := c.Body()
	if kind, _, err := mime.ParseMediaType(c.Get(fiber.HeaderContentType)); err != nil || kind != fiber.MIMEApplicationJSON {
		return body, fail(fiber.StatusUnsupportedMediaType, "Send JSON", "The header Content-Type says application/json.")
	}
	if len(sent) > apiBodyMost {
		return body, tooLarge()
	}
	if err := c.keyed(); err != nil {
		return body, err
	}
	fits := shapeOf(reflect.TypeFor[B]())
	if json.Unmarshal(sent, &body) == nil {
		if said, ok := plainly(sent, fits); ok {
			c.sent = said
			return body, nil
		}
	}
	return takeOdd[B](c, sent, fits)
}

// takeOdd reads a body by way of a map, which tells of each field where it stands.
func takeOdd[B any](c *call, sent []byte, fits *shape) (body B, err error) {
	var fields map[string]any
	if err := json.Unmarshal(sent, &fields); err != nil {
		return body, notRead(err)
	}
	if err := exact("", fields, fits); err != nil {
		return body, err
	}
	if err := json.Unmarshal(sent, &body); err != nil {
		return body, notRead(err)
	}
	maps.DeleteFunc(fields, func(name string, _ any) bool { return secretField(name) })
	c.sent, err = json.Marshal(fields)
	return body, err
}

// secretField tells whether a field of a body has a secret: a digest of what was sent
// would let a short one be guessed.
func secretField(name string) bool { return name == "pin" || name == newSecret }

func tooLarge() error {
	return fail(fiber.StatusRequestEntityTooLarge, "That is too large to send", "Nothing of it was taken in.")
}

// keyed asks for a key that sorts by the time it was made, as the forms have one.
func (c *call) keyed() error {
	key, err := uuid.Parse(c.Get(keyHeader))
	if err != nil || key.Version() != 7 {
		return wrongField(keyHeader, "a header with a UUID of version 7, the same when the same is sent once more")
	}
	return nil
}

// submission names what was sent: the key, and a digest of what it says, where it
// went and from whom. The same sent twice does one thing.
func (c *call) submission() string {
	sum := sha256.New()
	part(sum, c.Path(), string(c.person.ID), string(c.sent))
	return strings.ToLower(c.Get(keyHeader)) + "~" + hex.EncodeToString(sum.Sum(nil)[:16])
}

// notRead says what of a body could not be read, by its field.
func notRead(err error) error {
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		return plain.Problems{{Field: kind.Field, Want: plain.Say("%[1]s, not %[2]s", jsonKind(kind.Type.Kind().String()), kind.Value)}}
	}
	return wrongField("", "one JSON object that can be read and nothing behind it, with times such as 2026-03-02T14:05:00Z")
}

// jsonKind is how JSON calls what a field holds.
func jsonKind(kind string) string {
	switch {
	case kind == "struct", kind == "map":
		return "an object"
	case kind == "slice":
		return "a list"
	case kind == "bool":
		return "true or false"
	case strings.HasPrefix(kind, "int"), strings.HasPrefix(kind, "float"):
		return "a number"
	}
	return "a text"
}

// provePIN asks the PIN of the token's person, as signing a form does.
func (c *call) provePIN(pin string) error {
	if pin == "" {
		return wrongField("pin", "the PIN or password of the person this token writes as, to sign")
	}
	proof, err := c.prove(c.person, pin)
	switch {
	case err != nil:
		return err
	case proof.waits:
		f := fail(fiber.StatusTooManyRequests, "Too many wrong tries", proof.problems[0].Want.String())
		f.after = proof.wait
		return f
	}
	return proof.problems.Err()
}
