package faultydisk

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unsafe"

	"modernc.org/libc"
	_ "modernc.org/sqlite" // registers the driver "sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// way is a disk as SQLite knows one: a table of functions it calls. All of it lies
// outside what Go collects, but for the functions, which the way keeps alive.
type way struct {
	name      string
	tls       *libc.TLS
	vfs       uintptr
	methods   uintptr
	cname     uintptr
	functions []any
}

// handle is a file that SQLite has open. The same file opened twice has two.
type handle struct {
	node    *node
	name    string
	level   int32  // of the lock it holds on the file
	shared  uint32 // of the shared memory: locks held with others, and alone
	alone   uint32
	mapping bool
}

// at reads memory of SQLite's as what lies there.
func at[T any](place uintptr) *T { return (*T)(*(*unsafe.Pointer)(unsafe.Pointer(&place))) }

func bytesAt(place uintptr, n int32) []byte { return unsafe.Slice(at[byte](place), n) }

// called gives a function in the form SQLite calls it by, kept alive by w.
func called[F any](w *way, f F) uintptr {
	kept := &struct{ f F }{f}
	w.functions = append(w.functions, kept)
	return *(*uintptr)(unsafe.Pointer(kept))
}

func newWay(d *Disk) (*way, error) {
	w := &way{tls: libc.NewTLS()}
	if code := sqlite3.Xsqlite3_initialize(w.tls); code != sqlite3.SQLITE_OK {
		return nil, fmt.Errorf("SQLite does not start: %d", code)
	}
	base := sqlite3.Xsqlite3_vfs_find(w.tls, 0)
	w.vfs = libc.Xcalloc(w.tls, 1, libc.Tsize_t(unsafe.Sizeof(sqlite3.Tsqlite3_vfs{})))
	w.methods = libc.Xcalloc(w.tls, 1, libc.Tsize_t(unsafe.Sizeof(sqlite3.Tsqlite3_io_methods{})))
	if base == 0 || w.vfs == 0 || w.methods == 0 {
		return nil, fmt.Errorf("no memory for a disk")
	}
	w.name = fmt.Sprintf("disk%x", w.vfs)
	var err error
	if w.cname, err = libc.CString(w.name); err != nil {
		return nil, err
	}
	w.fillIn(d, base)
	if code := sqlite3.Xsqlite3_vfs_register(w.tls, w.vfs, 0); code != sqlite3.SQLITE_OK {
		return nil, fmt.Errorf("SQLite does not take the disk: %d", code)
	}
	return w, nil
}

// fillIn takes clock and chance from SQLite's own layer and all else from d.
func (w *way) fillIn(d *Disk, base uintptr) {
	vfs := at[sqlite3.Tsqlite3_vfs](w.vfs)
	*vfs = *at[sqlite3.Tsqlite3_vfs](base)
	vfs.FiVersion, vfs.FpNext, vfs.FzName = 2, 0, w.cname
	vfs.FszOsFile = int32(unsafe.Sizeof(sqlite3.Tsqlite3_file{}))
	vfs.FxOpen = called(w, d.xOpen)
	vfs.FxDelete = called(w, d.xDelete)
	vfs.FxAccess = called(w, d.xAccess)
	vfs.FxFullPathname = called(w, fullPathname)
	vfs.FxSleep = called(w, d.xSleep)

	m := at[sqlite3.Tsqlite3_io_methods](w.methods)
	m.FiVersion = 2
	m.FxClose = called(w, d.xClose)
	m.FxRead = called(w, d.xRead)
	m.FxWrite = called(w, d.xWrite)
	m.FxTruncate = called(w, d.xTruncate)
	m.FxSync = called(w, d.xSync)
	m.FxFileSize = called(w, d.xFileSize)
	m.FxLock = called(w, d.xLock)
	m.FxUnlock = called(w, d.xUnlock)
	m.FxCheckReservedLock = called(w, d.xCheckReservedLock)
	m.FxFileControl = called(w, func(*libc.TLS, uintptr, int32, uintptr) int32 { return sqlite3.SQLITE_NOTFOUND })
	m.FxSectorSize = called(w, func(*libc.TLS, uintptr) int32 { return 4096 }) // what unix says whatever the disk's is
	m.FxDeviceCharacteristics = called(w, func(*libc.TLS, uintptr) int32 { return sqlite3.SQLITE_IOCAP_POWERSAFE_OVERWRITE })
	m.FxShmMap = called(w, d.xShmMap)
	m.FxShmLock = called(w, d.xShmLock)
	m.FxShmBarrier = called(w, d.xShmBarrier)
	m.FxShmUnmap = called(w, d.xShmUnmap)
}

func (w *way) close() error {
	code := sqlite3.Xsqlite3_vfs_unregister(w.tls, w.vfs)
	libc.Xfree(w.tls, w.vfs)
	libc.Xfree(w.tls, w.methods)
	libc.Xfree(w.tls, w.cname)
	w.tls.Close()
	if code != sqlite3.SQLITE_OK {
		return fmt.Errorf("SQLite does not give the disk back: %d", code)
	}
	return nil
}

func fullPathname(_ *libc.TLS, _, path uintptr, room int32, full uintptr) int32 {
	name := libc.GoString(path)
	if len(name) >= int(room) {
		return sqlite3.SQLITE_CANTOPEN
	}
	into := bytesAt(full, int32(len(name)+1))
	copy(into, name)
	into[len(name)] = 0
	return sqlite3.SQLITE_OK
}

// xSleep is how SQLite waits for a lock: not at all where that is in vain.
func (d *Disk) xSleep(_ *libc.TLS, _ uintptr, micros int32) int32 {
	d.mu.Lock()
	vain := d.inVain || d.dead
	d.mu.Unlock()
	if !vain {
		time.Sleep(time.Duration(micros) * time.Microsecond)
	}
	return micros
}

func (d *Disk) xOpen(_ *libc.TLS, _, path, file uintptr, flags int32, told uintptr) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	at[sqlite3.Tsqlite3_file](file).FpMethods = 0 // no close for what was not opened
	h := &handle{}
	if path != 0 {
		h.name = libc.GoString(path)
	}
	if code := d.begin(Call{Op: Open, File: h.name}, nil); code != sqlite3.SQLITE_OK {
		return code
	}
	h.node = d.files[h.name]
	switch {
	case path == 0:
		h.node = &node{}
	case h.node == nil && flags&sqlite3.SQLITE_OPEN_CREATE == 0:
		return sqlite3.SQLITE_CANTOPEN
	case h.node == nil:
		h.node = &node{fresh: flags&(sqlite3.SQLITE_OPEN_WAL|sqlite3.SQLITE_OPEN_MAIN_JOURNAL|sqlite3.SQLITE_OPEN_SUPER_JOURNAL) != 0}
		d.files[h.name] = h.node
	}
	if told != 0 {
		*at[int32](told) = flags
	}
	d.open[file] = h
	at[sqlite3.Tsqlite3_file](file).FpMethods = d.way.methods
	return sqlite3.SQLITE_OK
}

func (d *Disk) xDelete(_ *libc.TLS, _, path uintptr, syncFolder int32) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	name := libc.GoString(path)
	if code := d.begin(Call{Op: Delete, File: name}, func() { delete(d.files, name) }); code != sqlite3.SQLITE_OK {
		return code
	}
	if d.files[name] == nil {
		return sqlite3.SQLITE_IOERR_DELETE_NOENT
	}
	delete(d.files, name)
	if syncFolder != 0 {
		d.syncFolder(name)
	}
	return sqlite3.SQLITE_OK
}

func (d *Disk) xAccess(_ *libc.TLS, _, path uintptr, _ int32, answer uintptr) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	name := libc.GoString(path)
	if code := d.begin(Call{Op: Access, File: name}, nil); code != sqlite3.SQLITE_OK {
		return code
	}
	*at[int32](answer) = 0
	if n := d.files[name]; n != nil && (len(n.now) > 0 || !strings.HasSuffix(name, "-journal")) {
		*at[int32](answer) = 1
	}
	return sqlite3.SQLITE_OK
}

// syncFolder makes lasting which files are in the folder of the one named.
func (d *Disk) syncFolder(name string) {
	folder := name[:strings.LastIndexAny(name, `/\`)+1]
	for _, files := range []map[string]*node{d.kept, d.files} {
		for other := range files {
			if !strings.HasPrefix(other, folder) {
				continue
			}
			if n := d.files[other]; n != nil {
				d.kept[other] = n
			} else {
				delete(d.kept, other)
			}
		}
	}
}

func (d *Disk) xClose(_ *libc.TLS, file uintptr) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	h := d.open[file]
	h.unlock(sqlite3.SQLITE_LOCK_NONE)
	delete(d.open, file)
	return sqlite3.SQLITE_OK
}

func (d *Disk) xRead(_ *libc.TLS, file, buffer uintptr, n int32, from int64) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	h := d.open[file]
	if code := d.begin(Call{Op: Read, File: h.name}, nil); code != sqlite3.SQLITE_OK {
		return code
	}
	into, got := bytesAt(buffer, n), 0
	if from < int64(len(h.node.now)) {
		got = copy(into, h.node.now[from:])
	}
	if got < len(into) {
		clear(into[got:])
		return sqlite3.SQLITE_IOERR_SHORT_READ
	}
	return sqlite3.SQLITE_OK
}

func (d *Disk) xWrite(_ *libc.TLS, file, buffer uintptr, n int32, to int64) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	h, data := d.open[file], bytesAt(buffer, n)
	code := d.begin(Call{Op: Write, File: h.name, Size: max(to+int64(n), int64(len(h.node.now)))}, func() { h.node.write(to, data) })
	if code == sqlite3.SQLITE_OK {
		h.node.write(to, data)
	}
	return code
}

func (d *Disk) xTruncate(_ *libc.TLS, file uintptr, size int64) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	h := d.open[file]
	code := d.begin(Call{Op: Truncate, File: h.name, Size: size}, func() { h.node.truncate(size) })
	if code == sqlite3.SQLITE_OK {
		h.node.truncate(size)
	}
	return code
}

func (d *Disk) xSync(_ *libc.TLS, file uintptr, _ int32) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	if gate := d.gate; gate != nil {
		d.mu.Unlock() // others go on meanwhile
		<-gate
		d.mu.Lock()
	}
	h := d.open[file]
	if code := d.begin(Call{Op: Sync, File: h.name}, nil); code != sqlite3.SQLITE_OK {
		if d.behind && !d.dead {
			h.node.forget()
		}
		return code
	}
	h.node.sync()
	if h.node.fresh {
		h.node.fresh = false
		d.syncFolder(h.name)
	}
	return sqlite3.SQLITE_OK
}

// forget lets go of half of what a failed sync was to keep, the way a kernel does
// that takes the pages for clean: programs go on seeing it.
func (n *node) forget() {
	n.loose = slices.DeleteFunc(n.loose, func(c change) bool { return c.data != nil && (c.at/sector)%2 == 0 })
}

func (d *Disk) xFileSize(_ *libc.TLS, file, answer uintptr) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	h := d.open[file]
	if code := d.begin(Call{Op: Size, File: h.name}, nil); code != sqlite3.SQLITE_OK {
		return code
	}
	*at[int64](answer) = int64(len(h.node.now))
	return sqlite3.SQLITE_OK
}
