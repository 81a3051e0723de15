// Package faultydisk is a disk in memory that SQLite can keep a database on, for
// tests alone: its power can be cut, whereupon what was not synced is there, is
// not, or is torn, as on a real one; and any one call can fail. It lies under the
// SQLite in Go (modernc.org/sqlite), which both builds can link.
//
// What it takes of a disk is what POSIX promises and no more: a write is kept
// when a sync of its file has returned, a file's being there or not when its
// folder was synced, and of the rest any part may be, sector by sector, in any
// order.
package faultydisk

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"sync"
)

// sector is the least that is written whole, in bytes.
const sector = 512

// Disk is a disk with SQLite's way to it. Every method may be called at any time
// by anybody.
type Disk struct {
	name string
	way  *way

	mu     sync.Mutex
	files  map[string]*node // as programs see them
	kept   map[string]*node // as they are sure to be found after a power cut
	open   map[uintptr]*handle
	steer  func(Call) Fault
	gate   chan struct{} // syncs wait until it is closed; nil: they don't
	calls  int
	dead   bool
	inVain bool // a call since the disk was steered found what another program has
	behind bool // a sync that failed left what it was to keep forgotten
}

// node is what a file holds, whatever it is called.
type node struct {
	now   []byte
	kept  []byte
	loose []change // since the last sync, in their order
	fresh bool     // the folder is synced along with its first sync, as SQLite does for logs

	sharers  int
	reserved *handle
	pending  *handle
	shared   *memory
}

// change is a write, or a cut to length where data is nil.
type change struct {
	at   int64
	data []byte
}

// New makes an empty disk. Close takes it away.
func New() (*Disk, error) { return newDisk(map[string]*node{}) }

func newDisk(files map[string]*node) (*Disk, error) {
	d := &Disk{files: files, kept: maps.Clone(files), open: map[uintptr]*handle{}}
	var err error
	if d.way, err = newWay(d); err != nil {
		return nil, err
	}
	d.name = d.way.name
	return d, nil
}

// Name is what the address of a database says as vfs to lie on this disk.
func (d *Disk) Name() string { return d.name }

// Close takes the disk away. It refuses while a database on it is open.
func (d *Disk) Close() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.open) > 0 {
		return fmt.Errorf("%d files on the disk are open", len(d.open))
	}
	return d.way.close()
}

// Cut takes the power: no call does anything from now on.
func (d *Disk) Cut() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.dead = true
}

// IsCut tells whether the power is gone.
func (d *Disk) IsCut() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.dead
}

// Hold has every sync wait, as on a disk that is very slow, until the function
// returned is called.
func (d *Disk) Hold() (release func()) {
	d.mu.Lock()
	defer d.mu.Unlock()
	gate := make(chan struct{})
	d.gate = gate
	return sync.OnceFunc(func() { close(gate) })
}

// ForgetOnFailedSync has a sync that fails leave what it was to keep in doubt for
// good, as on Linux: a later sync that succeeds does not keep it either, unless
// it was written again meanwhile.
func (d *Disk) ForgetOnFailedSync() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.behind = true
}

// Copy is another disk that holds the same, all of it synced.
func (d *Disk) Copy() (*Disk, error) {
	d.mu.Lock()
	files := map[string]*node{}
	for name, n := range d.files {
		files[name] = whole(slices.Clone(n.now))
	}
	d.mu.Unlock()
	return newDisk(files)
}

func whole(content []byte) *node { return &node{now: content, kept: slices.Clone(content)} }

// AfterCut is the disk that is found when the power comes back: what was synced,
// and of the rest what chance has it.
func (d *Disk) AfterCut(chance *rand.Rand) (*Disk, error) {
	d.mu.Lock()
	files := map[string]*node{}
	names := maps.Clone(d.kept)
	maps.Copy(names, d.files)
	for _, name := range slices.Sorted(maps.Keys(names)) {
		found := d.kept[name]
		if d.files[name] != found && chance.IntN(2) == 0 {
			found = d.files[name]
		}
		if found != nil {
			files[name] = whole(found.afterCut(chance))
		}
	}
	d.mu.Unlock()
	return newDisk(files)
}

// afterCut is what was synced with some of what came after: of one file often
// all of it or nothing, else each sector by itself, here and there with rubbish
// in it.
func (n *node) afterCut(chance *rand.Rand) []byte {
	found := slices.Clone(n.kept)
	of := []int{0, 100, 50, 50, 90, 10}[chance.IntN(6)] // how many of a hundred sectors got there
	for _, c := range n.loose {
		if c.data == nil {
			if chance.IntN(100) < of {
				found = resized(found, c.at)
			}
			continue
		}
		for at := 0; at < len(c.data); {
			end := min(len(c.data), at+sector-int((c.at+int64(at))%sector))
			switch {
			case chance.IntN(100) < of:
				found = written(found, c.at+int64(at), c.data[at:end])
			case of > 0 && chance.IntN(20) == 0: // the head was over it
				rubbish := make([]byte, end-at)
				for i := range rubbish {
					rubbish[i] = byte(chance.Uint32())
				}
				found = written(found, c.at+int64(at), rubbish)
			}
			at = end
		}
	}
	return found
}

func resized(content []byte, size int64) []byte {
	if size <= int64(len(content)) {
		return content[:size:size]
	}
	return append(content, make([]byte, size-int64(len(content)))...)
}

func written(content []byte, at int64, data []byte) []byte {
	if end := at + int64(len(data)); end > int64(len(content)) {
		content = resized(content, end)
	}
	copy(content[at:], data)
	return content
}

// write and truncate are seen at once and kept with the next sync.
func (n *node) write(at int64, data []byte) {
	n.now = written(n.now, at, data)
	n.loose = append(n.loose, change{at: at, data: bytes.Clone(data)})
}

func (n *node) truncate(size int64) {
	n.now = resized(n.now, size)
	n.loose = append(n.loose, change{at: size})
}

// sync keeps what was written.
func (n *node) sync() {
	for _, c := range n.loose {
		if c.data == nil {
			n.kept = resized(n.kept, c.at)
		} else {
			n.kept = written(n.kept, c.at, c.data)
		}
	}
	n.loose = nil
}

// Read is what a file holds as programs see it, nil where there is none.
func (d *Disk) Read(name string) []byte {
	d.mu.Lock()
	defer d.mu.Unlock()
	if n := d.files[name]; n != nil {
		return slices.Clone(n.now)
	}
	return nil
}

// Write puts a file on the disk, synced, in place of one of that name. No
// database that has the file may be open.
func (d *Disk) Write(name string, content []byte) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.files[name] = whole(slices.Clone(content))
	d.kept[name] = d.files[name]
}

// Remove takes a file off the disk, for good.
func (d *Disk) Remove(name string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	delete(d.files, name)
	delete(d.kept, name)
}

// Files are the names of what is on the disk, sorted.
func (d *Disk) Files() []string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Sorted(maps.Keys(d.files))
}
