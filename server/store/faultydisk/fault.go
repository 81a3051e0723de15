package faultydisk

import sqlite3 "modernc.org/sqlite/lib"

// Op is what SQLite asks of a disk.
type Op int

// What can be asked and can fail.
const (
	Open Op = iota
	Delete
	Access
	Read
	Write
	Truncate
	Sync
	Size
	Lock
	MapShared  // a part of the memory connections share
	LockShared // a lock of readers and the writer
)

// String is the name of the call.
func (op Op) String() string {
	return [...]string{"open", "delete", "access", "read", "write", "truncate", "sync", "size", "lock", "map", "share"}[op]
}

// Call is one that is about to be carried out.
type Call struct {
	N    int // which one since the disk was made or [Disk.Steer] called, from 1
	Op   Op
	File string // "" for a temporary one
	Size int64  // the file's after a write or truncation

	Writes bool // the lock asked for is that of the one who writes
}

// Fault is what becomes of a call.
type Fault int

// What can become of a call.
const (
	None     Fault = iota
	Broken         // it fails as on a disk that is failing
	Full           // there is no room
	ReadOnly       // nothing may be written
	Locked         // another program has the file
	Cut            // the power goes in the middle of it
)

// Steer asks what becomes of each call from now on, counted anew; nil lets all go
// well. what is asked one call at a time and calls nothing of the disk.
func (d *Disk) Steer(what func(Call) Fault) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.steer, d.calls, d.inVain = what, 0, false
}

// Calls is how many were made since the disk was made or steered.
func (d *Disk) Calls() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.calls
}

// begin counts a call and finds its fault: the code SQLite is to get, 0 for none.
// half is what a call does in which the power goes.
func (d *Disk) begin(c Call, half func()) int32 {
	if d.dead {
		return codeOf(c.Op, Broken)
	}
	d.calls++
	if d.steer == nil {
		return sqlite3.SQLITE_OK
	}
	c.N = d.calls
	fault := d.steer(c)
	d.inVain = d.inVain || fault == Locked
	if fault == Cut {
		if half != nil {
			half()
		}
		d.dead = true
	}
	return codeOf(c.Op, fault)
}

// codeOf is what SQLite's own layer over unix answers for such a fault.
func codeOf(op Op, fault Fault) int32 {
	switch fault {
	case None:
		return sqlite3.SQLITE_OK
	case Full:
		if op == Open {
			return sqlite3.SQLITE_CANTOPEN
		}
		return sqlite3.SQLITE_FULL
	case ReadOnly:
		switch op {
		case Open:
			return sqlite3.SQLITE_CANTOPEN
		case Delete:
			return sqlite3.SQLITE_IOERR_DELETE
		}
		return sqlite3.SQLITE_READONLY
	case Locked:
		return sqlite3.SQLITE_BUSY
	}
	switch op {
	case Open:
		return sqlite3.SQLITE_CANTOPEN
	case Delete:
		return sqlite3.SQLITE_IOERR_DELETE
	case Access:
		return sqlite3.SQLITE_IOERR_ACCESS
	case Read:
		return sqlite3.SQLITE_IOERR_READ
	case Write:
		return sqlite3.SQLITE_IOERR_WRITE
	case Truncate:
		return sqlite3.SQLITE_IOERR_TRUNCATE
	case Sync:
		return sqlite3.SQLITE_IOERR_FSYNC
	case Size:
		return sqlite3.SQLITE_IOERR_FSTAT
	case Lock:
		return sqlite3.SQLITE_IOERR_LOCK
	case MapShared:
		return sqlite3.SQLITE_IOERR_SHMMAP
	case LockShared:
		return sqlite3.SQLITE_IOERR_SHMLOCK
	}
	return sqlite3.SQLITE_IOERR
}
