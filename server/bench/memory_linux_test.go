//go:build amd64 || arm64

package bench

import (
	"errors"
	"os"
	"syscall"
)

// leaveMemory has what is kept in memory of a file written to the disk and forgotten.
func leaveMemory(path string) (err error) {
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if err := file.Sync(); err != nil {
		return err
	}
	const notNeeded = 4 // POSIX_FADV_DONTNEED, which syscall has no name for
	if _, _, errno := syscall.Syscall6(syscall.SYS_FADVISE64, file.Fd(), 0, 0, notNeeded, 0, 0); errno != 0 {
		return errno
	}
	return nil
}
