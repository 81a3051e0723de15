//go:build race || !cgo

package store

// heldNth is which of the facts asked for are held against the tables: under the race
// detector and with SQLite in Go that is dear, and what is kept is the same as in the
// ordinary run, where all of them are.
const heldNth = 7
