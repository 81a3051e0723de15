package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/gofrs/flock"
)

// HoldName is the file beside the database that a server at work holds locked.
const HoldName = "stillsaw.lock"

// ErrHeld is a data folder that a server at work has, or one that is being
// restored.
var ErrHeld = errors.New("another Stillsaw is at work on it. Look for its window or its service and stop it, or name another folder with -data")

// Hold is a data folder held by this process. The lock is the operating
// system's: it ends with the process, however that ends, so that what a killed
// one leaves behind keeps nobody out. The file stays where it is, since a lock
// on a file that somebody removes is none.
type Hold struct{ lock *flock.Flock }

// HoldFolder takes the folder dir for this process alone, making it where it is
// missing; ErrHeld where another has it. What only reads, or writes one thing
// through SQLite as new-pin does, asks for no hold.
func HoldFolder(dir string) (*Hold, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the data folder %s can't be made: %w", dir, Cause(err))
	}
	lock := flock.New(filepath.Join(dir, HoldName), flock.SetPermissions(0o600))
	taken, err := lock.TryLock()
	switch {
	case err != nil:
		return nil, fmt.Errorf("the data folder %s can't be written to: %w", dir, Cause(err))
	case !taken:
		return nil, fmt.Errorf("the data folder %s is in use: %w", dir, ErrHeld)
	}
	return &Hold{lock: lock}, nil
}

// Release gives the folder back.
func (h *Hold) Release() error { return h.lock.Close() }
