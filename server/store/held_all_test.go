//go:build cgo && !race

package store

// heldNth is which of the facts asked for are held against the tables: all of them.
const heldNth = 1
