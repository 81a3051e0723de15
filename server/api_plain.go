package server

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"unicode/utf8"
)

// plainBody writes what a body says in the one way in which the standard library
// writes it once it was read into a map: fields in the order of their names, no space,
// each number and text alike. It makes no map, which would be most of the work of
// taking a body in. It is for what the standard library could read into a type, so it
// is JSON; of what is odd about it plainBody only says that it is, and it is looked at
// by way of the map then, which has the words for what is wrong.
type plainBody struct {
	in      []byte
	at      int
	out     []byte
	fields  []plainField // of the objects under way, the innermost's last
	swapped []byte       // room to put fields in order
}

// plainField is where a field stands in what is written.
type plainField struct {
	name       []byte
	begin, end int
}

// plainly is what a body says, without the secrets in it. It is not ok where the body
// is odd or a field of it stands not in s.
func plainly(sent []byte, s *shape) (said []byte, ok bool) {
	b := plainBody{in: sent, out: make([]byte, 0, len(sent))}
	if b.next() != '{' {
		return nil, false
	}
	return b.out, b.object(s, true)
}

// next is the byte that comes after any space; 0 at the end.
func (b *plainBody) next() byte {
	for ; b.at < len(b.in); b.at++ {
		switch c := b.in[b.at]; c {
		case ' ', '\t', '\r', '\n':
		default:
			return c
		}
	}
	return 0
}

func (b *plainBody) value(s *shape) (ok bool) {
	switch b.next() {
	case '{':
		return b.object(s, false)
	case '[':
		return b.list(s.each)
	case '"':
		return b.text()
	case 't', 'f', 'n':
		b.out = append(b.out, b.word()...)
		return true
	}
	return b.number()
}

// object writes an object, the outermost one without the secrets.
func (b *plainBody) object(s *shape, outermost bool) bool {
	b.at++
	begin, before := len(b.out), len(b.fields)
	for c := b.next(); c != '}'; c = b.next() {
		if c == ',' {
			b.at++
			b.next()
		}
		raw := b.quoted()
		if !asItIs(raw) {
			return false
		}
		f := plainField{name: raw[1 : len(raw)-1], begin: len(b.out)}
		known, ok := s.field(f.name)
		if !ok {
			return false
		}
		b.next()
		b.at++ // the colon
		b.out = append(append(b.out, raw...), ':')
		if !b.value(known) {
			return false
		}
		if outermost && secretField(string(f.name)) {
			b.out = b.out[:f.begin]
		}
		f.end = len(b.out)
		b.fields = append(b.fields, f)
	}
	b.at++
	ok := b.order(begin, b.fields[before:])
	b.fields = b.fields[:before]
	return ok
}

// order makes an object of its fields, which were written from begin on. It is not ok
// where two of them have one name.
func (b *plainBody) order(begin int, fields []plainField) bool {
	slices.SortFunc(fields, func(x, y plainField) int { return bytes.Compare(x.name, y.name) })
	b.swapped = append(b.swapped[:0], b.out[begin:]...)
	b.out = append(b.out[:begin], '{')
	for i, f := range fields {
		switch {
		case i > 0 && bytes.Equal(f.name, fields[i-1].name):
			return false
		case f.begin == f.end: // a secret
			continue
		case len(b.out) > begin+1:
			b.out = append(b.out, ',')
		}
		b.out = append(b.out, b.swapped[f.begin-begin:f.end-begin]...)
	}
	b.out = append(b.out, '}')
	return true
}

// list writes a list; each is the shape of its elements, nil where it has none.
func (b *plainBody) list(each *shape) bool {
	if each == nil {
		each = anyShape
	}
	b.at++
	b.out = append(b.out, '[')
	for c := b.next(); c != ']'; c = b.next() {
		if c == ',' {
			b.at++
			b.out = append(b.out, ',')
		}
		if !b.value(each) {
			return false
		}
	}
	b.at++
	b.out = append(b.out, ']')
	return true
}

// quoted is the text that begins here, in its quotes.
func (b *plainBody) quoted() []byte {
	begin := b.at
	for b.at++; b.in[b.at] != '"'; b.at++ {
		if b.in[b.at] == '\\' {
			b.at++
		}
	}
	b.at++
	return b.in[begin:b.at]
}

// asItIs tells whether the standard library writes a text as it was sent.
func asItIs(raw []byte) bool {
	ascii := true
	for _, c := range raw {
		switch {
		case c == '\\', c == '<', c == '>', c == '&':
			return false
		case c >= utf8.RuneSelf:
			ascii = false
		}
	}
	return ascii || utf8.Valid(raw) && !bytes.ContainsAny(raw, "\u2028\u2029")
}

func (b *plainBody) text() bool {
	raw := b.quoted()
	if asItIs(raw) {
		b.out = append(b.out, raw...)
		return true
	}
	var text string
	if json.Unmarshal(raw, &text) != nil {
		return false
	}
	return b.written(text)
}

// word is what stands up to the next sign that ends a number, true, false or null.
func (b *plainBody) word() []byte {
	begin := b.at
	for b.at < len(b.in) && bytes.IndexByte([]byte(" \t\r\n,]}"), b.in[b.at]) < 0 {
		b.at++
	}
	return b.in[begin:b.at]
}

func (b *plainBody) number() bool {
	n, err := strconv.ParseFloat(string(b.word()), 64)
	if size := math.Abs(n); err != nil || size != 0 && (size < 1e-6 || size >= 1e21) { // those have an exponent
		return err == nil && b.written(n)
	}
	b.out = strconv.AppendFloat(b.out, n, 'f', -1, 64)
	return true
}

// written has the standard library write a value.
func (b *plainBody) written(value any) bool {
	text, err := json.Marshal(value)
	b.out = append(b.out, text...)
	return err == nil
}
