//go:build cgo && !race

package server_test

// heldNth is which of the facts asked for are held against the tables: all of them.
const heldNth = 1
