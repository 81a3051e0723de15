//go:build unix

package server

import (
	"os"
	"syscall"
)

// sameDisk tells whether two paths lie on one file system, and whether that can be
// told. Two of them may still be parts of one disk.
func sameDisk(one, other string) (same, known bool) {
	number := func(path string) (uint64, bool) {
		info, err := os.Stat(path)
		if err != nil {
			return 0, false
		}
		stat, ok := info.Sys().(*syscall.Stat_t)
		if !ok {
			return 0, false
		}
		return uint64(stat.Dev), true
	}
	a, ok := number(one)
	b, also := number(other)
	return ok && also && a == b, ok && also
}
