package store

import (
	"reflect"
	"sync"
)

// decodedMost bounds the text whose documents are kept, in bytes; up to twice as
// much may be.
const decodedMost = 2 << 20

// decoded keeps documents that were decoded by the very text they were read from:
// nearly every act is judged by the same lists and people. What
// stands in the database is read each time, so nothing here is ever out of date;
// it spares only taking the text apart. Those not asked for make room for others.
type decoded struct {
	mu         sync.Mutex
	young, old map[decodedKey]any
	size       int // of the texts of young
}

type decodedKey struct {
	of   reflect.Type
	text string
}

// readOnce is [read] of a text that may have been read before. Whoever gets the value
// changes nothing in it that others see: no element of a slice or map.
func readOnce[T any](r reader, text string) (T, error) {
	kept := r.lasting()
	if kept == nil {
		return read[T](text)
	}
	key := decodedKey{reflect.TypeFor[T](), text}
	if known, ok := kept.decoded.find(key); ok {
		return known.(T), nil
	}
	value, err := read[T](text)
	if err == nil {
		kept.decoded.keep(key, value)
	}
	return value, err
}

// readAllOnce reads a text each.
func readAllOnce[T any](r reader, texts []string) ([]T, error) {
	values := make([]T, len(texts))
	for i, text := range texts {
		var err error
		if values[i], err = readOnce[T](r, text); err != nil {
			return nil, err
		}
	}
	return values, nil
}

func (d *decoded) find(key decodedKey) (any, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if value, ok := d.young[key]; ok {
		return value, true
	}
	value, ok := d.old[key]
	if ok {
		d.put(key, value)
	}
	return value, ok
}

func (d *decoded) keep(key decodedKey, value any) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.put(key, value)
}

func (d *decoded) put(key decodedKey, value any) {
	if d.young == nil || d.size+len(key.text) > decodedMost {
		d.young, d.old, d.size = map[decodedKey]any{}, d.young, 0
	}
	d.young[key] = value
	d.size += len(key.text)
}

// forget lets go of texts that may not be kept any more: a drop takes their words.
func (d *decoded) forget() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.young, d.old, d.size = nil, nil, 0
}
