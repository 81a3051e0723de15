// Package sample tells tests how much they go through: in CI all there is, elsewhere a
// part of it, so that the ordinary run stays short.
package sample

import "os"

// Whole tells whether all is gone through, as in CI, or a sample.
func Whole() bool { return os.Getenv("CI") != "" || os.Getenv("STILLSAW_LONG") != "" }

// Has tells whether the one of that number is gone through; of a sample each nth is.
func Has(number, nth int) bool { return Whole() || number%nth == 0 }
