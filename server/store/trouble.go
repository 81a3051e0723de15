package store

import (
	"errors"
	"syscall"
)

// Trouble is what is wrong with the disk under the database, or with the file. The
// zero value is an error of another sort.
type Trouble int

// The troubles told apart.
const (
	NoTrouble    Trouble = iota
	DiskFull             // there is no room
	DiskReadOnly         // the folder or file may not be written to
	DiskFailing          // a call to the disk failed
	InUse                // another program keeps the database to itself
	Damaged              // the file is not, or no longer, a sound database
)

// TroubleOf finds out of an error of a command or a reading what is wrong.
func TroubleOf(err error) Trouble {
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return DiskFull
	case errors.Is(err, syscall.EROFS):
		return DiskReadOnly
	case errors.Is(err, syscall.EIO):
		return DiskFailing
	}
	code, known := resultOf(err)
	if !known {
		return NoTrouble
	}
	switch code & 0xff { // the primary result codes of sqlite.org/rescode.html
	case 13: // SQLITE_FULL
		return DiskFull
	case 8: // SQLITE_READONLY
		return DiskReadOnly
	case 10, 14: // SQLITE_IOERR, SQLITE_CANTOPEN
		return DiskFailing
	case 5, 6, 15: // SQLITE_BUSY, SQLITE_LOCKED, SQLITE_PROTOCOL
		return InUse
	case 11, 26: // SQLITE_CORRUPT, SQLITE_NOTADB
		return Damaged
	}
	return NoTrouble
}

// resultOf is SQLite's extended result code, of either driver.
func resultOf(err error) (code int, known bool) {
	if code, known = resultOfBuild(err); known {
		return code, true
	}
	var pure interface {
		error
		Code() int
	}
	if errors.As(err, &pure) {
		return pure.Code(), true
	}
	return 0, false
}
