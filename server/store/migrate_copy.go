package store

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
)

// copiesKept is how many copies made before an upgrade stay: the one of the last
// upgrade and the one of the upgrade before it. Each is as big as the database was.
const copiesKept = 2

// beforeUpgrade is what the copies of the database at path begin with; the step it
// was at follows.
func beforeUpgrade(path string) string { return path + ".before-upgrade-from-" }

// copyBefore copies the database at path, as it was at a step, beside itself. The
// copy has its name only once it is whole, checked and on the disk; one of an
// upgrade from the same step that did not end well is replaced by it.
func copyBefore(on On, path string, step int) (file string, err error) {
	if err := clearCopies(on, path, -1); err != nil {
		return "", err
	}
	beside := on.beside()
	file = beforeUpgrade(path) + strconv.Itoa(step)
	half := file + ".part"
	defer func() {
		if err != nil {
			err = errors.Join(err, beside.Remove(half))
		}
	}()
	if err := beside.Make(half); err != nil {
		return "", err
	}
	// The connection that upgrades is in its transaction, where nothing can be copied.
	db, err := connectOn(on, path, "", 1)
	if err != nil {
		return "", err
	}
	if err := errors.Join(vacuumInto(db, half), shut(db)); err != nil {
		return "", err
	}
	at, err := checkCopy(on, half)
	if err == nil && at != step {
		err = fmt.Errorf("it is at step %d and not at %d", at, step)
	}
	if err != nil {
		return "", fmt.Errorf("the copy is not sound: %w", err)
	}
	return file, beside.Keep(half, file)
}

// clearCopies removes what is left of copies that were cut off, and all but the
// newest whole ones; keep < 0 keeps all of those.
func clearCopies(on On, path string, keep int) error {
	beside := on.beside()
	names, err := beside.List(beforeUpgrade(path))
	if err != nil {
		return err
	}
	steps := map[string]int{}
	var whole []string
	for _, name := range names {
		rest := strings.TrimPrefix(name, beforeUpgrade(path))
		if step, after, cut := strings.Cut(rest, ".part"); cut && isNumber(step) && (after == "" || after == "-journal") {
			if err := beside.Remove(name); err != nil {
				return err
			}
			continue
		}
		// Stillsaws of before gave a second copy from one step the time, too.
		step, made, _ := strings.Cut(rest, ".")
		if isNumber(step) && (made == "" || isNumber(made)) {
			steps[name], _ = strconv.Atoi(step)
			whole = append(whole, name)
		}
	}
	if keep < 0 || len(whole) <= keep {
		return nil
	}
	slices.SortFunc(whole, func(a, b string) int {
		return cmp.Or(cmp.Compare(steps[b], steps[a]), cmp.Compare(len(a), len(b)), cmp.Compare(b, a))
	})
	for _, name := range whole[keep:] {
		if err := beside.Remove(name); err != nil {
			return err
		}
	}
	return nil
}

func isNumber(text string) bool {
	_, err := strconv.ParseUint(text, 10, 63)
	return err == nil
}

// Beside is what is done with files beside the database that SQLite has no part in.
type Beside interface {
	List(prefix string) ([]string, error) // whole names, in any order
	Make(name string) error               // empty, to be read by this user alone
	Remove(name string) error             // nothing where there is none
	Keep(half, name string) error         // gives half its name, in place of one there is, once all of it is on the disk
}

// folder is Beside on the disks of this computer.
type folder struct{}

func (folder) List(prefix string) ([]string, error) {
	dir := filepath.Dir(prefix)
	entries, err := os.ReadDir(dir)
	var names []string
	for _, entry := range entries {
		if name := filepath.Join(dir, entry.Name()); strings.HasPrefix(name, prefix) {
			names = append(names, name)
		}
	}
	return names, err
}

func (folder) Make(name string) error { return onlyForUs(name) }

func (folder) Remove(name string) error {
	if err := os.Remove(name); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

func (folder) Keep(half, name string) error {
	if err := syncFile(half); err != nil {
		return err
	}
	if err := os.Rename(half, name); err != nil {
		return err
	}
	return syncFile(filepath.Dir(name))
}

// syncFile makes lasting what is in a file, or which files are in a folder. Windows
// has no such call for a folder.
func syncFile(name string) error {
	how := os.O_RDWR
	if info, err := os.Stat(name); err != nil {
		return err
	} else if info.IsDir() {
		if runtime.GOOS == "windows" {
			return nil
		}
		how = os.O_RDONLY
	}
	f, err := os.OpenFile(name, how, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
