package faultydisk

import (
	"errors"
	"strings"
)

// Folder is the disk as a program sees it that doesn't go through SQLite. Each of
// its calls counts as one of the disk and can fail as they do.
type Folder struct{ *Disk }

// errFailed is what a call of a program says that met a fault.
var errFailed = errors.New("the disk does not answer")

func (f Folder) begins(op Op, name string) error {
	if f.begin(Call{Op: op, File: name}, nil) != 0 {
		return errFailed
	}
	return nil
}

// List gives the names that begin with prefix.
func (f Folder) List(prefix string) (names []string, err error) {
	for _, name := range f.Files() {
		if strings.HasPrefix(name, prefix) {
			names = append(names, name)
		}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	return names, f.begins(Access, prefix)
}

// Make makes an empty file, which is not sure to be found until it is synced.
func (f Folder) Make(name string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.begins(Open, name); err != nil {
		return err
	}
	f.files[name] = &node{}
	return nil
}

// Remove takes a file away, as its folder is sure to show only after the next sync.
func (f Folder) Remove(name string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.begins(Delete, name); err != nil {
		return err
	}
	delete(f.files, name)
	return nil
}

// Keep syncs half, gives it its name in place of a file of that name, and syncs the
// folder.
func (f Folder) Keep(half, name string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.begins(Sync, half); err != nil {
		return err
	}
	f.files[half].sync()
	if err := f.begins(Open, name); err != nil {
		return err
	}
	f.files[name] = f.files[half]
	delete(f.files, half)
	if err := f.begins(Sync, name); err != nil {
		return err
	}
	f.syncFolder(name)
	return nil
}
