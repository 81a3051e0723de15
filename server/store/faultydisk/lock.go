package faultydisk

import (
	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// The locks of a file follow "File Locking And Concurrency In SQLite Version 3",
// section 3 (sqlite.org/lockingv3.html); those of the shared memory section 2.3 of
// "The WAL-mode File Format" (sqlite.org/walformat.html).

func (d *Disk) xLock(_ *libc.TLS, file uintptr, level int32) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	h := d.open[file]
	if h.level >= level {
		return sqlite3.SQLITE_OK
	}
	if code := d.begin(Call{Op: Lock, File: h.name}, nil); code != sqlite3.SQLITE_OK {
		return code
	}
	n := h.node
	if n.pending != nil && n.pending != h {
		return sqlite3.SQLITE_BUSY
	}
	switch level {
	case sqlite3.SQLITE_LOCK_SHARED:
		n.sharers++
	case sqlite3.SQLITE_LOCK_RESERVED:
		if n.reserved != nil {
			return sqlite3.SQLITE_BUSY
		}
		n.reserved = h
	case sqlite3.SQLITE_LOCK_EXCLUSIVE:
		if n.reserved != nil && n.reserved != h {
			return sqlite3.SQLITE_BUSY
		}
		n.pending = h
		if n.sharers > 1 {
			h.level = sqlite3.SQLITE_LOCK_PENDING
			return sqlite3.SQLITE_BUSY
		}
	}
	h.level = level
	return sqlite3.SQLITE_OK
}

func (d *Disk) xUnlock(_ *libc.TLS, file uintptr, level int32) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.open[file].unlock(level)
	return sqlite3.SQLITE_OK
}

func (h *handle) unlock(level int32) {
	if h.level <= level {
		return
	}
	if h.node.reserved == h {
		h.node.reserved = nil
	}
	if h.node.pending == h {
		h.node.pending = nil
	}
	if level == sqlite3.SQLITE_LOCK_NONE {
		h.node.sharers--
	}
	h.level = level
}

func (d *Disk) xCheckReservedLock(_ *libc.TLS, file, answer uintptr) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	*at[int32](answer) = 0
	if d.open[file].node.reserved != nil {
		*at[int32](answer) = 1
	}
	return sqlite3.SQLITE_OK
}

// memory is what the connections to a database share while it is open: the index
// of its log. It is gone with the last of them, as with the power.
type memory struct {
	users  int
	parts  []uintptr
	shared [sqlite3.SQLITE_SHM_NLOCK]int
	alone  [sqlite3.SQLITE_SHM_NLOCK]bool
}

func (d *Disk) xShmMap(tls *libc.TLS, file uintptr, part, size, extend int32, answer uintptr) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	h := d.open[file]
	*at[uintptr](answer) = 0
	if code := d.begin(Call{Op: MapShared, File: h.name + "-shm"}, nil); code != sqlite3.SQLITE_OK {
		return code
	}
	if h.node.shared == nil {
		h.node.shared = &memory{}
	}
	m := h.node.shared
	if !h.mapping {
		h.mapping = true
		m.users++
	}
	for extend != 0 && int(part) >= len(m.parts) {
		made := libc.Xcalloc(tls, 1, libc.Tsize_t(size))
		if made == 0 {
			return sqlite3.SQLITE_NOMEM
		}
		m.parts = append(m.parts, made)
	}
	if int(part) < len(m.parts) {
		*at[uintptr](answer) = m.parts[part]
	}
	return sqlite3.SQLITE_OK
}

func (d *Disk) xShmLock(_ *libc.TLS, file uintptr, first, n, flags int32) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	h := d.open[file]
	m, alone := h.node.shared, flags&sqlite3.SQLITE_SHM_EXCLUSIVE != 0
	if flags&sqlite3.SQLITE_SHM_UNLOCK != 0 {
		h.release(m, first, n)
		return sqlite3.SQLITE_OK
	}
	if code := d.begin(Call{Op: LockShared, File: h.name + "-shm", Writes: alone && first == 0}, nil); code != sqlite3.SQLITE_OK {
		return code
	}
	for slot := first; slot < first+n; slot++ {
		others := m.shared[slot]
		if h.shared&(1<<slot) != 0 {
			others--
		}
		if m.alone[slot] && h.alone&(1<<slot) == 0 || alone && others > 0 {
			return sqlite3.SQLITE_BUSY
		}
	}
	for slot := first; slot < first+n; slot++ {
		switch {
		case alone:
			m.alone[slot] = true
			h.alone |= 1 << slot
		case h.shared&(1<<slot) == 0:
			m.shared[slot]++
			h.shared |= 1 << slot
		}
	}
	return sqlite3.SQLITE_OK
}

func (h *handle) release(m *memory, first, n int32) {
	for slot := first; slot < first+n; slot++ {
		if h.alone&(1<<slot) != 0 {
			m.alone[slot] = false
			h.alone &^= 1 << slot
		}
		if h.shared&(1<<slot) != 0 {
			m.shared[slot]--
			h.shared &^= 1 << slot
		}
	}
}

func (d *Disk) xShmBarrier(*libc.TLS, uintptr) {
	d.mu.Lock() // a lock is a barrier
	defer d.mu.Unlock()
}

func (d *Disk) xShmUnmap(tls *libc.TLS, file uintptr, _ int32) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	h := d.open[file]
	m := h.node.shared
	if m == nil || !h.mapping {
		return sqlite3.SQLITE_OK
	}
	h.release(m, 0, sqlite3.SQLITE_SHM_NLOCK)
	h.mapping = false
	if m.users--; m.users == 0 {
		for _, part := range m.parts {
			libc.Xfree(tls, part)
		}
		h.node.shared = nil
	}
	return sqlite3.SQLITE_OK
}
