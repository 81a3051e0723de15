// Package bench holds the product's speed against plain things that do the same
// work, in one run, turn by turn: a bare SQLite transaction, a handler written
// the usual way, our own handler without the write. All of it is tests; see
// TABLE.md for what was measured last and DEVELOPERS.md for how to run it.
package bench
