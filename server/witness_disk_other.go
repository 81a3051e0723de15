//go:build !unix

package server

import (
	"path/filepath"
	"strings"
)

// sameDisk tells whether two paths lie under one drive letter, and whether that
// can be told. Two letters may still be parts of one disk.
func sameDisk(one, other string) (same, known bool) {
	a, b := filepath.VolumeName(one), filepath.VolumeName(other)
	return a != "" && strings.EqualFold(a, b), a != "" && b != ""
}
